"""What stays silent after the moves of a fail-over, and the one reason for each."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.failover.placements import ELSEWHERE, Placement
from fieldkit.planning.failover.plugs import Plug, ranks_of
from fieldkit.planning.failover.stands import Repatch
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures, Silent, failed_now, failures_of, silenced
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Box


def silent_boxes(rig: Rig, failures: Failures) -> Iterator[StaysSilent]:
    """List the self-powered boxes that are silent, each with what a hand can do about it."""
    for box in rig.show.boxes:
        if planned_drive(box, rig.show_index.speakers[box.id]) == "self-powered":
            because = _because(box, rig, failures)
            if because:
                yield StaysSilent(box.id, box.zone, box.side, ("full",), f"{because}; {_by_hand(box, rig, failures)}")


def _because(box: Box, rig: Rig, failures: Failures) -> str:
    if box.id in failures.boxes:
        return failures.boxes[box.id]
    dark = failures.supplies.get(box.supply or "")
    if dark:
        return f"{box.id} is fed from {dark}"
    failed = failures.of_source(box.input, rig.show_index.units)
    return f"{box.id} gets {box.input}: {failed}" if failed else ""


def _by_hand(box: Box, rig: Rig, failures: Failures) -> str:
    """Say what brings it back without moving anything else."""
    if box.id in failures.boxes:
        return "a spare of its kind in its place, if there is one, its level right down at first"
    if box.supply in failures.supplies:
        return "another live socket within its reach, if an electrician agrees; its level right down at first"
    zone = next(zone for zone in rig.show.zones if zone.id == box.zone)
    signal = zone.signals.get(box.side, "")
    if not signal or failures.of_source(signal, rig.show_index.units):
        return "another source for it, its level right down at first"
    return (
        f"it has processing of its own: its level right down, the signal '{signal}' straight into {box.id}, then up; "
        "level and delay of its zone are then the desk's"
    )


FROM_SOURCE = " gets "
"""In the reason why something is silent: its output works, and what it gets has failed."""


class StaysSilent(msgspec.Struct, frozen=True):
    """A box, or sections of one, that no move brings back."""

    box: str
    zone: str
    side: str
    sections: tuple[str, ...]
    why: str


def stays_silent(before: Rig, after: Rig, still: Failures, plan: Repatch) -> tuple[StaysSilent, ...]:
    """List what played before the loss and does not after the moves, with the reason."""
    found: dict[str, tuple[list[str], str]] = {}
    plugs = {item.plug.start: item.plug for item in plan.decisions}
    for item in silenced(after, still):
        _note(found, item.load.box.id, item.load.section.section, _why(item, plugs, plan, after, still))
    for decision in plan.decisions:
        if decision.place is None and not decision.stays:
            why = _why_pulled(decision.plug, plan, after)
            for load in (load for need in decision.plug.needs for load in need.loads):
                _note(found, load.box.id, load.section.section, why)
    boxes = before.show_index.boxes
    return tuple(
        StaysSilent(name, boxes[name].zone, boxes[name].side, tuple(dict.fromkeys(sections)), why)
        for name, (sections, why) in found.items()
    )


def _note(found: dict[str, tuple[list[str], str]], box: str, section: str, why: str) -> None:
    found.setdefault(box, ([], why))[0].append(section)


def _why(item: Silent, plugs: dict[str, Plug], plan: Repatch, after: Rig, still: Failures) -> str:
    box = item.load.box
    if box.id in still.boxes:
        what = f"a spare {box.model}" if box.model else "a spare of its kind"
        return f"{item.because}, and there is no {what.removeprefix('a ')} in the stock"
    run = item.line.partition("/")[0]
    plug = next((plug for plug in plugs.values() if any(one.id == run for one in plug.runs)), None)
    if plug is None:
        return item.because
    if plug.unclear:
        return f"{item.because}, and {plug.unclear}"
    return f"{item.because}; {_nothing_left(plug, plan, after, run)}"


def _why_pulled(plug: Plug, plan: Repatch, after: Rig) -> str:
    left = _nothing_left(plug, plan, after)
    for item in plan.decisions:
        if item.plug.rank < plug.rank and item.place is not None and item.place.takes_from(plug):
            zones = ", ".join(_zones(item.plug))
            return f"its output now serves {zones} ({_rank(item.plug, after)}, against {_rank(plug, after)}); {left}"
    return f"its connector is needed for something more important; {left}"


def _nothing_left(plug: Plug, plan: Repatch, after: Rig, run: str = "") -> str:
    """Say why there is no place for a plug, or for one run of it: none that could take it, or all taken before it."""
    runs = ", ".join(run.id for run in plug.runs)
    every = [place for place in plan.fitting.get(plug.start, ()) if place.moved and place.upon is None]
    for known in plan.fitting.values():
        mine = [
            place
            for place in known
            if place.plug.parent and not place.upon and run in {item.id for item in place.plug.runs}
        ]
        every += mine
        runs = run if mine else runs
    places = [place for place in every if place.socket.junction is None]
    if every and not places:
        return f"{runs} could join {every[0].socket.id}, but together they are too much for its output, or not alike"
    unsaid = [need.source for need in plug.needs if FROM_SOURCE in need.failed and not need.signals and not need.signal]
    if unsaid and not places:
        name, _, number = unsaid[0].partition(".")
        return f"nobody has said which inputs of {name} lead to its output {number}, so nothing can stand in for it"
    if all(FROM_SOURCE in need.failed for need in plug.needs) and not places:
        return f"nothing else that is free can hold the preset of {runs} and gets its signal"
    if not places:
        return _nothing_fits(plug, runs, after)
    place = places[0]
    zones = _holder(place.socket.id, after) or ", ".join(_served(place, after))
    if not zones:
        lacks = "no processor output or input is left for its preset" if any(feed.pool for feed in place.feeds) else ""
        return f"{runs} would fit {place.socket.id}, and {lacks or 'the checks find an error in that plan'}"
    ranks = ranks_of(after)
    first = min(ranks[name] for name in zones.split(", "))
    if first > plug.rank:
        lacks = (
            "nobody knows whether the lead reaches"
            if place.reach >= ELSEWHERE
            else "more would fall silent than plays again"
        )
        return f"{runs} would fit {place.socket.id}, which serves {zones}; it is left there, since {lacks}"
    order = "comes first" if first < plug.rank else "is as important"
    return f"{runs} would fit {place.socket.id}, which serves {zones}, and that {order}"


def _nothing_fits(plug: Plug, runs: str, after: Rig) -> str:
    """Say why no output at all could take a plug."""
    failures = failures_of(after.show, after.show_index.units, failed_now(after.show))
    working = [
        unit.id
        for unit in after.show_index.units.values()
        if unit.id not in failures.units and isinstance(after.show_index.models[unit.model], Amplifier)
    ]
    if not working:
        return "there is no other amplifier that works"
    known = zone_priorities(after.show, after.show_index.speakers)
    if all(known[name].role == "delay" for name in _zones(plug)):
        return f"{', '.join(_zones(plug))} stands by itself, and no plan takes a lead there from other amplifiers"
    return f"no other output fits {runs}: its plug and pins, preset, signal, power and minimum load, within reach"


def _served(place: Placement, after: Rig) -> list[str]:
    """Name the zones that the channels of a place serve."""
    channels = {(feed.output.unit.id, number) for feed in place.feeds for number in feed.output.channels}
    outputs = [
        item for item in after.outputs if channels & {(item.output.unit.id, number) for number in item.output.channels}
    ]
    return list(dict.fromkeys(load.box.zone for item in outputs for load in item.loads))


def _holder(socket: str, after: Rig) -> str:
    """Name the zones that a socket, or another one of the same outputs, serves."""
    lines = [line for line in after.lines if line.run.start == socket]
    return ", ".join(dict.fromkeys(load.box.zone for line in lines for load in line.loads))


def _zones(plug: Plug) -> list[str]:
    return list(dict.fromkeys(load.box.zone for need in plug.needs for load in need.loads))


def _rank(plug: Plug, after: Rig) -> str:
    """Say by what a plug came in turn: its best priority, or what its zone was taken for."""
    known = zone_priorities(after.show, after.show_index.speakers)
    first = min((known[name] for name in _zones(plug)), key=lambda priority: priority.order)
    if first.guessed and any(not priority.guessed for priority in known.values()):
        return "no priority set"
    return first.text
