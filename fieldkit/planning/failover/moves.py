"""Moves: a change of the patch as safe steps that one person can do, in order.

They are made of the difference between two plans, so that bringing a rig back after a loss, putting it back
when the spare arrives, and any other change of the patch are said in the same way. The rule behind the order of
the steps: an output is muted before anything about it changes, holds its new preset and limiter before a plug
goes into it, and is unmuted last, quietly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.failover.by_hand import box_moves
from fieldkit.planning.failover.joining import joining, joining_first, parting
from fieldkit.planning.failover.joins import joins_between
from fieldkit.planning.failover.muting import mutings, mutings_of, unmutings
from fieldkit.planning.failover.patching import freeings, patchings, processors
from fieldkit.planning.failover.presetting import desk_price, desk_returns, loading, verifying
from fieldkit.planning.failover.rig_in_hand import (
    PatchedRig,
    old_output,
    place_of,
    single_channels,
    solved_output,
    spoken_preset,
)
from fieldkit.planning.failover.steps import MoveStep, Route, SafeMove, spoken
from fieldkit.rig.connect.lines import Line, outputs_at
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run
from fieldkit.units import format_value


def moves_between(
    before: Rig, after: Rig, order: Iterable[Sequence[str]], *, failed: Iterable[str] = ()
) -> list[SafeMove]:
    """Say how one plan becomes another. ``order`` names the runs of each plug, in turn.

    ``failed`` names units and outputs that need not be muted, since they say nothing.
    """
    hand = PatchedRig(before, after)
    silent = frozenset(failed)
    joins, partings = joins_between(before, after), joins_between(after, before)
    moving = set(_changed(before, after))
    joined = {join.coming for join in joins} | {name for join in (*joins, *partings) for name in join.playing} - moving
    left = [[name for name in names if name not in joined] for names in order]
    order = [names for names in left if names]
    hand.waiting = {name for names in order for name in names}
    by_name = {run.id: run for run in before.show.runs}
    hand.final |= {join.coming: join.at for join in joins if join.box}
    moves = [parting(hand, join, silent, moving=not moving.isdisjoint(join.playing)) for join in partings]
    moves += [joining_first(hand, join, silent) for join in joins if not moving.isdisjoint(join.playing)]
    moves += [_move(hand, [by_name[name] for name in names], silent) for names in order]
    moves += [joining(hand, join, silent) for join in joins if moving.isdisjoint(join.playing)]
    moves += box_moves(hand)
    moves += desk_returns(hand)
    freed = tuple(freeings(hand))
    if moves and freed:
        moves[-1] = msgspec.structs.replace(moves[-1], steps=(*moves[-1].steps, *freed))
    elif freed:
        moves.append(SafeMove("inputs as they were", (), (freed[0].at, freed[0].at), (), freed))
    return moves


def _changed(before: Rig, after: Rig) -> Iterator[str]:
    """Name the runs that are plugged elsewhere, or fed by another output or with something else, in another plan."""
    then = {run.id: run.start for run in after.show.runs}
    was, now = (_feeding(rig) for rig in (before, after))
    for run in before.show.runs:
        if then.get(run.id) and (then[run.id] != run.start or was.get(run.id) != now.get(run.id)):
            yield run.id


def _feeding(rig: Rig) -> dict[str, set[tuple[str, str]]]:
    """Name the outputs that feed each run, with what they get."""
    found: dict[str, set[tuple[str, str]]] = {}
    for output in rig.outputs:
        for solved in output.lines:
            found.setdefault(solved.line.run.id, set()).add((output.output.id, output.source))
    return found


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
    taken, put = hand.joint_of(runs[0].id), hand.joint_of(runs[0].id, before=True)
    steps: list[MoveStep] = [*_bringings(hand, outputs), *_reaching(hand, runs, taken, target)]
    pairs = _pairs_set_otherwise(hand, outputs)
    plugged = target != start or hand.adaptor_of(runs[0].id) != hand.adaptor_of(runs[0].id, before=True)
    ends = {name for name, joint in ((start, taken), (target, put)) if name and not joint}
    steps += mutings(hand, [*outputs, *pairs], failed, ends if plugged else set())
    if plugged and not put:
        steps += mutings_of(hand, _carried(hand, target), failed)
    if plugged or pairs:
        on_pairs = set(hand.runs_on(single_channels(pairs)))
        steps += _pullings(hand, "" if put else target, [*outputs, *pairs], names - on_pairs)
    steps += _settings(pairs)
    for line in lines:
        steps += loading(hand, line)
    steps += patchings(hand, outputs)
    for output in outputs:
        steps.append(verifying(hand.after, solved_output(hand.after, output)))
    if plugged:
        steps += _plugging(hand, (taken or start, put or target), target, runs)
    for run in runs:
        hand.at[run.id] = target
    hand.waiting -= names
    steps += unmutings(hand, outputs, lines)
    routes = tuple(_route(hand, line) for line in lines)
    price = tuple(dict.fromkeys(said for line in lines for said in desk_price(hand, line)))
    names_of = tuple(run.id for run in runs)
    return SafeMove(_short(hand, routes, lines), names_of, (start, target), routes, tuple(steps), price)


def _bringings(hand: PatchedRig, outputs: list[str]) -> Iterator[MoveStep]:
    """Bring the spare in, once."""
    needed = [output.partition(".")[0] for output in outputs] + processors(hand, outputs)
    for unit in dict.fromkeys(needed):
        if unit not in hand.before.show_index.units and unit not in hand.brought:
            hand.brought.add(unit)
            spare = hand.after.show_index.units[unit]
            model = hand.after.show_index.models[spare.model]
            if isinstance(model, Amplifier):  # it comes with all of them muted
                hand.muted |= dict.fromkeys(f"{unit}.{channel}" for channel in range(1, model.channels + 1))
            mains = f"its mains from {spare.supply}" if spare.supply else "its mains where there is room for it"
            says = f"bring the spare {spare.model}, from now on {unit}, beside the rack: all its outputs muted, {mains}"
            yield MoveStep("bring", unit, says, value=spare.model)
            for pair in spare.bridged:
                yield MoveStep("set", f"{unit}.{pair}", f"set {unit} channels {pair} to bridged", value="bridged")


def _reaching(hand: PatchedRig, runs: Sequence[Run], taken: str, target: str) -> Iterator[MoveStep]:
    """Have somebody look whether a lead reaches, since no plan knows where it stands, and whether a socket is free."""
    start, names = runs[0].start, ", ".join(sorted(run.id for run in runs))
    here, there = (place_of(hand, name) for name in (start, target))
    name = target.partition(".")[0]
    new = name not in {*hand.before.show_index.units, *hand.before.show_index.racks}
    if taken and not new:
        lead = hand.lead_of(runs[0].id)
        what = f"a lead of {lead.length}" if lead else f"{names} with its {_lead_length(hand, runs[0].id)}"
        where = f"from {target} to {lead.box}" if lead else target
        says = f"look: {what} reaches {where}; leave this move if it does not"
        yield MoveStep("verify", target, says)
    elif start and start != target and here != there and not new:
        says = f"look: {names} reaches from {start} to {target}; leave this move if it does not"
        yield MoveStep("verify", target, says)
    unit = hand.after.show_index.units.get(name)
    rack = hand.after.show_index.racks.get(unit.rack or "") if unit else None
    if start != target and rack is not None and rack.as_built and name.startswith(f"{rack.id}-"):
        says = f"look: {target} at the back of the rack is free, since the rack's own wires may be in it; "
        yield MoveStep("verify", target, f"{says}leave this move if it is not")


def _lead_length(hand: PatchedRig, name: str) -> str:
    """Say how long a run is up to its first box."""
    path = next(run.path for run in hand.after.show.runs if run.id == name)
    first = next((number for number, step in enumerate(path, start=1) if step.box), len(path))
    metres = sum(step.length.value for step in path[:first] if step.length)
    return f"{format_value(metres, 'm')} to {path[first - 1].box}"


def _carried(hand: PatchedRig, start: str) -> list[str]:
    """Name the outputs on a connector that play, be it by another one: their pins there are live."""
    carried = set(single_channels(name for name in outputs_at(start, hand.before.show_index).values() if name))
    playing = (item.output.id for item in hand.before.outputs if item.loads)
    return [name for name in playing if carried & set(single_channels([name]))]


def _pullings(hand: PatchedRig, target: str, outputs: list[str], names: set[str]) -> Iterator[MoveStep]:
    """Pull what is in the way: in the connector, or on the outputs by another one."""
    in_way = [run for run, start in hand.at.items() if start == target and run not in names]
    in_way += [run for run in hand.runs_on(single_channels(outputs)) if run not in names and run not in in_way]
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


def _plugging(hand: PatchedRig, ends: tuple[str, str], target: str, runs: list[Run]) -> Iterator[MoveStep]:
    """Plug runs over from one place to another; ``target`` is the connector that feeds them then."""
    start, into = ends
    names = ", ".join(run.id for run in runs)
    first = runs[0].id
    added, gone = hand.adaptor_of(first), hand.adaptor_of(first, before=True)
    through = f" through the adaptor {added}" if added else f", without the adaptor {gone}" if gone else ""
    if len(runs) > 1 and not all(run.path and run.path[0].shared for run in runs):
        through += f", with the Y-lead that joins {len(runs)} leads in one connector"
    loose = not hand.at[first]
    lead = hand.lead_of(first)
    if lead is not None:
        says = (
            f"pull {names} out of {lead.box}, and plug a lead {lead.length} {lead.cable} of the stock from {into} to "
        )
        yield MoveStep("plug", target, f"{says}{lead.box}{through}", value="+".join(run.id for run in runs))
        return
    gone_lead = hand.lead_of(first, before=True)
    if gone_lead is not None and not loose:
        says = f"pull the lead of the stock out of {start} and {gone_lead.box}, and plug {names} in there again"
        yield MoveStep("plug", target, says, value="+".join(run.id for run in runs))
        return
    way = f"plug {names}, which waits," if loose else f"plug {names} from {start}"
    if start == into and not loose:
        way = f"pull {names} out of {start}, and plug it again"
    yield MoveStep("plug", target, f"{way} into {into}{through}", value="+".join(run.id for run in runs))


def _route(hand: PatchedRig, line: Line) -> Route:
    was = old_output(hand, line)
    now = line.output.id if line.output else ""
    preset = spoken_preset(solved_output(hand.after, now))
    boxes = tuple(dict.fromkeys(load.box.id for load in line.loads))
    return Route(line.id, was.output.id if was else "", now, preset, boxes)


def _short(hand: PatchedRig, routes: tuple[Route, ...], lines: list[Line]) -> str:
    parts = []
    for route, line in zip(routes, lines, strict=True):
        solved = solved_output(hand.after, route.now)
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
