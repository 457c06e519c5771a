"""The places of a run where a plug can be pulled and a meter put."""

from __future__ import annotations

import msgspec

from fieldkit.triage.circuit import Circuit


class Point(msgspec.Struct, frozen=True, gc=False):
    """A place where a plug can be pulled."""

    name: str
    """``amp``, ``ML2.in``, ``ML2.out``, ``ML2.alone``, ``PANEL.out``."""
    index: int
    """Of the segment for ``amp``, of the station for the others."""
    kind: str
    """``amp``, ``in``, ``out``, ``alone``."""
    pairs: tuple[str, ...]
    """Pin pairs there, as they are numbered there."""
    lines: tuple[str, ...]
    """The line of each pair."""


def points(circuit: Circuit, names: dict[str, str]) -> tuple[Point, ...]:
    """List the points of a healthy circuit; ``names`` gives the line of each pair at the amplifier."""
    pairs = dict(names)
    found = [Point("amp", 0, "amp", tuple(pairs), tuple(pairs.values()))]
    last = len(circuit.segments) - 1
    for index, (segment, station) in enumerate(zip(circuit.segments, circuit.stations, strict=True)):
        through = {wire.near[:-1]: wire.far[:-1] for wire in segment.wires}
        pairs = {through[pair]: line for pair, line in pairs.items() if pair in through}
        what = tuple(pairs), tuple(pairs.values())
        if station.panel:
            found.append(Point(f"{station.panel}.out", index, "out", *what))
        if station.box:
            found.append(Point(f"{station.box}.in", index, "in", *what))
            if index < last:
                found.append(Point(f"{station.box}.out", index, "out", *what))
            found.append(Point(f"{station.box}.alone", index, "alone", *what))
    return tuple(found)


def own_pair(point: Point, pair: str) -> str:
    """Give the pin pair at a point, for its number there or for the line's name; empty for neither."""
    if pair in point.pairs:
        return pair
    for own, line in zip(point.pairs, point.lines, strict=True):
        if pair in {line, line.partition("/")[2]}:
            return own
    return ""
