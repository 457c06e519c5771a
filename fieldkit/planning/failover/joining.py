"""Joining and parting: the moves by which something silent joins runs that play on, and leaves them again.

They are read off two shows, as all moves are: a run that has become longer at its end, by the boxes of another one,
was joined at a link socket; runs that begin with a Y-lead of one name were joined at their connector.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from fieldkit.planning.failover.joins import Join
from fieldkit.planning.failover.muting import mutings, mutings_of, unmutings
from fieldkit.planning.failover.presetting import loading, verifying
from fieldkit.planning.failover.rig_in_hand import PatchedRig, solved_output, spoken_preset
from fieldkit.planning.failover.steps import SUM_DB, MoveStep, Route, SafeMove, spoken
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.units import format_value

FULL = 1.05
"""Times its minimum: a load up to there is as hard as an output may be worked."""


def joining(hand: PatchedRig, join: Join, failed: frozenset[str]) -> SafeMove:
    """Say how something joins runs that play: they are muted, plugged, looked at, and brought up again."""
    lines = [
        line
        for line in hand.after.lines
        if line.output is not None and {load.box.id for load in line.loads} & set(join.boxes)
    ]
    outputs = list(dict.fromkeys(line.output.id for line in lines if line.output))
    steps = [*_mixing(hand.before, join), *_looking(hand, join)]
    # What plays is muted last, and for no longer than it must be.
    steps += _pulling(hand, join, failed)
    steps += mutings(hand, outputs, failed, set() if join.box else {join.start})
    steps += mutings_of(hand, _fed(hand.before, join.playing), failed)
    for line in lines:
        steps += loading(hand, line)
    steps += [verifying(hand.after, solved_output(hand.after, name)) for name in outputs]
    steps += _plugging(join, join.start)
    hand.at[join.coming] = hand.final[join.coming]
    hand.waiting -= {join.coming}
    steps += unmutings(hand, outputs, lines)
    was = _fed_by(hand.before, join.boxes)
    routes = tuple(_route(hand, line, was, join.boxes) for line in lines)
    now = ", ".join(map(spoken, outputs))
    says = f"{spoken(was) if was else join.coming} → {now}: {', '.join(join.boxes)} by {join.at}"
    price = tuple(_price(hand, join, outputs))
    return SafeMove(says, (join.coming,), (join.away, join.at), routes, tuple(steps), price, _climbs(hand, join))


def joining_first(hand: PatchedRig, join: Join, failed: frozenset[str]) -> SafeMove:
    """Say how something joins runs that are moved afterwards: their own move sets and unmutes what feeds both."""
    steps = [*_mixing(hand.before, join), *_looking(hand, join)]
    steps += _pulling(hand, join, failed)
    steps += mutings_of(hand, _fed(hand.before, join.playing), failed)
    steps += _plugging(join, join.own_start)
    hand.at[join.coming] = hand.final[join.coming]
    says = f"{join.coming}: {', '.join(join.boxes)} by {join.at}, which moves below"
    return SafeMove(
        says, (join.coming,), (join.away, join.at), (), tuple(steps), tuple(_price(hand, join, ())), _climbs(hand, join)
    )


def _route(hand: PatchedRig, line: Line, was: str, boxes: tuple[str, ...]) -> Route:
    now = line.output.id if line.output else ""
    return Route(line.id, was, now, spoken_preset(solved_output(hand.after, now)), boxes)


def _fed(rig: Rig, runs: Iterable[str]) -> list[str]:
    names = set(runs)
    return list(dict.fromkeys(line.output.id for line in rig.lines if line.output and line.run.id in names))


def _fed_by(rig: Rig, boxes: tuple[str, ...]) -> str:
    lines = (line for line in rig.lines if {load.box.id for load in line.loads} & set(boxes))
    return next((line.output.id for line in lines if line.output), "")


def _pulling(hand: PatchedRig, join: Join, failed: frozenset[str]) -> Iterator[MoveStep]:
    """Unplug what comes, where it is not unplugged by now."""
    if not hand.at[join.coming]:
        return
    yield from mutings_of(hand, _fed(hand.before, [join.coming]), failed)
    out_of = join.away if join.lead is None else f"{join.boxes[0]}; a lead from the stock takes its place"
    yield MoveStep("pull", join.away, f"pull {join.coming} out of {out_of}", join.coming)


def _plugging(join: Join, start: str) -> Iterator[MoveStep]:
    """Plug what comes where it joins, which is fed from ``start`` by now."""
    names, mine = "+".join(join.playing), ", ".join(join.playing)
    through = f" through the adaptor {join.adaptor}" if join.adaptor else ""
    if join.lead is not None:
        lead = f"plug a lead {join.lead.length} {join.lead.cable} from {join.at} to {join.boxes[0]}{through}"
        yield MoveStep("plug", start, lead, names)
    elif join.box:
        yield MoveStep("plug", start, f"plug {join.coming} into {join.at}{through}", names)
    else:
        says = f"pull {mine} out of {start}, and plug the Y-lead in there, with {mine} in it, "
        says += f"and {join.coming}{through} beside"
        yield MoveStep("plug", start, says, f"{names}+{join.coming}")


def _looking(hand: PatchedRig, join: Join) -> Iterator[MoveStep]:
    """Have somebody look whether a lead reaches, where no plan knows it."""
    boxes = hand.after.show_index.boxes
    if not join.box:
        if join.away.partition(".")[0] != join.start.partition(".")[0]:
            says = f"look: {join.coming} reaches from {join.away} to {join.start}; leave this move if it does not"
            yield MoveStep("verify", join.start, says)
    elif boxes[join.box].side != boxes[join.boxes[0]].side:
        what = f"a lead of {join.lead.length}" if join.lead else f"the lead of {join.boxes[0]}"
        rest = "leave the rest of this" if _mixed(hand.before, join) else "leave this move"
        says = f"look: {what} reaches from {join.box} to {join.boxes[0]}; {rest} if it does not"
        yield MoveStep("verify", join.boxes[0], says)


def _heard(rig: Rig, run: str) -> tuple[str, str]:
    """Say which signal the boxes of a run hear, or are to, and what feeds them; empty where nobody has said it."""
    paths = {path.to: " ".join(path.signals) for path in signal_paths(rig)}
    for line in rig.lines:
        if line.run.id == run and line.output is not None and line.loads:
            box, solved = line.loads[0].box, solved_output(rig, line.output.id)
            signal = paths.get(line.output.id) or rig.show_index.zones[box.zone].signals.get(box.side, "")
            return signal, solved.source
    path = next((item.path for item in rig.show.runs if item.id == run), ())
    waits = next((rig.show_index.boxes[step.box] for step in path if step.box), None)
    return (rig.show_index.zones[waits.zone].signals.get(waits.side, ""), "") if waits else ("", "")


def _mixed(apart: Rig, join: Join) -> tuple[str, str] | None:
    """Name the signal of the runs that play, and the one that has to be added to it; None where both are one."""
    playing, source = _heard(apart, join.playing[0])
    coming, other = _heard(apart, join.coming)
    return None if playing == coming and (playing or source == other != "") else (playing, coming)


def _mixing(apart: Rig, join: Join) -> Iterator[MoveStep]:
    mixed = _mixed(apart, join)
    if mixed is None:
        return
    playing, coming = mixed
    names = ", ".join(join.boxes)
    if playing and coming:
        says = (
            f"at the desk, feed the output of '{playing}' with the sum of {playing} and {coming}, each {SUM_DB} dB down"
        )
        yield MoveStep("patch", "desk", says, f"{playing}+{coming}")
        return
    says = (
        f"at the desk: where {names} had another signal than {' and '.join(join.playing)}, feed the sum of both, each "
    )
    yield MoveStep("patch", "desk", f"{says}{SUM_DB} dB down", "")


def _climbs(hand: PatchedRig, join: Join) -> bool:
    """Tell whether somebody needs a ladder: for the link socket, or for the box that gets another lead."""
    names = [join.box] if join.box else []
    names += [join.boxes[0]] if join.lead else []
    return any(hand.after.show_index.boxes[name].reach == "ladder" for name in names)


def _price(hand: PatchedRig, join: Join, outputs: Collection[str]) -> Iterator[str]:
    """Say what it costs: who hears what, and how hard the outputs work then."""
    if _mixed(hand.before, join) is not None:
        wedges = any(hand.after.show_index.zones[_zone(hand, name)].use == "wedge" for name in join.boxes)
        more = "; more open wedges ring sooner: bring it up with care" if wedges else ""
        yield f"both sides hear the same for as long{more}"
    if not outputs:
        return
    playing = dict.fromkeys(
        load.box.id for line in hand.before.lines if line.run.id in join.playing for load in line.loads
    )
    yield f"nothing is heard from {', '.join(playing)} while it is plugged"
    for name in outputs:
        solved = solved_output(hand.after, name)
        if solved.load_ohm is None:
            continue
        full = ", its minimum" if solved.load_ohm <= solved.output.minimum_ohm * FULL else ""
        yield f"{spoken(name)} then drives {format_value(solved.load_ohm, 'ohm')}{full}"


def _zone(hand: PatchedRig, box: str) -> str:
    return hand.after.show_index.boxes[box].zone


def parting(hand: PatchedRig, join: Join, failed: frozenset[str], *, moving: bool) -> SafeMove:
    """Say how what had joined leaves the runs that play; it waits, unplugged, for the move that brings it home.

    ``moving`` tells whether those runs are moved themselves afterwards: that sets and unmutes what feeds them.
    """
    steps = list(mutings_of(hand, _fed(hand.before, join.playing), failed))
    if not moving:
        steps += _parted(hand, join, failed)
    else:
        steps.append(MoveStep("pull", join.start, f"pull {_joined_by(join)} out of {join.at}", join.coming))
    hand.at[join.coming] = ""
    hand.joints[join.coming] = join.away
    mixed = _mixed(hand.after, join)
    if mixed is not None and all(mixed):
        says = f"at the desk, take {mixed[1]} out of the output of '{mixed[0]}' again, at its level as before"
        steps.append(MoveStep("patch", "desk", says, mixed[0]))
    says, ladder = f"{', '.join(join.boxes)} off {join.at}", _climbs(hand, join)
    return SafeMove(says, (join.coming,), (join.at, ""), (), tuple(steps), (), ladder)


def _joined_by(join: Join) -> str:
    return "the lead from the stock" if join.lead else f"the lead of {join.boxes[0]}"


def _parted(hand: PatchedRig, join: Join, failed: frozenset[str]) -> Iterator[MoveStep]:
    """Unplug what had joined, and unmute what plays on."""
    lines = [line for line in hand.after.lines if line.run.id in join.playing and line.output and line.loads]
    outputs = list(dict.fromkeys(line.output.id for line in lines if line.output))
    names, mine = "+".join(join.playing), ", ".join(join.playing)
    yield from mutings(hand, outputs, failed, set() if join.box else {join.start})
    if join.box:
        yield MoveStep("plug", join.start, f"pull {_joined_by(join)} out of {join.at}", names)
    else:
        yield MoveStep("pull", join.start, f"pull {join.coming} out of the Y-lead in {join.start}", join.coming)
        says = f"pull the Y-lead out of {join.start}, and plug {mine} in again without it"
        yield MoveStep("plug", join.start, says, names)
    hand.at[join.coming] = ""
    for line in lines:
        yield from loading(hand, line)
    yield from (verifying(hand.after, solved_output(hand.after, name)) for name in outputs)
    yield from unmutings(hand, outputs, lines)
