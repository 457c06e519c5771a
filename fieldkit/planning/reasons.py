"""What stays silent after a fail-over, and why that and not something else."""

from __future__ import annotations

import msgspec

from fieldkit.planning.plugs import Plug
from fieldkit.planning.repatching import Repatch
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.losses import Losses, Silent, silenced

FROM_SOURCE = " gets "
"""In the reason why something is silent: its output works, and what it gets is dead."""
MOST_NAMED = 3
"""So many sockets are named; the others are counted."""


class StaysSilent(msgspec.Struct, frozen=True):
    """A box, or sections of one, that no move brings back."""

    box: str
    zone: str
    side: str
    sections: tuple[str, ...]
    why: str


def stays_silent(before: Rig, after: Rig, still: Losses, plan: Repatch) -> tuple[StaysSilent, ...]:
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
    boxes = before.ground.boxes
    return tuple(
        StaysSilent(name, boxes[name].zone, boxes[name].side, tuple(dict.fromkeys(sections)), why)
        for name, (sections, why) in found.items()
    )


def _note(found: dict[str, tuple[list[str], str]], box: str, section: str, why: str) -> None:
    found.setdefault(box, ([], why))[0].append(section)


def _why(item: Silent, plugs: dict[str, Plug], plan: Repatch, after: Rig, still: Losses) -> str:
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
    return f"{item.because}; {_nothing_left(plug, plan, after)}"


def _why_pulled(plug: Plug, plan: Repatch, after: Rig) -> str:
    left = _nothing_left(plug, plan, after)
    for item in plan.decisions:
        if item.plug.rank < plug.rank and item.place is not None and item.place.takes_from(plug):
            zones = ", ".join(_zones(item.plug))
            return f"its output now serves {zones} ({_rank(item.plug, after)}, against {_rank(plug, after)}); {left}"
    return f"its connector is needed for something more important; {left}"


def _nothing_left(plug: Plug, plan: Repatch, after: Rig) -> str:
    """Say why there is no place for a plug: none that could take it, or all taken by what comes first."""
    runs = ", ".join(run.id for run in plug.runs)
    fitting = plan.fitting.get(plug.start, ())
    if all(FROM_SOURCE in need.dead for need in plug.needs):
        return f"nothing else that is free can hold the preset of {runs} and gets its signal"
    if not fitting:
        return f"no other output fits {runs}: its plug and pins, preset, signal, power and least load"
    holders = [(name, _holder(name, after)) for name in fitting]
    listed = ", ".join(f"{name} ({zones})" if zones else name for name, zones in holders[:MOST_NAMED])
    more = f" and {len(holders) - MOST_NAMED} more" if len(holders) > MOST_NAMED else ""
    return f"{runs} would fit {listed}{more}, kept for what comes before it or beside it, or out of its reach"


def _holder(socket: str, after: Rig) -> str:
    """Name the zones that a socket, or another one of the same outputs, serves."""
    lines = [line for line in after.lines if line.run.start == socket]
    return ", ".join(dict.fromkeys(load.box.zone for line in lines for load in line.loads))


def _zones(plug: Plug) -> list[str]:
    return list(dict.fromkeys(load.box.zone for need in plug.needs for load in need.loads))


def _rank(plug: Plug, after: Rig) -> str:
    zones = {zone.id: zone for zone in after.show.zones}
    known = [zones[name].priority for name in _zones(plug)]
    numbers = sorted(number for number in known if number is not None)
    return f"priority {numbers[0]}" if numbers else "no priority set"
