"""What of a show is new since another one whose names all hold: only that needs another look.

A row is judged by what stands in it and by what it reads of others. Rows are frozen, so one that is the same object in
both shows says the same; where what it reads is the same too, so is the judgement. Where there is no such show to
compare with, everything is new.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Any

from fieldkit.gear.names import Kind
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import MODEL_TABLES, Model, RackUnit, Show
from fieldkit.show.walker import TABLES, Known


class Compared:
    """A show beside one whose names all hold."""

    def __init__(self, show: Show, sound: Show | None) -> None:
        self.show = show
        self._sound = sound
        self.models: dict[str, Model] = models_by_id(show)
        """Its models, of every kind."""
        self.units: dict[str, RackUnit] = {unit.id: unit for unit in all_units(show)}
        """Its amplifiers and processors, those that racks as built bring among them."""

    def new(self, *tables: str) -> bool:
        """Tell whether anything in one of these tables is new."""
        return self._sound is None or any(getattr(self.show, name) is not getattr(self._sound, name) for name in tables)

    def rows(self, table: str, *, all_of_them: bool = False) -> Iterator[tuple[int, Any]]:
        """List the new rows of a table with their numbers, or all of them."""
        things = getattr(self.show, table)
        if self._sound is None or all_of_them:
            yield from enumerate(things)
        elif self.new(table):
            same = self._same(table)
            yield from ((index, thing) for index, thing in enumerate(things) if id(thing) not in same)

    def _same(self, table: str) -> set[int]:
        return {id(thing) for thing in getattr(self._sound, table)} if self._sound is not None else set()

    @property
    def models_new(self) -> bool:
        """Whether any model is."""
        return self.new(*MODEL_TABLES)

    @cached_property
    def sound_units(self) -> dict[str, RackUnit]:
        """The amplifiers and processors of the show that is sound."""
        if self._sound is None:
            return {}
        return {unit.id: unit for unit in all_units(self._sound)} if self._units_written_new else self.units

    @property
    def _units_written_new(self) -> bool:
        return self.new("rack_units", "racks", "built_racks")

    @cached_property
    def outputs_new(self) -> bool:
        """Whether what others read of units is: which there are, of which model, and how their outputs are joined."""
        return self.models_new or (self._units_written_new and _outputs(self.units) != _outputs(self.sound_units))

    @cached_property
    def sides_new(self) -> bool:
        """Whether what boxes read of zones is: which there are, and their sides."""
        return self._sound is None or (self.new("zones") and _sides(self.show) != _sides(self._sound))

    @cached_property
    def known(self) -> Known:
        """The names that there are."""
        return Known(self.show, self.units)

    @cached_property
    def gone(self) -> frozenset[Kind]:
        """The kinds of which there are names no longer: a text that named something names nothing for want of those."""
        if self._sound is None:
            return frozenset(TABLES)
        sound = self._sound
        before: dict[Kind, set[str]] = {
            kind: {thing.id for thing in getattr(sound, table)} for kind, table in TABLES.items() if self.new(table)
        }
        if self._units_written_new:
            before["unit"] = set(self.sound_units)
        return frozenset(kind for kind, names in before.items() if not names <= self.known.of((kind,)))

    def walked(self, table: str) -> Iterator[tuple[int, Any, frozenset[Kind]]]:
        """List the rows of a table whose names need a look, and the kinds to look for."""
        everything = frozenset(TABLES)
        if self._sound is None or (self.gone and self.new(table)):
            same = self._same(table)
            for index, thing in enumerate(getattr(self.show, table)):
                yield index, thing, self.gone if id(thing) in same else everything
        elif self.gone:
            yield from ((index, thing, self.gone) for index, thing in enumerate(getattr(self.show, table)))
        else:
            yield from ((index, thing, everything) for index, thing in self.rows(table))


def _outputs(units: dict[str, RackUnit]) -> dict[str, tuple[object, ...]]:
    return {name: (unit.model, unit.bridged, unit.paralleled) for name, unit in units.items()}


def _sides(show: Show) -> list[tuple[str, list[str]]]:
    return [(zone.id, [*zone.signals]) for zone in show.zones]
