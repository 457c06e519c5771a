"""Mutes: what must say nothing while plugs, inputs and settings change, and when it may be heard again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from fieldkit.planning.failover.patching import inputs_in_turn, leadings
from fieldkit.planning.failover.presetting import left_behind
from fieldkit.planning.failover.rig_in_hand import PatchedRig, is_complete, setting_of, single_channels, solved_output
from fieldkit.planning.failover.steps import MoveStep, spoken
from fieldkit.rig.connect.hosts import followed
from fieldkit.rig.connect.lines import Line


def mutings(hand: PatchedRig, outputs: list[str], failed: frozenset[str], plugged: set[str]) -> Iterator[MoveStep]:
    """Mute what is plugged, patched or set: the new outputs, the old ones, and all behind an input that changes.

    plugged: connectors that a plug is pulled from or goes to
    """
    known = [name for name in outputs if hand.after.output(name) is not None]
    wanted = [*single_channels(outputs), *_outputs_behind(hand, known)]
    if plugged:
        wanted += [
            item
            for line in hand.before.lines
            if line.run.start in plugged and line.output is not None and hand.at[line.run.id] == line.run.start
            for item in single_channels([line.output.id])
        ]
    yield from _muted_once(hand, wanted, failed)


def mutings_of(hand: PatchedRig, outputs: Iterable[str], failed: frozenset[str]) -> Iterator[MoveStep]:
    """Mute outputs of which a plug is pulled or joined, and nothing behind them changes."""
    yield from _muted_once(hand, single_channels(outputs), failed)


def _muted_once(hand: PatchedRig, channels: Iterable[str], failed: frozenset[str]) -> Iterator[MoveStep]:
    for name in dict.fromkeys(channels):
        unit = name.partition(".")[0]
        if name not in hand.muted and unit not in failed and name not in failed:
            hand.muted[name] = None
            yield MoveStep("mute", name, f"mute {spoken(name)}")


def _outputs_behind(hand: PatchedRig, outputs: list[str]) -> list[str]:
    """Name the channels whose input changes with the units of these outputs, or whose host is set anew."""
    names = []
    hosts = {solved.host.id for name in outputs if (solved := solved_output(hand.after, name)).host is not None}
    for host in sorted(hosts):
        if host in hand.held and hand.held[host] != setting_of(hand.after, host):
            earlier = (item for item in hand.before.outputs if item.output.unit.id not in hand.patched)
            later = (item for item in hand.after.outputs if item.output.unit.id in hand.patched)
            names += single_channels(
                item.output.id for item in (*earlier, *later) if item.host and item.host.id == host
            )
    for unit in dict.fromkeys(output.partition(".")[0] for output in outputs):
        if unit in hand.patched:
            continue
        was = hand.before.show_index.units[unit].inputs if unit in hand.before.show_index.units else {}
        now = hand.after.show_index.units[unit].inputs
        if was:
            names += [f"{unit}.{channel}" for channel in sorted(_disturbed(was, now), key=int)]
    return names


def _disturbed(was: Mapping[str, str], now: Mapping[str, str]) -> set[str]:
    """Name the channels that get something else than before, at the end or while the inputs are patched in turn."""
    state = dict(was)
    channels = {*was, *now}
    found = set()
    for name in inputs_in_turn(was, now):
        state[name] = now.get(name, "")
        found |= {channel for channel in channels if followed(state, channel) != followed(was, channel)}
    return found


def unmutings(hand: PatchedRig, outputs: list[str], lines: list[Line]) -> Iterator[MoveStep]:
    """Unmute the outputs of this move, and those that were muted for its sake and are as they are to be."""
    heard: dict[str, list[str]] = {}
    for line in lines:
        if line.output:
            heard.setdefault(line.output.id, []).extend(load.box.id for load in line.loads)
    for output in outputs:
        if not is_complete(hand, solved_output(hand.after, output)):
            continue  # another run of it is still to come: until then its preset would be on the wrong band
        sections = "+".join(dict.fromkeys(load.section.section for load in solved_output(hand.after, output).loads))
        boxes = ", ".join(dict.fromkeys(heard[output]))
        for name in single_channels([output]):
            hand.muted.pop(name, None)
        says = (
            f"unmute {spoken(output)} quietly, its level right down; listen for {sections} at {boxes}, then bring it up"
        )
        yield MoveStep("unmute", output, says)
    for solved in hand.after.outputs:
        name = solved.output.id
        channels = single_channels([name])
        there = is_complete(hand, solved)
        gone = [run for run in hand.runs_on(channels) if hand.at[run]]
        due = any(item.line.run.id in hand.waiting for item in solved.lines)  # its own move unmutes it
        if solved.lines and there and not gone and not due and any(item in hand.muted for item in channels):
            yield from leadings(hand, solved.source)  # patched with its unit, and its own move is still to come
            yield from left_behind(hand, solved)
            for item in channels:
                hand.muted.pop(item, None)
            yield MoveStep("unmute", name, f"unmute {spoken(name)} again")
