"""What a connector offers: pin pairs directly, behind a breakout panel, or a second lot behind an adaptor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import msgspec

from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.rig.outputs import Mode

Channel = tuple[int, int]
"""Number of the unit in a rack as built (0 for a loose amplifier), and of its channel."""


class Feed(msgspec.Struct, frozen=True, gc=False):
    """What one pin pair of a connector carries."""

    name: str
    """``3`` or ``3+4``; in a rack as built ``2.3+4``."""
    mode: Mode
    amplifier: str
    """Its model."""
    channels: frozenset[Channel]


class Kind(msgspec.Struct, frozen=True, order=True, gc=False):
    """What a place offers to a cluster of boxes: places of one kind are alike."""

    feeds: tuple[tuple[str, Mode, str], ...]
    """For each pin pair at the box: pair, mode and model of the amplifier."""
    plug: str
    """Connector that the lead begins with; empty where nobody knows."""
    passes_on: bool
    """Another cluster comes behind this one on the same run, so that its boxes must link and carry all pairs."""
    joint: str = ""
    """Connector of the adaptor that comes behind; empty where nobody knows."""

    @property
    def pairs(self) -> tuple[str, ...]:
        """The pin pairs at the box."""
        return tuple(pair for pair, _, _ in self.feeds)


class Place(msgspec.Struct, frozen=True, gc=False):
    """A place for one cluster."""

    kind: Kind
    feeds: tuple[tuple[str, Feed], ...]
    """Pin pair at the connector -> what it carries."""
    panel: str = ""
    socket: str = ""
    adaptor: str = ""
    """It lies behind the place before it, and this adaptor brings its pair over."""


class Use(msgspec.Struct, frozen=True, gc=False):
    """One way to use a connector: its places, and what that takes."""

    places: tuple[Place, ...]
    channels: frozenset[Channel]
    parts: tuple[str, ...]
    """Adaptors and panels."""


class Fittings(msgspec.Struct, frozen=True):
    """Cables, adaptors and panels that can be had."""

    cables: tuple[Cable, ...]
    adaptors: tuple[Adaptor, ...]
    panels: tuple[Panel, ...]


def plug_of(pins: Mapping[str, str], known: str = "") -> str:
    """Name a connector by what is known of it, else by its pins: more than two pairs need eight poles."""
    if known:
        return known
    return "8-pole" if any(int(pair) > 2 for pair in pins) else ""


def uses_of(
    pins: Mapping[str, Feed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings
) -> tuple[Use, ...]:
    """List the ways to use one connector for boxes that want these pin pairs."""
    found: dict[tuple[Place, ...], Use] = {}
    for places, parts in (
        *_direct(pins, plug, wanted),
        *_one_behind(pins, plug, wanted, fittings),
        *_panels(pins, plug, wanted, fittings),
    ):
        channels = [feed.channels for place in places for _, feed in place.feeds]
        together: frozenset[Channel] = frozenset().union(*channels)
        if len(together) == sum(map(len, channels)):
            found.setdefault(places, Use(places, together, parts))
    return tuple(found.values())


def _place(pairs: Mapping[str, str], pins: Mapping[str, Feed], plug: str, **more: str) -> Place:
    """Make a place; ``pairs`` gives for each pair at the box the pair at the connector."""
    kind = Kind(
        tuple((pair, pins[own].mode, pins[own].amplifier) for pair, own in pairs.items()), plug, passes_on=False
    )
    return Place(kind, tuple((own, pins[own]) for own in pairs.values()), **more)


_Found = Iterator[tuple[tuple[Place, ...], tuple[str, ...]]]


def _direct(pins: Mapping[str, Feed], plug: str, wanted: Sequence[tuple[str, ...]]) -> _Found:
    for pairs in wanted:
        if all(pair in pins for pair in pairs):
            yield (_place({pair: pair for pair in pairs}, pins, plug),), ()


def _one_behind(pins: Mapping[str, Feed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings) -> _Found:
    """Two lots on one run: the first on its pair, the second on another pair that an adaptor brings over."""
    if not any(cable.far_pair("2") == "2" for cable in fittings.cables):
        return
    singles = [pairs[0] for pairs in wanted if len(pairs) == 1]
    for adaptor in fittings.adaptors:
        for first, second in product(singles, singles):
            for own, over in adaptor.pins.items():
                if over != second or own in (first, second) or own not in pins or first not in pins:
                    continue
                near = _place({first: first}, pins, plug)
                ends = adaptor.connectors or ("", "")
                kind = msgspec.structs.replace(near.kind, passes_on=True, joint=ends[0])
                behind = _place({second: own}, pins, ends[-1], adaptor=adaptor.id)
                yield (msgspec.structs.replace(near, kind=kind), behind), (adaptor.id,)


def _panels(pins: Mapping[str, Feed], plug: str, wanted: Sequence[tuple[str, ...]], fittings: Fittings) -> _Found:
    """Give the lots at the sockets of a breakout panel at the end of a multicore."""
    for panel in fittings.panels:
        if not plug or panel.connector != plug or not any(_reaches(cable, plug, pins) for cable in fittings.cables):
            continue
        choices = []
        for socket, pairs in panel.sockets.items():
            own = {at_box: at_tail for at_tail, at_box in pairs.items() if at_tail in pins}
            served = [need for need in wanted if all(pair in own for pair in need)]
            places = [
                _place({pair: own[pair] for pair in need}, pins, panel.socket_connector, panel=panel.id, socket=socket)
                for need in served
            ]
            if places:
                choices.append(places)
        for chosen in product(*choices) if choices else ():
            yield tuple(chosen), (panel.id,)


def _reaches(cable: Cable, plug: str, pins: Mapping[str, Feed]) -> bool:
    ends = cable.connectors or (plug, plug)
    return ends[0] == ends[-1] == plug and all(cable.far_pair(pair) == pair for pair in pins)
