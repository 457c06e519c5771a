"""Power: an output too weak for its boxes, or too strong for them without a limiter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import BoxSubject, Choices, box_rule, finding, output_rule, show_rule
from fieldkit.formulas.limiters import limiter_voltage, peak_threshold_from_continuous, peak_voltage_from_peak_power
from fieldkit.formulas.ohms_law import power_from_voltage
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.limits import Limiter, holds_limiter, runs_limiter
from fieldkit.rig.solve.solving import SolvedBox, SolvedOutput
from fieldkit.units import format_value

WEAK, VERY_WEAK = 0.5, 0.25
"""Shares of the continuous rating: 3 dB and 6 dB short. Common practice, no source."""

ROUNDING = 1e-9
"""What a sum of floats may be off by: half of the rating to the last digit is not under half of it."""

NEEDS_LIMITER = 1.26
"""1 dB over the continuous rating: from here on something must hold the amplifier back. Common practice."""

NEEDS_LIMITER_ASSUMED = 1.0
"""A label's watts may well be programme watts, so nothing over them is let pass without a word. Common practice."""

PROGRAMME = 2.0
"""Twice the continuous rating, "programme" power: ordinary for an amplifier in careful hands. Common practice."""

DANGEROUS = 4.0
"""Four times the continuous rating, 6 dB: what a peak rating usually is. Common practice, no source."""


ALIKE = 1.005
"""Two figures this near are the same to a reader."""


def has_limiter(output: SolvedOutput, box: SolvedBox) -> bool:
    """Tell whether the box's preset brings a limiter of its own and has a place to run."""
    return runs_limiter(box.load, output.host)


def driven_w(box: SolvedBox) -> float:
    """Compute the watts of full output through the impedance that the section was rated at [W].

    Only those compare with its rating: what a voice coil bears are volts, and the watts of a rating are theirs.
    """
    return power_from_voltage(box.full_v, box.load.rated_ohm)


def needs_limiter(box: SolvedBox) -> float:
    """From how many times the rating of a box something must hold the amplifier back."""
    return NEEDS_LIMITER_ASSUMED if box.load.speaker.assumed else NEEDS_LIMITER


def can_be_overdriven(output: SolvedOutput) -> bool:
    """Tell whether the output can give a box clearly more than its continuous rating."""
    box = _hardest_driven(output)
    return box is not None and driven_w(box) * alone_share(output) > needs_limiter(box) * box.load.continuous_w


def _through(box: SolvedBox) -> str:
    if box.load.rated_ohm == box.load.impedance_ohm:
        return ""
    return f" through the {format_value(box.load.rated_ohm, 'ohm')} of its rating"


def alone_share(output: SolvedOutput) -> float:
    """How many times the power of an output grows when the others leave it the whole common supply."""
    limit = output.output.model.supply_limit
    if limit is None or not output.load_ohm or output.supply_scale >= 1.0:
        return 1.0
    unshared_w = (output.can_give_v / output.supply_scale) ** 2 / output.load_ohm
    return min(1.0, limit.value / unshared_w) / output.supply_scale**2


def _hardest_driven(output: SolvedOutput) -> SolvedBox | None:
    boxes = [box for solved in output.lines for box in solved.boxes if box.load.continuous_w]
    return max(boxes, key=lambda box: driven_w(box) / box.load.continuous_w, default=None)


class _Excess(msgspec.Struct, frozen=True):
    """An output that can give a box more than it bears."""

    output: SolvedOutput
    box: SolvedBox
    limiter: Limiter
    says: str
    ratio: float
    """Watts at full output over the continuous rating."""
    numbers: dict[str, float]


@output_rule
def output_too_strong(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an output that can give its boxes more than they bear, and say what holds it back."""
    box = _hardest_driven(output)
    limiter = output.limiter
    if box is None or limiter is None:
        return
    share = alone_share(output)
    full_w = driven_w(box) * share
    ratio = full_w / box.load.continuous_w
    if ratio <= needs_limiter(box):
        return
    given, rated = format_value(full_w, "W"), format_value(box.load.continuous_w, "W")
    quiet = " while the other outputs are quiet" if share > ALIKE else ""
    name = f"{box.load.box.id} {box.load.section.section}"
    bears = f"its label says {rated}" if box.load.speaker.assumed else f"is rated {rated} continuous"
    if box.load.section.rating == "unknown" and not box.load.speaker.assumed:
        bears += " by no named standard"
    says = f"{name} can get {given}{_through(box)}{quiet}, and {bears}"
    numbers = {
        "full_w": full_w,
        "continuous_w": box.load.continuous_w,
        "thermal_v": limiter.thermal_v,
        "peak_v": limiter.peak_v,
    }
    excess = _Excess(output, box, limiter, says, ratio, numbers)
    if has_limiter(output, box):
        yield from _with_its_limiter(excess)
    else:
        yield _without_limiter(excess)


def _with_its_limiter(excess: _Excess) -> Iterator[Finding]:
    output, box = excess.output, excess.box
    held_w = held_at_w(output, box, excess.numbers["full_w"])
    if held_w > NEEDS_LIMITER * box.load.continuous_w:
        return  # said by the rule about limiters that are too high
    if excess.ratio > DANGEROUS:
        if holds_limiter(box.load, output.host):
            holds = f"the preset's limiter holds it at {format_value(held_w, 'W')}"
            fix = f"check before the show that the preset is loaded: {_thresholds(excess.limiter)}"
        else:
            where = output.host.id if output.host is not None else ""
            holds = f"nothing holds it back until the limiter is set in {where}"
            fix = f"set it there, and check before the show that it is set: {_thresholds(excess.limiter)}"
        yield finding(
            "note",
            "strong-output",
            ("output", output.output.id),
            f"{excess.says}; {holds}",
            why="the box depends on that limiter alone",
            fix=fix,
            **excess.numbers,
        )


def held_at_w(output: SolvedOutput, box: SolvedBox, full_w: float) -> float:
    """Compute the watts that the limiters of an output's presets let through, in those of the section's rating [W].

    Of a processor ahead of it, once they are set as they are written.
    """
    written = [load for load in output.loads if runs_limiter(load, output.host)]
    volts = [limiter_voltage(load.limiter_w or 0.0, load.rated_ohm) for load in written]
    return min([full_w, *(power_from_voltage(value, box.load.rated_ohm) for value in volts)])


@output_rule
def limiter_too_high(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a preset whose own limiter is written above the rating, whatever the amplifier can give."""
    boxes = [box for solved in output.lines for box in solved.boxes]
    over = [
        box
        for box in boxes
        if box.load.continuous_w
        and runs_limiter(box.load, output.host)
        and (box.load.limiter_w or 0.0) > ALIKE * box.load.continuous_w
    ]
    box = max(over, key=lambda box: (box.load.limiter_w or 0.0) / box.load.continuous_w, default=None)
    if box is None or output.limiter is None:
        return
    full_w, rated_w = driven_w(box) * alone_share(output), box.load.continuous_w
    held_w = held_at_w(output, box, full_w)
    limit, rated, held = (format_value(watts, "W") for watts in (box.load.limiter_w or 0.0, rated_w, held_w))
    yield finding(
        "error" if held_w > DANGEROUS * rated_w else "warning" if held_w > NEEDS_LIMITER * rated_w else "note",
        "limiter-too-high",
        ("output", output.output.id),
        f"{box.load.box.id} {box.load.section.section} is rated {rated} continuous, and the limiter of "
        f"'{box.load.choice.id}', written as {limit}, lets {held} pass",
        why="a limiter above the rating lets the voice coil burn, if not with this amplifier then with the next",
        fix=f"use another preset, or write at most {rated} as its limiter",
        limiter_w=box.load.limiter_w,
        held_w=held_w,
        full_w=full_w,
        continuous_w=rated_w,
    )


def _without_limiter(excess: _Excess) -> Finding:
    output, box, says, ratio = excess.output, excess.box, excess.says, excess.ratio
    why = "without a limiter the amplifier can burn the voice coil in seconds to minutes"
    host, preset = output.host, box.load.choice.id
    if host is not None and host.takes(box.load.speaker.id):
        lacks = f"its preset '{preset}' brings no limiter" if preset else "it has no preset that brings a limiter"
        note = f", and write it down as 'limiter' of '{preset}'" if preset else ""
        return finding(
            "warning" if ratio > DANGEROUS else "note",
            "limiter-to-set",
            ("output", output.output.id),
            f"{says}; {lacks}",
            why=why,
            fix=f"set the limiter on {host.id}: {_thresholds(excess.limiter)}{note}",
            **excess.numbers,
        )
    # A preset that brings a limiter was meant to run; without one, programme power is ordinary.
    missed = ratio > PROGRAMME or box.load.limiter_w is not None
    return finding(
        "error" if ratio > DANGEROUS else "warning" if missed else "note",
        "no-limiter",
        ("output", output.output.id),
        f"{says}; nothing on this line can hold a limiter for it",
        why=why,
        fix=f"use an amplifier or processor that {'hosts its preset' if preset else 'has a limiter of its own'}, "
        f"or hold the output at {_thresholds(excess.limiter)}",
        **excess.numbers,
    )


def _thresholds(limiter: Limiter) -> str:
    """Write both in volts; what they are as levels in a host is in its settings account, and nowhere else."""
    slow, fast = format_value(limiter.thermal_v, "V"), format_value(limiter.peak_v, "V")
    return f"{slow} rms slow and {fast} peak fast at the posts"


@output_rule
def output_too_weak(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an output that gives its boxes much less than they bear."""
    boxes = [box for solved in output.lines for box in solved.boxes if box.load.continuous_w]
    box = min(boxes, key=lambda box: driven_w(box) / box.load.continuous_w, default=None)
    if box is None:
        return
    full_w = driven_w(box)
    ratio = full_w / box.load.continuous_w
    if ratio >= WEAK - ROUNDING:
        return
    percent = format_value(100.0 * ratio, "%") if ratio >= 0.001 else "under 0.1 %"
    shared = " (its share of the amplifier's common supply)" if output.supply_scale < 1.0 else ""
    yield finding(
        "warning" if ratio < VERY_WEAK else "note",
        "output-too-weak",
        ("output", output.output.id),
        f"{box.load.box.id} {box.load.section.section} gets at most "
        f"{format_value(full_w, 'W')}{_through(box)}{shared}, "
        f"{percent} of the {format_value(box.load.continuous_w, 'W')} it is rated",
        why="the amplifier clips before the box is loud, and clipping is heard"
        + (" and heats the high drivers" if box.load.section.section in {"full", "high"} else ""),
        fix="bridge the output, put fewer boxes on it, or use a stronger amplifier; else plan for less level",
        full_w=full_w,
        continuous_w=box.load.continuous_w,
    )


@box_rule
def figures_assumed(subject: BoxSubject, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Say where a box has no data sheet, since every figure of its line rests on ohms and watts alone."""
    if not subject.speaker.assumed:
        return
    load = subject.feeds[0].load if subject.feeds else None
    ohms = f" of {format_value(load.impedance_ohm, 'ohm')} and {format_value(load.continuous_w, 'W')}" if load else ""
    yield finding(
        "note",
        "figures-assumed",
        ("box", subject.box.id),
        f"no data sheet: every figure of its line is assumed, from a label{ohms}",
        why="a label's watts may be programme or peak watts, which are twice or four times the continuous ones",
        fix="measure its DC resistance, start quietly, and write the model into the gear library when it is known",
    )


@show_rule
def peak_is_no_programme(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a peak rating under the peaks of the noise that the section was rated with: it is another kind of watts."""
    sections: dict[tuple[str, str, str], Load] = {}
    for loads in rig.memory.each("peak ratings", rig.amplifiers, _with_peaks):
        for key, load in loads.items():
            sections.setdefault(key, load)
    for load in sections.values():
        if load.peak_w is None:
            continue
        noise_v = peak_threshold_from_continuous(load.continuous_w, load.rated_ohm, load.crest)
        peak_v = peak_voltage_from_peak_power(load.peak_w, load.rated_ohm)
        if peak_v >= noise_v * 0.99:
            continue
        peak, rated = format_value(load.peak_w, "W"), format_value(load.continuous_w, "W")
        yield finding(
            "note",
            "peak-like-programme",
            ("model", load.speaker.id),
            f"the {load.section.section} section, {load.drive}, has a peak rating of {peak} beside {rated} continuous: "
            f"{format_value(peak_v, 'V')} peak, where the noise of that rating peaks at {format_value(noise_v, 'V')}",
            why="a peak rating is V_peak^2 / Z, about four times the continuous one; twice is a programme rating, and "
            "taken as a peak it makes the fast limiter work on ordinary music",
            fix="read the sheet again; leave 'peak' out where it gives programme watts",
            peak_v=peak_v,
            noise_v=noise_v,
        )


def _with_peaks(outputs: Iterable[SolvedOutput]) -> dict[tuple[str, str, str], Load]:
    """Find the sections with a peak rating on an amplifier: the first of each model, drive and name."""
    found: dict[tuple[str, str, str], Load] = {}
    for load in (load for output in outputs for load in output.loads):
        if load.peak_w is not None and load.continuous_w:
            found.setdefault((load.speaker.id, load.drive, load.section.section), load)
    return found
