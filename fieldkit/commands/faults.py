"""On site: what lines should read, and what is wrong with one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from math import inf

from fieldkit.commands.command import CommandLine, UsageError
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output
from fieldkit.commands.shows import load_show
from fieldkit.commands.table import COMMANDS
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.text.words import nearest, printable
from fieldkit.triage.belief import doors, observations
from fieldkit.triage.errors import ObservationError


def readings(given: CommandLine) -> int:
    """Print what each line should read, and the verdict on what was read."""
    from fieldkit.triage.model.odds import table
    from fieldkit.triage.rig_check.meter_pass import combined, entries, known_items

    rig = evaluate(load_show(given.words[0]))
    found = combined(entries(rig, table(), known=known_items(rig)))
    if "--json" in given:
        from fieldkit.reports.triage_objects import readings_object

        print_json(readings_object(found))
    else:
        from fieldkit.reports.triage_text import readings_text

        print_lines(readings_text(found, style_of_output()))
    return DONE


OBSERVED: Mapping[str, Callable[[str], observations.Observation]] = {
    "--heard": observations.ear,
    "--lights": observations.light,
    "--reading": observations.metered,
    "--swapped": observations.swap,
    "--polarity": observations.polarity,
    "--looked": observations.look,
    "--played": observations.played,
    "--inverted": observations.inverted,
    "--tried": observations.tried,
}
"""Options that say what was observed, and what reads them."""


def triage(given: CommandLine) -> int:
    """Print the suspects of a fault, and the next test."""
    from fieldkit.triage.advice.advice import advise
    from fieldkit.triage.advice.menu import Means

    # In the order in which it was said: what was named first has the symptom.
    seen = observations.agreed(OBSERVED[name](text) for name, text in given.typed if name in OBSERVED)
    what = given.words[1:] or observations.named(seen)
    if not what:
        named = "or an observation that names one, such as --heard ML2=silent"
        raise UsageError(f"triage: expected {COMMANDS['triage'].expected}, {named}")
    left = given.value("--doors")
    advice = advise(
        evaluate(load_show(given.words[0])),
        what,
        seen,
        worked_before="--worked-before" in given,
        means=Means(
            running="--running" in given,
            left_min=_left(left) if left is not None else inf,
            without=frozenset(_without(given.values("--without"))),
        ),
    )
    if "--json" in given:
        from fieldkit.reports.triage_objects import triage_object

        print_json(triage_object(advice))
    else:
        from fieldkit.reports.triage_text import triage_text

        print_lines(triage_text(advice, style_of_output()))
    return DONE if advice.has_answer else FOUND


def _without(words: Iterable[str]) -> list[str]:
    """Read what there is not. Raises ObservationError."""
    from fieldkit.triage.advice.menu import MISSING

    found = [word.strip() for text in words for word in text.split(",")]
    for word in found:
        if word not in MISSING:
            expected = nearest(word, MISSING)
            raise ObservationError(f"without: '{printable(word)}' is nothing that tests need{expected}")
    return found


def _left(text: str) -> float:
    """Read how long it is until the doors [min]."""
    time = doors.clock()
    return doors.left_min(doors.doors_at(text, time), time)
