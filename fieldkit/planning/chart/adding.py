"""Take it along: a cell, a set or an answer of the chart made part of a show, with amplifiers, boxes and runs.

Amplifiers, the pairs on them and boxes are as the chart has them; the runs are laid by ``assign``, which knows plugs,
pins and leads, on these amplifiers alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.judging import Wishes
from fieldkit.planning.assign.plan import assign
from fieldkit.planning.chart.cells import Cell
from fieldkit.planning.chart.filling import Fill
from fieldkit.planning.chart.question import Candidate, Library
from fieldkit.planning.chart.trial import CHANNELS
from fieldkit.show.document import MODEL_TABLES, Box, Model, RackUnit, Show, Zone
from fieldkit.show.labels import next_label
from fieldkit.show.usage import LABELS


class AmplifierPart(msgspec.Struct, frozen=True):
    """One amplifier with what is to hang on it: boxes of each kind, and how many channels work as pairs."""

    amplifier: Amplifier
    boxes: tuple[tuple[Candidate, int], ...]
    bridged: int = 0
    paralleled: int = 0
    """Pairs, counted from the first channels on."""


class Addition(msgspec.Struct, frozen=True):
    """What taking along makes."""

    show: Show
    units: tuple[str, ...]
    boxes: tuple[str, ...]
    left: tuple[str, ...]
    """Boxes that no lead here reaches; they are in the show without a run."""

    @property
    def says(self) -> str:
        """Say it in one line."""
        text = f"{', '.join(self.units)} with {len(self.boxes)} boxes ({self.boxes[0]} to {self.boxes[-1]})"
        if self.left:
            text += f"; no run for {', '.join(self.left)}: no connector and no lead here carries their pins"
        return text


def part_of_cell(cell: Cell, count: int | None = None) -> AmplifierPart:
    """Take a cell: its amplifier full, or with so many boxes."""
    number = cell.per_amplifier if count is None else count
    places = sum(1 for item in cell.outputs if item)
    pairs = places * len(cell.candidate.pairs) if CHANNELS[cell.mode] > 1 else 0
    return AmplifierPart(
        cell.amplifier,
        ((cell.candidate, number),),
        bridged=pairs if cell.mode == "bridged" else 0,
        paralleled=pairs if cell.mode == "paralleled" else 0,
    )


def part_of_fill(amplifier: Amplifier, fill: Fill) -> AmplifierPart:
    """Take what fills an amplifier."""
    boxes: dict[str, tuple[Candidate, int]] = {}
    pairs = {"bridged": 0, "paralleled": 0}
    for cluster in fill.clusters:
        candidate, mode = cluster.place.candidate, cluster.place.mode
        _, before = boxes.get(candidate.title, (candidate, 0))
        boxes[candidate.title] = (candidate, before + cluster.count)
        if mode in pairs:
            pairs[mode] += len(candidate.pairs)
    return AmplifierPart(amplifier, tuple(boxes.values()), **pairs)


def add_to_show(show: Show, parts: Sequence[AmplifierPart], library: Library) -> Addition:
    """Put amplifiers, boxes and runs into a show, as one new value of it."""
    building = _Building(show)
    zones = building.zones([candidate for part in parts for candidate, _ in part.boxes])
    units: list[str] = []
    boxes: list[str] = []
    pins: dict[str, set[str]] = {}
    for part in parts:
        unit = building.unit(part)
        units.append(unit)
        for candidate, count in part.boxes:
            boxes += building.boxes(candidate, zones[candidate.title], count)
            pins.setdefault(zones[candidate.title], set()).add(unit)
    outside = [
        (candidate, part)
        for part in parts
        for candidate, _ in part.boxes
        if candidate.has_presets and not _hosts(part.amplifier, candidate)
    ]
    for processor in dict.fromkeys(library.processor_for(candidate.speaker) for candidate, _ in outside):
        if processor is not None:
            building.processor(processor)
    wishes = Wishes(
        zones=frozenset(zones.values()),
        pins={zone: frozenset(names) for zone, names in pins.items()},
        mirrored=False,
        extend=False,
    )
    proposal = assign(building.show, wishes)
    driven = {step.box for run in proposal.show.runs for step in run.path if step.box}
    return Addition(proposal.show, tuple(units), tuple(boxes), tuple(name for name in boxes if name not in driven))


def _hosts(amplifier: Amplifier, candidate: Candidate) -> bool:
    return amplifier.hosts is not None and amplifier.hosts.takes(candidate.speaker.id)


class _Building:
    """A show that grows."""

    def __init__(self, show: Show) -> None:
        self.show = show

    def _add(self, table: str, thing: Any) -> None:
        self.show = msgspec.structs.replace(self.show, **{table: (*getattr(self.show, table), thing)})

    def model(self, model: Model, table: str) -> None:
        """Carry a model in the show, unless it has one of that name."""
        if not any(own.id == model.id for name in MODEL_TABLES for own in getattr(self.show, name)):
            self._add(table, model)

    def zones(self, candidates: Sequence[Candidate]) -> dict[str, str]:
        """Make a zone for each kind of box, subs first, so that others can have their low end from them."""
        names: dict[str, str] = {}
        subs = ""
        for candidate in sorted(candidates, key=lambda item: not item.is_sub):
            if candidate.title in names:
                continue
            wedge, sub = candidate.use.startswith("wedge"), candidate.use.endswith("with sub")
            name = self._free("subs" if candidate.is_sub else "wedges" if wedge else "tops")
            if candidate.is_sub:
                subs = subs or name
            low_end = (subs,) if sub and subs and not candidate.is_sub else ()
            own = Zone(id=name, use="wedge" if wedge else "front", low_end_from=low_end)
            # With a sub that is not in this list: nobody says which, so it is left open.
            self._add("zones", own if low_end or not sub else msgspec.structs.replace(own, low_end_from=None))
            names[candidate.title] = name
        return names

    def _free(self, name: str) -> str:
        """Find a name for a zone that nothing has yet."""
        taken_by = {thing.id for table in LABELS for thing in getattr(self.show, table)}
        return name if name not in taken_by else next_label(self.show, f"{name}1")

    def unit(self, part: AmplifierPart) -> str:
        """Add an amplifier with its pairs and signals."""
        self.model(part.amplifier, "amplifiers")
        name = next_label(self.show, "A0")
        pairs = [f"{2 * k + 1}+{2 * k + 2}" for k in range(part.bridged + part.paralleled)]
        unit = RackUnit(
            id=name,
            model=part.amplifier.id,
            bridged=tuple(pairs[: part.bridged]),
            paralleled=tuple(pairs[part.bridged :]),
        )
        self._add("rack_units", unit)
        return name

    def processor(self, model: Processor) -> None:
        """Add a processor."""
        self.model(model, "processors")
        self._add("rack_units", RackUnit(id=next_label(self.show, "DP0"), model=model.id))

    def boxes(self, candidate: Candidate, zone: str, count: int) -> list[str]:
        """Add boxes of one kind."""
        if candidate.unknown is None:
            self.model(candidate.speaker, "loudspeakers")
        names = []
        for _ in range(count):
            name = next_label(self.show, "B0")
            drive = candidate.drive if len(candidate.speaker.drives()) > 1 else None
            made = (
                Box(id=name, unknown=candidate.unknown, zone=zone)
                if candidate.unknown is not None
                else Box(id=name, model=candidate.speaker.id, zone=zone, drive=drive)
            )
            self._add("boxes", made)
            names.append(name)
        return names
