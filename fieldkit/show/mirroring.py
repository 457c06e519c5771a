"""A side copied to the other: its boxes under the labels of that side, their places, and the runs that have a twin."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from fieldkit.show.connectors import starts
from fieldkit.show.contents import all_units
from fieldkit.show.document import Box, Run, Show, Step
from fieldkit.show.edits import with_thing
from fieldkit.show.labels import another_like, label_after, side_marks
from fieldkit.show.position import Position
from fieldkit.show.usage import LABELS

_OPPOSITE = {"left": "right", "right": "left"}


class Mirrored(msgspec.Struct, frozen=True):
    """A show with both sides, and what was made for it."""

    show: Show
    boxes: tuple[str, ...]
    runs: tuple[str, ...]
    left_out: tuple[str, ...]
    """A sentence for each run or box that was not copied, with the reason."""


def other_side(show: Show, zone: str, side: str) -> str | None:
    """Find the side across: right for left, else the zone's other one where it has two. None where nothing says it."""
    if side in _OPPOSITE:
        return _OPPOSITE[side]
    zones = [item for item in show.zones if item.id == zone]
    sides = [*(zones[0].signals if zones else ()), *(box.side for box in show.boxes if box.zone == zone)]
    others = [name for name in dict.fromkeys(sides) if name and name != side]
    return others[0] if len(others) == 1 else None


def mirrored(show: Show, boxes: Iterable[str], side: str, other: str) -> Mirrored:
    """Copy boxes of a side to the other one, with the runs that reach only these.

    A label changes the mark of its side (ML1, MR1), a place its sign across; a serial, which is one box's own, and a
    note are not copied. A run is copied where its amplifier or rack has a twin of the same kind by its label, whose
    connector is free; the rest is said.
    """
    return _Mirroring(show, side, other).of([box for box in show.boxes if box.id in set(boxes) and box.side == side])


def across_like(show: Show, box: Box) -> Box:
    """Copy a box to the other side, where its zone is fed on two: ``MR3`` for ``ML3``; else another on its own side.

    It stands across from it where nothing of its label does.
    """
    sides = list(next(zone for zone in show.zones if zone.id == box.zone).signals)
    if len(sides) != 2 or box.side not in sides:
        return another_like(show, box)
    other = next(side for side in sides if side != box.side)
    mirror = _Mirroring(show, box.side, other)
    twin = mirror.label(box.id)
    place = None if twin in mirror.taken else _across(box.position)
    return msgspec.structs.replace(
        box, id=mirror.free(twin, box.id), side=other, position=place, serial="", note="", input=mirror.name(box.input)
    )


class _Mirroring:
    def __init__(self, show: Show, side: str, other: str) -> None:
        self.show, self.side, self.other = show, side, other
        self.marks = side_marks(show)
        self.units = {rack.id: rack.as_built for rack in show.racks} | {unit.id: unit.model for unit in all_units(show)}
        self.connectors = {start.name for start in starts(show)}
        self.taken = {thing.id for table in LABELS if table != "zones" for thing in getattr(show, table)}
        self.left_out: list[str] = []

    def of(self, boxes: list[Box]) -> Mirrored:
        labels: dict[str, str] = {}
        show = self.show
        for box in boxes:
            twin = self.label(box.id)
            if twin in self.taken and twin in {item.id for item in show.boxes if item.side == self.other}:
                self.left_out.append(f"{box.id}: {twin} is there already")
                continue
            labels[box.id] = self.free(twin, box.id)
            place = _across(box.position)
            made = msgspec.structs.replace(
                box, id=labels[box.id], side=self.other, position=place, serial="", note="", input=self.name(box.input)
            )
            show = with_thing(show, "boxes", made)
        runs = []
        used = {run.start for run in show.runs}
        for run in self.show.runs:
            reached = [step.box for step in run.path if step.box]
            if reached and all(box in labels for box in reached):
                copy = self.run(run, labels, used)
                if copy is not None:
                    used.add(copy.start)
                    show = with_thing(show, "runs", copy)
                    runs.append(copy.id)
            elif any(box in labels for box in reached):
                self.left_out.append(f"{run.id}: it reaches boxes that are not copied")
        return Mirrored(show, tuple(labels.values()), tuple(runs), tuple(self.left_out))

    def run(self, run: Run, labels: dict[str, str], used: set[str]) -> Run | None:
        holder, _, connector = run.start.partition(".")
        twin = self.label(holder)
        start = f"{twin}.{connector}"
        if twin == holder or twin not in self.units:
            self.left_out.append(f"{run.id}: {holder} has no twin of the other side by its label")
        elif self.units[twin] != self.units[holder]:
            self.left_out.append(f"{run.id}: {twin} is not of the same kind as {holder}")
        elif start in used or start not in self.connectors:
            self.left_out.append(f"{run.id}: {start} is {'in use' if start in used else 'not there'}")
        else:
            path = tuple(self.step(step, labels) for step in run.path)
            feeds = {pair: self.name(output) for pair, output in run.feeds.items()}
            return Run(id=self.free(self.label(run.id), run.id), start=start, feeds=feeds, path=path)
        return None

    def step(self, step: Step, labels: dict[str, str]) -> Step:
        box = labels[step.box] if step.box else None
        shared = self.label(step.shared) if step.shared else ""
        return msgspec.structs.replace(step, box=box, shared=shared)

    def name(self, text: str) -> str:
        """Write an output or an input of the twin: ``LEFT-1.3``; a text that names no unit stays as it is."""
        holder, joint, rest = text.partition(".")
        twin = self.label(holder)
        return f"{twin}{joint}{rest}" if joint and twin in self.units else text

    def label(self, label: str) -> str:
        """Write a label of the other side; the same where it speaks of none."""
        for case in (str.lower, str.upper, str.capitalize):
            if case(self.side) in label:
                return label.replace(case(self.side), case(self.other))
        twins = {mark: side for mark, side in self.marks.items() if side == self.other}
        for at in range(len(label) - 1, -1, -1):
            if self.marks.get(label[at]) == self.side:
                mark = self.pair(label[at], list(twins))
                return f"{label[:at]}{mark}{label[at + 1 :]}" if mark else label
        return label

    def pair(self, mark: str, others: list[str]) -> str | None:
        """Choose the mark of the other side in the same script: R for L."""
        known = {"L": "R", "R": "L"}.get(mark)
        return known if known in others else next((other for other in others if other not in "LR"), None)

    def free(self, wanted: str, like: str) -> str:
        """Make sure that nobody has a label: the next one where somebody has."""
        label = wanted if wanted not in self.taken else label_after(wanted if wanted != like else like, self.taken)
        self.taken.add(label)
        return label


def _across(place: Position | None) -> Position | None:
    """Put a place across the middle line: as typed, with the other sign."""
    if place is None:
        return None
    along, across, *up = (part.strip() for part in place.split(","))
    if across[:1] in {"-", "−"}:
        across = across[1:].strip()
    elif place.metres[1]:
        across = f"-{across}"
    return Position(", ".join([along, across, *up]))
