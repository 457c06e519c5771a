"""Loads on outputs: not under the minimum, not under the preferred; pairs that may be pairs, and are used as such."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, output_rule
from fieldkit.formulas.impedance import MINIMUM_SHARE
from fieldkit.formulas.loads import parallel
from fieldkit.rig.connect.outputs import permission_text
from fieldkit.rig.solve.frequency import Lowest, lowest_bound_ohm, lowest_modulus
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.units import format_value

TOLERANCE = 0.98
"""Three boxes of 8 ohm are 2.67 ohm, and are meant where a data sheet says 2.7."""

CHANNEL_SHARE = {"single": 1.0, "bridged": 0.5, "paralleled": 2.0}
"""How much of an output's load each of its channels sees."""


def shares(ohms: Sequence[float], minimum_ohm: float) -> list[int]:
    """Spread boxes over outputs of one kind, and say how many come on each; none where one alone is too much.

    ohms: rated impedances in the order of the cable [ohm]; each goes to the first output that still takes it
    """
    outputs: list[list[float]] = []
    for ohm in ohms:
        if ohm < minimum_ohm * TOLERANCE:
            return []
        takes = (boxes for boxes in outputs if parallel(*boxes, ohm) >= minimum_ohm * TOLERANCE)
        taken = next(takes, None)
        if taken is None:
            outputs.append([ohm])
        else:
            taken.append(ohm)
    return [len(boxes) for boxes in outputs]


def _fewer_boxes(ohms: Sequence[float], minimum_ohm: float) -> str:
    """Say how many boxes stay on an output, and how many more outputs the others need."""
    counts = shares(ohms, minimum_ohm)
    if not counts:
        return "an output like this may not drive every one of these boxes, even alone; use another mode or amplifier"
    more = len(counts) - 1
    spread = f" ({' + '.join(map(str, counts[1:]))})" if more > 1 else ""
    needs = f"spread the others over {more} more outputs" if more > 1 else "feed the rest from another output"
    return f"leave {counts[0]} of {len(ohms)} on it and {needs}{spread}, if those have the same minimum load"


@output_rule
def load_under_minimum(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find an output loaded below what its maker allows, or below what the show prefers."""
    load_ohm = output.judged_ohm
    if load_ohm is None:
        return
    name, minimum_ohm = output.output.id, output.output.minimum_ohm
    under_minimum, channel_ohm = load_ohm < minimum_ohm * TOLERANCE, load_ohm * CHANNEL_SHARE[output.output.mode]
    if not under_minimum and channel_ohm >= choices.preferred_ohm * TOLERANCE:
        return
    lower = " (a section's minimum is under 80 % of its rating)" if output.counts_for_less else ""
    boxes = ", ".join(dict.fromkeys(load.box.id for load in output.loads))
    ohm, minimum = format_value(load_ohm, "ohm"), format_value(minimum_ohm, "ohm")
    if under_minimum:
        lowest = lowest_modulus(output, choices.temperature_c)
        yield finding(
            "error",
            "load-under-minimum",
            ("output", name),
            f"{boxes} without cable are {ohm}{lower}, under the minimum {minimum} of this output"
            + (f"; with cable they fall to {_at(lowest)}" if lowest else ""),
            why="below its minimum load an amplifier protects itself or fails, and the line goes silent",
            fix=_fewer_boxes([load.judged_ohm for load in output.loads], minimum_ohm),
            load_ohm=load_ohm,
            minimum_ohm=minimum_ohm,
            lowest_ohm=lowest.ohm if lowest else None,
            lowest_hz=lowest.frequency_hz if lowest else None,
        )
    else:
        each = "" if output.output.mode == "single" else f", {format_value(channel_ohm, 'ohm')} for each channel"
        preferred = format_value(choices.preferred_ohm, "ohm")
        yield finding(
            "warning",
            "load-under-preferred",
            ("output", name),
            f"{boxes} together are {ohm}{lower}{each}: under the preferred {preferred}; the minimum is {minimum}",
            why="the lower the load, the hotter the amplifier, the more the cable takes and the less it forgives",
            fix="spread the boxes over more outputs, or set preferred_load lower in the show",
            load_ohm=load_ohm,
            channel_ohm=channel_ohm,
            preferred_ohm=choices.preferred_ohm,
            minimum_ohm=minimum_ohm,
        )


def _at(lowest: Lowest) -> str:
    return f"{format_value(lowest.ohm, 'ohm')} at {format_value(lowest.frequency_hz, 'Hz')}"


@output_rule
def load_dips(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find an output whose load falls lower at some frequency than its rated minimum lets a load fall."""
    judged_ohm, minimum_ohm = output.judged_ohm, output.output.minimum_ohm
    if judged_ohm is None or judged_ohm < minimum_ohm * TOLERANCE:
        return  # that the rated load is too low is said already
    allowed_ohm = MINIMUM_SHARE * minimum_ohm
    if lowest_bound_ohm(output.loads) >= allowed_ohm * TOLERANCE:
        return
    lowest = lowest_modulus(output, choices.temperature_c)
    if lowest is None or lowest.ohm >= allowed_ohm * TOLERANCE:
        return
    minimum = format_value(minimum_ohm, "ohm")
    yield finding(
        "note",
        "load-dips-under-minimum",
        ("output", output.output.id),
        f"the load falls to {_at(lowest)}, cable included; a load rated {minimum}, the minimum of this output, "
        f"stays above {format_value(allowed_ohm, 'ohm')}",
        why="the amplifier may protect itself on loud notes there, although the rated load is allowed",
        fix="put one box less on it, or ask the maker of the amplifier whether the minimum is a rated load",
        lowest_ohm=lowest.ohm,
        lowest_hz=lowest.frequency_hz,
        allowed_ohm=allowed_ohm,
        minimum_ohm=minimum_ohm,
    )


@output_rule
def one_leg_of_a_pair(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a line on one channel of a bridged pair, and a bridged pair that drives nothing."""
    name, unit = output.output.id, output.output.unit
    lines = ", ".join(solved.line.id for solved in output.lines)
    for pair in unit.bridged if output.output.mode == "single" else ():
        if str(output.output.channels[0]) in pair.split("+"):
            yield finding(
                "error",
                "one-leg-of-a-pair",
                ("output", name),
                f"{lines} takes one channel of the bridged pair {unit.id}.{pair}",
                why="one leg gives half the volts and a quarter of the power, and its minus may be driven",
                fix=f"feed the line from {unit.id}.{pair} on the pins of the pair, or take the pair apart",
            )
    for pair in unit.paralleled if output.output.mode == "single" else ():
        if str(output.output.channels[0]) in pair.split("+"):
            yield finding(
                "error",
                "one-leg-of-a-pair",
                ("output", name),
                f"{lines} takes one channel of the paralleled pair {unit.id}.{pair}",
                why="the two channels are tied together: there is no such output by itself",
                fix=f"feed the line from {unit.id}.{pair}, or take the pair apart",
            )
    if output.output.mode == "bridged" and not output.loads:
        yield finding(
            "note",
            "bridged-pair-idle",
            ("output", name),
            "this bridged pair drives no box",
            why="bridged, its two channels cannot serve as spares for others",
            fix=f"take the pair apart in {unit.id} if nothing is to come on it",
        )


@output_rule
def pair_allowed(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find two channels bridged or paralleled where the model does not allow it, or nobody says that it does."""
    pair, mode = output.output, output.output.mode
    if mode == "single" or pair.permission == "allowed":
        return
    field = "bridgeable" if mode == "bridged" else "parallelable"
    refused = pair.permission == "refused"
    yield finding(
        "error" if refused else "warning",
        "pair-not-allowed",
        ("output", pair.id),
        permission_text(pair.model, mode) + ("" if refused else "; every figure of this output is assumed"),
        why="two channels tied together that are not built for it drive each other, and the amplifier fails"
        if mode == "paralleled"
        else "bridged, each channel sees half the load and both posts are live; one not built for it fails",
        fix=f"take the pair apart in {pair.unit.id}"
        + (f", or write '{field} = true' into the model if its maker allows it" if field_unsaid(output) else ""),
    )


def field_unsaid(output: SolvedOutput) -> bool:
    """Tell whether the model leaves open what its maker allows."""
    model = output.output.model
    return (model.bridgeable if output.output.mode == "bridged" else model.parallelable) is None
