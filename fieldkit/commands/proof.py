"""What follows from a plan: findings, every line solved, the mains, all of it in short."""

from __future__ import annotations

from fieldkit.commands.command import CommandLine
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output
from fieldkit.commands.shows import load_show
from fieldkit.rig.solve.evaluation import evaluate


def plan(name: str) -> int:
    """Print the checked plan."""
    from fieldkit.checks.checking import check
    from fieldkit.reports.text import plan_text

    rig = evaluate(load_show(name))
    print_lines(plan_text(rig, check(rig), style_of_output()))
    return DONE


def check(given: CommandLine) -> int:
    """Print the findings; FOUND where there is an error among them."""
    from fieldkit.checks.checking import check

    rig = evaluate(load_show(given.words[0]))
    findings = check(rig)
    if "--json" in given:
        from fieldkit.reports.objects import check_object

        print_json(check_object(rig, findings))
    else:
        from fieldkit.reports.text import findings_text

        print_lines(findings_text(rig, findings, style_of_output()))
    return FOUND if any(item.severity == "error" for item in findings) else DONE


def lines(given: CommandLine) -> int:
    """Print every output and line solved."""
    rig = evaluate(load_show(given.words[0]))
    why = "--why" in given
    if "--json" in given:
        from fieldkit.reports.objects import lines_object

        print_json(lines_object(rig, why=why))
    else:
        from fieldkit.reports.text import lines_text

        print_lines(lines_text(rig, style_of_output(), why=why))
    return DONE


def supply(given: CommandLine) -> int:
    """Print the mains: loads, phases, drop, leakage, order."""
    from fieldkit.reports.supply import supply_object, supply_text

    rig = evaluate(load_show(given.words[0]))
    if "--json" in given:
        print_json(supply_object(rig))
    else:
        print_lines(supply_text(rig, style_of_output()))
    return DONE
