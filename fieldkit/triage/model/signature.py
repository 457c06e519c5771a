"""What each fault would read and sound like, worked out when it is first asked for."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from fieldkit.gear.loudspeaker import FRAGILE
from fieldkit.triage.model.circuit import is_open
from fieldkit.triage.model.fault import STATES, Fault
from fieldkit.triage.model.harm import Harm, of_exchange, of_preset, of_wiring
from fieldkit.triage.model.hearing import (
    AUDIBLE,
    HEARD,
    LIGHTS,
    SILENT_DB,
    Chances,
    Drives,
    Heard,
    blurred,
    chances,
    level_db,
    through,
    weakened,
    word_of,
)
from fieldkit.triage.model.looking import seen
from fieldkit.triage.model.points import PlugPoint
from fieldkit.triage.model.predicting import PredictedReading, reading_of
from fieldkit.triage.model.reference import Changes, HealthyReference, Placed, changes_of, everything
from fieldkit.triage.model.seeing import OPEN, Seen, Views, look, views

PROTECTS_BELOW = 0.5
"""Share of the minimum load under which an output protects itself: common practice, no source."""

PROTECTING = {"protect": 0.75, "limit": 0.15, "signal": 0.1}
ENDANGERED = {"distorted": 0.5, "no-low": 0.25, "quiet": 0.25}


FIGHTING = {"normal": 0.6, "louder-alone": 0.3, "quiet": 0.1}
"""What is said of a box, one by one well, that plays against a neighbour: common practice, no source."""

WRONG_BOX = 0.002
"""Chance that somebody says a box played that does not: an ear overhears, and hardly ever hears what is silent."""


class Signature:
    """One fault and what follows from it."""

    def __init__(self, fault: Fault, bench: HealthyReference) -> None:
        self.fault, self._bench = fault, bench
        self._ears: dict[str, Chances] = {}
        self._sections: dict[str, tuple[Heard, ...]] = {}
        self._views: dict[bool, list[Views]] = {}

    def _seen(self, *, dc: bool) -> list[Views]:
        if dc not in self._views:
            own, healthy = self.fault.circuits, self._bench.circuits.get(self.fault.run)
            known = self._bench.views(self.fault.run, dc=dc)
            self._views[dc] = [
                known if circuit is healthy else views(circuit, dc=dc, healthy=(healthy, known) if healthy else None)
                for circuit in own
            ]
        return self._views[dc]

    @cached_property
    def _changes(self) -> Changes:
        run = self.fault.run
        healthy = self._bench.circuits.get(run)
        if healthy is None or not self.fault.circuits:
            return Changes()
        if self.fault.at_amp is not None:
            return everything(len(healthy.segments))
        return changes_of(healthy, self.fault.circuits, self._bench.ways(run))

    def shows_at(self, run: str, point: PlugPoint, line: str) -> bool:
        """Tell whether a meter on a line at a point of a run can see the fault."""
        if self.fault.at_amp is not None and run == self.fault.at_amp.run:
            return point.kind == "amp"
        return run == self.fault.run and self._changes.show_at(point, line)

    def ends(self, run: str, point: PlugPoint, pair: str, *, dc: bool) -> tuple[Seen, ...]:
        """Return what a meter sees at a point of a run; two values for the ends of an interval."""
        in_hand = self.fault.kind == "box-missing" and point.kind == "alone"  # a box that is metered is there
        if run == self.fault.run and not in_hand:
            if self.fault.at_amp is not None and point.kind == "amp":
                return (look(views(self.fault.at_amp, dc=dc), point, pair),)
            return tuple(look(seen, point, pair) for seen in self._seen(dc=dc))
        if self.fault.at_amp is not None and run == self.fault.at_amp.run and point.kind == "amp":
            return (look(self._seen(dc=dc)[0], point, pair),)
        return (look(self._bench.views(run, dc=dc), point, pair),)

    def reading(self, run: str, point: PlugPoint, pair: str, *, dc: bool) -> PredictedReading:
        """Predict a meter at a point of a run."""
        return reading_of(self.ends(run, point, pair, dc=dc), self._bench.table.meter, dc=dc)

    @cached_property
    def states(self) -> dict[str, str]:
        """What the outputs do in place of playing; ``short`` for one that protects itself from its load."""
        found = dict(self.fault.states)
        if self._is_changed:
            seen, circuit = self._seen(dc=False)[0], self.fault.circuits[0]
            healthy = self._bench.views(self.fault.run, dc=False)
            for pair, output in circuit.feeds:
                load = seen.into[0].get(pair, OPEN) if seen.into and circuit.segments[0].near_home else OPEN
                planned = abs(healthy.into[0].get(pair, OPEN).ohm)
                limit = PROTECTS_BELOW * min(self._bench.minimum_ohm.get(output, 0.0), planned)
                if not is_open(load.ohm) and abs(load.ohm) < limit:
                    found[output] = "short"
        return found

    @cached_property
    def _drives(self) -> Drives:
        run, circuit = self.fault.run, self.fault.circuits[-1]
        if circuit is self._bench.circuits[run]:
            return self._bench.drives(run)
        lines, topologies = self._bench.lines[run], self._bench.topologies[run]
        return Drives(circuit, self._seen(dc=False)[-1], lines, topologies, self._changes.lines)

    @cached_property
    def harms(self) -> tuple[Harm, ...]:
        """List the outputs that could harm a driver while the fault is there, and how."""
        bench, fault = self._bench, self.fault
        found = list(of_preset(fault, tuple(bench.circuits.values()), bench.most_v)) if fault.states else []
        if fault.at_amp is not None:
            found += of_exchange(fault.circuits[0], fault.at_amp, bench.most_v)
        elif self._is_changed and self._may_reach_others:
            found += of_wiring(fault.circuits[-1], self._drives, bench.lines[fault.run], bench.bands, bench.most_v)
        return tuple({harm.output: harm for harm in reversed(found)}.values())

    @property
    def _may_reach_others(self) -> bool:
        """Whether a line could reach a section that is not its own: two lines are changed, or what hangs on one."""
        lines = self._changes.lines
        return lines is None or len(lines) > 1 or self.fault.kind in {"switch-wrong", "wrong-model"}

    def sections(self, box: str) -> tuple[Heard, ...]:
        """List the sections of a box as they are heard."""
        if box not in self._sections:
            self._sections[box] = tuple(self._section(placed) for placed in self._bench.sections(box))
        return self._sections[box]

    def _section(self, placed: Placed) -> Heard:
        level, danger, is_reversed = self.fault.weaker_db(placed.box, placed.section), False, False
        run, index, number = placed.run, placed.index, placed.number
        changed = self._changes.lines
        if self._is_changed and run == self.fault.run and (changed is None or placed.line in changed):
            now = self._drives.of(index, number)
            level = -120.0 if self._is_failed(run, index, number) else level_db(abs(now.own), placed.level)
            danger = placed.section in FRAGILE and any(share > 0.1 for _, share in now.foreign)
            is_reversed = now.own.real < -0.01
        state = self.states.get(placed.output, "")
        is_reversed ^= state == "inverted"
        level += STATES[state].level_db if state in STATES else -120.0 if state else 0.0
        return Heard(placed.section, max(level, -120.0), danger, is_reversed)

    @cached_property
    def _is_changed(self) -> bool:
        """Whether the circuit of a run is another than the healthy one."""
        circuits = self.fault.circuits
        return bool(circuits) and circuits[-1] is not self._bench.circuits.get(self.fault.run)

    def _is_failed(self, run: str, index: int, number: int) -> bool:
        """Tell whether a section takes no current, or has gone."""
        elements = self.fault.circuits[-1].stations[index].elements
        if len(elements) <= number:
            return True
        element, healthy = elements[number], self._bench.circuits[run].stations[index].elements[number]
        return is_open(element.z1k) and not is_open(healthy.z1k)

    def heard(self, name: str) -> Chances:
        """Return the chance of each report by ear at a box, or that all boxes of a zone do the same."""
        if name not in self._ears:
            of_zone = self._bench.zones.get(name)
            self._ears[name] = self._of_zone(of_zone) if of_zone else self._heard(name)
        return self._ears[name]

    def _of_zone(self, boxes: Sequence[str]) -> Chances:
        """Return for each word the chance that the box which does it least does it: all of them have to.

        Boxes that the fault does not reach do what they do when all is well, and count as one.
        """
        reached = self._reached & set(boxes)
        every = [self.heard(box) for box in sorted(reached)]
        if len(reached) < len(boxes):
            every.append(chances("normal", HEARD, self._bench.table.ears["slip"]))
        return {word: min(heard[word] for heard in every) for word in HEARD}

    @property
    def _reached(self) -> set[str]:
        """Name the boxes that may sound otherwise: of the run, of its outputs, and those that it names itself."""
        fault, bench = self.fault, self._bench
        found = {*fault.elsewhere, *(name for name, _ in fault.ears)}
        if fault.run:
            found |= set(bench.circuits[fault.run].boxes)
        for output in self.states:
            found |= bench.fed.get(output, set())
        return found

    def _word(self, box: str) -> str:
        if box in self.fault.elsewhere:
            return "silent"
        sections = self.sections(box)
        return word_of(sections) if sections else "normal"

    def _heard(self, box: str) -> Chances:
        slip = self._bench.table.ears["slip"]
        sections = self.sections(box)
        word = self._word(box)
        if any(item.endangered for item in sections):
            return blurred(ENDANGERED, HEARD, slip)
        own = next((ears for name, ears in self.fault.ears if name == box), None)
        for placed in self._bench.sections(box) if self.states and own is None else ():
            state = self.states.get(placed.output, "")
            ears = STATES[state].ears if state in STATES else None
            if ears:
                own = through(placed.section, ears)
        if own and (self.fault.part == "box" or word in {"normal", "quiet"}):
            return blurred(own, HEARD, slip)
        if word == "normal" and self._fights(box):
            return blurred(FIGHTING, HEARD, slip)
        return blurred(weakened(sections), HEARD, slip) if word == "quiet" else chances(word, HEARD, slip)

    def _fights(self, box: str) -> bool:
        """Tell whether a box takes away from a neighbour, or a neighbour from it: one of them reversed, or late."""
        return any(self._differ(box, other) for other in self._bench.beside.get(box, ()))

    def _differ(self, box: str, other: str) -> bool:
        return self._is_reversed(box) != self._is_reversed(other) or self._is_late(box) != self._is_late(other)

    @cached_property
    def _late(self) -> frozenset[str]:
        """The outputs that come late."""
        return frozenset(output for output, state in self.states.items() if state == "late")

    def _is_late(self, box: str) -> bool:
        return bool(self._late) and any(placed.output in self._late for placed in self._bench.sections(box))

    def together(self, box: str, other: str, word: str) -> float:
        """Return the chance of how two boxes sound together once one of them is inverted."""
        if "silent" in {self._word(box), self._word(other)}:
            chances_of: Chances = {"same": 0.9, "fuller": 0.05, "thinner": 0.05}
        elif self._is_late(box) != self._is_late(other):
            chances_of = {"same": 0.6, "fuller": 0.2, "thinner": 0.2}
        elif self._is_reversed(box) != self._is_reversed(other):
            chances_of = {"fuller": 0.9, "same": 0.07, "thinner": 0.03}
        else:
            chances_of = {"thinner": 0.9, "same": 0.07, "fuller": 0.03}
        return chances_of[word]

    def lights(self, output: str) -> Chances:
        """Compute the chance of each state of an output's lights."""
        slip = self._bench.table.lights["slip"]
        state = self.states.get(output, "")
        if state == "short":
            return blurred(PROTECTING, LIGHTS, slip)
        return blurred(STATES[state].lights, LIGHTS, slip) if state else chances("signal", LIGHTS, slip)

    def moved(self, what: str, focus: str) -> float:
        """Return the chance that the fault moves with what is exchanged at a box."""
        slip, fault = self._bench.table.swaps["slip"], self.fault
        if fault.part in {"signal", "none"} or fault.kind in {"runs-exchanged", "box-missing"}:
            return 0.5
        if fault.part == "plug":
            return 0.8 if what == "cable" and fault.box == focus else 0.25
        if what == "output":
            return 1.0 - slip if fault.part == "output" else slip
        here = fault.box == focus and fault.kind != "box-too-many"
        if what == "adaptor" and not fault.piece.startswith("adaptor"):
            return slip  # a panel and the wiring of a rack stay
        return 1.0 - slip if fault.part == what and here else slip

    def tested(self, box: str, word: str) -> float:
        """Return the chance of what a polarity tester says of a box; at a silent box it says nothing."""
        slip = self._bench.table.polarity["slip"]
        heard = "reversed" if self._is_reversed(box) else "planned"
        true = "nothing" if self._word(box) == "silent" else heard
        return 1.0 - slip if word == true else slip / 2.0

    def _is_reversed(self, box: str) -> bool:
        return any(item.is_reversed for item in self.sections(box))

    def played(self, output: str, boxes: frozenset[str]) -> float:
        """Return the chance that these boxes play, and no other, with noise on one output alone."""
        slip, expected = self._bench.table.ears["slip"], self._would_play(output)
        if boxes == expected:
            return 1.0 - slip
        return WRONG_BOX if boxes - expected else slip / 2.0

    def _would_play(self, output: str) -> frozenset[str]:
        state, fault, bench = self.states.get(output, ""), self.fault, self._bench
        if state == "short" or (state in STATES and STATES[state].level_db < SILENT_DB):
            return frozenset()
        if fault.at_amp is not None:
            for fed, feeding in ((fault.circuits[0], fault.at_amp), (fault.at_amp, fault.circuits[0])):
                if output in dict(feeding.feeds).values():
                    return frozenset(fed.boxes)
        placed = ((box, section) for box in bench.places for section in bench.sections(box))
        return frozenset(box for box, section in placed if output in self._feeding(section))

    def _feeding(self, placed: Placed) -> set[str]:
        """Name the outputs whose signal reaches a section."""
        lines, run = self._changes.lines, placed.run
        if not self._is_changed or run != self.fault.run or (lines is not None and placed.line not in lines):
            return {placed.output}
        if self._is_failed(run, placed.index, placed.number):
            return set()
        now = self._drives.of(placed.index, placed.number)
        heard = [line for line, _ in now.foreign] + ([placed.line] if abs(now.own) > AUDIBLE else [])
        return {self._bench.output_of(run, line) for line in heard}

    def looks(self, place: str, word: str) -> float:
        """Return the chance that a look at a place finds what a word says."""
        return seen(self.fault, place, word, self._bench.table.look)
