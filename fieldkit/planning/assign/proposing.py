"""One pass of planning: from boxes without runs to a show in which they have them.

How it flows: the boxes to drive in groups → what stands there and what the stock could bring, as fill patterns → the
whole numbers → amplifiers, places and runs → inputs and presets' places → the checks look at the result.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.checks.loads import CHANNEL_SHARE, TOLERANCE
from fieldkit.checks.powers import NEEDS_LIMITER, WEAK
from fieldkit.formulas import ohms_law
from fieldkit.formulas.figures import direct
from fieldkit.formulas.loads import parallel
from fieldkit.planning.assign.cabling import ASSUMED_DISTANCE_M, Layer
from fieldkit.planning.assign.claims import Claimer
from fieldkit.planning.assign.fitting import threshold_v
from fieldkit.planning.assign.goals import AIMS, BOXES_DRIVEN, RACK_UNITS
from fieldkit.planning.assign.inputs import fed, wants_of
from fieldkit.planning.assign.inquiry import Answered, AssignProblem, linked_by_runs, remarks, served_by_runs, shortages
from fieldkit.planning.assign.judging import LaidPlan, Proposal, Short, Wishes, on_failed, proposal_of, rack_units
from fieldkit.planning.assign.laying import lay_runs
from fieldkit.planning.assign.loosening import MOST_ASKED, MOST_LOOSE, Loosening, PluggedRuns
from fieldkit.planning.assign.options import LINK_M, links_of
from fieldkit.planning.assign.placing import Cluster, far_links, place_clusters
from fieldkit.planning.assign.problem import Counts, Group, Question, side_names, way_of
from fieldkit.planning.assign.racking import Racker, plugged_in
from fieldkit.planning.assign.sources import taken_by
from fieldkit.planning.assign.standing import standing_of
from fieldkit.planning.assign.stockroom import Stockroom, fittings_of, with_models_used
from fieldkit.rig.connect.lines import Line, Load, loop_ohm
from fieldkit.rig.connect.outputs import can_give_v
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import failed_now
from fieldkit.rig.priorities import guessed_order, zone_priorities
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.contents import all_units
from fieldkit.show.document import Box, Run, Show, Step


def extended(show: Show, wanted: Collection[str], stockroom: Stockroom, *, down_to_minimum: bool = False) -> Show:
    """Link wanted boxes to the runs of their zone that have room for them; return the show.

    down_to_minimum: the load of an output may come under the preferred one
    """
    rig = evaluate(show)
    for box in show.boxes:
        if box.id not in wanted:
            continue
        run = next((run for run in show.runs if _has_room(run, box, rig, down_to_minimum=down_to_minimum)), None)
        if run is None:
            continue
        pairs = way_of(box, rig.show_index, planned_drive(box, rig.show_index.speakers[box.id])).pairs
        offers = [
            piece
            for lead in links_of(rig.show_index.speakers[box.id], pairs, stockroom.fittings)
            for piece in stockroom.pieces(lead.cable, LINK_M)[:1]
        ]
        if not offers:
            continue
        # The cable that led so far carries on the pairs that nothing uses yet.
        last = run.path[-1].cable
        piece = min(offers, key=lambda piece: (piece.cable.id != last, piece.cable.cores, piece.length.value))
        stockroom.take(piece)
        step = Step(cable=piece.cable.id, length=piece.length, box=box.id)
        longer = msgspec.structs.replace(run, path=(*run.path, step))
        show = msgspec.structs.replace(show, runs=tuple(longer if item is run else item for item in show.runs))
        rig = evaluate(show)
    return show


def _has_room(run: Run, box: Box, rig: Rig, *, down_to_minimum: bool = False) -> bool:
    """Tell whether a run ends in a box like this one, and its outputs bear one more."""
    last = rig.show_index.boxes[run.path[-1].box or ""] if run.path and run.path[-1].box else None
    if last is None or rig.show_index.speakers[last.id].connectors < 2:
        return False
    alike = (box.zone, box.side, box.model, box.drive, box.presets, box.unknown)
    if alike != (last.zone, last.side, last.model, last.drive, last.presets, last.unknown) or box.switch != last.switch:
        return False
    way = way_of(box, rig.show_index, planned_drive(box, rig.show_index.speakers[box.id]))
    lines = {line.pair: line for line in rig.lines if line.run.id == run.id}
    carried: list[tuple[SolvedOutput, Line]] = []
    for pair in way.pairs:
        line = next((line for line in lines.values() if line.pieces and line.pieces[-1].pair_out == pair), None)
        output = rig.output(line.output.id) if line and line.output and line.broken is None else None
        if line is None or output is None:
            return False
        carried.append((output, line))
    preferred_ohm = 0.0 if down_to_minimum else rig.preferred_ohm
    both = list(zip(carried, way.loads, strict=True))
    return all(_bears(output, loads, preferred_ohm) for (output, _), (_, loads) in both) and not any(
        _runs_hot(output, line, loads, rig) for (output, line), (_, loads) in both
    )


def _runs_hot(output: SolvedOutput, line: Line, more: Sequence[Load], rig: Rig) -> bool:
    """Tell whether a line would carry more than a piece of it is rated for, with more boxes at its end."""
    rated_a = min((piece.current_a for piece in line.pieces if piece.current_a is not None), default=None)
    if rated_a is None:
        return False
    load_ohm = parallel(*(load.impedance_ohm for load in (*line.loads, *more)))
    volts = can_give_v(output.output, load_ohm, direct)
    if output.host is not None:
        rated = (load for load in (*line.loads, *more) if load.continuous_w > 0.0)
        volts = min((volts, *(threshold_v(load, rig.conditions.margin_db) for load in rated)))
    lead_ohm = sum(loop_ohm(piece, rig.conditions.temperature_c) for piece in line.pieces)
    return volts / (lead_ohm + load_ohm) > rated_a


def _bears(output: SolvedOutput, more: Sequence[Load], preferred_ohm: float) -> bool:
    load_ohm = parallel(*(load.judged_ohm for load in (*output.loads, *more)))
    if load_ohm < output.output.minimum_ohm * TOLERANCE:
        return False
    if load_ohm * CHANNEL_SHARE[output.output.mode] < preferred_ohm * TOLERANCE:
        return False
    given_w = ohms_law.power_from_voltage(
        can_give_v(output.output, load_ohm, direct), max(load.impedance_ohm for load in more)
    )
    return given_w >= WEAK * NEEDS_LIMITER * min(load.continuous_w for load in more)


Progress = Callable[[str], None]
Cancelled = Callable[[], bool]


class _Laid(msgspec.Struct, frozen=True):
    """What was laid."""

    show: Show
    clusters: tuple[Cluster, ...]
    notes: tuple[str, ...]
    """What was assumed, and what could not be."""
    added: tuple[tuple[str, str], ...]
    """What is new: id and model."""


class Planner(msgspec.Struct, frozen=True):
    """Plans one show, as often as somebody likes."""

    show: Show
    wishes: Wishes
    cancelled: Cancelled
    progress: Progress

    def plan(self, anew: frozenset[str] = frozenset(), freed: frozenset[str] = frozenset()) -> Proposal:
        """Plan the boxes without a run, all boxes of the zones in ``anew``, and those on runs in ``freed``.

        A run in ``freed`` is not laid again as it was.
        """
        return _proposed(self, anew, freed)

    @property
    def searches_moves(self) -> bool:
        """Tell whether a show is small enough to find out which of its runs would have to move."""
        return len(self.show.boxes) <= (MOST_ASKED if self.wishes.moves_plugs else MOST_LOOSE)

    def loosening(self, wrong: Collection[str]) -> Loosening | None:
        """Ask which runs would have to move for what; None for a show with no runs, or too many boxes.

        wrong: runs that cannot stay
        """
        show, wishes = self.show, self.wishes
        zones = {box.id: box.zone for box in show.boxes}
        movable = {
            run.id
            for run in show.runs
            if run.start and run.id not in wishes.keep
            if any(step.box and wishes.plans(zones[step.box]) for step in run.path)
        }
        if not movable or not self.searches_moves:
            return None
        bare = msgspec.structs.replace(show, runs=tuple(run for run in show.runs if run.id not in movable))
        fittings = fittings_of(bare)
        plugged = evaluate(show)
        waiting = [box for box in show.boxes if box.id in _to_drive(show, show, wishes)]
        room = {
            run.id: [box.id for box in waiting if wishes.extend and _has_room(run, box, plugged, down_to_minimum=True)][
                :1
            ]
            for run in show.runs
        }
        wanted = frozenset(_to_drive(bare, show, wishes))
        parts = Stockroom(bare, fittings).limited_parts()
        problem = AssignProblem(
            evaluate(bare), wanted, fittings, parts, wishes, served_by_runs(show), linked_by_runs(show)
        )
        now = PluggedRuns(plugged, movable, wrong, room)
        return Loosening(problem, now)


def _proposed(planner: Planner, anew: frozenset[str], freed: frozenset[str]) -> Proposal:
    """Plan; runs are made longer as far as the preferred load, and where that does not do, as far as the minimum."""
    show, wishes = planner.show, planner.wishes
    bare = _without_runs(show, anew, freed, wishes.keep)
    wanted = _to_drive(bare, show, wishes)
    if not wishes.extend:
        return _proposed_from(planner, bare, Stockroom(bare, fittings_of(bare)), wanted, freed)
    stockroom = Stockroom(bare, fittings_of(bare))
    start = extended(bare, wanted, stockroom)
    proposal = _proposed_from(planner, start, stockroom, wanted, freed)
    more = not wishes.preferred_first and any(_given_up(proposal))
    if proposal.cancelled or not (proposal.undriven or more):
        return proposal
    stockroom = Stockroom(bare, fittings_of(bare))
    lower = extended(bare, wanted, stockroom, down_to_minimum=True)
    if lower == start:
        return proposal
    other = _proposed_from(planner, lower, stockroom, wanted, freed)
    better = (len(other.errors), other.silent, _given_up(other)) < (
        len(proposal.errors),
        proposal.silent,
        _given_up(proposal),
    )
    return other if better and not other.cancelled else proposal


def _given_up(proposal: Proposal) -> tuple[int, ...]:
    """Say how far the goals that come before the preferred load were missed, in turn."""
    first = [aim.name for aim in AIMS]
    first = first[: first.index(RACK_UNITS) + 1]
    return tuple(stage.value for stage in proposal.stages if stage.goal in first and stage.goal != BOXES_DRIVEN)


def _proposed_from(
    planner: Planner, start: Show, stockroom: Stockroom, wanted: Collection[str], freed: frozenset[str]
) -> Proposal:
    """Plan what has no run yet in a show to start from, with what is left in the stockroom."""
    show, wishes = planner.show, planner.wishes
    cancelled, progress = planner.cancelled, planner.progress
    fittings = stockroom.fittings
    rig = evaluate(start)
    inquiry = AssignProblem(
        rig,
        frozenset(wanted) - _driven(start),
        fittings,
        stockroom.limited_parts(),
        wishes,
        served_by_runs(show),
        linked_by_runs(show),
    )
    answered = inquiry.answer(cancelled, progress)
    asked, counts = answered.question, answered.counts
    progress("laying")
    laid = _lay(rig, show, answered, stockroom, freed)
    mains = plugged_in(
        with_models_used(laid.show, fittings), _brought_units(laid.show, [name for name, _ in laid.added])
    )
    missing = tuple(
        Short(name, number, f"hire or borrow {number} × {name}") for name, number in sorted(stockroom.missing.items())
    )
    undriven = _undriven(asked.groups, counts)
    short: tuple[Short, ...] = (*missing, *mains.short)
    if undriven and not counts.answer.stopped:
        progress("what is short")
        short = (*shortages(inquiry, cancelled), *short)
    notes = (
        *far_links(laid.clusters, asked),
        *remarks(answered, laid.clusters),
        *_order(asked, undriven, rig),
        *_unsided(asked),
        *_assumptions(laid.show, stockroom),
        *laid.notes,
        *mains.notes,
    )
    driven = frozenset(box for cluster in laid.clusters for box in cluster.boxes)
    weak = tuple(box for cluster in laid.clusters if cluster.option.fit.is_weak for box in cluster.boxes)
    after = evaluate(mains.show)
    progress("what else could be had")
    claimer = Claimer(
        answered,
        inquiry.split(asked),
        rack_units(after),
        len({*undriven, *on_failed(after)}),
        len(weak),
        bool(start.runs),
        start != show,
        rig.preferred_ohm,
        cancelled,
    )
    made = proposal_of(show, after, counts, claimer.claims(), LaidPlan(driven, undriven, weak, short, notes))
    return msgspec.structs.replace(made, to_find=_to_find(show, laid.added), plugs=mains.plugs)


def _order(question: Question, undriven: Sequence[str], rig: Rig) -> Iterator[str]:
    """Say in what order zones without a priority were taken, where not every box is driven."""
    zones = dict.fromkeys(group.zone.id for group in question.groups)
    order = guessed_order(zone_priorities(rig.show, rig.show_index.speakers), zones)
    if undriven and order and len(zones) > 1:  # one zone alone has no order
        yield f"no priority is set, so these are taken in this order, guessed: {order}; 'priority' of a zone sets it"


def _without_runs(show: Show, anew: frozenset[str], freed: frozenset[str], keep: frozenset[str]) -> Show:
    """Take the runs away that are freed, plugged in nowhere, or serve a box of these zones; those in ``keep`` stay."""
    zones = {box.id: box.zone for box in show.boxes}

    def stays(run: Run) -> bool:
        gone = run.id in freed or not run.start or any(step.box and zones[step.box] in anew for step in run.path)
        return run.id in keep or not gone

    return msgspec.structs.replace(show, runs=tuple(run for run in show.runs if stays(run)))


def _driven(show: Show) -> set[str]:
    return {step.box for run in show.runs for step in run.path if step.box}


def _to_drive(show: Show, given: Show, wishes: Wishes) -> set[str]:
    """List the boxes that want an output: without a run, in the wanted zones or just taken off, not self-powered.

    A box that has failed waits for nothing.
    """
    failed = set(failed_now(show))
    speakers = evaluate(msgspec.structs.replace(show, runs=())).show_index.speakers
    driven, before = _driven(show), _driven(given)
    return {
        box.id
        for box in show.boxes
        if box.id not in driven
        and box.id not in failed
        and (wishes.zones is None or box.zone in wishes.zones or box.id in before)
        and planned_drive(box, speakers[box.id]) != "self-powered"
    }


def _lay(rig: Rig, given: Show, answered: Answered, stockroom: Stockroom, freed: frozenset[str]) -> _Laid:
    """Lay the runs of an answer and feed them; runs of the given show in ``freed`` are not laid as they were."""
    question, counts = answered.question, answered.counts
    taken = taken_by(rig)
    racker = Racker(rig.show, question, side_names(question.groups))
    starts = {step.box: run.start for run in given.runs for step in run.path if step.box}
    old = {tuple(step.box for step in run.path if step.box): run for run in given.runs if run.id not in freed}
    clusters = place_clusters(question, counts, racker, starts)
    for model, number in counts.processors:
        for _ in range(number):
            racker.add_unit(model, None)
    layer = Layer(stockroom, rig.conditions.temperature_c, given)
    runs = lay_runs(racker.show, question, clusters, layer, old)
    longer = {run.id for run in runs}
    stay = (run for run in racker.show.runs if run.id not in longer)
    show = msgspec.structs.replace(racker.show, runs=_in_place(given.runs, (*stay, *runs)))
    show = _with_drives(_without_old_readings(show, given), clusters)
    holding = {(key, own.side): name for own in standing_of(evaluate(given)) for key, name in own.hosts}
    show, problems = fed(show, wants_of(clusters, question, holding), taken)
    guessed = _guesses(list(layer.guessed), layer.led_m)
    return _Laid(show, clusters, (*guessed, *problems), tuple(racker.added))


def _guesses(zones: Sequence[str], led_m: Mapping[str, float]) -> Iterator[str]:
    """Say which distances were assumed, those that were assumed alike together."""
    alike: dict[tuple[float, bool], list[str]] = {}
    for zone in zones:
        way_m = led_m.get(f"zone {zone}")
        alike.setdefault((way_m or ASSUMED_DISTANCE_M, way_m is not None), []).append(f"'{zone}'")
    for (way_m, led), names in alike.items():
        one = len(names) == 1
        what = f"the distance of zone {names[0]} is" if one else f"the distances of zones {', '.join(names)} are"
        why = f", as far as {'its lead' if one else 'their leads'} went before" if led else ""
        yield f"{what} not known: {way_m:g} m assumed{why}"


def _unsided(question: Question) -> Iterator[str]:
    """Name the zones out front whose boxes stand on no side, as far as anybody noted."""
    counts: Counter[str] = Counter()
    for group in question.groups:
        if group.zone.use != "wedge" and group.sides == ("",):
            counts[group.zone.id] += group.count
    for zone, number in counts.items():
        if number > 1:
            yield f"nobody noted on which side the {number} boxes of zone '{zone}' stand: no side was kept apart"


def _brought_units(show: Show, added: Sequence[str]) -> frozenset[str]:
    """Name the amplifiers and processors that are new, those inside new racks as built included."""
    built = {rack.id for rack in show.racks if rack.as_built and rack.id in added}
    return frozenset(unit.id for unit in all_units(show) if unit.id in added or unit.rack in built)


def _to_find(show: Show, added: Sequence[tuple[str, str]]) -> tuple[Short, ...]:
    """Name the new amplifiers of which no stock list says that there are any."""
    named = {item.model for item in show.stock}
    found = Counter(model for _, model in added if model not in named)
    return tuple(
        Short(model, number, f"to hire or find: {number} × {model}, no stock list names it")
        for model, number in found.items()
    )


def _without_old_readings(show: Show, given: Show) -> Show:
    """Leave out the readings of runs that are other ones now: they say nothing about these."""
    old = {run.id: run for run in given.runs}
    same = {run.id for run in show.runs if old.get(run.id) == run}
    readings = tuple(reading for reading in show.readings if reading.line.partition("/")[0] in same)
    return msgspec.structs.replace(show, readings=readings)


def _in_place(before: Sequence[Run], now: Sequence[Run]) -> tuple[Run, ...]:
    """Keep the order of the file for runs that were there before."""
    order = {run.id: index for index, run in enumerate(before)}
    return tuple(sorted(now, key=lambda run: order.get(run.id, len(order))))


def _with_drives(show: Show, clusters: Sequence[Cluster]) -> Show:
    """Write down the drive of boxes that are driven in another way than their model alone would say."""
    drives = {box: cluster.option.way.drive for cluster in clusters for box in cluster.boxes}
    speakers = {model.id: model for model in show.loudspeakers}
    boxes = []
    for box in show.boxes:
        drive = drives.get(box.id)
        speaker = speakers.get(box.model or "")
        if drive is not None and speaker is not None and planned_drive(box, speaker) != drive:
            box = msgspec.structs.replace(box, drive=drive)  # noqa: PLW2901  (the same box, its drive written down)
        boxes.append(box)
    return msgspec.structs.replace(show, boxes=tuple(boxes))


def _undriven(groups: Sequence[Group], counts: Counts) -> tuple[str, ...]:
    """Name the boxes that are left: the last ones of each group, since the first are dealt out first."""
    return tuple(
        name
        for group, left in zip(groups, counts.undriven, strict=True)
        for names in group.boxes
        for name in names[len(names) - left :]
    )


def _assumptions(show: Show, stockroom: Stockroom) -> tuple[str, ...]:
    used = {name for run in show.runs for step in run.path for name in (step.cable, step.adaptor, step.panel) if name}
    taken = [name for name in stockroom.assumed if name in used]
    return (f"assumed to be had, since no stock list names it: {', '.join(taken)}",) if taken else ()
