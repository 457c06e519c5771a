"""Name the amplifiers and racks that a proposal uses, and stack new amplifiers in racks, a side each."""

from __future__ import annotations

import msgspec

from fieldkit.planning.question import Question
from fieldkit.planning.sources import Source
from fieldkit.show.decoding import convert
from fieldkit.show.document import Rack, RackUnit, Show
from fieldkit.show.errors import DocumentError

MOST_UNITS = 16
"""Height of a rack that two people still move. Common practice, no source."""


class Racker:
    """Gives out what is there, and builds racks for what the stock brings."""

    def __init__(self, show: Show, question: Question, names: tuple[frozenset[str], frozenset[str]]) -> None:
        self.show = show
        self._names = names
        self._there: dict[int, list[tuple[str, str]]] = {
            id(source): list(source.members) for source in question.sources
        }
        self._racks: dict[int | None, tuple[str, int]] = {}
        self._heights = {model.id: model.units for model in show.amplifiers}
        self._heights |= {model.id: model.units for model in show.processors}
        self.added: list[tuple[str, str]] = []
        """What is new: id and model."""

    def name(self, source: Source, side: int | None) -> str:
        """Name the next amplifier or rack of a source, for a side or for none."""
        if not source.is_new:
            return self._one_there(source, side)
        if source.is_rack:
            name = self._free(self._side_name(side) or "RACK")
            rack = Rack(id=name, as_built=source.model, side=self._side(side))
            self.show = msgspec.structs.replace(self.show, racks=(*self.show.racks, rack))
            self.added.append((name, source.model))
            return name
        return self.add_unit(source.model, side)

    def _one_there(self, source: Source, side: int | None) -> str:
        waiting = self._there[id(source)]
        own = self._names[side] if side is not None else frozenset()
        other = self._names[1 - side] if side is not None else frozenset()
        # Those that stand on this very side first, then those of no side; a pair's twin is left for the twin.
        allowed = [member for member in waiting if member[1] not in other]
        chosen = min(allowed, key=lambda member: (member[1] not in own, waiting.index(member)))
        waiting.remove(chosen)
        return chosen[0]

    def add_unit(self, model: str, side: int | None) -> str:
        """Add an amplifier or processor: in a rack of its side, or loose where it has no height."""
        height = self._heights[model]
        if not height:
            unit = RackUnit(id=self._free("AMP"), model=model)
        else:
            rack, filled = self._rack(side, height)
            unit = RackUnit(id=self._free(f"{rack}-1"), model=model, rack=rack, unit=filled + 1)
        self.show = msgspec.structs.replace(self.show, rack_units=(*self.show.rack_units, unit))
        self.added.append((unit.id, model))
        return unit.id

    def _rack(self, side: int | None, height: int) -> tuple[str, int]:
        """Give the rack that is being built on a side and how far it is filled; it is one amplifier higher after."""
        name, filled = self._racks.get(side, ("", 0))
        if not name or filled + height > MOST_UNITS:
            name, filled = self._free(self._side_name(side) or "RACK"), 0
            rack = Rack(id=name, units=height, side=self._side(side))
            self.show = msgspec.structs.replace(self.show, racks=(*self.show.racks, rack))
        self._racks[side] = (name, filled + height)
        racks = tuple(
            msgspec.structs.replace(rack, units=filled + height) if rack.id == name else rack
            for rack in self.show.racks
        )
        self.show = msgspec.structs.replace(self.show, racks=racks)
        return name, filled

    def _side(self, side: int | None) -> str:
        return min(self._names[side]) if side is not None and self._names[side] else ""

    def _side_name(self, side: int | None) -> str:
        """Make a label of a side's name where it can be one, with room for a number behind it."""
        try:
            return convert({"id": self._side(side)[:40].upper()}, Rack).id
        except DocumentError:
            return ""

    def _free(self, label: str) -> str:
        """Give a label that nothing has, nor a unit of a rack as built."""
        built = {model.id: len(model.contents) for model in self.show.built_racks}
        brought = {
            f"{rack.id}-{number}"
            for rack in self.show.racks
            for number in range(1, built.get(rack.as_built or "", 0) + 1)
        }
        tables = (self.show.boxes, self.show.racks, self.show.rack_units, self.show.runs, self.show.supplies)
        taken = {thing.id for table in tables for thing in table} | brought
        stem = label.rstrip("0123456789")
        number = int(label[len(stem) :] or 1)
        while label in taken:
            number += 1
            label = f"{stem}{number}"
        return label
