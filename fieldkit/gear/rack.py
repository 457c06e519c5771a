"""A model of rack as built: prewired amplifiers and processors behind a panel."""

from __future__ import annotations

from typing import Annotated

from fieldkit.gear.names import FreeText, OwnPart, Word, names
from fieldkit.gear.thing import Case, Count, ModelId, Positive, Thing
from fieldkit.units import Area, Length, Mass

UnitModel = Annotated[ModelId, names("a model of amplifier or processor", "amplifier", "processor", required=False)]


class BuiltUnit(Thing, frozen=True, kw_only=True):
    """One amplifier or processor in a rack as built."""

    model: UnitModel
    unit: Count = 0
    """Lowest rack unit it fills, counted from the bottom; 0 when nobody noted it."""
    bridged: tuple[OwnPart, ...] = ()
    paralleled: tuple[OwnPart, ...] = ()
    inputs: dict[OwnPart, Word] = {}


class Wiring(Thing, frozen=True, kw_only=True):
    """The wire between an amplifier's output and the rack's panel, one way."""

    length: Length
    area: Area


class BuiltRack(Thing, frozen=True, kw_only=True):
    """A type of rack that arrives prewired. Its units are named after the rack: ``SR-1``, ``SR-2``, …"""

    id: ModelId
    description: FreeText = ""
    units: Positive
    weight: Mass | None = None
    contents: tuple[BuiltUnit, ...]
    panel: dict[OwnPart, dict[OwnPart, OwnPart]] = {}
    """Socket -> pin pair -> unit and channel: ``{ 1 = "1.1", 2 = "1.2" }``; a bridged pair is ``1.3+4``."""
    connector: Word = "4-pole"
    wiring: Wiring | None = None
    case: Case | None = None
    note: FreeText = ""
