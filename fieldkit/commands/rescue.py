"""On site: what lines should read, what is wrong with one, and going on when something died."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from fieldkit.commands.options import (
    UsageError,
    load_show,
    open_named,
    read_options,
    read_repeated,
    read_words,
    write_named,
)
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output


def readings(arguments: list[str]) -> int:
    """Print what each line should read, and the verdict on what was read."""
    from fieldkit.rig.solve.evaluation import evaluate
    from fieldkit.triage.model.odds import table
    from fieldkit.triage.rig_check.meter_pass import entries, known_items

    arguments, options = read_options(arguments, flags=("--json",))
    (name,) = read_words(arguments, "SHOW", 1)
    rig = evaluate(load_show(name))
    found = list(entries(rig, table(), known=known_items(rig)))
    if "--json" in options:
        from fieldkit.reports.triage_objects import readings_object

        print_json(readings_object(found))
    else:
        from fieldkit.reports.triage_text import readings_text

        print_lines(readings_text(found, style_of_output()))
    return DONE


OBSERVED = ("--heard", "--lights", "--reading", "--swapped", "--polarity", "--looked", "--tried")


def triage(arguments: list[str]) -> int:
    """Print the suspects of a fault, and the next test."""
    from fieldkit.rig.solve.evaluation import evaluate
    from fieldkit.triage.advice.advice import advise
    from fieldkit.triage.belief import observations

    read: tuple[Callable[[str], observations.Observation], ...] = (
        observations.ear,
        observations.light,
        observations.metered,
        observations.swap,
        observations.polarity,
        observations.look,
        observations.tried,
    )
    arguments, observed = read_repeated(arguments, OBSERVED)
    flags = ("--json", "--worked-before", "--running")
    arguments, options = read_options(arguments, flags=flags, valued=(*OBSERVED, "--doors"))
    wanted = "SHOW and the label of a box, run, line, output or zone, such as ML2"
    if not arguments:
        raise UsageError(f"triage: expected {wanted}")
    seen = observations.agreed(
        reader(text) for name, reader in zip(OBSERVED, read, strict=True) for text in observed[name]
    )
    what = arguments[1:] or observations.named(seen)
    if not what:
        raise UsageError(f"triage: expected {wanted}, or an observation that names one, such as --heard ML2=silent")
    advice = advise(
        evaluate(load_show(arguments[0])),
        what,
        seen,
        worked_before="--worked-before" in options,
        running="--running" in options,
        left_min=_left(options["--doors"]) if "--doors" in options else inf,
    )
    if "--json" in options:
        from fieldkit.reports.triage_objects import triage_object

        print_json(triage_object(advice))
    else:
        from fieldkit.reports.triage_text import triage_text

        print_lines(triage_text(advice, style_of_output()))
    return DONE if advice.has_answer else FOUND


def _left(text: str) -> float:
    """Read how long it is until the doors [min]."""
    from fieldkit.triage.belief.observations import clock, doors_at, left_min

    time = clock()
    return left_min(doors_at(text, time), time)


def failover(arguments: list[str]) -> int:
    """Print the way out of a loss; FOUND where something stays silent."""
    from fieldkit.planning.failover.fail_over import fail_over

    rest, lost = read_lost(arguments)
    words, options = read_options(rest, flags=("--json",), valued=("-o",))
    (name,) = read_words(words, "SHOW", 1)
    if not lost or not all(lost):
        raise UsageError("failover: expected the id of what died, such as --lost SR-2")
    opened = open_named(name)
    found = fail_over(opened.show, lost)
    written = [write_named(opened, found.show, options["-o"])] if "-o" in options else []
    if "--json" in options:
        from fieldkit.reports.failing_over import failover_object

        print_json(failover_object(found))
    else:
        from fieldkit.reports.failing_over import failover_text

        style = style_of_output()
        print_lines([*failover_text(found, style), *map(style.plain, written)])
    return FOUND if found.stays_silent else DONE


def read_lost(arguments: list[str]) -> tuple[list[str], list[str]]:
    """Take the ids after each ``--lost`` out of a command line: one, or several up to the next option."""
    rest: list[str] = []
    lost: list[str] = []
    collecting = False
    for word in arguments:
        if word == "--lost":
            collecting = True
        elif word.startswith("--lost="):
            collecting = False
            lost.append(word.removeprefix("--lost="))
        elif collecting and not word.startswith("-"):
            lost.append(word)
        else:
            collecting = False
            rest.append(word)
    if lost and not any(not word.startswith("-") for word in rest) and lost[-1].endswith(".toml"):
        rest.append(lost.pop())  # the show may stand last as well
    return rest, lost
