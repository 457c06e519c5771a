"""A circuit as parts for the nodal solver: always right, and slow. ``seeing`` is the quick way, proved on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import inf

from fieldkit.gear.amplifier import Topology
from fieldkit.rig.solve.network import GROUND, Branch, VoltageSource, seen_ohm, solve
from fieldkit.triage.model.circuit import Circuit, Segment, Station, is_open, metered, minus, plus

OPEN_ABOVE_OHM = 1e6
"""What a hand-held meter shows as open."""


def parts_of(circuit: Circuit, *, dc: bool, start: int = 0) -> Iterator[Branch]:
    """List the parts from a segment on. Its near plug is in the meter's clips, whether it was home or not."""
    for index in range(start, len(circuit.segments)):
        yield from _segment(circuit.segments[index], index, held=index == start)
        yield from _station(circuit.stations[index], index, dc=dc)


def _segment(segment: Segment, index: int, *, held: bool) -> Iterator[Branch]:
    near = f"plug{index}" if held or not segment.near_home else f"at{index - 1}"
    far = f"at{index}" if segment.far_home else f"loose{index}"
    for wire in segment.wires:
        yield Branch(f"{near}:{wire.near}", f"{far}:{wire.far}", wire.ohm)
    for bridge in segment.bridges:
        end = near if bridge.end == "near" else far
        yield Branch(f"{end}:{bridge.one}", f"{end}:{bridge.other}", bridge.ohm)


def _station(station: Station, index: int, *, dc: bool) -> Iterator[Branch]:
    for element in station.elements:
        ohm = metered(element, dc=dc)
        if not is_open(ohm):
            yield Branch(f"at{index}:{element.plus}", f"at{index}:{element.minus}", ohm)


def seen_into_segment(circuit: Circuit, index: int, pair: str, *, dc: bool) -> complex:
    """Compute what a meter reads on the near plug of a segment [ohm]; inf for open."""
    return _seen(parts_of(circuit, dc=dc, start=index), f"plug{index}", pair)


def seen_at_station(circuit: Circuit, index: int, pair: str, *, dc: bool, alone: bool = False) -> complex:
    """Compute what a meter reads on the pins of a box, feed unplugged [ohm]; ``alone`` with its link unplugged too."""
    parts = list(_station(circuit.stations[index], index, dc=dc))
    if not alone and index + 1 < len(circuit.segments):
        parts += _segment(circuit.segments[index + 1], index + 1, held=False)
        parts += _station(circuit.stations[index + 1], index + 1, dc=dc)
        for later in range(index + 2, len(circuit.segments)):
            parts += _segment(circuit.segments[later], later, held=False)
            parts += _station(circuit.stations[later], later, dc=dc)
    return _seen(parts, f"at{index}", pair)


def _seen(parts: Iterable[Branch], place: str, pair: str) -> complex:
    parts = list(parts)
    one, other = f"{place}:{plus(pair)}", f"{place}:{minus(pair)}"
    nodes = {node for part in parts for node in (part.one, part.other)}
    if one not in nodes or other not in nodes:
        return inf
    ohm = seen_ohm(parts, one, other)
    return inf if abs(ohm) > OPEN_ABOVE_OHM else ohm


def section_volts(
    circuit: Circuit, driven: Mapping[str, float], topology: Mapping[str, Topology]
) -> dict[tuple[int, int], complex]:
    """Compute the voltage on every section, by station and place in it, at the rated impedances.

    ``driven`` names the volts of each pin pair's output at the amplifier, ``topology`` what its minus post is.
    An output that is not driven is a short circuit, as an amplifier's is.
    """
    parts: list[Branch] = []
    for index, segment in enumerate(circuit.segments):
        parts += _segment(segment, index, held=False)
        for element in circuit.stations[index].elements:
            ohm = element.load.impedance_ohm if not is_open(element.z1k) else inf
            if ohm < inf:
                parts.append(Branch(f"at{index}:{element.plus}", f"at{index}:{element.minus}", ohm))
    sources = []
    for pair, volts in driven.items():
        one, other = f"at-1:{plus(pair)}", f"at-1:{minus(pair)}"
        if topology[pair] == "bridge-tied":
            sources += [VoltageSource(one, GROUND, volts / 2), VoltageSource(GROUND, other, volts / 2)]
        elif topology[pair] == "alternate" and int(pair) % 2 == 0:
            sources += [VoltageSource(one, GROUND, 0.0), VoltageSource(GROUND, other, volts)]
        else:
            sources += [VoltageSource(one, GROUND, volts), VoltageSource(other, GROUND, 0.0)]
    volts_at = solve(parts, sources)
    found = {}
    for index, station in enumerate(circuit.stations):
        for number, element in enumerate(station.elements):
            one, other = f"at{index}:{element.plus}", f"at{index}:{element.minus}"
            found[index, number] = volts_at.get(one, 0j) - volts_at.get(other, 0j)
    return found
