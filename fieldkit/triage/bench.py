"""What all faults of a case share: the healthy circuits, what is seen and heard there, the numbers of the table."""

from __future__ import annotations

import msgspec

from fieldkit.gear.amplifier import Topology
from fieldkit.triage.changes import Ways, ways_of
from fieldkit.triage.circuit import Circuit
from fieldkit.triage.hearing import Drives
from fieldkit.triage.seeing import Views, views
from fieldkit.triage.table import Table


class Placed(msgspec.Struct, frozen=True, gc=False):
    """A section of a box, where it is and what it gets when all is well."""

    run: str
    index: int
    number: int
    section: str
    line: str
    output: str
    level: float


class Bench:
    """What all faults of a case share: the healthy circuits, and the numbers of the table."""

    def __init__(
        self,
        circuits: dict[str, Circuit],
        lines: dict[str, dict[str, str]],
        topologies: dict[str, dict[str, Topology]],
        least_ohm: dict[str, float],
        table: Table,
    ) -> None:
        self.circuits, self.lines, self.topologies = circuits, lines, topologies
        self.least_ohm, self.table = least_ohm, table
        self._views: dict[tuple[str, bool], Views] = {}
        self._drives: dict[str, Drives] = {}
        self._ways: dict[str, Ways] = {}
        self.places: dict[str, list[tuple[str, int]]] = {
            box: [(run, index) for run, circuit in circuits.items() for index, station in enumerate(circuit.stations)
                  if station.box == box]
            for box in dict.fromkeys(box for circuit in circuits.values() for box in circuit.boxes)
        }  # fmt: skip
        self._sections: dict[str, list[Placed]] = {}

    def sections(self, box: str) -> list[Placed]:
        """List the sections of a box with what they get when all is well."""
        if box not in self._sections:
            self._sections[box] = [
                Placed(run, index, number, element.section, element.line, self.output_of(run, element.line),
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
        """Give what reaches the sections of a healthy run."""
        if run not in self._drives:
            seen = self.views(run, dc=False)
            self._drives[run] = Drives(self.circuits[run], seen, self.lines[run], self.topologies[run])
        return self._drives[run]

    def ways(self, run: str) -> Ways:
        """Give the line on every pin pair of a healthy run."""
        if run not in self._ways:
            self._ways[run] = ways_of(self.circuits[run], self.lines[run])
        return self._ways[run]

    def output_of(self, run: str, line: str) -> str:
        """Give the output that feeds a line."""
        pair = next((pair for pair, name in self.lines[run].items() if name == line), "")
        return dict(self.circuits[run].feeds).get(pair, "")
