"""Loads on outputs: not under the least, not under the preferred, and bridged pairs used as pairs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, output_rule
from fieldkit.formulas.loads import parallel
from fieldkit.rig.solving import SolvedOutput
from fieldkit.units import format_value

TOLERANCE = 0.98
"""Three boxes of 8 ohm are 2.67 ohm, and are meant where a data sheet says 2.7."""

CHANNEL_SHARE = {"single": 1.0, "bridged": 0.5, "paralleled": 2.0}
"""How much of an output's load each of its channels sees."""


def rated_load_ohm(output: SolvedOutput) -> float | None:
    """Give the load of the boxes alone [ohm]: what is left when the cables are short."""
    loads = [load.impedance_ohm for load in output.loads]
    return parallel(*loads) if loads else None


def shares(ohms: Sequence[float], least_ohm: float) -> list[int]:
    """Spread boxes over outputs of one kind, and say how many come on each; none where one alone is too much.

    ohms: rated impedances in the order of the cable [ohm]; each goes to the first output that still takes it
    """
    outputs: list[list[float]] = []
    for ohm in ohms:
        if ohm < least_ohm * TOLERANCE:
            return []
        takes = (boxes for boxes in outputs if parallel(*boxes, ohm) >= least_ohm * TOLERANCE)
        taken = next(takes, None)
        if taken is None:
            outputs.append([ohm])
        else:
            taken.append(ohm)
    return [len(boxes) for boxes in outputs]


def _fewer_boxes(ohms: Sequence[float], least_ohm: float) -> str:
    """Say how many boxes stay on an output, and how many more outputs the others need."""
    counts = shares(ohms, least_ohm)
    if not counts:
        return "an output like this may not drive every one of these boxes, even alone; use another mode or amplifier"
    more = len(counts) - 1
    spread = f" ({' + '.join(map(str, counts[1:]))})" if more > 1 else ""
    needs = f"spread the others over {more} more outputs" if more > 1 else "feed the rest from another output"
    return f"leave {counts[0]} of {len(ohms)} on it and {needs}{spread}, if those have the same least load"


@output_rule
def load_under_least(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find an output loaded below what its maker allows, or below what the show prefers."""
    load_ohm = rated_load_ohm(output)
    if load_ohm is None:
        return
    name, least_ohm = output.output.id, output.output.least_ohm
    boxes = ", ".join(dict.fromkeys(load.box.id for load in output.loads))
    ohm = format_value(load_ohm, "ohm")
    if load_ohm < least_ohm * TOLERANCE:
        yield finding(
            "error",
            "load-under-least",
            ("output", name),
            f"{boxes} without cable are {ohm}, under the least {format_value(least_ohm, 'ohm')} of this output",
            why="below its least load an amplifier protects itself or fails, and the line goes silent",
            cure=_fewer_boxes([load.impedance_ohm for load in output.loads], least_ohm),
            load_ohm=load_ohm,
            least_ohm=least_ohm,
        )
        return
    channel_ohm = load_ohm * CHANNEL_SHARE[output.output.mode]
    if channel_ohm < choices.preferred_ohm * TOLERANCE:
        each = "" if output.output.mode == "single" else f", {format_value(channel_ohm, 'ohm')} for each channel"
        preferred = format_value(choices.preferred_ohm, "ohm")
        least = format_value(least_ohm, "ohm")
        yield finding(
            "warning",
            "load-under-preferred",
            ("output", name),
            f"{boxes} together are {ohm}{each}: under the preferred {preferred}, not under the least {least}",
            why="the lower the load, the hotter the amplifier, the more the cable takes and the less it forgives",
            cure="spread the boxes over more outputs, or set preferred_load lower in the show",
            load_ohm=load_ohm,
            channel_ohm=channel_ohm,
            preferred_ohm=choices.preferred_ohm,
            least_ohm=least_ohm,
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
                cure=f"feed the line from {unit.id}.{pair} on the pins of the pair, or take the pair apart",
            )
    for pair in unit.paralleled if output.output.mode == "single" else ():
        if str(output.output.channels[0]) in pair.split("+"):
            yield finding(
                "error",
                "one-leg-of-a-pair",
                ("output", name),
                f"{lines} takes one channel of the paralleled pair {unit.id}.{pair}",
                why="the two channels are tied together: there is no such output by itself",
                cure=f"feed the line from {unit.id}.{pair}, or take the pair apart",
            )
    if output.output.mode == "bridged" and not output.loads:
        yield finding(
            "advice",
            "bridged-pair-idle",
            ("output", name),
            "this bridged pair drives no box",
            why="bridged, its two channels cannot serve as spares for others",
            cure=f"take the pair apart in {unit.id} if nothing is to come on it",
        )
