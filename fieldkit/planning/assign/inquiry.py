"""Put the question for a show: first with what stands there, then with what the stock could bring as well."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import pairwise

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.assign.cabling import ELSEWHERE_M
from fieldkit.planning.assign.counting import PROCESSOR_OUTPUT
from fieldkit.planning.assign.fitting import Limits
from fieldkit.planning.assign.goals import (
    BOXES_DRIVEN,
    CURRENT,
    HANDS,
    IN_USE,
    POWER,
    PRESETS,
    RACK_UNITS,
    SIDES,
    SPARE,
)
from fieldkit.planning.assign.inputs import host_outputs_in_use
from fieldkit.planning.assign.judging import Short, Wishes
from fieldkit.planning.assign.patterns import Fittings
from fieldkit.planning.assign.placing import Cluster, serving
from fieldkit.planning.assign.problem import Counts, Group, Grouping, Question, groups_of, needs_of
from fieldkit.planning.assign.search import count
from fieldkit.planning.assign.sources import (
    NOTHING_HELD,
    free_stock,
    processors_there,
    sources_in_stock,
    sources_there,
    taken_by,
)
from fieldkit.planning.assign.standing import standing_of
from fieldkit.planning.assign.tails import HeldConnector, tails_of
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import Show
from fieldkit.text.words import all_of

MOST_APART = 60
"""Boxes of a show, up to which the side of each amplifier that stands there counts for zones that it does not carry."""

MOST_ZONES = 6
"""Zones for which a way out by another drive is looked for."""


def shortages(inquiry: AssignProblem, cancelled: Callable[[], bool]) -> tuple[Short, ...]:
    """List what would have to be hired in addition, at the least price, and what else would drive every box."""
    question = msgspec.structs.replace(inquiry.building(hire=True), slack=True)
    priced = count(question, cancelled=cancelled)
    left = [
        (group, boxes * group.weight) for group, boxes in zip(question.groups, priced.undriven, strict=True) if boxes
    ]
    then = "every box is driven" if not left else "all others are driven"
    together = all_of([_named(name, number) for name, number in priced.slack])
    found = [Short(name, number, f"hire {together}, and {then}") for name, number in priced.slack]
    found += [_no_way(group, boxes) for group, boxes in left]
    return (*found, *_passive(inquiry, cancelled))


def _named(name: str, number: int) -> str:
    """Say how many of what; a processor output is one for presets that no amplifier here runs."""
    if name != PROCESSOR_OUTPUT:
        return f"{number} × {name}"
    return f"{number} processor output{'' if number == 1 else 's'} with crossover and limiter"


def _passive(inquiry: AssignProblem, cancelled: Callable[[], bool]) -> Iterator[Short]:
    """Look for zones that would let every box be driven if theirs were driven passive."""
    show, speakers = inquiry.rig.show, inquiry.rig.show_index.speakers
    zones = dict.fromkeys(
        box.zone
        for box in show.boxes
        if box.id in inquiry.wanted and box.drive == "bi-amp" and "passive" in speakers[box.id].drives()
    )
    for zone in list(zones)[:MOST_ZONES]:
        changed = [box.id for box in show.boxes if box.zone == zone and box.drive == "bi-amp"]
        boxes = tuple(msgspec.structs.replace(box, drive="passive") if box.id in changed else box for box in show.boxes)
        other = inquiry.with_show(msgspec.structs.replace(show, boxes=boxes)).building()
        if not cancelled() and not any(count(other, cancelled=cancelled, until=BOXES_DRIVEN).undriven):
            yield Short(zone, 0, f"or drive zone '{zone}' passive: then every box is driven with what there is")


def _no_way(group: Group, boxes: int) -> Short:
    drive = group.ways[0].drive
    pairs = f"pin pair{'s' if len(group.ways[0].pairs) > 1 else ''} {all_of(group.ways[0].pairs)}"
    return Short(
        group.speaker.id,
        boxes,
        f"{boxes} × {group.speaker.id} of zone '{group.zone.id}', {drive}: nothing here drives it; it needs an "
        f"amplifier that bears its load and hosts its presets, {pairs} on one plug, and a cable that fits",
    )


def remarks(answered: Answered, clusters: Sequence[Cluster]) -> tuple[str, ...]:
    """List the notes about sides and spares."""
    return (
        *_across(clusters, answered.question),
        *_sides(answered, clusters),
        *_spares(answered.question, answered.counts),
    )


def _across(clusters: Sequence[Cluster], question: Question) -> Iterator[str]:
    """Name the runs that lead from one side of a zone to the other."""
    for cluster in clusters:
        group = question.groups[cluster.option.group]
        if group.across in cluster.boxes[1:]:
            before = cluster.boxes[cluster.boxes.index(group.across) - 1]
            yield (
                f"both sides of zone '{group.zone.id}' share an output, since boxes would be silent otherwise: "
                f"the link from {before} to {group.across} crosses from side to side, {ELSEWHERE_M:g} m assumed"
            )


def _sides(answered: Answered, clusters: Sequence[Cluster]) -> Iterator[str]:
    """Name the zones whose sides share an amplifier, and those on unlike ones."""
    question = answered.question
    if not question.two_sides:
        return
    sharing: dict[str, list[str]] = {}
    unlike: list[str] = []
    for name, (left, right) in serving(clusters, question).items():
        if left & right:
            sharing.setdefault(", ".join(sorted(left & right)), []).append(f"'{name}'")
        elif left and right and _models(left, clusters, question) != _models(right, clusters, question):
            unlike.append(f"the sides of zone '{name}' hang on unlike amplifiers: {', '.join(sorted(left | right))}")
    for shared, zones in sharing.items():
        of_zones = f"zone{'s' if len(zones) > 1 else ''} {all_of(zones)}"
        yield f"both sides of {of_zones} share an amplifier ({shared}): {_why_shared(answered)}"
    yield from unlike


def _models(units: Collection[str], clusters: Sequence[Cluster], question: Question) -> set[str]:
    """Name the models of some amplifiers that are planned, or stand there."""
    feeds = ((cluster.spot, feed) for cluster in clusters for _, feed in cluster.spot.place.feeds)
    planned = {feed.amplifier for spot, feed in feeds if spot.output(feed).partition(".")[0] in units}
    return planned | {model for own in question.standing if own.units & set(units) for _, _, model in own.feeds}


def _why_shared(answered: Answered) -> str:
    """Say why sides share, as far as it was proved."""
    if answered.shared:
        hot = ", on hot cable" if answered.counts.hot else ""
        return f"with each amplifier on one side, boxes would be silent, weak, unlike{hot} or without preset"
    return "no plan with each amplifier on one side was found"


def _spares(question: Question, counts: Counts) -> Iterator[str]:
    """Say so where no output is left to go to when one fails."""
    lacking = counts.answer.goal(SPARE).value
    if lacking and counts.clusters:
        sided = question.two_sides
        where = "" if not sided else " on either side" if lacking == 2 else " on one side"
        yield f"no spare output is left{where} for the case that one fails"


class AssignProblem(msgspec.Struct, frozen=True):
    """All that a question is made of."""

    rig: Rig
    """Of the show with the runs that stay."""
    wanted: frozenset[str]
    """Boxes to drive."""
    fittings: Fittings
    parts: Mapping[str, int]
    """Adaptors and panels that are limited."""
    wishes: Wishes
    served: Mapping[str, frozenset[str]] = {}
    """Zone -> amplifiers and racks that its runs came from."""
    linked: frozenset[frozenset[str]] = frozenset()
    """Zones, two by two, that a run links already."""
    joined: frozenset[str] = frozenset()
    """Zones of which one output may drive boxes of both sides, since else something stays silent."""

    def with_show(self, show: Show) -> AssignProblem:
        """Ask the same of another show."""
        return msgspec.structs.replace(self, rig=evaluate(show))

    def there(self, stays: Mapping[str, HeldConnector] = NOTHING_HELD) -> Question:
        """Ask for what stands there alone; ``stays`` gives what hangs on connectors and may stay there."""
        show, wishes = self.rig.show, self.wishes
        groups = groups_of(show, self.rig.show_index, self.wanted, Grouping(wishes.free_drives, joined=self.joined))
        pins = {zone.id: frozenset(zone.served_by) for zone in show.zones if zone.served_by} | dict(wishes.pins)
        # Who names a rack means what stands in it.
        inside = [(unit.id, unit.rack) for unit in self.rig.show_index.units.values() if unit.rack]
        pins = {zone: names | {unit for unit, rack in inside if rack in names} for zone, names in pins.items()}
        alone = standing_alone(self.rig)
        pinned = frozenset(name for names in pins.values() for name in names) | alone
        tails = tails_of(self.rig, taken_by(self.rig).connectors) if groups else {}
        held = {start: HeldConnector(tail) for start, tail in tails.items()} | dict(stays)
        pinned |= frozenset(start.partition(".")[0] for start in held)
        standing = standing_of(self.rig)
        zones = {group.zone.id for group in groups if group.is_sided}
        few = bool(zones) and len(show.boxes) <= MOST_APART
        sided = [own for own in standing if own.zone in zones or (few and own.out_front and own.side)]
        pinned |= {name for own in sided for name in own.units | own.racks}
        loss_db = self.rig.loss_limits_db()
        return Question(
            groups=groups,
            sources=sources_there(self.rig, needs_of(groups), self.fittings, pinned, held),
            amplifiers={model.id: model for model in show.amplifiers},
            limits={
                zone.id: Limits(self.rig.preferred_ohm, loss_db[zone.id], self.rig.conditions.margin_db)
                for zone in show.zones
            },
            fittings=self.fittings,
            parts=self.parts,
            host_outputs=self._free_host_outputs(),
            host_inputs=sum(model.inputs - len(unit.inputs) for unit, model in processors_there(self.rig)),
            host_signals=frozenset(text for unit, _ in processors_there(self.rig) for text in unit.inputs.values()),
            new_processors=(),
            pins=pins,
            standing_alone=alone,
            served=self.served,
            linked=self.linked,
            standing=standing,
            tails={start: own.tail for start, own in held.items() if own.tail is not None},
            mirrored=wishes.mirrored,
            temperature_c=self.rig.conditions.temperature_c,
            preferred_first=wishes.preferred_first,
            building=False,
        )

    def _free_host_outputs(self) -> int:
        busy = host_outputs_in_use(self.rig.show, taken_by(self.rig))
        return sum(
            f"{unit.id}.{number}" not in busy
            for unit, model in processors_there(self.rig)
            for number in range(1, min(model.outputs, (model.hosts and model.hosts.slots) or model.outputs) + 1)
        )

    def building(self, *, hire: bool = False, stays: Mapping[str, HeldConnector] = NOTHING_HELD) -> Question:
        """Ask for what the stock could bring as well; with ``hire`` also for models of which none is left."""
        there, show = self.there(stays), self.rig.show
        free = free_stock(show)
        # Where nobody wrote down what amplifiers there are, any number of each model is as good as any other.
        assume = not there.sources and not names_amplifiers(show)
        new = sources_in_stock(self.rig, needs_of(there.groups), self.fittings, assume=assume, hire=hire)
        return msgspec.structs.replace(
            there,
            sources=(*there.sources, *new),
            new_processors=tuple((m, free[m.id]) for m in show.processors if m.hosts and free.get(m.id)),
            building=True,
        )

    def answer(self, cancelled: Callable[[], bool], progress: Callable[[str], None]) -> Answered:
        """Find the best answer; where boxes stay silent, let sides with one signal share an output if that drives more.

        As few zones as can be, those that come last first, and of these the nearest.
        """
        found = self._answer(cancelled, progress)
        if not any(found.counts.undriven) or self.joined or len(self.wanted) > MOST_SPLIT:
            return found
        silent = found.counts.answer.goal(BOXES_DRIVEN).parts
        best: AssignProblem | None = None
        mono = self._mono()
        for zones in (*([zone] for zone in mono), *(mono[:number] for number in range(2, len(mono) + 1))):
            if cancelled() or not any(silent):
                break
            other = msgspec.structs.replace(self, joined=frozenset(zones))
            parts = count(other.building(), cancelled=cancelled, only={BOXES_DRIVEN}).answer.goal(BOXES_DRIVEN).parts
            if parts < silent:
                silent, best = parts, other
        return found if best is None else best.answer(cancelled, progress)

    def _mono(self) -> list[str]:
        """Name the zones whose two sides get one and the same signal, what may be given up first at the head."""
        groups = [group for group in self.split(self.there()).groups if group.hand is not None]
        zones = {group.zone.id: group for group in groups if len({*group.zone.signals.values()}) == 1 and group.links}
        zones = {name: group for name, group in zones.items() if len(group.zone.signals) == 2}

        def last_first(name: str) -> tuple[int, float]:
            zone = zones[name].zone
            return -zones[name].priority.number, zone.distance.value if zone.distance else 0.0

        return sorted(zones, key=last_first)

    def _answer(self, cancelled: Callable[[], bool], progress: Callable[[str], None]) -> Answered:
        """Find the best answer: with the units of the show where they are enough, else with units from the stock.

        Both sides of a zone are counted together while that is no worse; else each by itself, so that they may
        hang on amplifiers that are not alike, or on twins that carry unlike things besides.
        """
        there = self.there()
        if not there.groups:
            return Answered(there, count(there, cancelled=cancelled, progress=progress))
        best: tuple[Score, Question] | None = None
        shared: int | None = None
        for question in self._forms(there) if there.sources else ():
            first = count(question, cancelled=cancelled, progress=progress, until=SIDES)
            if is_whole(first) and not first.answer.stopped:
                counts = count(question, cancelled=cancelled, progress=progress)
                return Answered(question, counts, self.bare(question, cancelled))
            score = (*score_of(first), (0,))
            if best is None or (score < best[0] and not first.answer.stopped):
                best = score, question
        building = self.building()
        counts = count(building, cancelled=cancelled, progress=progress)
        bare = self.bare(building, cancelled)
        if best is None or score_of(counts) < best[0]:
            best = score_of(counts), building
        if is_whole(counts) and bare is not None and counts.answer.goal(IN_USE).value == bare:
            return Answered(building, counts, bare)
        for question in self._forms(building)[1:]:
            first = count(question, cancelled=cancelled, progress=progress, until=RACK_UNITS)
            shared = sides_shared(first)
            if score_of(first) < best[0] and not first.answer.stopped:
                best = score_of(first), question
        question = best[1]
        if question is not building:
            counts = count(question, cancelled=cancelled, progress=progress)
            bare = bare if question.building else self.bare(question, cancelled)
        if not any(group.is_mirrored for group in question.groups):
            shared = sides_shared(counts)
        return Answered(question, counts, bare, shared)

    def bare(self, question: Question, cancelled: Callable[[], bool]) -> int | None:
        """Compute the minimum of rack units that drive as much, with every other goal dropped; None if not known."""
        free = msgspec.structs.replace(self.split(question), mirrored=False)
        answer = count(free, cancelled=cancelled, only={BOXES_DRIVEN, IN_USE}).answer
        return None if answer.stopped or not answer.goal(BOXES_DRIVEN).proved else answer.goal(IN_USE).minimum

    def _forms(self, question: Question) -> list[Question]:
        """List a question with both sides counted together, and with each by itself where that can differ."""
        if len(self.wanted) <= MOST_SPLIT and any(group.is_mirrored for group in question.groups):
            return [question, self.split(question)]
        return [question]

    def split(self, question: Question) -> Question:
        """Ask the same with each side of a zone as a group of its own."""
        show, index = self.rig.show, self.rig.show_index
        groups = groups_of(show, index, self.wanted, Grouping(self.wishes.free_drives, split=True, joined=self.joined))
        return msgspec.structs.replace(question, groups=groups)


MOST_SPLIT = 200
"""Boxes to plan, up to which the two sides of a zone are also counted each for itself, or on one output."""


Score = tuple[tuple[int, ...], ...]


class Answered(msgspec.Struct, frozen=True):
    """A question, its answer, and what is known besides."""

    question: Question
    counts: Counts
    bare: int | None = None
    """Rack units that no plan which drives as much can do without, whatever else it gives up; None if not known."""
    shared: int | None = None
    """Boxes whose sides must share an amplifier in any plan that drives as much as well; None if not known."""


def sides_shared(counts: Counts) -> int | None:
    """Count the boxes whose sides must share an amplifier; None where that is not proved."""
    reached = counts.answer.reached
    before = reached[: reached.index(counts.answer.goal(SIDES)) + 1]
    return counts.answer.goal(SIDES).value if all(stage.proved for stage in before) else None


def score_of(counts: Counts) -> Score:
    """Say how good an answer is, as far as rack units: the parts of each goal in turn."""
    reached = counts.answer.reached
    last = next((number for number, stage in enumerate(reached, 1) if stage.name == RACK_UNITS), len(reached))
    return tuple(stage.parts for stage in reached[:last])


def is_whole(counts: Counts) -> bool:
    """Tell whether every box is driven, with preset, power and cable that bears it, all sides alike and apart."""
    return not any(counts.answer.goal(name).value for name in (BOXES_DRIVEN, PRESETS, POWER, CURRENT, HANDS, SIDES))


def standing_alone(rig: Rig) -> frozenset[str]:
    """Name the amplifiers in no rack, where others are in racks."""
    amplifiers = [
        unit for unit in rig.show_index.units.values() if isinstance(rig.show_index.models[unit.model], Amplifier)
    ]
    if not any(unit.rack for unit in amplifiers):
        return frozenset()
    return frozenset(unit.id for unit in amplifiers if not unit.rack)


def served_by_runs(show: Show) -> dict[str, frozenset[str]]:
    """Find for each zone the amplifiers and racks that its runs come from."""
    zones = {box.id: box.zone for box in show.boxes}
    found: dict[str, set[str]] = {}
    for run in show.runs:
        for step in run.path:
            if step.box and run.start:
                found.setdefault(zones[step.box], set()).add(run.start.partition(".")[0])
    return {zone: frozenset(names) for zone, names in found.items()}


def linked_by_runs(show: Show) -> frozenset[frozenset[str]]:
    """List the pairs of zones that follow each other on a run."""
    zones = {box.id: box.zone for box in show.boxes}
    found = set()
    for run in show.runs:
        way = [zones[step.box] for step in run.path if step.box]
        found |= {frozenset(pair) for pair in pairwise(way) if pair[0] != pair[1]}
    return frozenset(found)


def names_amplifiers(show: Show) -> bool:
    """Tell whether somebody wrote down what amplifiers there are."""
    amplifiers = {model.id for model in show.amplifiers}
    racks = {model.id for model in show.built_racks}
    in_stock = any(item.model in amplifiers | racks for item in show.stock)
    return in_stock or any(unit.model in amplifiers for unit in show.rack_units) or any(r.as_built for r in show.racks)
