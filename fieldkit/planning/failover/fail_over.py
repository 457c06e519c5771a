"""Fail-over: something has failed. What falls silent, and the fewest moves that bring back most, by priority.

How it flows: the show with its spares standing ready → what has failed and silent (``rig.failures``) → plugs and their
places (``plugs``, ``sockets``, ``placements``) → the search (``repatching``) → the changed show, with a record of
how it was → the moves in safe steps (``moves``) → what stays silent, and why.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations
from math import ceil

import msgspec

from fieldkit.checks.checking import Checker
from fieldkit.checks.finding import Finding
from fieldkit.planning.failover.by_hand import box_moves, sum_moves, with_boxes_fed
from fieldkit.planning.failover.moves import MINUTES, MoveStep, SafeMove, moves_between
from fieldkit.planning.failover.placements import Options, Placement, free_processor_outputs
from fieldkit.planning.failover.plugs import Plug, plugs_of, ranks_of, sockets_of
from fieldkit.planning.failover.recording import moved_show, with_failed
from fieldkit.planning.failover.repatching import ELSEWHERE, GOALS, PatchRound, Repatch, repatch
from fieldkit.planning.failover.swapping import SpareSwap, free_adaptors, swap_moves, swaps_of, with_spares
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures, Silent, failed_now, failures_of, silenced
from fieldkit.rig.priorities import guessed_order, zone_priorities
from fieldkit.rig.solve.evaluation import Evaluator, Rig
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import Box, Show, Stock
from fieldkit.show.errors import DocumentError
from fieldkit.show.failed_references import failure_problem


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
    places = [place for place in plan.fitting.get(plug.start, ()) if place.moved]
    if all(FROM_SOURCE in need.failed for need in plug.needs) and not places:
        return f"nothing else that is free can hold the preset of {runs} and gets its signal"
    if not places:
        return f"no other output fits {runs}: its plug and pins, preset, signal, power and minimum load"
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
    """False where it is not proved that no plan leaves less silent, with less risk, in fewer moves."""
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
    evaluator, checker = Evaluator(), Checker()
    before = evaluator.evaluate(with_failed(show, names))
    known = {item.rule: 0 for item in checker.check(before) if item.severity == "error"}
    for item in checker.check(before):
        if item.severity == "error":
            known[item.rule] += 1
    best: tuple[tuple[int, ...], Repatch, tuple[SpareSwap, ...], Show] | None = None
    offered = swaps_of(before)
    for count in range(len(offered), -1, -1):
        for swaps in combinations(offered, count):
            found = _searched(before, swaps, evaluator, checker, known, cancelled)
            if best is None or found[0] < best[0]:
                best = found
    if best is None:
        raise RuntimeError("there is always the way of doing nothing")
    _, plan, swaps, after_show = best
    after_show = with_boxes_fed(after_show, evaluator.evaluate)
    return _told(show, names, before, plan, swaps, evaluator.evaluate(after_show), checker)


def _refuse_unknown(show: Show, names: Iterable[str]) -> None:
    units = {unit.id: unit for unit in all_units(show)}
    models = models_by_id(show)
    for name in names:
        wrong = failure_problem(name, show, units, models)
        if wrong:
            raise DocumentError(wrong, thing=name)


def _searched(
    before: Rig,
    swaps: tuple[SpareSwap, ...],
    evaluator: Evaluator,
    checker: Checker,
    known: dict[str, int],
    cancelled: Callable[[], bool],
) -> tuple[tuple[int, ...], Repatch, tuple[SpareSwap, ...], Show]:
    """Search with some of the failed things swapped for spares of their kind."""
    swapped = {swap.id for swap in swaps}
    base = with_failed(before.show, (), swapped=swapped)
    rig = evaluator.evaluate(base)
    failures = failures_of(base, rig.show_index.units, failed_now(base))
    failed_plugs = sum(plug.is_failed for plug in plugs_of(rig, failures))
    staged, spares = with_spares(rig, failed_plugs, _supply(rig, failures)) if failed_plugs else (base, ())
    rig = evaluator.evaluate(staged)
    plugs = plugs_of(rig, failures)
    options = Options(rig, failures, sockets_of(rig, failures, plugs), free_adaptors(rig), spares)

    def accept(plan: Repatch) -> bool:
        found = checker.check(evaluator.evaluate(moved_show(base, rig, plan, spares)))
        errors: dict[str, int] = {}
        for item in found:
            if item.severity == "error" and item.rule != HALF_FED:
                errors[item.rule] = errors.get(item.rule, 0) + 1
        return (not plan.sources and not _touched(plan)) or all(n <= known.get(rule, 0) for rule, n in errors.items())

    plan = repatch(
        PatchRound(
            rig=rig,
            plugs=plugs,
            placements=options.of,
            free=free_processor_outputs(rig, failures),
            spares=frozenset(spares),
            blocked=_blocked(rig, plugs),
            accept=accept,
            cancelled=cancelled,
        )
    )
    steps = plan.moves_at
    extra = sum(swap.moves for swap in swaps)
    boxes = sum(swap.kind == "box" for swap in swaps)
    cost = (-boxes, *plan.cost[:steps], plan.cost[steps] + extra, *plan.cost[steps + 1 :])
    return cost, plan, swaps, moved_show(base, rig, plan, spares)


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


def _told(
    show: Show,
    names: Sequence[str],
    before: Rig,
    plan: Repatch,
    swaps: tuple[SpareSwap, ...],
    after: Rig,
    checker: Checker,
) -> FailOver:
    failures = failures_of(before.show, before.show_index.units, failed_now(before.show))
    still = failures_of(after.show, after.show_index.units, failed_now(after.show))
    order = [[run.id for run in item.plug.runs] for item in plan.decisions if item.place is not None]
    failed = [*failures.units, *(f"{unit}.{number}" for unit, number in failures.outputs)]
    moves = [*swap_moves(before, swaps), *moves_between(before, after, order, failed=failed)]
    moves += [*box_moves(before, after, moves), *sum_moves(after, _as_before(before, names))]
    new = tuple(dict.fromkeys(names))
    return FailOver(
        show=after.show,
        rig=after,
        findings=checker.check(after),
        failed=new,
        silent=silenced(before, failures),
        powered=tuple(silent_boxes(before, failures)),
        first=tuple(_first(new, show, failures, {swap.id for swap in swaps})),
        moves=tuple(moves),
        stays_silent=(*stays_silent(before, after, still, plan), *silent_boxes(after, still)),
        proved=plan.proved,
        guessed=_guessed(after, plan),
    )


def _as_before(before: Rig, names: Sequence[str]) -> Rig:
    """Give the rig without what failed just now."""
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


def saved_by_a_spare(show: Show, unit: str, found: FailOver) -> tuple[str, ...]:
    """Name the boxes that a spare of a unit's model, at hand before the show, would bring back over a plan without."""
    model = next(item.model for item in all_units(show) if item.id == unit)
    used = sum(item.model == model for item in all_units(show))
    stocked = msgspec.structs.replace(show, stock=(*show.stock, Stock(model=model, owned=used + 1)))
    silent = {item.box for item in fail_over(stocked, [unit]).stays_silent}
    return tuple(dict.fromkeys(item.box for item in found.stays_silent if item.box not in silent))
