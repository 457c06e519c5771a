"""Fail-over: something has failed. What falls silent, and the fewest moves that bring back most, by priority.

How it flows: the show with its spares standing ready → what has failed and silent (``rig.failures``) → plugs and their
places (``plugs``, ``sockets``, ``placements``) → the search (``repatching``) → the changed show, with a record of
how it was → the moves in safe steps (``moves``) → what stays silent, and why.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import combinations
from math import ceil

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.planning.failover.by_hand import sum_moves, with_boxes_fed
from fieldkit.planning.failover.junctions import junctions_of, tails_of
from fieldkit.planning.failover.moves import moves_between
from fieldkit.planning.failover.options import Options
from fieldkit.planning.failover.plugs import Plug, plugs_of
from fieldkit.planning.failover.processor_outputs import free_processor_outputs
from fieldkit.planning.failover.recording import moved_show, with_failed
from fieldkit.planning.failover.repatching import repatch
from fieldkit.planning.failover.sockets import sockets_of
from fieldkit.planning.failover.spares import spare_leads, with_spares
from fieldkit.planning.failover.stands import GOALS, PatchRound, Repatch
from fieldkit.planning.failover.staying import StaysSilent, silent_boxes, stays_silent
from fieldkit.planning.failover.steps import MINUTES, MoveStep, SafeMove
from fieldkit.planning.failover.swapping import SpareSwap, swap_moves, swaps_of
from fieldkit.rig.failures import Failures, Silent, failed_now, failures_of, silenced
from fieldkit.rig.priorities import guessed_order, zone_priorities
from fieldkit.rig.solve.evaluation import Evaluator, Rig
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.failed_references import failure_problem

HALF_FED = "section-unfed"
"""The one error that a plan may bring: a box half of which gave way. It is said among what stays silent."""


class FailOver(msgspec.Struct, frozen=True):
    """A way out of a loss."""

    show: Show
    """With the moves made, and what failed noted."""
    rig: Rig
    findings: tuple[Finding, ...]
    failed: tuple[str, ...]
    silent: tuple[Silent, ...]
    """What falls silent if nothing is done."""
    powered: tuple[StaysSilent, ...]
    """Self-powered boxes that do, and what a hand can do about each; they are among what stays silent too."""
    first: tuple[MoveStep, ...]
    """What to do before anything else."""
    moves: tuple[SafeMove, ...]
    stays_silent: tuple[StaysSilent, ...]
    proved: bool
    """Whether no plan leaves less silent, with less risk, in fewer moves.

    That is of all plans in which nothing joins behind a box that joins itself, no Y-lead goes into a connector that
    the plan uses anew, and nothing gets other mains.
    """
    guessed: str = ""
    """In what order zones without a priority were taken; empty where nothing hangs on it."""

    @property
    def minutes(self) -> int:
        """Say how long all of it takes one person, what comes first included."""
        return ceil(sum(MINUTES[step.do] for step in self.first) + sum(move.minutes for move in self.moves))


def fail_over(show: Show, names: Sequence[str], cancelled: Callable[[], bool] = lambda: False) -> FailOver:
    """Plan for the loss of things by their ids, beside what the show already notes as failed.

    Raises DocumentError for an id that is no unit, output, supply or box of the show, and CancelledError soon after
    ``cancelled``, which is asked often, has become true.
    """
    _refuse_unknown(show, names)
    evaluator = Evaluator()
    before = evaluator.evaluate(with_failed(show, names))
    known = {item.rule: 0 for item in check(before) if item.severity == "error"}
    for item in check(before):
        if item.severity == "error":
            known[item.rule] += 1
    search = _SpareSearch(before, evaluator, known, cancelled)
    best: _FoundRepatch | None = None
    offered = swaps_of(before)
    for count in range(len(offered), -1, -1):
        for swaps in combinations(offered, count):
            found = _searched(search, swaps)
            if best is None or found.cost < best.cost:
                best = found
    if best is None:
        raise RuntimeError("there is always the way of doing nothing")
    after = evaluator.evaluate(with_boxes_fed(best.show, evaluator.evaluate))
    return _told(search, names, best, after)


class _SpareSearch(msgspec.Struct, frozen=True):
    """What all searches for one loss share."""

    before: Rig
    """With the failures noted, and nothing moved."""
    evaluator: Evaluator
    known: dict[str, int]
    """Errors of the rig before, by rule."""
    cancelled: Callable[[], bool]


class _FoundRepatch(msgspec.Struct, frozen=True):
    """The best plan with some of the failed things swapped."""

    cost: tuple[int, ...]
    plan: Repatch
    swaps: tuple[SpareSwap, ...]
    show: Show


def _refuse_unknown(show: Show, names: Iterable[str]) -> None:
    units = {unit.id: unit for unit in all_units(show)}
    models = models_by_id(show)
    for name in names:
        wrong = failure_problem(name, show, units, models)
        if wrong:
            raise DocumentError(wrong, thing=name)


def _searched(search: _SpareSearch, swaps: tuple[SpareSwap, ...]) -> _FoundRepatch:
    """Search with some of the failed things swapped for spares of their kind."""
    before, evaluator = search.before, search.evaluator
    swapped = {swap.id for swap in swaps}
    base = with_failed(before.show, (), swapped=swapped)
    rig = evaluator.evaluate(base)
    failures = failures_of(base, rig.show_index.units, failed_now(base))
    failed_plugs = sum(plug.is_failed for plug in plugs_of(rig, failures))
    staged, spares = with_spares(rig, failed_plugs, _supply(rig, failures)) if failed_plugs else (base, ())
    rig = evaluator.evaluate(staged)
    plugs = plugs_of(rig, failures)
    sockets = [*sockets_of(rig, failures, plugs), *junctions_of(rig, failures, plugs)]
    plugs += tails_of(rig, plugs)
    options = Options(rig, failures, sockets, spares)

    def accept(plan: Repatch) -> bool:
        found = check(evaluator.evaluate(moved_show(base, rig, plan, spares)))
        errors: dict[str, int] = {}
        for item in found:
            if item.severity == "error" and item.rule != HALF_FED:
                errors[item.rule] = errors.get(item.rule, 0) + 1
        return (not plan.sources and not _touched(plan)) or all(
            n <= search.known.get(rule, 0) for rule, n in errors.items()
        )

    plan = repatch(
        PatchRound(
            rig=rig,
            plugs=plugs,
            placements=options.of,
            joins=options.joinings.upon,
            free=free_processor_outputs(rig, failures),
            spares=frozenset(spares),
            blocked=_blocked(rig, plugs),
            leads=spare_leads(rig),
            accept=accept,
            cancelled=search.cancelled,
        )
    )
    steps = plan.moves_at
    extra = sum(swap.moves for swap in swaps)
    boxes = sum(swap.kind == "box" for swap in swaps)
    cost = (-boxes, *plan.cost[:steps], plan.cost[steps] + extra, *plan.cost[steps + 1 :])
    return _FoundRepatch(cost, plan, swaps, moved_show(base, rig, plan, spares))


def _touched(plan: Repatch) -> bool:
    return any(not item.stays for item in plan.decisions)


def _blocked(rig: Rig, plugs: Sequence[Plug]) -> frozenset[str]:
    """Name the connectors that hold a run which feeds nothing: it is in there all the same."""
    return frozenset(run.start for run in rig.show.runs if run.start) - {plug.start for plug in plugs}


def _supply(rig: Rig, failures: Failures) -> str | None:
    """Say where a spare would get its mains: where what failed had it, if that still is live."""
    failed = [rig.show_index.units[name] for name in failures.units]
    failed += [rig.show_index.units[unit] for unit, _ in failures.outputs]
    return next((unit.supply for unit in failed if unit.supply and unit.supply not in failures.supplies), None)


def _told(search: _SpareSearch, names: Sequence[str], found: _FoundRepatch, after: Rig) -> FailOver:
    before, plan, swaps = search.before, found.plan, found.swaps
    failures = failures_of(before.show, before.show_index.units, failed_now(before.show))
    still = failures_of(after.show, after.show_index.units, failed_now(after.show))
    order = [[run.id for run in item.plug.runs] for item in plan.decisions if item.place is not None]
    failed = [*failures.units, *(f"{unit}.{number}" for unit, number in failures.outputs)]
    moves = [*swap_moves(before, swaps), *moves_between(before, after, order, failed=failed)]
    moves += sum_moves(after, _as_before(before, names))
    new = tuple(dict.fromkeys(names))
    return FailOver(
        show=after.show,
        rig=after,
        findings=check(after),
        failed=new,
        silent=silenced(before, failures),
        powered=tuple(silent_boxes(before, failures)),
        first=tuple(_first(new, before.show, failures, {swap.id for swap in swaps})),
        moves=tuple(moves),
        stays_silent=(*stays_silent(before, after, still, plan), *silent_boxes(after, still)),
        proved=plan.proved,
        guessed=_guessed(after, plan),
    )


def _as_before(before: Rig, names: Sequence[str]) -> Rig:
    """Return the rig without the failures of this call."""
    earlier = tuple(item for item in before.show.failed if item.id not in names)
    return msgspec.structs.replace(before, show=msgspec.structs.replace(before.show, failed=earlier))


def _guessed(rig: Rig, plan: Repatch) -> str:
    """Say in what order zones without a priority were taken, where something stays silent or gave way."""
    if not any(plan.cost[: -len(GOALS)]):
        return ""
    known = zone_priorities(rig.show, rig.show_index.speakers)
    order = guessed_order(known, [zone.id for zone in rig.show.zones])
    return order if order.count(", then ") else ""


def _first(names: Iterable[str], show: Show, failures: Failures, swapped: set[str]) -> Iterable[MoveStep]:
    """Say what keeps it off while somebody works on its lines."""
    supplies = {supply.id for supply in show.supplies}
    boxes = {box.id for box in show.boxes}
    for name in names:
        if name in supplies:
            units = ", ".join(
                unit for unit, why in failures.units.items() if why.endswith(f" {name}, which has failed")
            )
            says = f"{name}: turn down and switch off {units or 'all that hangs on it'}, so that nothing comes back at "
            says += "full level; whether it can be restored, or its load carried elsewhere, is an electrician's word"
            yield MoveStep("off", name, says)
        elif name in failures.units:
            after = "" if name not in swapped else " before it comes out of the rack"
            yield MoveStep(
                "off", name, f"{name}: switch it off, and pull its mains{after}: it must not come back by itself"
            )
        elif name not in boxes:
            yield MoveStep("mute", name, f"{name}: mute it, and leave it muted")


def failures_by_rack(show: Show) -> dict[str, list[FailOver]]:
    """Plan for the loss of each amplifier and processor by itself, by its rack; those in no rack under ``""``.

    For the page *if this amplifier fails*, made before the show.
    """
    plans: dict[str, list[FailOver]] = {rack.id: [] for rack in show.racks}
    for unit in all_units(show):
        plans.setdefault(unit.rack or "", []).append(fail_over(show, [unit.id]))
    return {rack: found for rack, found in plans.items() if found}
