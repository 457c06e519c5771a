"""What all faults of a case share: the healthy circuits, what is seen and heard there, the numbers of the table."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.gear.amplifier import Topology
from fieldkit.triage.model.circuit import Circuit, Segment, Station
from fieldkit.triage.model.harm import Volts
from fieldkit.triage.model.hearing import Drives
from fieldkit.triage.model.odds import OddsTable
from fieldkit.triage.model.points import PlugPoint
from fieldkit.triage.model.seeing import Views, views

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

    def show_at(self, point: PlugPoint, line: str) -> bool:
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
    """Return the changes of a fault that affects all of a run."""
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


class Placed(msgspec.Struct, frozen=True, gc=False):
    """A section of a box, where it is and what it gets when all is well."""

    box: str
    run: str
    index: int
    number: int
    section: str
    line: str
    output: str
    level: float


class HealthyRuns(msgspec.Struct, frozen=True):
    """The runs of a case when all is well, by name."""

    circuits: dict[str, Circuit]
    lines: dict[str, dict[str, str]]
    """Line on each pin pair."""
    topologies: dict[str, dict[str, Topology]]
    """How the output of each pin pair drives its posts."""


class HealthyReference:
    """What all faults of a case share: the healthy circuits, and the numbers of the table."""

    def __init__(self, runs: HealthyRuns, minimum_ohm: dict[str, float], most_v: Volts, table: OddsTable) -> None:
        circuits = runs.circuits
        self.circuits, self.lines, self.topologies = circuits, runs.lines, runs.topologies
        self.minimum_ohm, self.most_v, self.table = minimum_ohm, most_v, table
        bands: dict[str, set[str]] = {}
        for circuit in circuits.values():
            for element in (each for station in circuit.stations for each in station.elements):
                bands.setdefault(element.line, set()).add(element.section)
        self.bands = {line: frozenset(sections) for line, sections in bands.items()}
        self._views: dict[tuple[str, bool], Views] = {}
        self._drives: dict[str, Drives] = {}
        self._ways: dict[str, Ways] = {}
        self.places: dict[str, list[tuple[str, int]]] = {
            box: [(run, index) for run, circuit in circuits.items() for index, station in enumerate(circuit.stations)
                  if station.box == box]
            for box in dict.fromkeys(box for circuit in circuits.values() for box in circuit.boxes)
        }  # fmt: skip
        self.fed = self._fed()
        """Boxes that each output feeds."""
        self.beside: dict[str, tuple[str, ...]] = {}
        """Boxes that play together with each box: of its zone, and of the zones that it shares the low end with."""
        self.zones: dict[str, tuple[str, ...]] = {}
        """Zones whose boxes are all part of the case."""
        self._sections: dict[str, list[Placed]] = {}

    def _fed(self) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for run, circuit in self.circuits.items():
            of_line = {self.lines[run][pair]: output for pair, output in circuit.feeds if pair in self.lines[run]}
            for station in circuit.stations:
                for element in station.elements:
                    found.setdefault(of_line.get(element.line, ""), set()).add(station.box)
        return found

    def sections(self, box: str) -> list[Placed]:
        """List the sections of a box with what they get when all is well."""
        if box not in self._sections:
            self._sections[box] = [
                Placed(box, run, index, number, element.section, element.line, self.output_of(run, element.line),
                       abs(self.drives(run).of(index, number).own))
                for run, index in self.places.get(box, ())
                for number, element in enumerate(self.circuits[run].stations[index].elements)
            ]  # fmt: skip
        return self._sections[box]

    def views(self, run: str, *, dc: bool) -> Views:
        """Look into a healthy run."""
        if (run, dc) not in self._views:
            self._views[run, dc] = views(self.circuits[run], dc=dc)
        return self._views[run, dc]

    def drives(self, run: str) -> Drives:
        """Return the drives of the sections of a healthy run."""
        if run not in self._drives:
            seen = self.views(run, dc=False)
            self._drives[run] = Drives(self.circuits[run], seen, self.lines[run], self.topologies[run])
        return self._drives[run]

    def ways(self, run: str) -> Ways:
        """Return the line on every pin pair of a healthy run."""
        if run not in self._ways:
            self._ways[run] = ways_of(self.circuits[run], self.lines[run])
        return self._ways[run]

    def output_of(self, run: str, line: str) -> str:
        """Find the output that feeds a line; empty for none."""
        pair = next((pair for pair, name in self.lines[run].items() if name == line), "")
        return dict(self.circuits[run].feeds).get(pair, "")
