"""Moves: a change of the patch as safe steps that one person can do, in order.

They are made of the difference between two plans, so that bringing a rig back after a loss, putting it back
when the spare arrives, and any other change of the patch are said in the same way. The rule behind the order of
the steps: an output is muted before anything about it changes, holds its new preset and limiter before a plug
goes into it, and is unmuted last, quietly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Literal

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.placements import ALIKE_DB
from fieldkit.rig.connect.hosts import followed, link_chain
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.connect.outputs import knob_at, ruling_channel
from fieldkit.rig.signal.account import account_of
from fieldkit.rig.signal.account_text import orders_text
from fieldkit.rig.signal.chain import routed_inputs
from fieldkit.rig.signal.processing import gain_parts
from fieldkit.rig.signal.thresholds import NO_PLACE
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Run
from fieldkit.units import format_value

Act = Literal["bring", "off", "mute", "pull", "set", "load", "route", "patch", "verify", "plug", "unmute"]

Setting = tuple[str, float | None, float | None]
"""What a host holds: preset, threshold at the output [V], threshold at the amplifier's input [dBu]."""


class MoveStep(msgspec.Struct, frozen=True):
    """One thing to do."""

    do: Act
    at: str
    """The output, input, unit or connector."""
    says: str
    value: str = ""
    """What it is set to: preset, source, mode; the other end of a plug."""
    thermal_v: float | None = None
    """Threshold of the slow limiter that is loaded, at the output [V rms]."""
    input_dbu: float | None = None
    """The same at the amplifier's input, for a limiter in a processor [dBu]."""


class Route(msgspec.Struct, frozen=True):
    """One line of a move: from which output to which."""

    line: str
    was: str
    now: str
    preset: str
    boxes: tuple[str, ...]


UNLIMITED_DB = 10
"""So far down goes what feeds boxes without their limiter. Common practice, no source."""

MINUTES: dict[Act, float] = {
    "bring": 5.0,
    "off": 1.0,
    "mute": 0.25,
    "pull": 0.5,
    "set": 1.0,
    "load": 1.5,
    "route": 1.0,
    "patch": 1.0,
    "verify": 0.25,
    "plug": 1.0,
    "unmute": 0.5,
}
"""What each step takes one person who knows the rig: a menu, a plug, a look. Our own choice."""

WALK_MINUTES = 1.0
"""From one rack, the desk or a box to the next. Our own choice."""


class SafeMove(msgspec.Struct, frozen=True):
    """Something that one person does in one go."""

    says: str
    """In short: ``SR-1 out 3 → SR-3 out 4 (preset two-way-12 low, with sub)``."""
    runs: tuple[str, ...]
    plug: tuple[str, str]
    """The connectors that it goes from and to; alike where only its input is patched anew."""
    routes: tuple[Route, ...]
    steps: tuple[MoveStep, ...]

    @property
    def minutes(self) -> float:
        """Say how long it takes one person: each step, and a walk wherever the next is at another unit or box."""
        places = [step.at.partition(".")[0] for step in self.steps]
        walks = 1 + sum(here != there for here, there in pairwise(places))
        return sum(MINUTES[step.do] for step in self.steps) + WALK_MINUTES * walks


class PatchedRig:
    """Where everything is while the moves are made, one after the other."""

    def __init__(self, before: Rig, after: Rig) -> None:
        self.before, self.after = before, after
        self.at: dict[str, str] = {run.id: run.start for run in before.show.runs}
        self.held: dict[str, Setting] = {
            output.host.id: setting_of(before, output.host.id)
            for output in before.outputs
            if output.host is not None and output.loads
        }
        self.brought: set[str] = set()
        self.patched: set[str] = set()
        """Units whose inputs are as they are to be."""
        self.led: set[str] = set()
        """Processor outputs and inputs that are led and patched as they are to be."""
        self.muted: dict[str, None] = {}
        self.waiting: set[str] = set()
        """Runs whose move is still to come."""
        self.turned_down: set[str] = set()
        """Signals that the desk sends low, for want of limiters."""
        self.final = {run.id: run.start for run in after.show.runs}

    def adaptor_of(self, name: str, *, before: bool = False) -> str:
        """Name the adaptor that a run begins with in one plan and not in the other; empty where it does not."""
        runs = [next(run for run in rig.show.runs if run.id == name) for rig in (self.before, self.after)]
        mine, other = runs if before else runs[::-1]
        longer = len(mine.path) > len(other.path) and mine.path[1:] == other.path
        return mine.path[0].adaptor or "" if longer else ""

    def runs_on(self, outputs: Iterable[str]) -> list[str]:
        """Name the runs that are on outputs as they are now, and will not be."""
        names = set(outputs)
        return [
            line.run.id
            for line in self.before.lines
            if line.output is not None
            and names & {f"{line.output.unit.id}.{channel}" for channel in line.output.channels}
            and self.at[line.run.id] == line.run.start
            and self.final.get(line.run.id) != line.run.start
        ]


def moves_between(
    before: Rig, after: Rig, order: Iterable[Sequence[str]], *, failed: Iterable[str] = ()
) -> list[SafeMove]:
    """Say how one plan becomes another. ``order`` names the runs of each plug, in turn.

    ``failed`` names units and outputs that need not be muted, since they say nothing.
    """
    hand = PatchedRig(before, after)
    silent = frozenset(failed)
    order = list(order)
    hand.waiting = {name for names in order for name in names}
    by_name = {run.id: run for run in before.show.runs}
    moves = [_move(hand, [by_name[name] for name in names], silent) for names in order]
    freed = tuple(_freeings(hand))
    if moves and freed:
        moves[-1] = msgspec.structs.replace(moves[-1], steps=(*moves[-1].steps, *freed))
    return moves


def groups_between(before: Rig, after: Rig, first: Iterable[str] = ()) -> list[tuple[str, ...]]:
    """Group the runs that are plugged or fed otherwise in another plan by their plug: those of ``first`` in turn."""
    then = {run.id: run.start for run in after.show.runs}
    paths = {run.id: run.path for run in after.show.runs}
    sources = {line.line.run.id: output.source for output in after.outputs for line in output.lines}
    fed = {line.line.run.id: output.source for output in before.outputs for line in output.lines}
    groups: dict[tuple[str, str], list[str]] = {}
    places = {name: place for place, name in enumerate(first)}
    for run in sorted(before.show.runs, key=lambda run: places.get(run.id, len(places))):
        moved = then[run.id] and (then[run.id] != run.start or paths[run.id] != run.path)
        if moved or (then[run.id] == run.start and sources.get(run.id) != fed.get(run.id)):
            groups.setdefault((run.start, then[run.id]), []).append(run.id)
    return [tuple(names) for names in groups.values()]


def _move(hand: PatchedRig, runs: list[Run], failed: frozenset[str]) -> SafeMove:
    names = {run.id for run in runs}
    start = runs[0].start
    target = hand.final[runs[0].id]
    lines = [line for line in hand.after.lines if line.run.id in names and line.output is not None and line.loads]
    outputs = list(dict.fromkeys(line.output.id for line in lines if line.output))
    steps: list[MoveStep] = [*_bringings(hand, outputs), *_reaching(hand, start, target, names)]
    pairs = _pairs_set_otherwise(hand, outputs)
    plugged = target != start or hand.adaptor_of(runs[0].id) != hand.adaptor_of(runs[0].id, before=True)
    steps += _mutings(hand, [*outputs, *pairs], failed, {start, target} - {""} if plugged else set())
    if plugged or pairs:
        on_pairs = set(hand.runs_on(_channels(pairs)))
        steps += _pullings(hand, target, [*outputs, *pairs], names - on_pairs)
    steps += _settings(pairs)
    for line in lines:
        steps += _loading(hand, line)
    steps += _patchings(hand, outputs)
    for output in outputs:
        steps.append(_verifying(hand.after, _solved(hand.after, output)))
    if plugged:
        steps += _plugging(hand, start, target, runs)
    for run in runs:
        hand.at[run.id] = target
    hand.waiting -= names
    steps += _unmutings(hand, outputs, lines)
    routes = tuple(_route(hand, line) for line in lines)
    return SafeMove(_short(hand, routes, lines), tuple(run.id for run in runs), (start, target), routes, tuple(steps))


def _solved(rig: Rig, name: str) -> SolvedOutput:
    found = rig.output(name)
    if found is None:
        raise KeyError(name)
    return found


def _bringings(hand: PatchedRig, outputs: list[str]) -> Iterator[MoveStep]:
    """Bring the spare in, once."""
    needed = [output.partition(".")[0] for output in outputs] + _processors(hand, outputs)
    for unit in dict.fromkeys(needed):
        if unit not in hand.before.show_index.units and unit not in hand.brought:
            hand.brought.add(unit)
            spare = hand.after.show_index.units[unit]
            mains = f"its mains from {spare.supply}" if spare.supply else "its mains where there is room for it"
            says = f"bring the spare {spare.model}, from now on {unit}, beside the rack: all its outputs muted, {mains}"
            yield MoveStep("bring", unit, says, value=spare.model)
            for pair in spare.bridged:
                yield MoveStep("set", f"{unit}.{pair}", f"set {unit} channels {pair} to bridged", value="bridged")


def _reaching(hand: PatchedRig, start: str, target: str, names: set[str]) -> Iterator[MoveStep]:
    """Have somebody look whether a lead reaches another rack, since no plan knows where it stands."""
    here, there = (_place(hand, name) for name in (start, target))
    known = {*hand.before.show_index.units, *hand.before.show_index.racks}
    new = target.partition(".")[0] not in known
    if start and start != target and here != there and not new:
        says = f"look: {', '.join(sorted(names))} reaches from {start} to {target}; leave this move if it does not"
        yield MoveStep("verify", target, says)


def _place(hand: PatchedRig, start: str) -> str:
    name = start.partition(".")[0]
    unit = hand.after.show_index.units.get(name)
    return (unit.rack or "") if unit else name


def _mutings(hand: PatchedRig, outputs: list[str], failed: frozenset[str], plugged: set[str]) -> Iterator[MoveStep]:
    """Mute what is plugged, patched or set: the new outputs, the old ones, and all behind an input that changes.

    plugged: connectors that a plug is pulled from or goes to
    """
    known = [name for name in outputs if hand.after.output(name) is not None]
    wanted = [*_channels(outputs), *_outputs_behind(hand, known)]
    if plugged:
        wanted += [
            item
            for line in hand.before.lines
            if line.run.start in plugged and line.output is not None and hand.at[line.run.id] == line.run.start
            for item in _channels([line.output.id])
        ]
    for name in dict.fromkeys(wanted):
        unit = name.partition(".")[0]
        if name not in hand.muted and unit not in failed and name not in failed:
            hand.muted[name] = None
            yield MoveStep("mute", name, f"mute {spoken(name)}")


def _channels(outputs: Iterable[str]) -> list[str]:
    """Name the single channels of outputs: those are what has a mute."""
    names = []
    for output in outputs:
        unit, _, channels = output.partition(".")
        names += [f"{unit}.{channel}" for channel in channels.split("+")]
    return names


def _outputs_behind(hand: PatchedRig, outputs: list[str]) -> list[str]:
    """Name the channels whose input changes with the units of these outputs, or whose host is set anew."""
    names = []
    hosts = {solved.host.id for name in outputs if (solved := _solved(hand.after, name)).host is not None}
    for host in sorted(hosts):
        if host in hand.held and hand.held[host] != setting_of(hand.after, host):
            earlier = (item for item in hand.before.outputs if item.output.unit.id not in hand.patched)
            later = (item for item in hand.after.outputs if item.output.unit.id in hand.patched)
            names += _channels(item.output.id for item in (*earlier, *later) if item.host and item.host.id == host)
    for unit in dict.fromkeys(output.partition(".")[0] for output in outputs):
        if unit in hand.patched:
            continue
        was = hand.before.show_index.units[unit].inputs if unit in hand.before.show_index.units else {}
        now = hand.after.show_index.units[unit].inputs
        if was:
            names += [f"{unit}.{channel}" for channel in sorted(_disturbed(was, now), key=int)]
    return names


def _in_turn(was: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """List the inputs that change, those at the ends of links first: what they hung on may then change unheard."""
    changed = [name for name in {**was, **now} if was.get(name, "") != now.get(name, "")]
    return sorted(changed, key=lambda name: (-len(link_chain(was, name)), int(name)))


def _disturbed(was: Mapping[str, str], now: Mapping[str, str]) -> set[str]:
    """Name the channels that get something else than before, at the end or while the inputs are patched in turn."""
    state = dict(was)
    channels = {*was, *now}
    found = set()
    for name in _in_turn(was, now):
        state[name] = now.get(name, "")
        found |= {channel for channel in channels if followed(state, channel) != followed(was, channel)}
    return found


def _pullings(hand: PatchedRig, target: str, outputs: list[str], names: set[str]) -> Iterator[MoveStep]:
    """Pull what is in the way: in the connector, or on the outputs by another one."""
    in_way = [run for run, start in hand.at.items() if start == target and run not in names]
    in_way += [run for run in hand.runs_on(_channels(outputs)) if run not in names and run not in in_way]
    for start in dict.fromkeys(hand.at[run] for run in in_way):
        runs = [run for run in in_way if hand.at[run] == start]
        for run in runs:
            hand.at[run] = ""
        stays = all(not hand.final.get(run) for run in runs)
        then = "; it stays unplugged" if stays else "; it is plugged again below"
        yield MoveStep("pull", start, f"pull {', '.join(runs)} out of {start}{then}", value="+".join(runs))


def _pairs_set_otherwise(hand: PatchedRig, outputs: list[str]) -> dict[str, str]:
    """Find the channel pairs of these outputs' units whose mode changes, with the new mode, such as ``single``."""
    pairs: dict[str, str] = {}
    for unit in dict.fromkeys(output.partition(".")[0] for output in outputs):
        was, now = hand.before.show_index.units.get(unit), hand.after.show_index.units[unit]
        if was is None or unit in hand.patched:
            continue
        for pair in (*was.bridged, *was.paralleled):
            if pair not in now.bridged and pair not in now.paralleled:
                pairs[f"{unit}.{pair}"] = "single"
        for pair in now.bridged:
            if pair not in was.bridged:
                pairs[f"{unit}.{pair}"] = "bridged"
    return pairs


def _settings(pairs: dict[str, str]) -> Iterator[MoveStep]:
    """Set channel pairs otherwise, with nothing plugged into them."""
    for name, how in pairs.items():
        unit, _, pair = name.partition(".")
        yield MoveStep("set", name, f"set {unit} channels {pair} to {how}", value=how)


def _loading(hand: PatchedRig, line: Line) -> Iterator[MoveStep]:
    """Load preset and limiter where they run, unless they are there already; say what the level needs."""
    output = _solved(hand.after, line.output.id if line.output else "")
    old = _old_output(hand, line)
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
                yield MoveStep("load", output.output.id, _from_the_desk(hand.after, output), value=_preset(output))
            return
        if fed_anew and not trim:
            return
        says = f"{spoken(output.output.id)} has no processing of its own: set its level as on the old output{trim}"
        yield MoveStep("load", output.output.id, says, value=_preset(output))
        return
    wanted = setting_of(hand.after, host.id)
    if hand.held.get(host.id) == wanted:
        return
    hand.held[host.id] = wanted
    preset, thermal, level = wanted
    says = f"load {_spoken_preset(output)} into {spoken(host.id)}{_spoken_orders(hand.after, output)}{trim}"
    yield MoveStep("load", host.id, says, value=preset, thermal_v=thermal, input_dbu=level)


def _from_the_desk(rig: Rig, output: SolvedOutput) -> str:
    """Say how outputs without their processor are to be fed: nothing limits them, so they stay low."""
    alike = [item for item in rig.outputs if item.source == output.source and item.host is None and item.loads]
    loads = [load for item in alike for load in item.loads]
    corners = [load.choice.preset.high_pass for load in loads if load.choice.preset is not None]
    highest = max((corner.value for corner in corners if corner is not None), default=None)
    passed = f"high-pass '{output.source}' at {format_value(highest, 'Hz')} there, and " if highest else ""
    names = ", ".join(spoken(item.output.id) for item in alike)
    return (
        f"at the desk: {passed}turn '{output.source}' {UNLIMITED_DB} dB down for as long as it feeds {names}: "
        "no preset and no limiter holds them any more"
    )


def setting_of(rig: Rig, host: str) -> Setting:
    """Say what a host must hold in a plan: the lowest limiter of all that it feeds."""
    fed = [output for output in rig.outputs if output.host is not None and output.host.id == host and output.loads]
    limiters = [output.limiter for output in fed if output.limiter]
    levels = [limiter.input_dbu for limiter in limiters if limiter.input_dbu is not None]
    outboard = any(output.host is not None and output.host.kind == "processor" for output in fed)
    return (
        "+".join(dict.fromkeys(_preset(output) for output in fed)),
        min((limiter.thermal_v for limiter in limiters), default=None),
        min(levels, default=None) if outboard else None,
    )


def _old_output(hand: PatchedRig, line: Line) -> SolvedOutput | None:
    old = next((old for old in hand.before.lines if old.run.id == line.run.id and _same(old, line)), None)
    return hand.before.output(old.output.id) if old is not None and old.output is not None else None


def _patchings(hand: PatchedRig, outputs: list[str]) -> Iterator[MoveStep]:
    """Patch the inputs of the units of these outputs, all of a unit at once: links join them.

    What feeds them comes first: the inputs of their processors, and the routes from those.
    """
    for source in dict.fromkeys(_solved(hand.after, name).source for name in outputs):
        yield from leadings(hand, source)
    for unit in dict.fromkeys(output.partition(".")[0] for output in outputs):
        if unit in hand.patched:
            continue
        hand.patched.add(unit)
        was = hand.before.show_index.units[unit].inputs if unit in hand.before.show_index.units else {}
        now = hand.after.show_index.units[unit].inputs
        for channel in _in_turn(was, now):
            source = now.get(channel, "")
            if source.startswith("="):
                says = f"link {unit} input {channel} to input {source[1:]}"
            elif source:
                says = f"patch {spoken_source(source)}{_cable_of(hand, source, unit)} into {unit} input {channel}"
            else:
                old = _fed_before(hand, f"{unit}.{channel}")
                says = f"patch into {unit} input {channel} what fed {old}"
            yield MoveStep("patch", f"{unit}.{channel}", says, value=source)


def _fed_before(hand: PatchedRig, channel: str) -> str:
    """Name the output whose boxes a channel takes over, for whoever looks for its signal."""
    lines = (line for line in hand.after.lines if line.output and channel in _channels([line.output.id]))
    old = next((old for line in lines if (old := _old_output(hand, line)) is not None), None)
    return spoken(old.output.id) if old is not None else "it before"


def _processors(hand: PatchedRig, outputs: Iterable[str]) -> list[str]:
    """Name the processors that feed outputs then."""
    sources = [_solved(hand.after, name).source for name in outputs]
    units = [source.partition(".")[0] for source in sources if "." in source]
    return [unit for unit in dict.fromkeys(units) if unit in hand.after.show_index.units]


def leadings(hand: PatchedRig, source: str) -> Iterator[MoveStep]:
    """Patch what is new at the inputs that lead to a processor output, and lead it there."""
    name, dot, number = source.partition(".")
    now = hand.after.show_index.units.get(name)
    if not dot or now is None or source in hand.led:
        return
    hand.led.add(source)
    was = hand.before.show_index.units.get(name)
    had, led = (was.inputs, was.routes) if was else ({}, {})
    route = now.routes.get(number, "")
    for entry in routed_inputs(now, number):
        signal = now.inputs.get(entry, "")
        if signal and signal != had.get(entry, "") and f"{name} {entry}" not in hand.led:
            hand.led.add(f"{name} {entry}")
            says = f"patch {spoken_source(signal)}{_cable_of(hand, signal, name)} into {name} input {entry}"
            yield MoveStep("patch", f"{name}.{entry}", says, signal)
    if route and route != led.get(number, ""):
        plural = "s" if "+" in route else ""
        says = f"lead input{plural} {route.replace('+', ' and ')} of {name}, and nothing else, to its output {number}"
        yield MoveStep("route", source, says, route)


def _cable_of(hand: PatchedRig, source: str, name: str) -> str:
    """Say where a cable with a signal is already, for whoever looks for one."""
    for unit in hand.before.show_index.units.values():
        if unit.id != name and isinstance(hand.before.show_index.models.get(unit.model), Processor):
            for entry, text in unit.inputs.items():
                if text == source:
                    return f" (its cable is in {unit.id} input {entry}; split it if that still plays)"
    return ""


def _freeings(hand: PatchedRig) -> Iterator[MoveStep]:
    """Take the cables out again that a processor had only for the time of a loss."""
    for name, was in hand.before.show_index.units.items():
        now = hand.after.show_index.units.get(name)
        if isinstance(hand.before.show_index.models.get(was.model), Processor):
            for entry, source in was.inputs.items():
                if source and now is not None and not now.inputs.get(entry):
                    says = f"take {spoken_source(source)} out of {name} input {entry}; it goes back where it was"
                    yield MoveStep("patch", f"{name}.{entry}", says, "")


def _verifying(rig: Rig, output: SolvedOutput) -> MoveStep:
    where, knob = spoken(output.output.id), _knob(output)
    if output.host is None:
        return MoveStep("verify", output.output.id, f"look: {where} is still muted, and its level is right{knob}")
    held = f"reads {_spoken_preset(output)}" if _preset(output) else "is set"
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


def _plugging(hand: PatchedRig, start: str, target: str, runs: list[Run]) -> Iterator[MoveStep]:
    names = ", ".join(run.id for run in runs)
    first = runs[0].id
    added, gone = hand.adaptor_of(first), hand.adaptor_of(first, before=True)
    through = f" through the adaptor {added}" if added else f", without the adaptor {gone}" if gone else ""
    if len(runs) > 1 and not all(run.path and run.path[0].shared for run in runs):
        through += f", with the Y-lead that joins {len(runs)} leads in one connector"
    loose = not hand.at[first]
    way = f"plug {names}, which waits," if loose else f"plug {names} from {start}"
    if start == target and not loose:
        way = f"pull {names} out of {start}, and plug it again"
    yield MoveStep("plug", target, f"{way} into {target}{through}", value="+".join(run.id for run in runs))


def _unmutings(hand: PatchedRig, outputs: list[str], lines: list[Line]) -> Iterator[MoveStep]:
    """Unmute the outputs of this move, and those that were muted for its sake and are as they are to be."""
    heard: dict[str, list[str]] = {}
    for line in lines:
        if line.output:
            heard.setdefault(line.output.id, []).extend(load.box.id for load in line.loads)
    for output in outputs:
        if not _is_complete(hand, _solved(hand.after, output)):
            continue  # another run of it is still to come: until then its preset would be on the wrong band
        sections = "+".join(dict.fromkeys(load.section.section for load in _solved(hand.after, output).loads))
        boxes = ", ".join(dict.fromkeys(heard[output]))
        for name in _channels([output]):
            hand.muted.pop(name, None)
        says = (
            f"unmute {spoken(output)} quietly, its level right down; listen for {sections} at {boxes}, then bring it up"
        )
        yield MoveStep("unmute", output, says)
    for solved in hand.after.outputs:
        name = solved.output.id
        channels = _channels([name])
        there = _is_complete(hand, solved)
        gone = [run for run in hand.runs_on(channels) if hand.at[run]]
        due = any(item.line.run.id in hand.waiting for item in solved.lines)  # its own move unmutes it
        if solved.lines and there and not gone and not due and any(item in hand.muted for item in channels):
            yield from leadings(hand, solved.source)  # patched with its unit, and its own move is still to come
            yield from _left_behind(hand, solved)
            for item in channels:
                hand.muted.pop(item, None)
            yield MoveStep("unmute", name, f"unmute {spoken(name)} again")


def _is_complete(hand: PatchedRig, output: SolvedOutput) -> bool:
    """Tell whether all that is to be on an output is plugged."""
    return all(hand.at.get(item.line.run.id) == item.line.run.start for item in output.lines)


def _left_behind(hand: PatchedRig, output: SolvedOutput) -> Iterator[MoveStep]:
    """Set an output for what is left on it, where what went away had wanted another preset."""
    host = output.host
    if host is None or hand.held.get(host.id, ("", None, None))[0] == setting_of(hand.after, host.id)[0]:
        return
    hand.held[host.id] = (preset, thermal, level) = setting_of(hand.after, host.id)
    orders = _spoken_orders(hand.after, output)
    says = f"load {_spoken_preset(output)} into {spoken(host.id)}, for what is left on it{orders}"
    yield MoveStep("load", host.id, says, value=preset, thermal_v=thermal, input_dbu=level)
    yield _verifying(hand.after, output)


def _route(hand: PatchedRig, line: Line) -> Route:
    was = _old_output(hand, line)
    now = line.output.id if line.output else ""
    preset = _spoken_preset(_solved(hand.after, now))
    boxes = tuple(dict.fromkeys(load.box.id for load in line.loads))
    return Route(line.id, was.output.id if was else "", now, preset, boxes)


def _same(old: Line, new: Line) -> bool:
    return [(load.box.id, load.section) for load in old.loads] == [(load.box.id, load.section) for load in new.loads]


def _short(hand: PatchedRig, routes: tuple[Route, ...], lines: list[Line]) -> str:
    parts = []
    for route, line in zip(routes, lines, strict=True):
        solved = _solved(hand.after, route.now)
        if route.was == route.now:
            was, now = _source(hand.before, route.was), solved.source
            parts.append(f"{spoken(was)} → {spoken(now)} for {spoken(route.now)} ({route.preset})")
        else:
            was = spoken(route.was) if route.was else line.run.id
            parts.append(f"{was} → {spoken(route.now)} ({route.preset})")
    return "; ".join(dict.fromkeys(parts))


def _source(rig: Rig, output: str) -> str:
    found = rig.output(output)
    return found.source if found else ""


def spoken(name: str) -> str:
    """Say an output as one says it: ``SR-1.3`` is SR-1 out 3. A signal is said as it stands."""
    unit, dot, number = name.partition(".")
    return f"{unit} out {number}" if dot and number else name or "what fed it"


def spoken_source(source: str) -> str:
    """Say what an input gets: an output, or a signal of the desk."""
    return spoken(source) if "." in source else f"the signal '{source}'"


def _preset(output: SolvedOutput) -> str:
    """Name what an output must hold, for comparing."""
    return "+".join(dict.fromkeys(f"{load.speaker.id}/{load.choice.id or '-'}" for load in output.loads))


def _spoken_preset(output: SolvedOutput) -> str:
    said = []
    for load in output.loads:
        what = f"{load.speaker.id} {load.section.section}"
        name = load.choice.id
        said.append(f"preset {what}, {load.zone_use.use}: {name}" if name else f"no preset for {what}")
    return " and ".join(dict.fromkeys(said))


def _spoken_orders(rig: Rig, output: SolvedOutput) -> str:
    """Say what the account of an output has to be set on top of its preset."""
    account = account_of(rig, output.output.id)
    orders = orders_text(account) if account is not None else ""
    return f"; set {orders}" if orders else ""


def _processing_db(rig: Rig, output: SolvedOutput) -> float:
    return float(sum(value for _, value in gain_parts(rig, output.loads[0], output.host))) if output.loads else 0.0
