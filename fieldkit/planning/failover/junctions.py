"""Junctions: where runs are taken apart at a stage box, and where what is silent joins what goes on playing.

Nothing of it takes anything from anybody: a lead goes from a socket of a stage box to another place, or into the
link socket of the last box of a run that plays, or shares a connector by a Y-lead where the stock has one. What
joins a run hears what that run hears, so its boxes are of the same zone and want the same preset.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.gear.cabling import Panel
from fieldkit.planning.failover.placements import Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug, added
from fieldkit.planning.failover.sockets import Junction, Socket
from fieldkit.planning.failover.spares import spare_models
from fieldkit.planning.failover.steps import joint_name
from fieldkit.rig.connect.connectors import pairs_reached, plug_shape, shape_at
from fieldkit.rig.connect.lines import lines_of, outputs_at
from fieldkit.rig.failures import Failures
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Step


def tails_of(rig: Rig, plugs: Sequence[Plug]) -> list[Plug]:
    """List what can be pulled out of a stage box that several runs go through, and is silent."""
    return [tail for plug in plugs if plug.is_failed and not plug.unclear for tail in _tails(rig, plug)]


def _tails(rig: Rig, plug: Plug) -> Iterator[Plug]:
    for run in plug.runs:
        place = _joint(run)
        own = [need for need in plug.needs if any(line.run.id == run.id for line in need.lines)]
        alone = all(line.run.id == run.id for need in own for line in need.lines)
        if place is None or not alone or not any(need.failed for need in own):
            continue
        tail = msgspec.structs.replace(run, path=run.path[place:], feeds={})
        needs = tuple(msgspec.structs.replace(need, pair=_pair_after(need, place)) for need in own)
        parts = added(need.weight for need in needs)
        yield msgspec.structs.replace(
            plug,
            start=joint_name(run.path[place - 1]),
            runs=(tail,),
            needs=needs,
            shape=plug_shape(tail, rig.show_index.models),
            reach=pairs_reached(tail, rig.show_index),
            rank=next((rank for rank, part in enumerate(parts) if part), plug.rank),
            parent=plug.start,
            behind_m=sum(step.length.value for step in run.path[:place] if step.length),
        )


def _joint(run: Run) -> int | None:
    """Say after how many steps a run comes out of a stage box that it shares; None where it goes through none."""
    places = [number for number, step in enumerate(run.path, start=1) if step.panel and step.shared]
    if not places or places[-1] == len(run.path) or any(step.box for step in run.path[: places[-1]]):
        return None
    return places[-1]


def _pair_after(need: PairNeed, step: int) -> str:
    return next((piece.pair_out for piece in need.lines[0].pieces if piece.step == step), need.pair)


def junctions_of(rig: Rig, failures: Failures, plugs: Sequence[Plug]) -> list[Socket]:
    """List the link sockets behind which something can play on, and the connectors that a Y-lead can share."""
    splitters = [
        model for name in spare_models(rig) if isinstance(model := rig.show_index.models[name], Panel) and splits(model)
    ]
    found = []
    for plug in plugs:
        if not plug.is_failed and not plug.unclear:
            found += [link for run in plug.runs if (link := _link(rig, failures, plug, run)) is not None]
            found += [_shared(rig, plug, panel) for panel in splitters if _one_plug(plug)]
        elif not plug.unclear:
            playing = [run for run in plug.runs if not _is_silent(run, plug)]
            found += [link for run in playing if (link := _link(rig, failures, plug, run)) is not None]
    return found


def _is_silent(run: Run, plug: Plug) -> bool:
    return any(need.failed and any(line.run.id == run.id for line in need.lines) for need in plug.needs)


def _link(rig: Rig, failures: Failures, plug: Plug, run: Run) -> Socket | None:
    """Give the link socket of a run's last box; None where it has none, or nothing goes on there."""
    last = run.path[-1].box if run.path else None
    if not last or last in failures.boxes or rig.show_index.speakers[last].connectors < 2:
        return None
    if rig.show_index.boxes[last].reach == "flown":
        return None  # nobody gets at it during a show
    carried = {pair: name for pair, name in outputs_at(run.start, rig.show_index).items() if name}
    probe = msgspec.structs.replace(run, feeds=carried)
    pins = {
        line.pieces[-1].pair_out: carried[line.pair]
        for line in lines_of(probe, rig.show_index)
        if line.broken is None and line.pieces
    }
    shape = rig.show_index.speakers[last].connector
    return Socket(f"the link socket of {last}", shape, pins, (), (), junction=Junction(plug, (run,), box=last))


def links_upon(rig: Rig, failures: Failures, place: Placement) -> Iterator[Socket]:
    """Give the link sockets of what a plan brings to a place; ``rig`` has the units set as they are then."""
    if place.joined:
        return  # the steps of a plan have nothing that joins behind what joins itself
    fed = {feed.need.pair: feed for feed in place.feeds}
    needs = tuple(
        msgspec.structs.replace(
            need, output=feed.output, source=feed.source, host=feed.host, gain_db=feed.gain_db, failed="", cut_off=False
        )
        for need in place.plug.needs
        if (feed := fed.get(need.pair)) is not None
    )
    then = msgspec.structs.replace(place.plug, runs=place.runs, needs=needs)
    links = (_link(rig, failures, then, run) for run in place.runs)
    yield from (link for link in links if link is not None)


def splits(panel: Panel) -> bool:
    """Tell whether a panel is a Y-lead: two sockets that carry what its plug carries, straight through."""
    maps = list(panel.sockets.values())
    return len(maps) == 2 and maps[0] == maps[1] and all(near == far for near, far in maps[0].items())


def _one_plug(plug: Plug) -> bool:
    return len(plug.runs) == 1 or all(run.path and run.path[0].shared for run in plug.runs)


def _shared(rig: Rig, plug: Plug, panel: Panel) -> Socket:
    """Give the second socket of a Y-lead in the connector of a plug, which goes into the first."""
    names = list(panel.sockets)
    carried = {pair: name for pair, name in outputs_at(plug.start, rig.show_index).items() if name}
    pins = {panel.sockets[names[1]][pair]: name for pair, name in carried.items() if pair in panel.sockets[names[1]]}
    junction = Junction(plug, plug.runs, panel=panel.id, own_socket=names[0], socket=names[1])
    shape = panel.socket_connector or shape_at(plug.start, rig.show_index)
    return Socket(f"{plug.start} by a Y-lead", shape, pins, (), (), junction=junction)


def joined(at: Junction, tail: Sequence[Step]) -> tuple[tuple[Run, ...], tuple[Step, ...]]:
    """Join what is silent to a junction: the runs that play on as they are then, and the path of what comes.

    That path is empty at a link socket, where the run that plays has all of it.
    """
    if at.box:
        return tuple(msgspec.structs.replace(run, path=(*run.path, *tail)) for run in at.runs), ()
    label = f"Y-{at.beside.start.replace('.', '-')}"
    model = at.panel
    own, new = (Step(panel=model, socket=name, shared=label) for name in (at.own_socket, at.socket))
    return tuple(msgspec.structs.replace(run, path=(own, *run.path)) for run in at.runs), (new, *tail)
