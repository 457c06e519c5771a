"""What is loaded into the host of an output before anything is plugged, and looked at before it is unmuted."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.planning.failover.feeding import desk_high_pass_hz
from fieldkit.planning.failover.placements import ALIKE_DB
from fieldkit.planning.failover.rig_in_hand import (
    PatchedRig,
    old_output,
    preset_held,
    setting_of,
    solved_output,
    spoken_preset,
)
from fieldkit.planning.failover.steps import MoveStep, SafeMove, spoken
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.connect.outputs import knob_at, ruling_channel
from fieldkit.rig.signal.account import account_of
from fieldkit.rig.signal.account_text import orders_text
from fieldkit.rig.signal.chain import sent_signal, signal_paths
from fieldkit.rig.signal.processing import gain_parts
from fieldkit.rig.signal.thresholds import NO_PLACE
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.units import format_value

UNLIMITED_DB = 10
"""So far down goes what feeds boxes without their limiter. Common practice, no source."""


def loading(hand: PatchedRig, line: Line) -> Iterator[MoveStep]:
    """Load preset and limiter where they run, unless they are there already; say what the level needs."""
    output = solved_output(hand.after, line.output.id if line.output else "")
    old = old_output(hand, line)
    trim = ""
    if old is not None and old.gain_db is not None and output.gain_db is not None:
        more = output.gain_db + _processing_db(hand.after, output) - old.gain_db - _processing_db(hand.before, old)
        if abs(more) >= ALIKE_DB:
            louder, off = ("louder", "take as much off") if more > 0 else ("quieter", "add as much")
            trim = f"; by its gain it is then {abs(more):.1f} dB {louder} than before: {off} where it is fed"
    host = output.host
    if host is None:
        fed_anew = old is not None and old.output.id == output.output.id
        if fed_anew and old is not None and old.host is not None and old.host.kind == "processor":
            if output.source not in hand.turned_down:
                hand.turned_down.add(output.source)
                yield from _sent(output)
                yield MoveStep("load", output.output.id, _from_the_desk(hand.after, output), value=preset_held(output))
            return
        if fed_anew and not trim:
            return
        says = f"{spoken(output.output.id)} has no processing of its own: set its level as on the old output{trim}"
        yield MoveStep("load", output.output.id, says, value=preset_held(output))
        return
    wanted = setting_of(hand.after, host.id)
    if hand.held.get(host.id) == wanted:
        return
    hand.held[host.id] = wanted
    preset, thermal, level = wanted
    says = f"load {spoken_preset(output)} into {spoken(host.id)}{_spoken_orders(hand.after, output)}{trim}"
    yield MoveStep("load", host.id, says, value=preset, thermal_v=thermal, input_dbu=level)


def _from_the_desk(rig: Rig, output: SolvedOutput) -> str:
    """Say how outputs without their processor are to be fed: nothing limits them, so they stay low."""
    alike = [item for item in rig.outputs if item.source == output.source and item.host is None and item.loads]
    loads = [load for item in alike for load in item.loads]
    highest = max((corner for load in loads if (corner := desk_high_pass_hz(load)) is not None), default=None)
    presets = [load.choice.preset for load in loads if load.section.section == "sub" and load.choice.preset is not None]
    lowest = min((preset.low_pass.value for preset in presets if preset.low_pass is not None), default=None)
    filters = [f"high-pass '{output.source}' at {format_value(highest, 'Hz')}"] if highest else []
    filters += [f"low-pass it at {format_value(lowest, 'Hz')}"] if lowest else []
    there = f"{' and '.join(filters)} there, and " if filters else ""
    names = ", ".join(spoken(item.output.id) for item in alike)
    return (
        f"at the desk: {there}turn '{output.source}' {UNLIMITED_DB} dB down for as long as it feeds {names}: "
        "no preset and no limiter holds them any more"
    )


def _sent(output: SolvedOutput) -> Iterator[MoveStep]:
    """Have the desk send a signal to an output of its own, where it is for subs alone and tops hear it too."""
    signal = sent_signal(output.source)
    if signal:
        says = f"at the desk: send {signal} to an output that is free too, from now on '{output.source}', with a line "
        says += f"to {output.output.unit.id}; leave this move if there is none"
        yield MoveStep("patch", "desk", says, f"{output.source}+{signal}")


def desk_price(hand: PatchedRig, line: Line) -> Iterator[str]:
    """Say what it costs to feed boxes straight from the desk; nothing where they are not."""
    output, old = solved_output(hand.after, line.output.id if line.output else ""), old_output(hand, line)
    if output.host is not None or old is None or old.host is None or old.host.kind != "processor":
        return
    yield f"no preset and no limiter: {UNLIMITED_DB} dB down, and watched"
    signal = sent_signal(output.source)
    if signal:
        yield f"it takes a free output of the desk and a line from there to {output.output.unit.id}"
        if signal in hand.turned_down:
            yield f"without one, '{signal}' itself will do: the subs then play what the tops play, and no lower"


def desk_returns(hand: PatchedRig) -> Iterator[SafeMove]:
    """Say what the desk sets as it was once a processor holds again what came straight from the desk."""
    direct = {item.source for item in hand.after.outputs if item.host is None and item.loads}
    now = {item.output.id: item for item in hand.after.outputs if item.loads}
    home = {item.output.id: item for item in hand.before.outputs if item.loads and item.host is None}
    hosts = {name: now[name].host for name in home if name in now}
    hosted = [name for name, host in hosts.items() if host is not None and host.kind == "processor"]
    arriving = {path.to: path.signals for path in signal_paths(hand.after)}
    signals = {home[name].source: (sent_signal(home[name].source) or home[name].source) for name in hosted}
    steps = []
    for source, signal in signals.items():
        if source in direct or not any(signal in arriving.get(name, ()) for name in hosted):
            continue
        if source != signal:
            says = f"at the desk: '{source}' has nothing to feed any more: take that output out again"
        else:
            says = f"at the desk: take the filters off '{source}' again, and bring it back up {UNLIMITED_DB} dB, slowly"
        steps.append(MoveStep("patch", "desk", says, signal))
    if steps:
        yield SafeMove("the desk as it was", (), ("desk", "desk"), (), tuple(steps))


def left_behind(hand: PatchedRig, output: SolvedOutput) -> Iterator[MoveStep]:
    """Set an output for what is left on it, where what went away had wanted another preset."""
    host = output.host
    if host is None or hand.held.get(host.id, ("", None, None))[0] == setting_of(hand.after, host.id)[0]:
        return
    hand.held[host.id] = (preset, thermal, level) = setting_of(hand.after, host.id)
    orders = _spoken_orders(hand.after, output)
    says = f"load {spoken_preset(output)} into {spoken(host.id)}, for what is left on it{orders}"
    yield MoveStep("load", host.id, says, value=preset, thermal_v=thermal, input_dbu=level)
    yield verifying(hand.after, output)


def verifying(rig: Rig, output: SolvedOutput) -> MoveStep:
    """Have somebody look whether an output holds what it is to, and is still muted."""
    where, knob = spoken(output.output.id), _knob(output)
    if output.host is None:
        return MoveStep("verify", output.output.id, f"look: {where} is still muted, and its level is right{knob}")
    held = f"reads {spoken_preset(output)}" if preset_held(output) else "is set"
    account = account_of(rig, output.output.id)
    slow = account and (account.entry("preset slow limiter") or account.entry("slow limiter"))
    limiter = f" and slow limiter {slow.text}" if slow and slow.where != NO_PLACE else ""
    host = spoken(output.host.id)
    return MoveStep("verify", output.output.id, f"look: {host} {held}{limiter}, and {where} is still muted{knob}")


def _knob(output: SolvedOutput) -> str:
    """Say where the knob of an output stands in the plan, which its limiter was worked out for; empty without one."""
    if not output.output.model.attenuators:
        return ""
    position = knob_at(output.output, ruling_channel(output.output))
    stands = f"at {position:+.1f} dB" if position else "fully up"
    return f"; its knob stands {stands}{', locked' if output.output.unit.attenuators_locked else ''}"


def _spoken_orders(rig: Rig, output: SolvedOutput) -> str:
    """Say what the account of an output has to be set on top of its preset."""
    account = account_of(rig, output.output.id)
    orders = orders_text(account) if account is not None else ""
    return f"; set {orders}" if orders else ""


def _processing_db(rig: Rig, output: SolvedOutput) -> float:
    return float(sum(value for _, value in gain_parts(rig, output.loads[0], output.host))) if output.loads else 0.0
