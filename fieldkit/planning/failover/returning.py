"""The way back after a repair: what failed works again, and what was moved for it goes home, in any order of repairs.

Every loss has noted how it was before what was moved for it. Undone from the last loss to the first, the notes give
the show as it was before all of them. Where others have still failed, what was moved for them stays as it stands if
that holds together; where it does not, those losses are planned for anew, from the show as it was.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise
from math import ceil

import msgspec

from fieldkit.checks.checking import check
from fieldkit.planning.failover.by_hand import sum_moves
from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.joins import joins_between
from fieldkit.planning.failover.moves import groups_between, moves_between
from fieldkit.planning.failover.plugs import plugs_of
from fieldkit.planning.failover.rig_in_hand import preset_held
from fieldkit.planning.failover.steps import MINUTES, MoveStep, SafeMove
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures, failed_now, failures_of, reason
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import Evaluator, Rig, evaluate
from fieldkit.show.document import ChangedUnit, Failure, MovedRun, Run, Show
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError


class WayBack(msgspec.Struct, frozen=True):
    """A show as it was before a loss, and the moves that lead there."""

    show: Show
    first: tuple[MoveStep, ...]
    """What to do before anything else."""
    moves: tuple[SafeMove, ...]
    swapped: bool
    """Whether a spare stands in the place, so that there is nothing to plug."""
    also: tuple[str, ...] = ()
    """What has still failed, and is planned for anew, since what was moved for it needs the same place."""

    @property
    def minutes(self) -> int:
        """Say how long all of it takes one person, what comes first included."""
        return ceil(sum(MINUTES[step.do] for step in self.first) + sum(move.minutes for move in self.moves))


def way_back(show: Show, name: str) -> WayBack:
    """Say how everything goes back to where it was. Raises DocumentError as ``put_back`` does."""
    after_show, also = _returned(show, name)
    failure = next(item for item in show.failed if item.id == name)
    before, after = evaluate(show), evaluate(after_show)
    moves: list[SafeMove] = []
    home = evaluate(msgspec.structs.replace(_undone(show, show.failed), failed=after_show.failed))
    apart = _parted(before, home, after)
    stations = (before, after) if apart is None else (before, evaluate(apart), after)
    for here, there in pairwise(stations):
        groups = groups_between(here, there, [item.run for item in failure.moved])
        moves += moves_between(here, there, groups, failed=_failed(after, failed_now(after_show)))
    moves += sum_moves(after, before)
    first = () if failure.swapped else tuple(_first(name, before))
    return WayBack(after_show, first, tuple(moves), failure.swapped, also)


def _parted(before: Rig, home: Rig, after: Rig) -> Show | None:
    """Give the show with runs apart that are to be joined in another way; None where there are none."""
    old, new = joins_between(home, before), joins_between(home, after)
    come = {name for join in new if join not in old for name in (join.coming, *join.playing)}
    parting = [join for join in old if join not in new and not come.isdisjoint((join.coming, *join.playing))]
    if not parting:
        return None
    paths = {run.id: run.path for run in home.show.runs}
    waiting = {join.coming for join in parting}
    playing = {name for join in parting for name in join.playing}
    runs = []
    for run in before.show.runs:
        if run.id in waiting:
            runs.append(msgspec.structs.replace(run, path=paths[run.id], start="", feeds={}))
        elif run.id in playing:
            runs.append(msgspec.structs.replace(run, path=paths[run.id]))
        else:
            runs.append(run)
    return msgspec.structs.replace(before.show, runs=tuple(runs))


def _first(name: str, rig: Rig) -> Iterable[MoveStep]:
    """Say how what failed comes back without a bang."""
    if name in rig.show_index.units:
        says = f"{name}: in its place, all its outputs muted or turned right down; only then its mains"
        yield MoveStep("off", name, says)


def moves_made(show: Show, name: str) -> tuple[SafeMove, ...]:
    """Say the moves once more that were taken for a loss, from the record of how it was."""
    place, failure = _noted(show, name)
    after_show = _undone(show, show.failed[place + 1 :])
    before_show = _undone(after_show, [failure])
    before, after = evaluate(before_show), evaluate(after_show)
    failures = failures_of(show, before.show_index.units, [name])
    groups = groups_between(before, after, _in_turn(before, failures, failure))
    moves = moves_between(before, after, groups, failed=_failed(before, [name]))
    return (*moves, *sum_moves(after, before))


def _failed(rig: Rig, names: Collection[str]) -> list[str]:
    """Name the units and outputs that say nothing, and need not be muted."""
    failures = failures_of(rig.show, rig.show_index.units, names)
    return [*failures.units, *(f"{unit}.{number}" for unit, number in failures.outputs)]


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

    Raises DocumentError where nothing of this id has failed, or where something that no loss has moved is in the way.
    """
    return _returned(show, name)[0]


def _returned(show: Show, name: str) -> tuple[Show, tuple[str, ...]]:
    """Put a loss back; name what else is planned for anew with it."""
    place, _ = _noted(show, name)
    whole = _undone(show, show.failed)
    _refuse_squatters(show, whole)
    others = (*show.failed[:place], *show.failed[place + 1 :])
    if not others:
        return whole, ()
    alone = _alone(show, place)
    if _undone(alone, alone.failed) == whole and _holds(show, alone, whole):
        return alone, ()
    fresh = tuple(Failure(id=item.id, swapped=item.swapped, note=item.note) for item in others)
    found = fail_over(msgspec.structs.replace(whole, failed=fresh), ())
    return found.show, tuple(item.id for item in others)


def _noted(show: Show, name: str) -> tuple[int, Failure]:
    for place, failure in enumerate(show.failed):
        if failure.id == name:
            return place, failure
    known = ", ".join(item.id for item in show.failed) or "nothing"
    raise DocumentError(f"'{name}' has not failed; failed is {known}", thing=name)


def _undone(show: Show, failures: Sequence[Failure]) -> Show:
    """Take back what was moved for losses, the last one first."""
    for failure in reversed(failures):
        show = _as_noted(show, failure)
        left = tuple(item for item in show.failed if item.id != failure.id)
        show = msgspec.structs.replace(show, failed=left)
    return show


def _as_noted(show: Show, failure: Failure) -> Show:
    moved = {item.run: item for item in failure.moved}
    fed = {item.box: item.input for item in failure.rewired}
    runs = tuple(_as_it_was(run, moved.get(run.id)) for run in show.runs)
    boxes = tuple(msgspec.structs.replace(box, input=fed[box.id]) if box.id in fed else box for box in show.boxes)
    show = msgspec.structs.replace(show, runs=runs, boxes=boxes)
    for changed in failure.changed:
        show = _unit_as_it_was(show, changed)
    return show


def _alone(show: Show, place: int) -> Show:
    """Take back what was moved for one loss, but for what was moved once more for a later one: that remembers it."""
    failure = show.failed[place]
    later = list(show.failed[place + 1 :])
    moved = {item.run for item in failure.moved}
    later = [
        msgspec.structs.replace(item, moved=tuple(old for old in item.moved if old.run not in moved)) for item in later
    ]
    rewired = tuple(item for item in failure.rewired if not any(item.box in _boxes(other) for other in later))
    later = [_fed_as_first(other, failure) for other in later]
    changed = []
    for item in failure.changed:
        left, later = _handed_on(item, later)
        changed.append(left)
    mine = msgspec.structs.replace(failure, changed=tuple(changed), rewired=rewired)
    return msgspec.structs.replace(_as_noted(show, mine), failed=(*show.failed[:place], *later))


def _boxes(failure: Failure) -> set[str]:
    return {item.box for item in failure.rewired}


def _fed_as_first(later: Failure, failure: Failure) -> Failure:
    """Let a later loss remember what a box got before an earlier one."""
    first = {item.box: item for item in failure.rewired}
    return msgspec.structs.replace(later, rewired=tuple(first.get(item.box, item) for item in later.rewired))


def _refuse_squatters(show: Show, whole: Show) -> None:
    """Refuse where something that no loss has moved is by now where something was."""
    moved = {item.run: failure.id for failure in show.failed for item in failure.moved}
    others = {run.start: run for run in whole.runs if run.start and run.id not in moved}
    for run in whole.runs:
        if run.id in moved and run.start in others and not _through_one_plug(run, others[run.start]):
            says = f"{others[run.start].id} is in {run.start}, where {run.id} was; move it first"
            raise DocumentError(says, thing=moved[run.id])
    there = {unit.id for unit in whole.rack_units}
    for item in (item for failure in show.failed for item in failure.changed if item.added):
        if item.unit not in there and any(run.start.partition(".")[0] == item.unit for run in whole.runs):
            says = f"something else is plugged into {item.unit} by now; move that first"
            raise DocumentError(says, thing=item.unit)


def _through_one_plug(run: Run, other: Run) -> bool:
    """Tell whether two runs go through one plug, since their first piece is the same one."""
    first = run.path[0].shared if run.path else ""
    return bool(first) and bool(other.path) and other.path[0].shared == first


def _holds(show: Show, after: Show, whole: Show) -> bool:
    """Tell whether a show holds together: nothing falls silent again, and nothing is wrong that was not before."""
    evaluator = Evaluator()
    rigs = [evaluator.evaluate(item) for item in (show, after, whole)]
    if _doubled(after) - _doubled(show) - _doubled(whole):
        return False
    now, then, home = (_heard(rig) for rig in rigs)
    if any(part not in then or then[part] not in (signals, home.get(part)) for part, signals in now.items()):
        return False
    if _torn(rigs[1]) - _torn(rigs[2]):
        return False
    errors = [Counter(item.rule for item in check(rig) if item.severity == "error") for rig in rigs]
    return not errors[1] - (errors[0] | errors[2])


def _torn(rig: Rig) -> set[str]:
    """Name the processor outputs that would have to hold two presets for what plays."""
    failures = failures_of(rig.show, rig.show_index.units, failed_now(rig.show))
    held: dict[str, set[str]] = {}
    for output in rig.outputs:
        if output.host is not None and output.loads and not reason(rig, failures, output.output, output.source):
            held.setdefault(output.host.id, set()).add(preset_held(output))
    return {host for host, presets in held.items() if len(presets) > 1}


def _doubled(show: Show) -> set[tuple[str, str]]:
    """Name the runs that are in one connector, and not through one plug."""
    found: set[tuple[str, str]] = set()
    by_start: dict[str, list[Run]] = {}
    for run in show.runs:
        if run.start:
            by_start.setdefault(run.start, []).append(run)
    for runs in by_start.values():
        found |= {(runs[0].id, other.id) for other in runs[1:] if not _through_one_plug(runs[0], other)}
    return found


def _heard(rig: Rig) -> dict[tuple[str, str], tuple[str, ...]]:
    """Say which signals reach each section of a box that plays, with what has failed by now."""
    failures = failures_of(rig.show, rig.show_index.units, failed_now(rig.show))
    arriving = {path.to: path.signals for path in signal_paths(rig)}
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for output in rig.outputs:
        if not reason(rig, failures, output.output, output.source):
            signals = arriving.get(output.output.id, ())
            playing = (load for load in output.loads if load.box.id not in failures.boxes)
            found |= {(load.box.id, str(load.section.section)): signals for load in playing}
    for box in rig.show.boxes:
        cut = box.id in failures.boxes or box.supply in failures.supplies
        powered = planned_drive(box, rig.show_index.speakers[box.id]) == "self-powered"
        if powered and not cut and not failures.of_source(box.input, rig.show_index.units):
            found[box.id, "full"] = arriving.get(box.id, ())
    return found


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
