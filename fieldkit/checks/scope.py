"""What the checks looked at, and what they could not look at since nobody planned it.

"No findings" says nothing by itself: a show without supplies has none about supplies. So each answer of the checks
names its subjects, and those of which there was nothing, or only a part, to look at.
"""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import msgspec

from fieldkit.checks import (
    bands,
    cables,
    chain,
    coverage,
    failures,
    levels,
    loads,
    pins,
    powers,
    presets,
    racks,
    siblings,
    spares,
    stock,
    supply,
)
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.text.words import counted

NO_FINDINGS = "no errors, warnings or notes"
EMPTY_PLAN = "nothing is planned yet: begin with zones and boxes, then an amplifier and runs"

Share = tuple[list[str], int]
"""The things that a subject could not be looked at of, and of how many."""


class Subject(msgspec.Struct, frozen=True):
    """Something that the checks look at, in one word."""

    word: str
    families: tuple[ModuleType, ...]
    """The modules whose rules look at it."""
    share: Callable[[Rig], Share]
    of: str
    """What is counted: ``output``."""


class Scope(msgspec.Struct, frozen=True):
    """What was checked of a show, and what was not."""

    checked: tuple[str, ...]
    not_checked: tuple[str, ...]
    """Not planned, as a whole or in part: ``supply``, ``signals of 2 of 6 outputs``."""

    def says(self) -> str:
        """Say both in a sentence each."""
        looked = f"Checked: {', '.join(self.checked)}." if self.checked else "Nothing could be checked."
        return f"{looked} {self.left()}".strip()

    def left(self) -> str:
        """Say what was not checked; empty where that is nothing."""
        return f"Not planned, so not checked: {', '.join(self.not_checked)}." if self.not_checked else ""


def _on_outputs(rig: Rig) -> Share:
    """List the boxes that need an output and have none, among those that need one."""
    driven = {load.box.id for output in rig.outputs for load in output.loads}
    needing = driven | {box.id for box in rig.show.boxes if not box.input}
    return [box.id for box in rig.show.boxes if box.id in needing - driven], len(needing)


def _runs(rig: Rig) -> Share:
    return [], len(rig.show.runs)


def _leads(rig: Rig) -> Share:
    return [run.id for run in rig.show.runs if not any(step.cable for step in run.path)], len(rig.show.runs)


def _listed(rig: Rig) -> Share:
    listed = {item.model for item in rig.show.stock}
    used = stock.used_models(rig).keys() | stock.used_cables(rig).keys()
    return sorted(used - listed), len(used)


def _placed(rig: Rig) -> Share:
    units = rig.show_index.units.values()
    return [unit.id for unit in units if unit.rack is None or unit.unit is None], len(units)


def _supplied(rig: Rig) -> Share:
    units = rig.show_index.units.values()
    return [unit.id for unit in units if unit.supply is None or not rig.show.supplies], len(units)


def _signalled(rig: Rig) -> Share:
    driven = [output for output in rig.outputs if output.loads]
    return [output.output.id for output in driven if not output.source], len(driven)


def _gains(rig: Rig) -> Share:
    driven = [output for output in rig.outputs if output.loads]
    return [output.output.id for output in driven if output.gain_db is None], len(driven)


def _timed(rig: Rig) -> Share:
    zones = rig.show.zones
    without = [zone.id for zone in zones if zone.timed_to is None and zone.delay is None]
    if without and len(without) < len(zones):
        # One zone is what the others are timed to, and needs no word itself.
        meant = {zone.timed_to for zone in zones}
        without.remove(next((name for name in without if name in meant), without[0]))
    return without, len(zones)


def _positions(rig: Rig) -> Share:
    return [box.id for box in rig.show.boxes if box.position is None], len(rig.show.boxes)


def _targets(rig: Rig) -> Share:
    return [zone.id for zone in rig.show.zones if zone.target is None], len(rig.show.zones)


SUBJECTS = (
    Subject("loads", (loads,), _on_outputs, "box"),
    Subject("power", (powers,), _on_outputs, "box"),
    Subject("presets", (presets, bands), _on_outputs, "box"),
    Subject("pins", (pins, bands), _runs, "run"),
    Subject("cables", (cables,), _leads, "run"),
    Subject("stock", (stock,), _listed, "model"),
    Subject("rack space", (racks,), _placed, "unit"),
    Subject("supply", (supply,), _supplied, "unit"),
    Subject("signals", (chain, spares), _signalled, "output"),
    Subject("input levels", (levels, siblings), _gains, "output"),
    Subject("delays", (chain,), _timed, "zone"),
    Subject("positions", (coverage,), _positions, "box"),
    Subject("level targets", (coverage,), _targets, "zone"),
)
"""In the order in which a plan is made."""

ALWAYS = (failures,)
"""Families about what happened rather than what is planned: without a failure there is nothing to leave out."""


def scope_of(rig: Rig) -> Scope:
    """Say what the checks had to look at in a rig."""
    checked, left = [], []
    for subject in SUBJECTS:
        without, count = subject.share(rig)
        if len(without) == count:
            left.append(subject.word)
            continue
        checked.append(subject.word)
        if without:
            left.append(f"{subject.word} of {len(without)} of {counted(count, subject.of)}")
    return Scope(tuple(checked), tuple(left))


def left_of(rig: Rig, word: str) -> Share:
    """List what is not planned yet of a subject, by its word, and of how many things. Raises KeyError."""
    return {subject.word: subject for subject in SUBJECTS}[word].share(rig)


def is_empty(rig: Rig) -> bool:
    """Tell whether a show has nothing in it that a rule could look at."""
    return not rig.show.boxes and not rig.lines and not rig.outputs


def well(rig: Rig) -> str:
    """Say what a plan without findings is: empty, or without problems in what could be checked."""
    if is_empty(rig):
        return EMPTY_PLAN
    scope = scope_of(rig)
    return f"no problems found in: {', '.join(scope.checked)}. {scope.left()}".strip()
