"""A case: the runs that somebody asks about, all that can be wrong with them, and what follows from each fault."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain, islice
from typing import Any

import msgspec

from fieldkit.errors import NoAnswerError
from fieldkit.gear.amplifier import Topology
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.rig.connect.cable_ends import cable_ends
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.text.words import nearest, printable
from fieldkit.triage.belief.earlier import earlier_passes, earlier_readings, with_own_readings
from fieldkit.triage.belief.observations import Played
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.circuit import Circuit, circuit_of, is_open
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING, Fault
from fieldkit.triage.model.odds import OddsTable
from fieldkit.triage.model.points import PlugPoint, labels, own_pair, points, points_at
from fieldkit.triage.model.predicting import PredictedReading, reading_of
from fieldkit.triage.model.reference import HealthyReference, HealthyRuns
from fieldkit.triage.model.seeing import Seen, look
from fieldkit.triage.model.signature import Signature
from fieldkit.triage.model.upstream import Thing, Upstream, exchange_faults, upstream_faults
from fieldkit.triage.model.walk import run_faults
from fieldkit.triage.rig_check.meter_pass import exchanged_with


def runs_of(rig: Rig, word: str) -> tuple[str, ...]:
    """Find the runs of a box, run, line, output, unit, rack, zone or cable end. Raises ObservationError for none."""
    show = rig.show
    runs = {run.id: run for run in show.runs}
    if word in runs:
        return (word,)
    run, slash, pair = word.rpartition("/")
    if slash and run in runs:
        if any(line.id == word for line in rig.lines):
            return (run,)
        known = [line.id for line in rig.lines if line.run.id == run]
        raise ObservationError(f"no line '{printable(word)}' of pair '{printable(pair)}'{nearest(word, known)}")
    if word in rig.show_index.boxes:
        return tuple(run.id for run in show.runs if any(step.box == word for step in run.path))
    zones = {zone.id for zone in show.zones}
    if word in zones:
        boxes = {box.id for box in show.boxes if box.zone == word}
        return tuple(run.id for run in show.runs if any(step.box in boxes for step in run.path))
    found = dict.fromkeys(
        line.run.id
        for line in rig.lines
        if line.output and word in {line.output.id, line.output.unit.id, line.output.unit.rack}
    )
    fed = {output.output.id for output in rig.outputs if output.source == word}
    found |= dict.fromkeys(line.run.id for line in rig.lines if line.output and line.output.id in fed)
    if found:
        return tuple(found)
    if any(step.panel == word for run in show.runs for step in run.path):
        return ()  # a place to meter at, on whichever of its runs is asked about
    ends = {end.label: tuple(end.runs) for end in cable_ends(show, rig.show_index)}
    if word in ends:
        return ends[word]
    outputs = {output.output.id for output in rig.outputs}
    units = {*rig.show_index.units, *rig.show_index.racks}
    if word in outputs | units:
        return ()
    names = {*runs, *rig.show_index.boxes, *zones, *outputs, *units, *(line.id for line in rig.lines)}
    raise ObservationError(f"nothing has the label '{printable(word)}'{nearest(word, names)}")


MOST_BESIDE = 6
"""So many neighbours of a box are held against it."""


def beside(rig: Rig, box: str) -> tuple[str, ...]:
    """List the boxes that play together with one: of its own zone first, then of zones that share its low end."""
    zones = {zone.id: zone for zone in rig.show.zones}
    own = zones[rig.show_index.boxes[box].zone]
    linked = {other.id for other in zones.values() if own.id in (other.low_end_from or ())}
    linked |= {*(own.low_end_from or ())}
    near = (other.id for other in rig.show.boxes if other.zone == own.id and other.id != box)
    more = (other.id for other in rig.show.boxes if other.zone in linked - {own.id})
    return tuple(islice(chain(near, more), MOST_BESIDE))


MANY_RUNS = 6
"""Over so many runs a single fault lies before them all, and only the runs that were named are walked."""

MOST_EXCHANGES = 4
MOST_WITNESSES = 4


class Predicted(msgspec.Struct, frozen=True):
    """What a meter would say at one place."""

    readings: tuple[PredictedReading, ...]
    of_fault: tuple[int, ...]
    """For each fault of the case the number of its reading; -1 for something that is none of these."""


class FaultSearch:
    """What is asked about, and all hypotheses."""

    def __init__(self, rig: Rig, what: Sequence[str], table: OddsTable, mentioned: Iterable[str] = ()) -> None:
        """Collect the runs of the named things. Raises ObservationError, or NoAnswerError for a thing on no line."""
        self.rig, self.table, self.what = rig, table, tuple(what)
        by_run: dict[str, list[Line]] = {}
        for line in rig.lines:
            by_run.setdefault(line.run.id, []).append(line)
        named = dict.fromkeys(run for word in what for run in runs_of(rig, word))
        named |= dict.fromkeys(exchanged_with(rig, table, named))
        self.runs = tuple(run for run in named if run in by_run and any(line.pieces for line in by_run[run]))
        if not self.runs:
            listed = ", ".join(map(printable, what))
            raise NoAnswerError(f"{listed}: no loudspeaker line goes there, so there is nothing to find")
        self._by_run = by_run
        self.answers: dict[tuple[object, ...], Any] = {}
        """What tests may answer under each fault, kept by ``menu.answers_of``."""
        self._predicted: dict[tuple[str, str, str, bool], Predicted] = {}
        self._seen_from: dict[tuple[str, str, str], frozenset[int]] = {}
        ends = cable_ends(rig.show, rig.show_index)
        self.plugs = {run: end.label for end in ends if end.near for run, step in end.steps if step == 1}
        """The cable end of each run at its amplifier."""
        temperature_c = rig.conditions.temperature_c
        self.earlier = earlier_readings(rig, self.runs, table)
        circuits = {
            run: with_own_readings(circuit_of(by_run[run], temperature_c), run, self.earlier.well, table.meter)
            for run in self.runs
        }
        self.lines = {run: {line.pair: line.id for line in by_run[run]} for run in self.runs}
        self.points = {run: points(circuit, self.lines[run]) for run, circuit in circuits.items()}
        topologies: dict[str, dict[str, Topology]] = {
            run: {line.pair: line.output.model.outputs if line.output else "common" for line in by_run[run]}
            for run in self.runs
        }
        self.outputs = self._outputs()
        minimum = {output.output.id: output.output.minimum_ohm for output in self.outputs}
        self.bench = HealthyReference(HealthyRuns(circuits, self.lines, topologies), minimum, self._most_v, table)
        self.boxes = tuple(self.bench.places)
        self.bench.zones = self._zones()
        self.bench.beside = {box: beside(rig, box) for box in self.boxes}
        self.before = Upstream(rig, self.outputs)
        self.witnesses = self._witnesses()
        """Boxes of other lines, one for each way in which they hang on the same as these."""
        passes = earlier_passes(rig, self.output_names, self.boxes)
        self.earlier = msgspec.structs.replace(self.earlier, passes=passes)
        asked = [word for word in what if word in self.bench.places]
        self.focus = asked[0] if asked else ""
        self.faults = tuple(self._with_unknown(self._faults(set(mentioned))))
        self.signatures = tuple(
            None if fault.kind == NONE_OF_THESE else Signature(fault, self.bench) for fault in self.faults
        )

    @property
    def output_names(self) -> list[str]:
        """List the outputs by their ids."""
        return [output.output.id for output in self.outputs]

    def _zones(self) -> dict[str, tuple[str, ...]]:
        by_zone: dict[str, list[str]] = {}
        for box in self.rig.show.boxes:
            by_zone.setdefault(box.zone, []).append(box.id)
        known = self.bench.places.keys()
        return {zone: tuple(its) for zone, its in by_zone.items() if zone not in known and known >= set(its)}

    def _witnesses(self) -> tuple[str, ...]:
        shares: dict[frozenset[Thing], str] = {}
        for box in sorted(self.before.everywhere):
            shares.setdefault(frozenset(thing for thing, its in self.before.boxes.items() if box in its), box)
        return tuple(shares.values())[:MOST_WITNESSES]

    def _outputs(self) -> tuple[SolvedOutput, ...]:
        names = dict.fromkeys(line.output.id for run in self.runs for line in self._by_run[run] if line.output)
        return tuple(output for name in names if (output := self.rig.output(name)))

    def _most_v(self, name: str) -> float:
        """Compute the maximum output voltage: where its limiter really holds, or where it clips [V rms]."""
        output = self.rig.output(name)
        if output is None:
            return 0.0
        holding = output.limiter.holding_v if output.limiter else None
        return output.clip_v if holding is None else min(holding, output.clip_v)

    def _faults(self, mentioned: set[str]) -> Iterable[Fault]:
        table, rig = self.table, self.rig
        walked: set[str] = set()
        yield Fault(NOTHING, "", "nothing is wrong here", "nothing", "leave it as it is", "none", table.odds[NOTHING])
        yield from upstream_faults(self.outputs, self.before, table)
        for run in self.runs:
            circuit = self.bench.circuits[run]
            if len(self.runs) > MANY_RUNS and not mentioned & {run, *circuit.boxes}:
                continue
            others = {box: self._stand_ins(box) for box in circuit.boxes}
            yield from run_faults(circuit, table, others)
            others_beside = [other for other in self._neighbours(run) if other.run not in walked]
            walked.add(run)
            yield from exchange_faults(circuit, others_beside, rig, table)

    def _with_unknown(self, known: Iterable[Fault]) -> Iterable[Fault]:
        """Add what the model does not have: its chance is the same however many things can be wrong with a run."""
        total = 0.0
        for fault in known:
            total += fault.odds
            yield fault
        chance = self.table.odds[NONE_OF_THESE]
        yield Fault(
            NONE_OF_THESE, "", "something else than any of these", "unknown",
            "change parts one by one, from the amplifier outward", "none", total * chance / (1.0 - chance),
        )  # fmt: skip

    def _stand_ins(self, box: str) -> tuple[Loudspeaker, ...]:
        own = self.rig.show_index.speakers[box]
        used = dict.fromkeys(speaker.id for speaker in self.rig.show_index.speakers.values())
        return tuple(
            speaker
            for speaker in {item.id: item for item in self.rig.show_index.speakers.values()}.values()
            if speaker.id in used and speaker.id != own.id and speaker.connector == own.connector
        )

    def _neighbours(self, run: str) -> list[Circuit]:
        """Find the runs that start beside this one and have the same pairs."""
        lines = self._by_run[run]
        place = lines[0].run.start.partition(".")[0]
        units = {line.output.unit.rack or line.output.unit.id for line in lines if line.output}
        pairs = {line.pair for line in lines}
        found = []
        for other, its in self._by_run.items():
            if other == run or not any(line.pieces for line in its) or {line.pair for line in its} != pairs:
                continue
            beside = its[0].run.start.partition(".")[0] == place or units & {
                line.output.unit.rack or line.output.unit.id for line in its if line.output
            }
            if beside:
                found.append(circuit_of(its, self.rig.conditions.temperature_c))
        return found[:MOST_EXCHANGES]

    def point(self, name: str, pair: str) -> tuple[str, PlugPoint, str]:
        """Find a meter point, or the one of a cable end: its run, the point, and the pair as it is numbered there.

        Raises ObservationError for none, or for several.
        """
        found = self._points_named(name)
        if not found:
            labelled = points_at(labels(self.rig).get(name), self.rig, self.runs)
            found = [(run, point) for run, known in labelled for point in self.points[run] if point.name == known]
        if not found:
            known = [point.name for run in self.runs for point in self.points[run]]
            more = " or the label of a cable end"
            raise ObservationError(f"reading: no meter point '{printable(name)}'{nearest(name, known)}{more}")
        matching = [(run, point, own) for run, point in found if (own := own_pair(point, pair))]
        if not matching:
            pairs = [pair for _, point in found for pair in point.pairs]
            wrong = f"reading: {printable(name)} has no pin pair '{printable(pair)}'"
            raise ObservationError(wrong + nearest(pair, pairs))
        if len(matching) > 1:  # what was named first is what is being metered
            first = runs_of(self.rig, self.what[0]) if len(self.what) > 1 else ()
            own_runs = [item for item in matching if item[0] in first]
            matching = own_runs if len(own_runs) == 1 else matching
        if len(matching) > 1:
            listed = ", ".join(f"{run}.{point.name}" for run, point, _ in matching)
            raise ObservationError(f"reading: '{printable(name)}' is a point of several runs; write one of {listed}")
        return matching[0]

    def _points_named(self, name: str) -> list[tuple[str, PlugPoint]]:
        every = ((run, point) for run in self.runs for point in self.points[run])
        return [(run, point) for run, point in every if name in {point.name, f"{run}.{point.name}"}]

    def seen_from(self, run: str, point: PlugPoint, pair: str) -> frozenset[int]:
        """List the faults, by number, that a meter at a point can see; the others read there as if all were well."""
        key = (run, point.name, pair)
        if key not in self._seen_from:
            line = dict(zip(point.pairs, point.lines, strict=True))[pair]
            self._seen_from[key] = frozenset(
                number
                for number, signature in enumerate(self.signatures)
                if signature is None or signature.shows_at(run, point, line)
            )
        return self._seen_from[key]

    def predictions(self, run: str, point: PlugPoint, pair: str, *, dc: bool) -> Predicted:
        """Predict a meter's reading under each fault; faults that it cannot tell apart share a reading."""
        key = (run, point.name, pair, dc)
        if key not in self._predicted:
            numbers: dict[tuple[Seen, ...], int] = {}
            of_fault = []
            healthy = (look(self.bench.views(run, dc=dc), point, pair),)
            seen = self.seen_from(run, point, pair)
            for number, signature in enumerate(self.signatures):
                if signature is None:
                    of_fault.append(-1)
                    continue
                ends = signature.ends(run, point, pair, dc=dc) if number in seen else healthy
                of_fault.append(numbers.setdefault(ends, len(numbers)))
            before = self._read_before(run, point, pair, dc=dc)
            meter = self.table.meter
            readings = tuple(reading_of(ends, meter, dc=dc, read_before=before) for ends in numbers)
            self._predicted[key] = Predicted(readings, tuple(of_fault))
        return self._predicted[key]

    def _read_before(self, run: str, point: PlugPoint, pair: str, *, dc: bool) -> float | None:
        """Compute the relative rise of the drivers by an earlier healthy reading here; None without one."""
        read = self.earlier.well.get((run, point.name, pair, dc))
        healthy = look(self.bench.views(run, dc=dc), point, pair)
        if read is None or is_open(healthy.ohm) or not healthy.common:
            return None
        return (read - abs(healthy.ohm)) / healthy.common

    def is_at_amplifier(self, place: str) -> bool:
        """Tell whether a look at the amplifiers answers for a place: there, an output, an output of a processor."""
        return place == "amp" or place in self.output_names or ("processor", place) in self.before.outputs

    def check_heard(self, name: str) -> None:
        """Raise ObservationError for what is no box of the case, no zone of its boxes, no box elsewhere."""
        if name in self.before.everywhere:
            return
        if name not in self.bench.places and name not in self.bench.zones:
            known = (*self.boxes, *self.bench.zones)
            raise ObservationError(f"heard: '{printable(name)}' is no box of this line{nearest(name, known)}")

    def check_box(self, name: str, what: str) -> None:
        """Raise ObservationError for a box that is not part of the case."""
        if name not in self.bench.places:
            raise ObservationError(f"{what}: '{printable(name)}' is no box of this line{nearest(name, self.boxes)}")

    def check_output(self, name: str, what: str = "lights") -> None:
        """Raise ObservationError for an output that is not part of the case."""
        known = self.output_names
        if name not in known:
            raise ObservationError(f"{what}: '{printable(name)}' is no output of this line{nearest(name, known)}")

    def check_played(self, item: Played) -> None:
        """Raise ObservationError for an output that is not part of the case, or a box that is not in the show."""
        self.check_output(item.output, "played")
        for name in item.boxes - self.rig.show_index.boxes.keys():
            raise ObservationError(f"played: '{printable(name)}' is no box{nearest(name, self.rig.show_index.boxes)}")


class Share(msgspec.Struct, frozen=True):
    """A fault and its share of the probability."""

    fault: Fault
    share: float
