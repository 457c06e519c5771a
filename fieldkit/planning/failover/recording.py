"""The show after a loss: what has failed noted, the moves made, and how it was kept, so that it can be put back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import msgspec

from fieldkit.planning.failover.by_hand import box_moves, sum_moves
from fieldkit.planning.failover.moves import groups_between, moves_between
from fieldkit.planning.failover.placements import Decision
from fieldkit.planning.failover.plugs import plugs_of, with_modes, with_unit
from fieldkit.planning.failover.rig_in_hand import single_channels
from fieldkit.planning.failover.stands import Repatch
from fieldkit.planning.failover.steps import SafeMove
from fieldkit.rig.failures import Failures, failed_now, failures_of, reason
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.contents import all_units
from fieldkit.show.document import ChangedUnit, Failure, MovedRun, RackUnit, Run, Show
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError


def with_failed(show: Show, names: Iterable[str], swapped: Collection[str] = ()) -> Show:
    """Note things as failed, and which of the failed a spare stands in for."""
    known = {failure.id for failure in show.failed}
    new = tuple(Failure(id=name) for name in dict.fromkeys(names) if name not in known)
    failure = tuple(
        msgspec.structs.replace(item, swapped=True) if item.id in swapped else item for item in (*show.failed, *new)
    )
    return msgspec.structs.replace(show, failed=failure)


def moved_show(show: Show, rig: Rig, plan: Repatch, spares: Sequence[str]) -> Show:
    """Make the moves of a plan in a show, and note under each loss how what it touched was before.

    ``rig`` is the show with its spares standing ready, which the plan was made on; of those only the used come in.
    """
    owners = _owners(rig, plan)
    records: dict[str, tuple[list[MovedRun], dict[str, ChangedUnit]]] = {
        failure.id: (list(failure.moved), {item.unit: item for item in failure.changed}) for failure in show.failed
    }
    units = {unit.id: unit for unit in all_units(rig.show)}
    by_run = {run.id: run for run in rig.show.runs}
    runs: dict[str, Run] = {}
    changed: dict[str, RackUnit] = {}
    for item in plan.decisions:
        if item.stays or (item.place is not None and not item.place.moved):
            continue
        moved, _ = records[owners[item.plug.start]]
        joined = item.place.joined if item.place else ()
        after = {run.id: run for run in (*item.place.runs, *joined)} if item.place else {}
        laid_anew = bool(joined or item.plug.parent)
        for name in (*(run.id for run in item.plug.runs), *(run.id for run in joined)):
            run = by_run[name]
            path = run.path if laid_anew else ()
            adaptor = item.place.adaptor if item.place and not laid_anew else None
            _note(moved, MovedRun(run=name, start=run.start, feeds=run.feeds, adaptor=adaptor, path=path))
            runs[name] = after.get(name) or msgspec.structs.replace(run, start="", feeds={})
    for item in plan.decisions:
        for feed in item.place.feeds if item.place else ():
            unit = feed.output.unit.id
            _, noted = records[owners[item.plug.start]]
            was = units[unit]
            if unit in spares and unit not in changed:
                noted[unit] = ChangedUnit(unit=unit, added=True)
                changed[unit] = was
            modes = item.place.socket.changes if item.place else ()
            if modes:
                changed[unit] = with_modes(changed.get(unit, was), modes)
                if unit not in spares:
                    old = noted.get(unit, ChangedUnit(unit=unit))
                    noted[unit] = msgspec.structs.replace(old, bridged=was.bridged, paralleled=was.paralleled)
    for (unit, channel), source in plan.sources.items():
        was = units[unit]
        now = changed.get(unit, was)
        changed[unit] = msgspec.structs.replace(now, inputs={**now.inputs, channel: source})
        _, noted = records[_owner_of_input(unit, channel, plan, owners)]
        if unit not in spares:
            old = noted.get(unit, ChangedUnit(unit=unit))
            noted[unit] = msgspec.structs.replace(old, inputs={**old.inputs, channel: was.inputs.get(channel, "")})
    for (unit, number), route in plan.routes.items():
        was = units[unit]
        now = changed.get(unit, was)
        changed[unit] = msgspec.structs.replace(now, routes={**now.routes, number: route})
        if unit not in spares:
            _, noted = records[_owner_of_unit(unit, plan, owners)]
            old = noted.get(unit, ChangedUnit(unit=unit))
            noted[unit] = msgspec.structs.replace(old, routes={**old.routes, number: was.routes.get(number, "")})
    for name in {unit for unit, _ in (*plan.sources, *plan.routes)} & set(spares):
        _, noted = records[_owner_of_unit(name, plan, owners)]
        noted.setdefault(name, ChangedUnit(unit=name, added=True))
    for after_unit in changed.values():
        show = with_unit(show, after_unit)
    failure = tuple(
        msgspec.structs.replace(item, moved=tuple(records[item.id][0]), changed=tuple(records[item.id][1].values()))
        for item in show.failed
    )
    every = tuple(runs.get(run.id, run) for run in show.runs)
    return msgspec.structs.replace(show, runs=every, failed=failure)


def _note(records: list[MovedRun], new: MovedRun) -> None:
    """Note how a run was; what is noted of it already was there first, and of that its path was left alone."""
    place = next((place for place, item in enumerate(records) if item.run == new.run), None)
    if place is None:
        records.append(new)
        return
    old = records[place]
    own = new.path[1:] if old.adaptor and new.path and new.path[0].adaptor == old.adaptor else new.path
    records[place] = msgspec.structs.replace(old, path=old.path or own)


def _owners(rig: Rig, plan: Repatch) -> dict[str, str]:
    """Say for which loss each plug is touched: the one that silenced it, or that silenced what it gave way to."""
    names = failed_now(rig.show)
    owners: dict[str, str] = {}
    for item in plan.decisions:
        if item.plug.is_failed:
            owners[item.plug.start] = next(
                (name for name in names if _silences(rig, name, item)), names[0] if names else ""
            )
    for item in plan.decisions:
        if item.plug.start not in owners:
            takers = [
                other.plug.start
                for other in plan.decisions
                if other.place is not None and other.plug.start in owners and other.place.takes_from(item.plug)
            ]
            owners[item.plug.start] = owners[takers[0]] if takers else next(iter(owners.values()))
    return owners


def _silences(rig: Rig, name: str, item: Decision) -> bool:
    failures = failures_of(rig.show, rig.show_index.units, [name])
    return any(reason(rig, failures, need.output, need.source) for need in item.plug.needs)


def _owner_of_input(unit: str, channel: str, plan: Repatch, owners: dict[str, str]) -> str:
    """Say for which loss an input is patched anew: by what stands on its channel then, else by what uses the unit."""
    for item in plan.decisions:
        for feed in item.place.feeds if item.place else ():
            if feed.output.unit.id == unit and channel in map(str, feed.output.channels):
                return owners[item.plug.start]
    return _owner_of_unit(unit, plan, owners)


def _owner_of_unit(unit: str, plan: Repatch, owners: dict[str, str]) -> str:
    for item in plan.decisions:
        for feed in item.place.feeds if item.place else ():
            if unit in {feed.output.unit.id, feed.pool}:
                return owners[item.plug.start]
    return next(iter(owners.values()))


class WayBack(msgspec.Struct, frozen=True):
    """A show as it was before a loss, and the moves that lead there."""

    show: Show
    moves: tuple[SafeMove, ...]
    swapped: bool
    """Whether a spare stands in the place, so that there is nothing to plug."""


def way_back(show: Show, name: str) -> WayBack:
    """Say how everything goes back to where it was. Raises DocumentError as ``put_back`` does."""
    after_show = put_back(show, name)
    failure = next(item for item in show.failed if item.id == name)
    before, after = evaluate(show), evaluate(after_show)
    groups = groups_between(before, after, [item.run for item in failure.moved])
    moves = moves_between(before, after, groups)
    moves += [*box_moves(before, after, moves), *sum_moves(after, before)]
    return WayBack(after_show, tuple(moves), failure.swapped)


def moves_made(show: Show, name: str) -> tuple[SafeMove, ...]:
    """Say the moves once more that were taken for a loss, from the record of how it was."""
    before_show = put_back(show, name)
    failure = next(item for item in show.failed if item.id == name)
    before, after = evaluate(before_show), evaluate(show)
    failures = failures_of(show, before.show_index.units, [name])
    failed = [*failures.units, *(f"{unit}.{number}" for unit, number in failures.outputs)]
    groups = groups_between(before, after, _in_turn(before, failures, failure))
    moves = moves_between(before, after, groups, failed=failed)
    return (*moves, *box_moves(before, after, moves), *sum_moves(after, before))


def _in_turn(before: Rig, failures: Failures, failure: Failure) -> list[str]:
    """List runs as the plan came to them: those that moved as noted, those that stayed among them by priority."""
    plugs = plugs_of(before, failures)
    turn = {run.id: (plug.rank, plug.order) for plug in plugs for run in plug.runs}
    moved = [item.run for item in failure.moved]
    staying = sorted((name for name in turn if name not in moved), key=turn.__getitem__)
    order: list[str] = []
    for name in moved:
        while staying and name in turn and turn[staying[0]] < turn[name]:
            order.append(staying.pop(0))
        order.append(name)
    return [*order, *staying]


def put_back(show: Show, name: str) -> Show:
    """Restore the show after a repair: what failed works again, and what was moved for it goes back.

    Raises DocumentError where nothing of this id has failed, or where something else is in the way by now.
    """
    failure = next((item for item in show.failed if item.id == name), None)
    if failure is None:
        known = ", ".join(item.id for item in show.failed) or "nothing"
        raise DocumentError(f"'{name}' has not failed; failed is {known}", thing=name)
    moved = {item.run: item for item in failure.moved}
    others = {run.start: run for run in show.runs if run.start and run.id not in moved}
    for item in failure.moved:
        if item.start in others and not _through_one_piece(item, others[item.start]):
            says = f"{others[item.start].id} is in {item.start}, where {item.run} was"
            raise DocumentError(f"{says}; move it, or put back first what it was moved for", thing=name)
    _refuse_taken(show, failure)
    runs = tuple(_as_it_was(run, moved.get(run.id)) for run in show.runs)
    fed = {item.box: item.input for item in failure.rewired}
    boxes = tuple(msgspec.structs.replace(box, input=fed[box.id]) if box.id in fed else box for box in show.boxes)
    place = show.failed.index(failure)
    later = [
        msgspec.structs.replace(item, moved=tuple(old for old in item.moved if old.run not in moved))
        for item in show.failed[place + 1 :]
    ]
    show = msgspec.structs.replace(show, runs=runs, boxes=boxes)
    for changed in failure.changed:
        left, later = _handed_on(changed, later)
        show = _unit_as_it_was(show, left)
    return msgspec.structs.replace(show, failed=(*show.failed[:place], *later))


OWN_INPUT = "its input"


def _refuse_taken(show: Show, failure: Failure) -> None:
    """Refuse where a channel that goes back to what it was is used by now by what another loss has moved."""
    mine = {item.run for item in failure.moved}
    theirs = {item.run for other in show.failed if other is not failure for item in other.moved} - mine
    wanted = {name: item.run for item in failure.moved for name in single_channels(item.feeds.values())}
    wanted |= {f"{item.unit}.{entry}": OWN_INPUT for item in failure.changed for entry in item.inputs}
    for run in show.runs:
        taken = single_channels(run.feeds.values()) if run.id in theirs and run.start else []
        for name in taken:
            if name in wanted:
                where = "whose input goes back" if wanted[name] == OWN_INPUT else f"where {wanted[name]} was"
                says = f"{run.id} is on {name}, {where}; move it, or put back first what it was moved for"
                raise DocumentError(says, thing=failure.id)
    for other in show.failed[show.failed.index(failure) + 1 :]:
        again = [item.run for item in other.moved if item.run in mine and item.path]
        if again:
            raise DocumentError(
                f"{again[0]} was changed once more for {other.id}; put that back first", thing=failure.id
            )


def _through_one_piece(item: MovedRun, other: Run) -> bool:
    """Tell whether two runs go through one plug, since their first piece is the same one."""
    first = item.path[0].shared if item.path else ""
    return bool(first) and bool(other.path) and other.path[0].shared == first


def _handed_on(item: ChangedUnit, later: list[Failure]) -> tuple[ChangedUnit, list[Failure]]:
    """Leave alone what was changed once more for a later loss, and let that remember how it was at first."""
    result = []
    for failure in later:
        records = []
        for record in failure.changed:
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
        result.append(msgspec.structs.replace(failure, changed=tuple(records)))
    return item, result


def _as_it_was(run: Run, moved: MovedRun | None) -> Run:
    if moved is None:
        return run
    path = moved.path or run.path
    if not moved.path and moved.adaptor and len(path) > 1 and path[0].adaptor == moved.adaptor and path[0].box is None:
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
