"""The show after a loss: what has failed noted, the moves made, and how it was kept, so that it can be put back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

import msgspec

from fieldkit.planning.failover.placements import Decision
from fieldkit.planning.failover.plugs import with_modes, with_unit
from fieldkit.planning.failover.stands import Repatch
from fieldkit.rig.failures import failed_now, failures_of, reason
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import ChangedBox, ChangedUnit, Failure, MovedRun, RackUnit, Run, Show


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
    notes = Notes(show.failed)
    units = {unit.id: unit for unit in all_units(rig.show)}
    by_run = {run.id: run for run in rig.show.runs}
    runs: dict[str, Run] = {}
    changed: dict[str, RackUnit] = {}
    # What joins something that moves has the last word about that run: it knows where it goes.
    for item in sorted(plan.decisions, key=lambda item: item.place is not None and item.place.upon is not None):
        if item.stays or (item.place is not None and not item.place.moved):
            continue
        joined = item.place.joined if item.place else ()
        after = {run.id: run for run in (*item.place.runs, *joined)} if item.place else {}
        laid_anew = bool(joined or item.plug.parent)
        for name in (*(run.id for run in item.plug.runs), *(run.id for run in joined)):
            run = by_run[name]
            path = run.path if laid_anew else ()
            adaptor = item.place.adaptor if item.place and not laid_anew else None
            was_plugged = MovedRun(run=name, start=run.start, feeds=run.feeds, adaptor=adaptor, path=path)
            notes.run(owners[item.plug.start], was_plugged)
            runs[name] = after.get(name) or msgspec.structs.replace(run, start="", feeds={})
    for item in plan.decisions:
        for feed in item.place.feeds if item.place else ():
            unit = feed.output.unit.id
            owner = owners[item.plug.start]
            was = units[unit]
            if unit in spares and unit not in changed:
                notes.unit(owner, ChangedUnit(unit=unit, added=True))
                changed[unit] = was
            modes = item.place.socket.changes if item.place else ()
            if modes:
                changed[unit] = with_modes(changed.get(unit, was), modes)
                if unit not in spares:
                    notes.unit(owner, ChangedUnit(unit=unit, bridged=was.bridged, paralleled=was.paralleled))
    for (unit, channel), source in plan.sources.items():
        was = units[unit]
        now = changed.get(unit, was)
        changed[unit] = msgspec.structs.replace(now, inputs={**now.inputs, channel: source})
        if unit not in spares:
            before = {channel: was.inputs.get(channel, "")}
            notes.unit(_owner_of_input(unit, channel, plan, owners), ChangedUnit(unit=unit, inputs=before))
    for (unit, number), route in plan.routes.items():
        was = units[unit]
        now = changed.get(unit, was)
        changed[unit] = msgspec.structs.replace(now, routes={**now.routes, number: route})
        if unit not in spares:
            led = {number: was.routes.get(number, "")}
            notes.unit(_owner_of_unit(unit, plan, owners), ChangedUnit(unit=unit, routes=led))
    for name in {unit for unit, _ in (*plan.sources, *plan.routes)} & set(spares):
        notes.unit(_owner_of_unit(name, plan, owners), ChangedUnit(unit=name, added=True))
    for after_unit in changed.values():
        show = with_unit(show, after_unit)
    every = tuple(runs.get(run.id, run) for run in show.runs)
    return msgspec.structs.replace(show, runs=every, failed=notes.failures())


class Notes:
    """How things were before each loss: what a loss notes first stays.

    Undone from the last loss to the first, the notes give the show as it was before all of them.
    """

    def __init__(self, failed: Sequence[Failure]) -> None:
        self._failed = {item.id: item for item in failed}

    def failures(self) -> tuple[Failure, ...]:
        """Give the losses with what is noted by now."""
        return tuple(self._failed.values())

    def _from(self, owner: str) -> Iterator[Failure]:
        """List a loss and those after it: what one of them knows was so before."""
        names = list(self._failed)
        return (self._failed[name] for name in names[names.index(owner) :])

    def run(self, owner: str, new: MovedRun) -> None:
        """Note how a run was plugged."""
        found = (item for failure in self._from(owner) for item in failure.moved if item.run == new.run)
        old = next(found, new)
        own = new.path[1:] if old.adaptor and new.path and new.path[0].adaptor == old.adaptor else new.path
        old = msgspec.structs.replace(old, path=old.path or own)
        mine = self._failed[owner]
        there = any(item.run == new.run for item in mine.moved)
        moved = tuple(old if item.run == new.run else item for item in mine.moved) if there else (*mine.moved, old)
        self._failed[owner] = msgspec.structs.replace(mine, moved=moved)

    def unit(self, owner: str, new: ChangedUnit) -> None:
        """Note how a unit was set, as far as nothing of it is noted yet."""
        for failure in reversed(list(self._from(owner))):  # who noted it first has the last word
            for known in (item for item in failure.changed if item.unit == new.unit):
                new = _first_known(known, new, whole=failure.id == owner)
        mine = self._failed[owner]
        there = any(item.unit == new.unit for item in mine.changed)
        changed = (
            tuple(new if item.unit == new.unit else item for item in mine.changed) if there else (*mine.changed, new)
        )
        self._failed[owner] = msgspec.structs.replace(mine, changed=changed)

    def box(self, owner: str, new: ChangedBox) -> None:
        """Note what a self-powered box got."""
        if not any(item.box == new.box for item in self._failed[owner].rewired):
            found = (item for failure in self._from(owner) for item in failure.rewired if item.box == new.box)
            mine = self._failed[owner]
            self._failed[owner] = msgspec.structs.replace(mine, rewired=(*mine.rewired, next(found, new)))


def _first_known(known: ChangedUnit, new: ChangedUnit, *, whole: bool) -> ChangedUnit:
    """Let what is known of a unit stand before what is new; with ``whole`` all of it, else only of what is new."""
    inputs, routes = (
        {**getattr(new, field), **{k: v for k, v in getattr(known, field).items() if whole or k in getattr(new, field)}}
        for field in ("inputs", "routes")
    )
    modes = known.bridged is not None and (whole or new.bridged is not None)
    return msgspec.structs.replace(
        new,
        inputs=inputs,
        routes=routes,
        bridged=known.bridged if modes else new.bridged,
        paralleled=known.paralleled if modes else new.paralleled,
        added=new.added or (whole and known.added),
    )


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
