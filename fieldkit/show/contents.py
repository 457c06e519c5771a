"""What a show contains, by id: models of every kind, and the amplifiers and processors of all racks."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import msgspec

from fieldkit.gear.rack import BuiltUnit
from fieldkit.show.document import MODEL_TABLES, Model, RackUnit, Show


def models_by_id(show: Show) -> dict[str, Model]:
    """Index the models of every kind."""
    return {model.id: model for table in MODEL_TABLES for model in getattr(show, table)}


class PlaceInRack(NamedTuple):
    """A place in a rack as built, and what stands there."""

    name: str
    rack: str
    inside: BuiltUnit
    own: RackUnit | None
    """What the file adds."""


def unit_in(place: PlaceInRack) -> RackUnit:
    """Make the unit that a rack as built brings, with what the file adds to it."""
    inside, own = place.inside, place.own or RackUnit(id=place.name, model=place.inside.model)
    return msgspec.structs.replace(
        own,
        rack=place.rack,
        unit=own.unit or inside.unit or None,
        bridged=own.bridged or inside.bridged,
        paralleled=own.paralleled or inside.paralleled,
        inputs=inside.inputs | own.inputs,
    )


def all_units(show: Show, bring: Callable[[PlaceInRack], RackUnit] = unit_in) -> list[RackUnit]:
    """List the amplifiers and processors: those of the file, and those that a rack as built brings.

    A rack as built names its units after itself, ``SR-1``, ``SR-2``; a table of that id in the file adds to
    what the model says, and rules where both say something. ``bring`` may know a unit that it made before.
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
            result.append(bring(PlaceInRack(name, rack.id, inside, written.get(name))))
    result.extend(unit for unit in show.rack_units if unit.id not in brought)
    return result


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
