"""Putting back: what died works again, or its spare has come, and everything goes where it was."""

from __future__ import annotations

import msgspec

from fieldkit.planning.moves import Move, groups_between, moves_between
from fieldkit.planning.plugs import plugs_of
from fieldkit.rig.evaluation import Rig, evaluate
from fieldkit.rig.losses import Losses, losses_of
from fieldkit.show.document import ChangedUnit, Lost, MovedRun, Run, Show
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError


class WayBack(msgspec.Struct, frozen=True):
    """A show as it was before a loss, and the moves that lead there."""

    show: Show
    moves: tuple[Move, ...]
    swapped: bool
    """Whether a spare stands in the place, so that there is nothing to plug."""


def way_back(show: Show, name: str) -> WayBack:
    """Say how everything goes back to where it was. Raises DocumentError as ``put_back`` does."""
    after_show = put_back(show, name)
    lost = next(item for item in show.lost if item.id == name)
    before, after = evaluate(show), evaluate(after_show)
    groups = groups_between(before, after, [item.run for item in lost.moved])
    return WayBack(after_show, tuple(moves_between(before, after, groups)), lost.swapped)


def moves_made(show: Show, name: str) -> tuple[Move, ...]:
    """Say the moves once more that were taken for a loss, from the record of how it was."""
    before_show = put_back(show, name)
    lost = next(item for item in show.lost if item.id == name)
    before, after = evaluate(before_show), evaluate(show)
    losses = losses_of(show, before.ground.units, [name])
    dead = [*losses.units, *(f"{unit}.{number}" for unit, number in losses.outputs)]
    groups = groups_between(before, after, _in_turn(before, losses, lost))
    return tuple(moves_between(before, after, groups, dead=dead))


def _in_turn(before: Rig, losses: Losses, lost: Lost) -> list[str]:
    """List runs as the plan came to them: those that moved as noted, those that stayed among them by priority."""
    plugs = plugs_of(before, losses)
    turn = {run.id: (plug.rank, plug.order) for plug in plugs for run in plug.runs}
    moved = [item.run for item in lost.moved]
    staying = sorted((name for name in turn if name not in moved), key=turn.__getitem__)
    order: list[str] = []
    for name in moved:
        while staying and name in turn and turn[staying[0]] < turn[name]:
            order.append(staying.pop(0))
        order.append(name)
    return [*order, *staying]


def put_back(show: Show, name: str) -> Show:
    """Give the show as it was before a loss: what died works again, and what was moved for it goes back.

    Raises DocumentError where nothing of this id is lost, or where something else is in the way by now.
    """
    lost = next((item for item in show.lost if item.id == name), None)
    if lost is None:
        known = ", ".join(item.id for item in show.lost) or "nothing"
        raise DocumentError(f"'{name}' is not lost; lost is {known}", thing=name)
    moved = {item.run: item for item in lost.moved}
    others = {run.start: run.id for run in show.runs if run.start and run.id not in moved}
    for item in lost.moved:
        if item.start in others:
            says = f"{others[item.start]} is in {item.start}, where {item.run} was"
            raise DocumentError(f"{says}; move it, or put back first what it was moved for", thing=name)
    runs = tuple(_as_it_was(run, moved.get(run.id)) for run in show.runs)
    place = show.lost.index(lost)
    later = [
        msgspec.structs.replace(item, moved=tuple(old for old in item.moved if old.run not in moved))
        for item in show.lost[place + 1 :]
    ]
    show = msgspec.structs.replace(show, runs=runs)
    for changed in lost.changed:
        left, later = _handed_on(changed, later)
        show = _unit_as_it_was(show, left)
    return msgspec.structs.replace(show, lost=(*show.lost[:place], *later))


def _handed_on(item: ChangedUnit, later: list[Lost]) -> tuple[ChangedUnit, list[Lost]]:
    """Leave alone what was changed once more for a later loss, and let that remember how it was at first."""
    result = []
    for lost in later:
        records = []
        for record in lost.changed:
            if record.unit != item.unit or record.added:
                records.append(record)
                continue
            values: dict[str, object] = {}
            left: dict[str, object] = {}
            for field in ("inputs", "routes"):
                ours, theirs = getattr(item, field), getattr(record, field)
                again = {key: text for key, text in ours.items() if key in theirs}
                values[field] = {**theirs, **again}
                left[field] = {key: text for key, text in ours.items() if key not in again}
            if record.bridged is not None and item.bridged is not None:
                values |= {"bridged": item.bridged, "paralleled": item.paralleled}
                left |= {"bridged": None, "paralleled": None}
            item = msgspec.structs.replace(item, **left)
            records.append(msgspec.structs.replace(record, **values))
        result.append(msgspec.structs.replace(lost, changed=tuple(records)))
    return item, result


def _as_it_was(run: Run, moved: MovedRun | None) -> Run:
    if moved is None:
        return run
    path = run.path
    if moved.adaptor and len(path) > 1 and path[0].adaptor == moved.adaptor and path[0].box is None:
        path = path[1:]
    return msgspec.structs.replace(run, start=moved.start, feeds=moved.feeds, path=path)


def _unit_as_it_was(show: Show, item: ChangedUnit) -> Show:
    unit = next((unit for unit in show.rack_units if unit.id == item.unit), None)
    if unit is None:
        return show
    if item.added:
        if any(run.start.partition(".")[0] == unit.id for run in show.runs):
            raise DocumentError(f"something else is plugged into {unit.id} by now; move that first", thing=unit.id)
        return msgspec.structs.replace(show, rack_units=tuple(one for one in show.rack_units if one is not unit))
    inputs = {key: source for key, source in {**unit.inputs, **item.inputs}.items() if source}
    routes = {key: route for key, route in {**unit.routes, **item.routes}.items() if route}
    bridged = unit.bridged if item.bridged is None else item.bridged
    paralleled = unit.paralleled if item.paralleled is None else item.paralleled
    return with_thing(
        show,
        "rack_units",
        msgspec.structs.replace(unit, inputs=inputs, routes=routes, bridged=bridged, paralleled=paralleled),
    )
