"""Levels from desk to amplifier: nothing clips before full output, and thresholds can be set and hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from itertools import chain

from fieldkit.checks.finding import Finding
from fieldkit.checks.powers import can_be_overdriven
from fieldkit.checks.rules import ROUNDING_DB, Choices, finding, output_rule, show_rule
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.outputs import knob_at
from fieldkit.rig.signal.basis import Basis, bases
from fieldkit.rig.signal.gains import GainChain, gain_chains
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.units import format_value

SAID = {
    "amplifier input": "the amplifier's input clips at",
    "amplifier converter": "the amplifier's converter clips at",
    "processor output": "the processor's output clips at",
}
"""How the stages are said that this file looks at; those before them are the business of ``chain``."""


@show_rule
def input_clips_first(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an input that clips, or a processor that runs out, before the output is at its limit."""
    yield from chain.from_iterable(rig.memory.each("input clips first", gain_chains(rig), _clipping_inputs))


def _clipping_inputs(chains: Iterable[GainChain]) -> list[Finding]:
    return [found for gains in chains for found in _clipping_input(gains)]


def _clipping_input(gains: GainChain) -> Iterator[Finding]:
    near = [stage for stage in gains.stages if stage.name in SAID]
    stage = min(near, key=lambda stage: stage.margin_db, default=None)
    if stage is None or stage.margin_db >= -ROUNDING_DB:
        return
    hosted = f" ({gains.behind_db:+.1f} dB of processing comes behind it)" if gains.behind_db else ""
    place = "at the input" if stage.full_dbu <= gains.socket_dbu else "behind the processing"
    yield finding(
        "warning",
        "input-clips-first",
        ("output", gains.output),
        f"full output needs {stage.full_dbu:+.1f} dBu {place}{hosted}, "
        f"and {SAID[stage.name]} {stage.limit_dbu:+.1f} dBu",
        why="the sound clips before the amplifier is at its limit, and no limiter behind it helps",
        fix="turn the attenuator up, choose more gain or take less out in the processing, and send less level",
        needed_dbu=stage.full_dbu,
        limit_dbu=stage.limit_dbu,
    )


@output_rule
def threshold_in_range(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a limiter threshold above full scale of its host, so that it can never act."""
    limiter, host = output.limiter, output.host
    if limiter is None or host is None or limiter.input_dbfs is None or limiter.input_dbfs <= 0.0:
        return
    if not can_be_overdriven(output):
        return
    yield finding(
        "warning",
        "threshold-out-of-range",
        ("output", output.output.id),
        f"the slow threshold is {limiter.input_dbu:+.1f} dBu in {host.id}, "
        f"{limiter.input_dbfs:+.1f} dB over its full scale",
        why="a threshold that the host cannot reach never acts",
        fix="raise the amplifier's gain or attenuator, so that the threshold comes below full scale",
        input_dbu=limiter.input_dbu,
        input_dbfs=limiter.input_dbfs,
    )


@output_rule
def threshold_holds(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a gain that nobody knows under an outboard limiter."""
    host, model = output.host, output.output.model
    if host is None or host.kind != "processor" or not output.loads:
        return
    if output.gain_db is None:
        yield finding(
            "warning",
            "gain-unknown",
            ("output", output.output.id),
            f"neither gain nor sensitivity of '{model.id}' is known, so the threshold in {host.id} cannot be given",
            why="an outboard limiter works on the level before the amplifier",
            fix="measure the gain, or take it from the data sheet, and write it into the model",
        )


@show_rule
def knobs_are_locked(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find amplifiers whose knobs anybody can turn under an outboard limiter; one finding a unit."""
    yield from chain.from_iterable(rig.memory.each("knobs", rig.amplifiers, _unlocked))


def _unlocked(outputs: Iterable[SolvedOutput]) -> list[Finding]:
    held = [item for item in outputs if item.loads and item.host is not None and item.host.kind == "processor"]
    if not held or not held[0].output.model.attenuators or held[0].output.unit.attenuators_locked:
        return []
    unit = held[0].output.unit
    hosts = " and ".join(dict.fromkeys(item.host.id for item in held if item.host is not None))
    knobs = [(channel, knob_at(item.output, channel)) for item in held for channel in item.output.channels]
    listed = ", ".join(f"{channel} {format_value(at, 'dB') if at else 'fully up'}" for channel, at in knobs)
    found = finding(
        "warning",
        "attenuator-unlocked",
        ("unit", unit.id),
        f"limiters sit in {hosts}, and the knobs behind them ({listed}) are not locked",
        why="a turn of the knob moves the threshold by as many decibels, and nobody notices",
        fix=f"lock or cover the knobs of {unit.id} and set attenuators_locked = true",
    )
    return [found]


@output_rule
def halves_are_alike(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a bridged pair whose two knobs stand differently."""
    pair = output.output
    turned = {channel: knob_at(pair, channel) for channel in pair.channels}
    if pair.mode != "bridged" or not output.loads or len(set(turned.values())) < 2:
        return
    listed = " and ".join(f"{channel} at {format_value(at, 'dB')}" for channel, at in turned.items())
    yield finding(
        "warning",
        "bridged-knobs-differ",
        ("output", pair.id),
        f"the knobs of the bridged pair stand at {listed}",
        why="the two halves give different volts: one clips while the other idles, and the levels here, "
        "which go by the lower knob, are a guess",
        fix="set both knobs alike and lock them, or correct 'attenuators'",
    )


@show_rule
def links_are_balanced(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an unbalanced link into an amplifier that drives something, links between its inputs followed."""
    yield from chain.from_iterable(rig.memory.each("unbalanced links", bases(rig), partial(_unbalanced_links, rig)))


def _unbalanced_links(rig: Rig, basis: Basis) -> list[Finding]:
    found = []
    for output in basis.outputs:
        loose = _unbalanced(output, rig) if output.loads else ""
        if loose:
            found.append(
                finding(
                    "warning",
                    "unbalanced-link",
                    ("output", output.output.id),
                    f"{loose} unbalanced",
                    why="half of a balanced output is 6 dB less, and hum comes in with the mains",
                    fix="use a balanced cable, or a transformer between the two",
                )
            )
    return found


def _unbalanced(output: SolvedOutput, rig: Rig) -> str:
    """Say what is unbalanced on the way into an output; nothing where all is balanced or not known."""
    unit, model = output.output.unit, output.output.model
    name = str(output.output.channels[0])  # a pair is fed by the input of its first channel
    for _ in range(len(unit.inputs) + 1):
        if name in unit.unbalanced_inputs:
            return f"input {name} of {unit.id} is fed"
        linked = unit.inputs.get(name, "")
        if not linked.startswith("="):
            break
        name = linked[1:]
    if not model.balanced:
        return f"the inputs of '{model.id}' are"
    processor = rig.show_index.units.get(output.source.partition(".")[0]) if "." in output.source else None
    source = rig.show_index.models.get(processor.model) if processor else None
    if isinstance(source, Processor) and not source.balanced:
        return f"the outputs of '{source.id}' ({output.source}) are"
    return ""
