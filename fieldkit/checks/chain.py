"""The chain from desk to box: the right signal, nothing that clips on the way, settings that one host can hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from itertools import chain

from fieldkit.checks.finding import Finding, Kind
from fieldkit.checks.rules import ROUNDING_DB, Choices, finding, output_rule, show_rule
from fieldkit.formulas.levels import dbu_from_voltage
from fieldkit.rig.signal.asked import Asked, asked_of_hosts
from fieldkit.rig.signal.chain import SignalPath, amplifier_paths, box_paths
from fieldkit.rig.signal.delays import delays_by_side
from fieldkit.rig.signal.gains import GainChain, gain_chains
from fieldkit.rig.signal.sharing import sharing
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

BEFORE_THE_AMPLIFIER = frozenset({"desk", "processor input"})
"""Stages that only the whole chain shows; the others have a rule of their own."""
OF_ANOTHER_RULE = frozenset({"processor output", "amplifier input", "amplifier converter"})
AUDIBLE_S = 0.0005
"""A delay below this is no reason to speak of a place for it."""


@show_rule
def signals_arrive(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find an output or a self-powered box that gets another signal than its zone asks for."""
    yield from chain.from_iterable(rig.memory.each("wrong signals", amplifier_paths(rig), partial(_wrong, "output")))
    yield from _wrong("box", box_paths(rig))


def _wrong(kind: Kind, paths: Iterable[SignalPath]) -> list[Finding]:
    return [
        finding(
            "warning",
            "wrong-signal",
            (kind, path.to),
            f"it gets {' and '.join(path.signals)}, and its zone wants {' and '.join(path.wanted)} "
            f"({' > '.join(path.stations)})",
            why="the wrong side or mix comes out of these boxes, and it looks right on every meter",
            fix="correct the inputs of the unit, the routes of the processor, or the signals of the zone",
        )
        for path in paths
        if path.signals and not set(path.wanted) <= set(path.signals)
    ]


@show_rule
def chain_clips_first(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a desk or a processor input that clips before the amplifier is at its limit."""
    yield from chain.from_iterable(rig.memory.each("chain clips first", gain_chains(rig), _clipping_chains))


def _clipping_chains(chains: Iterable[GainChain]) -> list[Finding]:
    return [found for gains in chains for found in _clipping_chain(gains)]


def _clipping_chain(gains: GainChain) -> Iterator[Finding]:
    early = [stage for stage in gains.stages if stage.name in BEFORE_THE_AMPLIFIER]
    stage = min(early, key=lambda stage: stage.margin_db, default=None)
    if stage is None or stage.margin_db >= -ROUNDING_DB:
        return
    later = [other.margin_db for other in gains.stages if other.name in OF_ANOTHER_RULE]
    if min(later, default=0.0) <= stage.margin_db + ROUNDING_DB:
        return  # what clips even earlier behind it has a rule of its own
    yield finding(
        "warning",
        "chain-clips-first",
        ("output", gains.output),
        f"full output needs {stage.full_dbu:+.1f} dBu at the {stage.name} ({stage.at}), "
        f"which clips at {stage.limit_dbu:+.1f} dBu",
        why="the sound clips before the amplifier is at its limit, and no limiter behind it helps",
        fix="turn the attenuator up, choose more gain, or take less gain out in the processing",
        needed_dbu=stage.full_dbu,
        limit_dbu=stage.limit_dbu,
    )


@output_rule
def threshold_not_too_low(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a limiter threshold below what its host can be set to."""
    limiter, host = output.limiter, output.host
    if limiter is None or host is None or limiter.input_dbu is None or host.hosts.lowest_threshold is None:
        return
    lowest_dbu = dbu_from_voltage(host.hosts.lowest_threshold.value)
    if limiter.input_dbu >= lowest_dbu - ROUNDING_DB:
        return
    yield finding(
        "warning",
        "threshold-out-of-range",
        ("output", output.output.id),
        f"the slow threshold is {limiter.input_dbu:+.1f} dBu in {host.id}, which goes down to {lowest_dbu:+.1f} dBu",
        why="the lowest threshold that can be set lets more through than the box can take",
        fix="turn the amplifier's attenuator down or choose less gain, and lock it",
        input_dbu=limiter.input_dbu,
        lowest_dbu=lowest_dbu,
    )


@show_rule
def hosts_hold_settings(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find delays that a host cannot hold, delays without a host, and boxes that want different things of one."""
    yield from chain.from_iterable(rig.memory.each("settings on hosts", asked_of_hosts(rig), _held_settings))


def _held_settings(settings: Iterable[Asked]) -> list[Finding]:
    found: list[Finding] = []
    for setting in settings:
        found += _delay_fits(setting)
        wanted = setting.disagreements
        if wanted and not any(text.startswith("preset") for text in wanted):  # else the rules about presets speak
            differ = finding(
                "warning",
                "settings-on-one-host",
                ("host", setting.host),
                f"{setting.host} has one setting for everything that it feeds; {'; '.join(wanted)}",
                why="some of its boxes get the level or the timing of others",
                fix="give each its own output, or let them have the same setting",
            )
            found.append(differ)
    return found


def _delay_fits(setting: Asked) -> Iterator[Finding]:
    longest = setting.longest_delay_s
    if setting.kind == "none" and setting.delay_s > AUDIBLE_S:
        yield finding(
            "warning",
            "delay-has-no-host",
            ("box", setting.boxes[0]) if not setting.outputs else ("output", setting.host),
            f"{', '.join(setting.boxes)} should wait {1e3 * setting.delay_s:.1f} ms, and nothing here can delay",
            why="the nearer box is heard first, and the sound seems to come from it",
            fix="feed it from a processor output, or delay it in the desk and set the zone's delay to 0 ms by hand",
            delay_s=setting.delay_s,
        )
    elif longest is not None and setting.delay_s > longest:
        yield finding(
            "warning",
            "delay-beyond-host",
            ("host", setting.host),
            f"{setting.host} should wait {1e3 * setting.delay_s:.1f} ms, and its longest is {1e3 * longest:.1f} ms",
            why="what is missing is heard as an echo",
            fix="delay it in the desk or in a processor in front, or use a host with a longer delay",
            delay_s=setting.delay_s,
            longest_s=longest,
        )


@show_rule
def processor_outputs_suffice(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find more different needs than there are processor outputs, and say what could merge."""
    found = sharing(rig)
    if not found.outputs or not found.short:
        return
    wants = "; ".join(f"{' '.join(need.outputs)}: {need.preset}, {need.signal or 'no signal'}" for need in found.needs)
    merges = [
        f"{' '.join(merge.first.outputs)} with {' '.join(merge.second.outputs)} ({merge.loses})"
        for merge in found.merges[: found.short + 1]
    ]
    yield finding(
        "error",
        "processor-outputs-short",
        ("show", "processors"),
        f"{len(found.needs)} different needs of processing, and {found.outputs} processor outputs ({wants})",
        why="an output without its preset plays without crossover or limiter, and different presets never merge",
        fix=f"one more processor, or merge {', or '.join(merges)}" if merges else "one more processor; none can merge",
        needs=len(found.needs),
        outputs=found.outputs,
    )


@show_rule
def timing_has_distances(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a zone that is timed to another, and of which nobody noted how far the listeners are."""
    named: set[str] = set()
    for delay in delays_by_side(rig).values():
        if delay.reference is None or delay.own_m is not None or delay.by_hand or delay.zone in named:
            continue
        named.add(delay.zone)
        yield finding(
            "warning",
            "timing-lacks-distance",
            ("zone", delay.zone),
            f"it is timed to '{delay.reference}', and nothing says how far those boxes are from the listeners"
            if delay.guess_s is None
            else f"it is timed to '{delay.reference}', and nothing says how far its own boxes are from the listeners: "
            f"{1e3 * delay.guess_s:.1f} ms is a guess, as for 0 m, and is set nowhere",
            why="its delay leaves out the way of the sound: it comes early, and the ear hears it as the source",
            fix="note own_distance, 0 m if its boxes stand at the listeners, or a measured delay"
            if delay.guess_s is not None
            else "note reference_distance and own_distance, or positions of boxes and listeners, or a measured delay",
        )
