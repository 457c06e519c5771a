"""Edits of a circuit, each one thing that can be wrong with it. All give a new circuit."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from fieldkit.triage.model.circuit import Bridge, Circuit, Element, End, Segment, Station, Wire, minus, plus

replace = msgspec.structs.replace


def _with_segment(circuit: Circuit, index: int, segment: Segment) -> Circuit:
    segments = (*circuit.segments[:index], segment, *circuit.segments[index + 1 :])
    return replace(circuit, segments=segments)


def with_station(circuit: Circuit, index: int, station: Station) -> Circuit:
    """Put another box in the place of one."""
    stations = (*circuit.stations[:index], station, *circuit.stations[index + 1 :])
    return replace(circuit, stations=stations)


def with_elements(circuit: Circuit, index: int, elements: tuple[Element, ...]) -> Circuit:
    """Change what hangs on the pins of a station; none for a box that is not there."""
    return with_station(circuit, index, replace(circuit.stations[index], elements=elements))


def with_element(circuit: Circuit, index: int, number: int, element: Element | None) -> Circuit:
    """Change one section of a box; None takes it away."""
    elements = circuit.stations[index].elements
    new = () if element is None else (element,)
    return with_elements(circuit, index, (*elements[:number], *new, *elements[number + 1 :]))


def conductor_open(circuit: Circuit, index: int, near: str) -> Circuit:
    """Break one conductor of a segment, named at its near end."""
    segment = circuit.segments[index]
    wires = tuple(wire for wire in segment.wires if wire.near != near)
    return _with_segment(circuit, index, replace(segment, wires=wires))


def conductor_worse(circuit: Circuit, index: int, near: str, more_ohm: float) -> Circuit:
    """Add a bad contact to one conductor of a segment [ohm]."""
    segment = circuit.segments[index]
    wires = tuple(replace(wire, ohm=wire.ohm + more_ohm) if wire.near == near else wire for wire in segment.wires)
    return _with_segment(circuit, index, replace(segment, wires=wires))


def shorted(circuit: Circuit, index: int, pair: str, end: End) -> Circuit:
    """Let the two conductors of a pair touch at one end of a segment; the pair is numbered at that end."""
    segment = circuit.segments[index]
    bridge = Bridge(end, plus(pair), minus(pair))
    return _with_segment(circuit, index, replace(segment, bridges=(*segment.bridges, bridge)))


def plug_not_home(circuit: Circuit, index: int, end: End) -> Circuit:
    """Leave the plug at one end of a segment unlocked, with no contact."""
    segment = circuit.segments[index]
    changed = replace(segment, near_home=False) if end == "near" else replace(segment, far_home=False)
    return _with_segment(circuit, index, changed)


def _renamed(circuit: Circuit, index: int, new_name: Callable[[str], str]) -> Circuit:
    segment = circuit.segments[index]
    wires = tuple(Wire(wire.near, new_name(wire.far), wire.ohm) for wire in segment.wires)
    return _with_segment(circuit, index, replace(segment, wires=wires))


def pairs_crossed(circuit: Circuit, index: int, one: str, other: str) -> Circuit:
    """Exchange two pairs at the far end of a segment."""
    change = {plus(one): plus(other), minus(one): minus(other), plus(other): plus(one), minus(other): minus(one)}
    return _renamed(circuit, index, lambda name: change.get(name, name))


def minus_wires_crossed(circuit: Circuit, index: int, one: str, other: str) -> Circuit:
    """Exchange the minus wires of two pairs at the far end of a segment."""
    change = {minus(one): minus(other), minus(other): minus(one)}
    return _renamed(circuit, index, lambda name: change.get(name, name))


def plus_wires_crossed(circuit: Circuit, index: int, one: str, other: str) -> Circuit:
    """Exchange the plus wires of two pairs at the far end of a segment."""
    change = {plus(one): plus(other), plus(other): plus(one)}
    return _renamed(circuit, index, lambda name: change.get(name, name))


def fed_from_one(circuit: Circuit, index: int, near: str, one: str, other: str) -> Circuit:
    """Feed two pairs of the far end from one pair of the near end: a wrong adaptor."""
    segment = circuit.segments[index]
    wires = tuple(wire for wire in segment.wires if wire.near in {plus(near), minus(near)})
    joins = (Bridge("far", plus(one), plus(other), 0.01), Bridge("far", minus(one), minus(other), 0.01))
    return _with_segment(circuit, index, replace(segment, wires=wires, bridges=(*segment.bridges, *joins)))


def element_reversed(circuit: Circuit, index: int, number: int) -> Circuit:
    """Exchange plus and minus of one section inside a box."""
    element = circuit.stations[index].elements[number]
    return with_element(circuit, index, number, replace(element, plus=element.minus, minus=element.plus))


def reversed_pair(circuit: Circuit, index: int, pair: str) -> Circuit:
    """Exchange plus and minus of a pair at the far end of a segment."""
    change = {plus(pair): minus(pair), minus(pair): plus(pair)}
    return _renamed(circuit, index, lambda name: change.get(name, name))


def only_pair(circuit: Circuit, index: int, pair: str) -> Circuit:
    """Put a two-core lead where more cores are needed: only one pair goes through."""
    segment = circuit.segments[index]
    wires = tuple(wire for wire in segment.wires if wire.near in {plus(pair), minus(pair)})
    return _with_segment(circuit, index, replace(segment, wires=wires))


def one_more_box(circuit: Circuit) -> Circuit:
    """Hang another box like the last one on its link, at the end of a short lead."""
    last = max(index for index, station in enumerate(circuit.stations) if station.box)
    station = circuit.stations[last]
    pins = dict.fromkeys(pin for element in station.elements for pin in (element.plus, element.minus))
    lead = Segment("the lead to one box too many", "cable", "", tuple(Wire(pin, pin, 0.04) for pin in pins))
    extra = replace(station, box="", label="one box too many")
    return replace(
        circuit,
        segments=(*circuit.segments[: last + 1], lead, *circuit.segments[last + 1 :]),
        stations=(*circuit.stations[: last + 1], extra, *circuit.stations[last + 1 :]),
    )
