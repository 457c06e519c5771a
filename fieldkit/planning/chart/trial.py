"""Boxes tried on an amplifier: the same solver and the same rules that a show of them would meet.

A trial is what ``evaluate`` would make of an amplifier with so many boxes on each of its outputs, without the show
around it. What limits a number of boxes is therefore a rule of the checks, and is named by it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Literal

import msgspec

from fieldkit.checks.cables import current
from fieldkit.checks.checking import box_findings, output_findings
from fieldkit.checks.finding import Finding
from fieldkit.checks.loads import load_under_minimum
from fieldkit.checks.powers import limiter_too_high, output_too_strong, output_too_weak
from fieldkit.checks.rules import BoxFeed, BoxSubject, Choices, choices_of
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.chart.question import Candidate, Terms
from fieldkit.rig.connect.hosts import InputSource, host_of
from fieldkit.rig.connect.lines import Line, Piece, size_of
from fieldkit.rig.connect.outputs import Mode, Output
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.rig.solve.solving import SolvedOutput, Wired, solve_amplifier
from fieldkit.show.document import RackUnit, Run, Show, Step

SetBy = Literal["minimum-load", "clean-power", "current", "supply", "outputs", "preset", "cable", "unknown"]
"""What sets a number of boxes. ``preset``: nothing runs the crossover or holds the limiter that they need; ``cable``:
the named cable has no core for a pair; ``unknown``: the model does not say enough."""

LIMITS = {load_under_minimum: "minimum-load", current: "current", output_too_weak: "clean-power"}
"""The rules that say that there are too many boxes on an output, and what each stands for."""

PREFERENCE = "load-under-preferred"
"""A rule about what somebody prefers, which forbids nothing."""

CHANNELS: dict[Mode, int] = {"single": 1, "bridged": 2, "paralleled": 2}
"""Channels that an output of each mode takes."""


class TriedPlace(msgspec.Struct, frozen=True):
    """So many boxes of one kind in parallel, each of their pin pairs on an output of its own."""

    candidate: Candidate
    count: int
    mode: Mode


class Refusal(msgspec.Struct, frozen=True):
    """Why so many boxes are too many, or any number is."""

    set_by: SetBy
    rule: str
    """The rule of the checks that says so; empty where there is none."""
    says: str


class Trial(msgspec.Struct, frozen=True):
    """An amplifier with boxes on its outputs, solved."""

    places: tuple[tuple[TriedPlace, tuple[SolvedOutput, ...]], ...]
    choices: Choices

    @property
    def outputs(self) -> tuple[SolvedOutput, ...]:
        """All outputs that drive something."""
        return tuple(output for _, outputs in self.places for output in outputs)

    def refusal(self) -> Refusal | None:
        """Say why there are too many boxes; None where the checks have no word against their number."""
        for rule, set_by in LIMITS.items():
            for output in self.outputs:
                for finding in rule(output, self.choices):
                    if finding.rule != PREFERENCE:
                        return _refusal(finding, set_by, output)
        return None

    def is_too_strong(self) -> Refusal | None:
        """Say why the output must not drive these boxes without a limiter that holds; None where it may."""
        for output in self.outputs:
            for rule in (output_too_strong, limiter_too_high):
                for finding in rule(output, self.choices):
                    if finding.severity == "error":
                        return Refusal("preset", finding.rule, finding.says)
        return None

    def is_under_preferred(self) -> bool:
        """Tell whether a load is under the preferred one, though not under the minimum."""
        found = (item for output in self.outputs for item in load_under_minimum(output, self.choices))
        return any(item.rule == PREFERENCE for item in found)

    def findings(self) -> tuple[Finding, ...]:
        """Check its outputs, and one box on each place, by all rules."""
        found = [item for output in self.outputs for item in output_findings(output, self.choices)]
        for place, outputs in self.places:
            feeds = tuple(BoxFeed(out, out.lines[0].line, load) for out in outputs for load in out.loads)
            box = outputs[0].loads[0].box
            subject = BoxSubject(box, place.candidate.speaker, feeds[0].load.zone_use, feeds, ("chart",))
            found += box_findings(subject, self.choices)
        return tuple(found)


def _refusal(finding: Finding, set_by: str, output: SolvedOutput) -> Refusal:
    shared = set_by == "clean-power" and output.supply_scale < 1.0
    return Refusal("supply" if shared else set_by, finding.rule, finding.says)  # type: ignore[arg-type]


def try_out(
    amplifier: Amplifier,
    places: Sequence[TriedPlace],
    terms: Terms,
    processor_for: Callable[[Candidate], Processor | None],
) -> Trial:
    """Solve an amplifier with boxes on its outputs, on channels in their order; outputs that are left stay idle.

    processor_for: gives the processor where presets run that the amplifier does not host; None for nowhere
    """
    unit = RackUnit(id=amplifier.id, model=amplifier.id)
    wired: list[Wired] = []
    channel = 1
    for place in places:
        for pair, loads in place.candidate.pairs:
            channels = tuple(range(channel, channel + CHANNELS[place.mode]))
            channel += len(channels)
            output = Output(f"{unit.id}.{'+'.join(map(str, channels))}", unit, amplifier, channels, place.mode)
            line = _line(pair, output, place, terms)
            source = _source(processor_for(place.candidate))
            wired.append(Wired(output, (line,), host_of(output, loads, source), source.text))
    solved = iter(solve_amplifier(wired, terms.conditions))
    each = tuple((place, tuple(next(solved) for _ in place.candidate.pairs)) for place in places)
    return Trial(each, choices_for(terms.preferred_ohm, terms.loss_db, terms.conditions.temperature_c))


def _line(pair: str, output: Output, place: TriedPlace, terms: Terms) -> Line:
    loads = next(loads for own, loads in place.candidate.pairs if own == pair) * place.count
    cable = terms.cable
    size, gauge = size_of(cable.area if cable else None)
    piece = Piece(
        step=1,
        kind="cable",
        model=cable.id if cable else "",
        pair_in=pair,
        pair_out=pair,
        length_m=terms.length_m,
        size=size,
        gauge=gauge,
        extra_ohm=0.0,
        current_a=cable.current.value if cable and cable.current else None,
        box=loads[0].box,
        loads=loads,
    )
    return Line(f"{_RUN.id}/{pair}", _RUN, pair, output, (piece,), loads, None, "")


_RUN = Run(id="chart", start="", path=(Step(),))


def _source(processor: Processor | None) -> InputSource:
    if processor is None:
        return InputSource("", None, None)
    unit = RackUnit(id=processor.id, model=processor.id)
    return InputSource(f"{processor.id}.1", unit, processor)


@lru_cache(maxsize=64)
def choices_for(preferred_ohm: float, loss_db: float, temperature_c: float) -> Choices:
    """Return the choices of a show in which only these are set."""
    plain = choices_of(evaluate(Show()), dt.date.min)
    return msgspec.structs.replace(
        plain, preferred_ohm=preferred_ohm, loss_limits_db={"chart": loss_db}, temperature_c=temperature_c
    )
