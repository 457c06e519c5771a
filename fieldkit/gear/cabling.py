"""Models of what lies between an output and a box: cables, adaptors, panels. All are a pin map."""

from __future__ import annotations

from fieldkit.gear.names import FreeText, OwnPart, Word
from fieldkit.gear.thing import Case, ModelId, PinMap, Positive, Thing
from fieldkit.units import Area, Current, Mass, Resistance


class Cable(Thing, frozen=True, kw_only=True):
    """A type of loudspeaker cable or multicore. Its lengths are in the stock."""

    id: ModelId
    description: FreeText = ""
    cores: Positive = 2
    area: Area
    """Cross-section of one core, in mm² (class 5) or as a gauge: ``14 AWG`` (stranded)."""
    connectors: tuple[Word, ...] = ()
    """Near end, far end."""
    pins: PinMap = {}
    """Where it is not straight through."""
    current: Current | None = None
    weight: Mass | None = None
    """Of one metre."""
    case: Case | None = None
    note: FreeText = ""

    def far_pair(self, pair: str) -> str | None:
        """Follow a pin pair through the cable; None where no conductor carries it."""
        if self.pins:
            return self.pins.get(pair)
        return pair if pair.isdecimal() and 1 <= int(pair) <= self.cores // 2 else None


class Adaptor(Thing, frozen=True, kw_only=True):
    """A type of adaptor: two connectors and the pairs that it joins."""

    id: ModelId
    description: FreeText = ""
    connectors: tuple[Word, ...] = ()
    pins: PinMap = {}
    resistance: Resistance | None = None
    """Of a whole loop through it."""
    current: Current | None = None
    case: Case | None = None
    note: FreeText = ""

    def far_pair(self, pair: str) -> str | None:
        """Follow a pin pair through the adaptor; straight through where no pins are given."""
        return self.pins.get(pair) if self.pins else pair


class Panel(Thing, frozen=True, kw_only=True):
    """A type of breakout: one tail or multicore in, several sockets out."""

    id: ModelId
    description: FreeText = ""
    connector: Word = ""
    sockets: dict[OwnPart, PinMap]
    """Socket -> pin pair at the tail -> pin pair at the socket."""
    socket_connector: Word = ""
    resistance: Resistance | None = None
    case: Case | None = None
    note: FreeText = ""

    def far_pair(self, socket: str, pair: str) -> str | None:
        """Follow a pin pair from the tail to one socket; None where that socket does not carry it."""
        return self.sockets.get(socket, {}).get(pair)
