"""Where a job stands: what is not planned yet, how far the rig check is, what has failed; each with its place."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.checks.scope import left_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.text.words import counted
from fieldkit.triage.rig_check.progress import passed, unmetered


class MatterLeft(msgspec.Struct, frozen=True):
    """One matter of the job, and what is left of it."""

    word: str
    state: str
    """In a word or two: ``done``, ``2 left``, ``not planned``."""
    says: str
    screen: str
    """Where to go on: the name of a screen's file."""
    table: str = ""
    name: str = ""
    """The first thing that is left, if it has a row there."""

    @property
    def is_done(self) -> bool:
        """Whether nothing is left of it."""
        return self.state in {DONE, NONE}


DONE = "done"
NONE = "none"
NOT_PLANNED = "not planned"

_PLANNED = (
    ("boxes", "loads", "box", "on no output", "zones", "boxes"),
    ("signals", "signals", "output", "no signal", "racks", "output"),
    ("racks", "rack space", "unit", "no place in a rack", "racks", "rack_units"),
    ("supply", "supply", "unit", "no supply", "supply", "draw"),
    ("delays", "delays", "zone", "no delay", "zones", "zones"),
)
"""Word, subject of the checks, what is counted, what it lacks, and where it is planned."""


def standing(rig: Rig) -> Iterator[MatterLeft]:
    """Say where the job stands, in the order in which it is made."""
    for word, subject, of, lacks, screen, table in _PLANNED:
        without, count = left_of(rig, subject)
        if not count:
            yield MatterLeft(word, NOT_PLANNED, _begin(rig, word), "racks" if word == "signals" else screen)
        elif not without:
            yield MatterLeft(word, DONE, f"all of {counted(count, of)}", screen)
        else:
            says = f"{lacks}: {' '.join(without)}" if len(without) < count else f"{lacks}: all of {counted(count, of)}"
            first = _first_row(rig, table, without[0])
            state = f"{len(without)} left" if len(without) < count else NOT_PLANNED
            yield MatterLeft(word, state, says, screen, *first)
    yield _rig_check(rig)
    failed = [item.id for item in rig.show.failed]
    state = f"{len(failed)} failed" if failed else NONE
    yield MatterLeft("failed", state, " ".join(failed) or "nothing has failed", "failed")


def _begin(rig: Rig, word: str) -> str:
    """Say what there must be before this can be planned."""
    if word in {"racks", "supply"}:
        return "no amplifier yet: screen Racks, a"
    if not rig.show.zones:
        return "no zones yet: screen Zones, a"
    if not rig.show.boxes:
        return "no boxes yet: screen Zones, a"
    return "no run to a box yet: screen Racks, a" if word == "signals" else "every box has a signal of its own"


def _first_row(rig: Rig, table: str, name: str) -> tuple[str, str]:
    """Find the table and label of a row about a thing; an output is shown by the run on it."""
    if table != "output":
        return table, name
    run = next((line.line.run.id for output in rig.outputs if output.output.id == name for line in output.lines), "")
    return ("runs", run) if run else (table, name)


def _rig_check(rig: Rig) -> MatterLeft:
    """Count the lines that were metered, the outputs that had noise, the boxes that had their polarity tested."""
    left, count = unmetered(rig)
    if not count:
        return MatterLeft("rig check", "nothing yet", "no line yet: runs are made on screen Racks", "racks")
    outputs = [output.output.id for output in rig.outputs if output.loads]
    boxes = [box.id for box in rig.show.boxes]
    unheard, untested = (
        [name for name in names if name not in done]
        for done, names in ((passed(rig.show, "noise"), outputs), (passed(rig.show, "polarity"), boxes))
    )
    noise, polarity = len(outputs) - len(unheard), len(boxes) - len(untested)
    says = f"{count - len(left)} of {count} lines metered, noise on {noise} of {counted(len(outputs), 'output')}, "
    says += f"polarity of {polarity} of {counted(len(boxes), 'box')}"
    missing = len(left) + len(unheard) + len(untested)
    state = f"{missing} left" if missing else DONE
    first = next(
        ((kind, names[0]) for kind, names in (("noise", unheard), ("polarity", untested)) if names), ("read", "")
    )
    return MatterLeft("rig check", state, says, "triage", *(("read", f"{left[0]} amp") if left else first))
