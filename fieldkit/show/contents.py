"""What a show contains, by id: models of every kind, and the amplifiers and processors of all racks."""

from __future__ import annotations

from functools import lru_cache

import msgspec

from fieldkit.gear.rack import BuiltUnit
from fieldkit.show.document import MODEL_TABLES, Model, RackUnit, Show


def models_by_id(show: Show) -> dict[str, Model]:
    """Index the models of every kind."""
    return {model.id: model for table in MODEL_TABLES for model in getattr(show, table)}


def all_units(show: Show) -> list[RackUnit]:
    """List the amplifiers and processors: those of the file, and those that a rack as built brings.

    A rack as built names its units after itself, ``SR-1``, ``SR-2``; a table of that id in the file adds to
    what the model says, and rules where both say something.
    """
    built = {rack.id: rack for rack in show.built_racks}
    written = {unit.id: unit for unit in show.rack_units}
    result: list[RackUnit] = []
    brought: set[str] = set()
    for rack in show.racks:
        model = built.get(rack.as_built or "")
        for number, inside in enumerate(model.contents if model else (), start=1):
            name = f"{rack.id}-{number}"
            brought.add(name)
            result.append(_brought_unit(name, rack.id, inside, written.get(name)))
    result.extend(unit for unit in show.rack_units if unit.id not in brought)
    return result


def _brought_unit(name: str, rack: str, inside: BuiltUnit, own: RackUnit | None) -> RackUnit:
    """Make the unit that a rack as built brings, with what the file adds to it."""
    if own is None:
        own = RackUnit(id=name, model=inside.model)
    return msgspec.structs.replace(
        own,
        rack=rack,
        unit=own.unit or inside.unit or None,
        bridged=own.bridged or inside.bridged,
        paralleled=own.paralleled or inside.paralleled,
        inputs=inside.inputs | own.inputs,
    )


@lru_cache(maxsize=512)
def channels_of(text: str, count: int) -> tuple[int, ...] | None:
    """Read ``3`` or ``3+4`` as channels of an amplifier that has so many; None for anything else."""
    parts = text.split("+")
    if not all(part.isascii() and part.isdecimal() and len(part) < 4 for part in parts) or len(parts) > 2:
        return None
    channels = tuple(int(part) for part in parts)
    if len(set(channels)) != len(channels) or not all(1 <= channel <= count for channel in channels):
        return None
    return channels


def is_pair(text: str) -> bool:
    """Tell whether a text numbers a pin pair of a connector: ``1`` and up."""
    return text.isascii() and text.isdecimal() and len(text) < 4 and int(text) >= 1
