"""Fail-over: something is dead. What falls silent, and the fewest moves that bring back most, by priority.

How it flows: the show with its spares standing ready → what is dead and silent (``rig.losses``) → plugs and their
places (``plugs``, ``sockets``, ``placements``) → the search (``repatching``) → the changed show, with a record of
how it was → the moves in safe steps (``moves``) → what stays silent, and why.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

import msgspec

from fieldkit.checks.checking import Checker
from fieldkit.checks.finding import Finding
from fieldkit.planning.moves import Move, Step, moves_between
from fieldkit.planning.placements import Options, free_processor_outputs
from fieldkit.planning.plugs import Plug, plugs_of
from fieldkit.planning.powered_boxes import silent_boxes
from fieldkit.planning.reasons import StaysSilent, stays_silent
from fieldkit.planning.recording import moved_show, with_lost
from fieldkit.planning.repatching import Repatch, Stage, repatch
from fieldkit.planning.sockets import sockets_of
from fieldkit.planning.spares import free_adaptors, with_spares
from fieldkit.planning.swapping import Swap, swap_moves, swaps_of
from fieldkit.rig.evaluation import Evaluator, Rig
from fieldkit.rig.losses import Losses, Silent, losses_of, lost_now, silenced
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.lost_references import loss_problem

HALF_FED = "section-unfed"
"""The one error that a plan may bring: a box half of which gave way. It is said among what stays silent."""


class FailOver(msgspec.Struct, frozen=True):
    """A way out of a loss."""

    show: Show
    """With the moves made, and what was lost noted."""
    rig: Rig
    findings: tuple[Finding, ...]
    lost: tuple[str, ...]
    silent: tuple[Silent, ...]
    """What falls silent if nothing is done."""
    powered: tuple[StaysSilent, ...]
    """Self-powered boxes that do, and what a hand can do about each; they are among what stays silent too."""
    first: tuple[Step, ...]
    """What to do before anything else."""
    moves: tuple[Move, ...]
    stays_silent: tuple[StaysSilent, ...]
    proved: bool
    """False where the search gave up before it had tried everything."""


def fail_over(show: Show, names: Sequence[str]) -> FailOver:
    """Plan for the loss of things by their ids, beside what the show already notes as lost.

    Raises DocumentError for an id that is no unit, output, supply or box of the show.
    """
    _refuse_unknown(show, names)
    evaluator, checker = Evaluator(), Checker()
    before = evaluator.evaluate(with_lost(show, names))
    known = {item.rule: 0 for item in checker.check(before) if item.severity == "error"}
    for item in checker.check(before):
        if item.severity == "error":
            known[item.rule] += 1
    best: tuple[tuple[int, ...], Repatch, tuple[Swap, ...], Show] | None = None
    offered = swaps_of(before)
    for count in range(len(offered), -1, -1):
        for swaps in combinations(offered, count):
            found = _searched(before, swaps, evaluator, checker, known)
            if best is None or found[0] < best[0]:
                best = found
    if best is None:
        raise RuntimeError("there is always the way of doing nothing")
    _, plan, swaps, after_show = best
    return _told(show, names, before, plan, swaps, evaluator.evaluate(after_show), checker)


def _refuse_unknown(show: Show, names: Iterable[str]) -> None:
    units = {unit.id: unit for unit in all_units(show)}
    models = models_by_id(show)
    for name in names:
        wrong = loss_problem(name, show, units, models)
        if wrong:
            raise DocumentError(wrong, thing=name)


def _searched(
    before: Rig, swaps: tuple[Swap, ...], evaluator: Evaluator, checker: Checker, known: dict[str, int]
) -> tuple[tuple[int, ...], Repatch, tuple[Swap, ...], Show]:
    """Search with some of the lost things swapped for spares of their kind."""
    swapped = {swap.id for swap in swaps}
    base = with_lost(before.show, (), swapped=swapped)
    rig = evaluator.evaluate(base)
    losses = losses_of(base, rig.ground.units, lost_now(base))
    dead_plugs = sum(plug.is_dead for plug in plugs_of(rig, losses))
    staged, spares = with_spares(rig, dead_plugs, _supply(rig, losses)) if dead_plugs else (base, ())
    rig = evaluator.evaluate(staged)
    plugs = plugs_of(rig, losses)
    options = Options(rig, losses, sockets_of(rig, losses, plugs), free_adaptors(rig), spares)

    def accept(plan: Repatch) -> bool:
        found = checker.check(evaluator.evaluate(moved_show(base, rig, plan, spares)))
        errors: dict[str, int] = {}
        for item in found:
            if item.severity == "error" and item.rule != HALF_FED:
                errors[item.rule] = errors.get(item.rule, 0) + 1
        return (not plan.sources and not _touched(plan)) or all(n <= known.get(rule, 0) for rule, n in errors.items())

    plan = repatch(
        Stage(
            rig=rig,
            plugs=plugs,
            placements=options.of,
            free=free_processor_outputs(rig, losses),
            spares=frozenset(spares),
            blocked=_blocked(rig, plugs),
            accept=accept,
        )
    )
    steps = len(plan.cost) - 7
    extra = sum(swap.moves for swap in swaps)
    boxes = sum(swap.kind == "box" for swap in swaps)
    cost = (-boxes, *plan.cost[:steps], plan.cost[steps] + extra, *plan.cost[steps + 1 :])
    return cost, plan, swaps, moved_show(base, rig, plan, spares)


def _touched(plan: Repatch) -> bool:
    return any(not item.stays for item in plan.decisions)


def _blocked(rig: Rig, plugs: Sequence[Plug]) -> frozenset[str]:
    """Name the connectors that hold a run which feeds nothing: it is in there all the same."""
    return frozenset(run.start for run in rig.show.runs if run.start) - {plug.start for plug in plugs}


def _supply(rig: Rig, losses: Losses) -> str | None:
    """Say where a spare would get its mains: where what died had it, if that still is live."""
    dead = [rig.ground.units[name] for name in losses.units]
    dead += [rig.ground.units[unit] for unit, _ in losses.outputs]
    return next((unit.supply for unit in dead if unit.supply and unit.supply not in losses.supplies), None)


def _told(
    show: Show,
    names: Sequence[str],
    before: Rig,
    plan: Repatch,
    swaps: tuple[Swap, ...],
    after: Rig,
    checker: Checker,
) -> FailOver:
    losses = losses_of(before.show, before.ground.units, lost_now(before.show))
    still = losses_of(after.show, after.ground.units, lost_now(after.show))
    order = [[run.id for run in item.plug.runs] for item in plan.decisions if item.place is not None]
    dead = [*losses.units, *(f"{unit}.{number}" for unit, number in losses.outputs)]
    moves = [*swap_moves(before, swaps), *moves_between(before, after, order, dead=dead)]
    new = tuple(dict.fromkeys(names))
    return FailOver(
        show=after.show,
        rig=after,
        findings=checker.check(after),
        lost=new,
        silent=silenced(before, losses),
        powered=tuple(silent_boxes(before, losses)),
        first=tuple(_first(new, show, losses, {swap.id for swap in swaps})),
        moves=tuple(moves),
        stays_silent=(*stays_silent(before, after, still, plan), *silent_boxes(after, still)),
        proved=plan.proved,
    )


def _first(names: Iterable[str], show: Show, losses: Losses, swapped: set[str]) -> Iterable[Step]:
    """Say what keeps the dead dead while somebody works on its lines."""
    supplies = {supply.id for supply in show.supplies}
    boxes = {box.id for box in show.boxes}
    for name in names:
        if name in supplies:
            units = ", ".join(unit for unit, why in losses.units.items() if why.endswith(f" {name}, which is lost"))
            says = f"{name}: turn down and switch off {units or 'all that hangs on it'}, so that nothing comes back at "
            says += "full level; whether it can be restored, or its load carried elsewhere, is an electrician's word"
            yield Step("off", name, says)
        elif name in losses.units:
            after = "" if name not in swapped else " before it comes out of the rack"
            yield Step(
                "off", name, f"{name}: switch it off, and pull its mains{after}: it must not come back by itself"
            )
        elif name not in boxes:
            yield Step("mute", name, f"{name}: mute it, and leave it muted")


def losses_by_rack(show: Show) -> dict[str, list[FailOver]]:
    """Plan for the loss of each amplifier and processor by itself, by its rack; those in no rack under ``""``.

    For the page *if this amplifier dies*, made before the show.
    """
    plans: dict[str, list[FailOver]] = {rack.id: [] for rack in show.racks}
    for unit in all_units(show):
        plans.setdefault(unit.rack or "", []).append(fail_over(show, [unit.id]))
    return {rack: found for rack, found in plans.items() if found}
