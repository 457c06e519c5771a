"""The places of a run where a plug can be pulled and a meter put."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from fieldkit.rig.connect.cable_ends import CableEnd, cable_ends
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.triage.model.circuit import Circuit


class PlugPoint(msgspec.Struct, frozen=True, gc=False):
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


def points(circuit: Circuit, names: dict[str, str]) -> tuple[PlugPoint, ...]:
    """List the points of a healthy circuit; ``names`` gives the line of each pair at the amplifier."""
    pairs = dict(names)
    found = [PlugPoint("amp", 0, "amp", tuple(pairs), tuple(pairs.values()))]
    last = len(circuit.segments) - 1
    for index, (segment, station) in enumerate(zip(circuit.segments, circuit.stations, strict=True)):
        through = {wire.near[:-1]: wire.far[:-1] for wire in segment.wires}
        pairs = {through[pair]: line for pair, line in pairs.items() if pair in through}
        what = tuple(pairs), tuple(pairs.values())
        if station.panel:
            found.append(PlugPoint(f"{station.panel}.out", index, "out", *what))
        if station.box:
            found.append(PlugPoint(f"{station.box}.in", index, "in", *what))
            if index < last:
                found.append(PlugPoint(f"{station.box}.out", index, "out", *what))
            found.append(PlugPoint(f"{station.box}.alone", index, "alone", *what))
    return tuple(found)


def own_pair(point: PlugPoint, pair: str) -> str:
    """Find the pin pair at a point by its number there or by the line's name; empty for neither."""
    if pair in point.pairs:
        return pair
    for own, line in zip(point.pairs, point.lines, strict=True):
        if pair in {line, line.partition("/")[2]}:
            return own
    return ""


def point_at(end: CableEnd, rig: Rig, run: str) -> str:
    """Name the meter point of a cable end; empty where its plug goes into another cable, an adaptor or an inlet."""
    if not end.near:
        return f"{end.place}.in" if end.kind == "input" else ""
    if end.kind in {"amplifier", "rack panel"}:
        return "amp"
    if end.kind == "link":
        return f"{end.place}.out"
    if end.kind == "socket":
        path = next(one.path for one in rig.show.runs if one.id == run)
        number = dict(end.steps)[run]
        return f"{path[number - 2].panel}.out"
    return ""


def labels(rig: Rig) -> dict[str, CableEnd]:
    """Find the cable end of every label."""
    return {end.label: end for end in cable_ends(rig.show, rig.show_index)}


def points_at(end: CableEnd | None, rig: Rig, runs: Iterable[str]) -> list[tuple[str, str]]:
    """List the meter point of a cable end on each of these runs that go through it: run and point."""
    if end is None:
        return []
    return [(run, name) for run in runs if run in end.runs and (name := point_at(end, rig, run))]
