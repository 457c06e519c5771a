"""The show after a loss: what is dead noted, the moves made, and how it was kept, so that it can be put back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import msgspec

from fieldkit.planning.placements import Decision
from fieldkit.planning.repatching import Repatch
from fieldkit.planning.sockets import with_modes
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.losses import losses_of, lost_now, reason
from fieldkit.show.contents import all_units
from fieldkit.show.document import ChangedUnit, Lost, MovedRun, RackUnit, Run, Show
from fieldkit.show.edits import with_thing


def with_lost(show: Show, names: Iterable[str], swapped: Collection[str] = ()) -> Show:
    """Note things as lost, and which of the lost a spare stands in for."""
    known = {lost.id for lost in show.lost}
    new = tuple(Lost(id=name) for name in dict.fromkeys(names) if name not in known)
    lost = tuple(
        msgspec.structs.replace(item, swapped=True) if item.id in swapped else item for item in (*show.lost, *new)
    )
    return msgspec.structs.replace(show, lost=lost)


def moved_show(show: Show, rig: Rig, plan: Repatch, spares: Sequence[str]) -> Show:
    """Make the moves of a plan in a show, and note under each loss how what it touched was before.

    ``rig`` is the show with its spares standing ready, which the plan was made on; of those only the used come in.
    """
    owners = _owners(rig, plan)
    records: dict[str, tuple[list[MovedRun], dict[str, ChangedUnit]]] = {
        lost.id: (list(lost.moved), {item.unit: item for item in lost.changed}) for lost in show.lost
    }
    units = {unit.id: unit for unit in all_units(rig.show)}
    runs: dict[str, Run] = {}
    changed: dict[str, RackUnit] = {}
    for item in plan.decisions:
        if item.stays or (item.place is not None and not item.place.moved):
            continue
        moved, _ = records[owners[item.plug.start]]
        after = {run.id: run for run in item.place.runs} if item.place else {}
        for run in item.plug.runs:
            adaptor = item.place.adaptor if item.place else None
            moved.append(MovedRun(run=run.id, start=run.start, feeds=run.feeds, adaptor=adaptor))
            runs[run.id] = after.get(run.id) or msgspec.structs.replace(run, start="", feeds={})
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
        _, noted = records[_owner_of_unit(unit, plan, owners)]
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
        show = _with_unit(show, after_unit)
    lost = tuple(
        msgspec.structs.replace(item, moved=tuple(records[item.id][0]), changed=tuple(records[item.id][1].values()))
        for item in show.lost
    )
    every = tuple(runs.get(run.id, run) for run in show.runs)
    return msgspec.structs.replace(show, runs=every, lost=lost)


def _with_unit(show: Show, unit: RackUnit) -> Show:
    """Write what changed of a unit, and no more: a rack as built brings the rest of its own."""
    effective = next((item for item in all_units(show) if item.id == unit.id), None)
    if effective is None:
        return with_thing(show, "rack_units", unit)  # a spare comes in
    written = next((item for item in show.rack_units if item.id == unit.id), None)
    if written is None:
        written = RackUnit(id=unit.id, model=unit.model)
    more = {key: source for key, source in unit.inputs.items() if effective.inputs.get(key, "") != source}
    led = {key: route for key, route in unit.routes.items() if effective.routes.get(key, "") != route}
    values: dict[str, object] = {"inputs": {**written.inputs, **more}, "routes": {**written.routes, **led}}
    if unit.bridged != effective.bridged:
        values["bridged"] = unit.bridged
    if unit.paralleled != effective.paralleled:
        values["paralleled"] = unit.paralleled
    return with_thing(show, "rack_units", msgspec.structs.replace(written, **values))


def _owners(rig: Rig, plan: Repatch) -> dict[str, str]:
    """Say for which loss each plug is touched: the one that silenced it, or that silenced what it gave way to."""
    names = lost_now(rig.show)
    owners: dict[str, str] = {}
    for item in plan.decisions:
        if item.plug.is_dead:
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
    losses = losses_of(rig.show, rig.ground.units, [name])
    return any(reason(rig, losses, need.output, need.source) for need in item.plug.needs)


def _owner_of_unit(unit: str, plan: Repatch, owners: dict[str, str]) -> str:
    for item in plan.decisions:
        for feed in item.place.feeds if item.place else ():
            if unit in {feed.output.unit.id, feed.pool}:
                return owners[item.plug.start]
    return next(iter(owners.values()))
