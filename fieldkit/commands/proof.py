"""What follows from a plan: findings, every line solved, the mains, all of it in short."""

from __future__ import annotations

import os
from collections.abc import Iterable

from fieldkit.commands.options import UsageError, load_show, nearest, read_options, read_words
from fieldkit.commands.output import DONE, FOUND, has_terminal, print_json, print_lines, style_of_output


def plan(arguments: list[str], commands: Iterable[str]) -> int:
    """Print the checked plan, or open the show in the application where there is a terminal."""
    from fieldkit.checks.checking import check
    from fieldkit.reports.text import plan_text
    from fieldkit.rig.solve.evaluation import evaluate

    name = arguments[0]
    from fieldkit import samples

    if not os.path.exists(name) and not name.endswith(".toml"):  # noqa: PTH110  (any text may stand here, NUL too)
        if name in samples.names():
            copy = f"'fieldkit new {name}.toml --sample {name}' copies it"
            raise UsageError(f"'{name}' is a sample and no file here; {copy}")
        raise UsageError(f"'{name}' is neither a command nor a file{nearest(name, commands)}")
    read_words(arguments, "SHOW", 1)
    if has_terminal():
        from fieldkit.app.application import start

        return start(name)
    rig = evaluate(load_show(name))
    print_lines(plan_text(rig, check(rig), style_of_output()))
    return DONE


def check(arguments: list[str]) -> int:
    """Print the findings; FOUND where there is an error among them."""
    from fieldkit.checks.checking import check
    from fieldkit.rig.solve.evaluation import evaluate

    arguments, options = read_options(arguments, flags=("--json",))
    (name,) = read_words(arguments, "SHOW", 1)
    rig = evaluate(load_show(name))
    findings = check(rig)
    if "--json" in options:
        from fieldkit.reports.objects import check_object

        print_json(check_object(rig, findings))
    else:
        from fieldkit.reports.text import findings_text

        print_lines(findings_text(rig, findings, style_of_output()))
    return FOUND if any(item.severity == "error" for item in findings) else DONE


def lines(arguments: list[str]) -> int:
    """Print every output and line solved."""
    from fieldkit.rig.solve.evaluation import evaluate

    arguments, options = read_options(arguments, flags=("--json", "--why"))
    (name,) = read_words(arguments, "SHOW", 1)
    rig = evaluate(load_show(name))
    why = "--why" in options
    if "--json" in options:
        from fieldkit.reports.objects import lines_object

        print_json(lines_object(rig, why=why))
    else:
        from fieldkit.reports.text import lines_text

        print_lines(lines_text(rig, style_of_output(), why=why))
    return DONE


def mains(arguments: list[str]) -> int:
    """Print the mains: loads, phases, drop, leakage, order."""
    from fieldkit.rig.solve.evaluation import evaluate

    arguments, options = read_options(arguments, flags=("--json",))
    (name,) = read_words(arguments, "SHOW", 1)
    rig = evaluate(load_show(name))
    if "--json" in options:
        from fieldkit.reports.mains import mains_object

        print_json(mains_object(rig))
    else:
        from fieldkit.reports.mains import mains_text

        print_lines(mains_text(rig, style_of_output()))
    return DONE
