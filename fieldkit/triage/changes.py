"""Where a fault's circuit differs from the healthy one, and so from which plugs a meter can see it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.triage.circuit import Circuit, Segment, Station
from fieldkit.triage.points import Point

Names = dict[str, str]
"""Pin pair and line."""


class Ways(msgspec.Struct, frozen=True, gc=False):
    """Which line runs on which pin pair, at the near and at the far end of every segment of a healthy run."""

    near: tuple[Names, ...]
    far: tuple[Names, ...]


def ways_of(circuit: Circuit, names: Names) -> Ways:
    """Follow the lines of a run; ``names`` gives the line of each pair at the amplifier."""
    near, far = [], []
    for segment in circuit.segments:
        near.append(names)
        through = {wire.near[:-1]: wire.far[:-1] for wire in segment.wires}
        names = {through[pair]: line for pair, line in names.items() if pair in through}
        far.append(names)
    return Ways(tuple(near), tuple(far))


class Changes(msgspec.Struct, frozen=True, gc=False):
    """What a fault changes."""

    stations: frozenset[int] = frozenset()
    last: int = -1
    """The last segment or station that it changes."""
    lines: frozenset[str] | None = frozenset()
    """None for all."""

    def show_at(self, point: Point, line: str) -> bool:
        """Tell whether a meter on a line at a point can see them: not what lies before the plug that is pulled."""
        if self.lines is not None and line not in self.lines:
            return False
        if point.kind == "alone":
            return point.index in self.stations
        return {"amp": 0, "in": point.index, "out": point.index + 1}[point.kind] <= self.last


def changes_of(healthy: Circuit, circuits: Sequence[Circuit], ways: Ways) -> Changes:
    """Compare circuits with the healthy one; where one has other segments, all of it counts as changed."""
    count = len(healthy.segments)
    stations: set[int] = set()
    lines: set[str] = set()
    last = -1
    for circuit in circuits:
        if len(circuit.segments) != count:
            return everything(len(circuit.segments))
        for index in range(count):
            here = far = False
            if circuit.stations[index] is not healthy.stations[index]:
                here = True
                stations.add(index)
                lines |= _of_station(circuit.stations[index], healthy.stations[index], ways.far[index])
            if circuit.segments[index] is not healthy.segments[index]:
                far = True
                lines |= _of_segment(circuit.segments[index], healthy.segments[index], ways, index)
            if here or far:
                last = max(last, index)
    return Changes(frozenset(stations), last, frozenset(lines))


def everything(count: int) -> Changes:
    """Give what changes all of a run."""
    return Changes(frozenset(range(count)), count, None)


def _of_station(one: Station, other: Station, names: Names) -> set[str]:
    differing = [element for element in one.elements if not any(element is same for same in other.elements)]
    differing += [element for element in other.elements if not any(element is same for same in one.elements)]
    pairs = {pin[:-1] for element in differing for pin in (element.plus, element.minus)}
    return {names[pair] for pair in pairs if pair in names}


def _of_segment(one: Segment, other: Segment, ways: Ways, index: int) -> set[str]:
    near, far = ways.near[index], ways.far[index]
    if (one.near_home, one.far_home) != (other.near_home, other.far_home):
        return set(near.values())
    wires = [wire for wire in one.wires if wire not in other.wires] + [
        wire for wire in other.wires if wire not in one.wires
    ]
    found = {near[wire.near[:-1]] for wire in wires if wire.near[:-1] in near}
    found |= {far[wire.far[:-1]] for wire in wires if wire.far[:-1] in far}
    for bridge in (*one.bridges, *other.bridges):
        names = near if bridge.end == "near" else far
        found |= {names[pin[:-1]] for pin in (bridge.one, bridge.other) if pin[:-1] in names}
    return found
