"""What a meter sees at every point of a circuit, with its spread: the ladder, pair by pair.

Where a fault joins two pairs (crossed minus wires), the points ahead of it are solved node by node (``netlist``).
A test proves that both ways agree on every fault.

A reading has parts of uncertainty that are kept apart: what all drivers share (batch, temperature of the coils), what
is only estimated, and what each driver has of its own. Each is carried along the ladder by its derivative,
dZ/dx of a parallel branch being (Z/x)².
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf

import msgspec

from fieldkit.formulas.loads import parallel
from fieldkit.triage.model import netlist
from fieldkit.triage.model.circuit import Circuit, Element, Segment, Station, is_open, metered, minus, plus
from fieldkit.triage.model.points import PlugPoint

UNKNOWN_SPREAD = 0.35
"""One sigma of an impedance at 1 kHz of which only the rated impedance is known: wide enough to promise nothing."""


class Seen(msgspec.Struct, frozen=True, gc=False):
    """What a meter sees between the two pins of a pair."""

    ohm: complex
    """inf for nothing there."""
    common: float = 0.0
    """Ohms more for a doubling of what all drivers share, in the straight line of small changes."""
    guess: float = 0.0
    """One sigma of what is only estimated, the same in all boxes of a model [ohm]."""
    own: float = 0.0
    """Sum of squares of each driver's share of the reading [ohm²]; times the relative spread squared."""
    known: bool = True
    """False where an impedance at 1 kHz rests on the rated one alone."""


OPEN = Seen(inf)


class Views(msgspec.Struct, frozen=True, gc=False):
    """What is seen at every place of a circuit with one kind of meter."""

    into: tuple[Mapping[str, Seen], ...]
    """Into each segment, from its near plug, by pin pair there."""
    at: tuple[Mapping[str, Seen], ...]
    """At each station with the feed pulled, link and all."""
    alone: tuple[Mapping[str, Seen], ...]
    """The box at each station by itself."""

    @property
    def joins_pairs(self) -> bool:
        """Tell whether two pairs are joined somewhere, so that the ladder does not hold."""
        return any(isinstance(found, ByNodes) for found in self.into)


def views(circuit: Circuit, *, dc: bool, healthy: tuple[Circuit, Views] | None = None) -> Views:
    """Look into a circuit from every place; what an edit does not change is taken from the healthy circuit's views."""
    count = len(circuit.segments)
    if healthy is None or len(healthy[0].segments) != count:
        alone: list[Mapping[str, Seen]] = [_alone(station, dc=dc) for station in circuit.stations]
        return _looked(circuit, Views(({},) * count, ({},) * count, tuple(alone)), count - 1, None, dc=dc)
    plan, known = healthy
    edited = [
        index
        for index in range(count)
        if circuit.segments[index] is not plan.segments[index] or circuit.stations[index] is not plan.stations[index]
    ]
    if not edited:
        return known
    alone = list(known.alone)
    for index in edited:
        if circuit.stations[index] is not plan.stations[index]:
            alone[index] = _alone(circuit.stations[index], dc=dc)
    return _looked(circuit, Views(known.into, known.at, tuple(alone)), edited[-1], (edited[0], known), dc=dc)


def _looked(circuit: Circuit, start: Views, last: int, until: tuple[int, Views] | None, *, dc: bool) -> Views:
    """Look into segments and stations from the last that is not known yet, toward the amplifier.

    ``start`` has what is known; ``until`` is the first edit and what was seen before: ahead of it nothing changes once
    its plug shows the same.
    """
    into, at, alone = list(start.into), list(start.at), start.alone
    coupled, shortened = False, circuit
    for index in range(last, -1, -1):
        segment = circuit.segments[index]
        if coupled:
            at[index] = ByNodes(shortened, index, dc=dc, station=True)
            into[index] = ByNodes(shortened, index, dc=dc, station=False)
            continue
        at[index] = _at(circuit, index, alone[index], into)
        found = _into(segment, at[index])
        if found is None:
            coupled = True
            shortened = _shortened(circuit, index, at[index])
            into[index] = ByNodes(shortened, index, dc=dc, station=False)
            continue
        into[index] = found
        if until is not None and index <= until[0] and segment.near_home and found == until[1].into[index]:
            at[:index] = until[1].at[:index]
            into[:index] = until[1].into[:index]
            break
    return Views(tuple(into), tuple(at), alone)


def _at(circuit: Circuit, index: int, alone: Mapping[str, Seen], into: list[Mapping[str, Seen]]) -> Mapping[str, Seen]:
    if index + 1 == len(circuit.segments) or not circuit.segments[index + 1].near_home:
        return alone
    onward = into[index + 1]
    return {pair: _both(alone.get(pair), onward.get(pair)) for pair in {**alone, **onward}}


def _into(segment: Segment, beyond: Mapping[str, Seen]) -> dict[str, Seen] | None:
    """Look into a segment from its near plug; None where it joins two pairs."""
    found: dict[str, Seen] = {}
    if any(bridge.one[:-1] != bridge.other[:-1] for bridge in segment.bridges):
        return None
    ends = {wire.near: wire for wire in segment.wires}
    for name, wire in ends.items():
        if not name.endswith("+"):
            continue
        other = ends.get(minus(name[:-1]))
        if other is None:
            continue
        far = wire.far[:-1]
        if other.far[:-1] != far:
            return None
        node = beyond.get(far) if segment.far_home else None
        for bridge in segment.bridges:
            if bridge.end == "far" and bridge.one == plus(far):
                node = _both(node, Seen(bridge.ohm))
        seen = OPEN if node is None or is_open(node.ohm) else _further(node, wire.ohm + other.ohm)
        found[name[:-1]] = seen
    for bridge in segment.bridges:
        if bridge.end == "near":
            pair = bridge.one[:-1]
            found[pair] = _both(found.get(pair), Seen(bridge.ohm))
    return found


def _further(node: Seen, ohm: float) -> Seen:
    return Seen(node.ohm + ohm, node.common, node.guess, node.own, node.known)


def _both(one: Seen | None, other: Seen | None) -> Seen:
    """Put two things in parallel."""
    if one is None or is_open(one.ohm):
        return other or OPEN
    if other is None or is_open(other.ohm):
        return one
    together = parallel(one.ohm, other.ohm)
    first, second = abs(together / one.ohm) ** 2, abs(together / other.ohm) ** 2
    return Seen(
        together,
        first * one.common + second * other.common,
        first * one.guess + second * other.guess,
        first**2 * one.own + second**2 * other.own,
        one.known and other.known,
    )


def _alone(station: Station, *, dc: bool) -> dict[str, Seen]:
    found: dict[str, Seen] = {}
    for element in station.elements:
        pair = element.plus[:-1]
        if element.minus[:-1] == pair:
            found[pair] = _both(found.get(pair), _of(element, dc=dc))
    return found


def _of(element: Element, *, dc: bool) -> Seen:
    ohm = metered(element, dc=dc)
    if is_open(ohm):
        return OPEN
    size = abs(ohm)
    if dc:
        return Seen(ohm, size, size * element.dc_guess, size**2)
    guess = 0.0 if element.z1k_known else UNKNOWN_SPREAD
    coil = min(size, element.dc_ohm) if element.dc_ohm < inf else size * 0.5
    return Seen(ohm, coil, size * guess, size**2, element.z1k_known)


def _shortened(circuit: Circuit, index: int, beyond: Mapping[str, Seen]) -> Circuit:
    """Cut a circuit after a station and hang there what the ladder sees from it on, pair by pair.

    The nodal solver works on what is left: its time grows with the square of the nodes.
    """
    elements = circuit.stations[index].elements
    if (
        index + 1 == len(circuit.stations)
        or not elements
        or any(each.plus[:-1] != each.minus[:-1] for each in elements)
    ):
        return circuit
    hung = tuple(
        msgspec.structs.replace(
            elements[0], plus=plus(pair), minus=minus(pair), dc_ohm=seen.ohm, z1k=seen.ohm, section="beyond"
        )
        for pair, seen in beyond.items()
        if not is_open(seen.ohm)
    )
    station = msgspec.structs.replace(circuit.stations[index], elements=hung)
    return msgspec.structs.replace(
        circuit, segments=circuit.segments[: index + 1], stations=(*circuit.stations[:index], station)
    )


class ByNodes(Mapping[str, Seen]):
    """What is seen at one place ahead of two joined pairs, each pair solved when it is first asked for."""

    def __init__(self, circuit: Circuit, index: int, *, dc: bool, station: bool) -> None:
        """Stand at a station, or with the near plug of a segment in hand."""
        self._circuit, self._index, self._dc = circuit, index, dc
        self._solve = netlist.seen_at_station if station else netlist.seen_into_segment
        ahead = index + 1 if station else index
        pairs = [wire.near[:-1] for wire in circuit.segments[ahead].wires]
        if station:
            pairs = [*(element.plus[:-1] for element in circuit.stations[index].elements), *pairs]
        self._solved: dict[str, Seen | None] = dict.fromkeys(pairs)

    def __getitem__(self, pair: str) -> Seen:
        """Return what is seen on a pair. Raises KeyError for a pair that is not there."""
        seen = self._solved[pair]
        if seen is None:
            ohm = self._solve(self._circuit, self._index, pair, dc=self._dc)
            seen = self._solved[pair] = OPEN if is_open(ohm) else _rough(ohm)
        return seen

    def __iter__(self) -> Iterator[str]:
        """Go through the pairs."""
        return iter(self._solved)

    def __len__(self) -> int:
        """Count the pairs."""
        return len(self._solved)


def _rough(ohm: complex) -> Seen:
    """Take the spread of one driver for a network that the ladder does not know."""
    size = abs(ohm)
    return Seen(ohm, size, 0.0, size**2)


def look(seen: Views, point: PlugPoint, pair: str) -> Seen:
    """Return what a meter sees at a point."""
    if point.kind == "amp":
        return seen.into[0].get(pair, OPEN) if seen.into else OPEN
    if point.kind == "out":
        onward: Sequence[Mapping[str, Seen]] = seen.into[point.index + 1 : point.index + 2]
        return onward[0].get(pair, OPEN) if onward else OPEN
    return (seen.at if point.kind == "in" else seen.alone)[point.index].get(pair, OPEN)
