"""Put the question for a show: first with what stands there, then with what the stock could bring as well."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.assign.counting import PROCESSOR_OUTPUT, count
from fieldkit.planning.assign.fitting import Limits
from fieldkit.planning.assign.inputs import host_outputs_in_use
from fieldkit.planning.assign.judging import Short, Wishes
from fieldkit.planning.assign.laying import Cluster, serving
from fieldkit.planning.assign.patterns import Fittings
from fieldkit.planning.assign.problem import Counts, Group, Question, groups_of, needs_of
from fieldkit.planning.assign.sources import (
    free_stock,
    processors_there,
    sources_in_stock,
    sources_there,
    taken_by,
)
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import Show
from fieldkit.units import format_value

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
    together = " and ".join(_named(name, number) for name, number in priced.slack)
    found = [
        Short(name, number, f"{_named(name, number)}; hire {'it' if len(priced.slack) == 1 else together}, and {then}")
        for name, number in priced.slack
    ]
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
        if not cancelled() and not any(count(other, cancelled=cancelled, until="boxes driven").undriven):
            yield Short(zone, 0, f"or drive zone '{zone}' passive: then every box is driven with what there is")


def _no_way(group: Group, boxes: int) -> Short:
    drive = group.ways[0].drive
    pairs = " and ".join(group.ways[0].pairs)
    return Short(
        group.speaker.id,
        boxes,
        f"{boxes} × {group.speaker.id} of zone '{group.zone.id}', {drive}: nothing here drives it; it needs an "
        f"amplifier that bears its load and hosts its presets, pin pair {pairs} on one plug, and a cable that fits",
    )


def prices(
    inquiry: AssignProblem,
    question: Question,
    counts: Counts,
    clusters: Sequence[Cluster],
    cancelled: Callable[[], bool],
) -> tuple[str, ...]:
    """Give the notes about sides, loads and spares, with the price in rack units where racks are being built."""
    return (
        *_sides(inquiry, question, counts, clusters, cancelled),
        *_spares(question, counts),
        *_preferred(inquiry, question, counts, cancelled),
    )


def _sides(
    inquiry: AssignProblem,
    question: Question,
    counts: Counts,
    clusters: Sequence[Cluster],
    cancelled: Callable[[], bool],
) -> Iterator[str]:
    """Name the zones whose sides share an amplifier, those on unlike ones, and the price of keeping them apart."""
    groups = question.groups
    if not inquiry.wishes.mirrored or not any(group.is_sided for group in groups):
        return
    unlike = {groups[option.group].zone.id for option, _ in counts.clusters if option.other}
    for name, (left, right) in serving(clusters, question).items():
        if left & right:
            shared = ", ".join(sorted(left & right))
            yield f"both sides of zone '{name}' share an amplifier ({shared}): no two have room for a side each"
        elif name in unlike:
            yield f"the sides of zone '{name}' hang on unlike amplifiers, since no two alike have room for a side each"
    if question.building and any(option.apart for option, _ in counts.clusters):
        more = -_more_units(msgspec.structs.replace(question, mirrored=False), counts, cancelled)
        if more > 0:
            yield f"keeping both sides apart, so that no one amplifier silences a zone, costs {_units(more)}"


def _spares(question: Question, counts: Counts) -> Iterator[str]:
    """Say so where no output is left to go to when one fails."""
    lacking = counts.answer.goal("sides without a spare output").value
    if lacking and counts.clusters:
        sided = question.two_sides
        where = "" if not sided else " on either side" if lacking == 2 else " on one of the sides"
        yield f"no output is left{where} to go to when one fails"


def _preferred(
    inquiry: AssignProblem, question: Question, counts: Counts, cancelled: Callable[[], bool]
) -> Iterator[str]:
    """Say how many outputs are under the preferred load, and what it would take to have fewer."""
    low = counts.answer.goal("preferred load").value
    if not low or not question.building or question.preferred_first:
        return
    preferred = format_value(inquiry.rig.preferred_ohm, "ohm")
    outputs = f"{low} output{' is' if low == 1 else 's are'} under the preferred {preferred}"
    more = _more_units(msgspec.structs.replace(question, preferred_first=True), counts, cancelled)
    if more > 0:
        yield f"{outputs}, which saves {_units(more)}"


def _more_units(question: Question, counts: Counts, cancelled: Callable[[], bool]) -> int:
    """Give how many rack units more another question takes; 0 where that was not found out."""
    if counts.answer.stopped:
        return 0
    other = count(question, cancelled=cancelled, until="rack units").answer
    return 0 if other.stopped else other.goal("rack units").value - counts.answer.goal("rack units").value


def _units(number: int) -> str:
    return "one rack unit" if number == 1 else f"{number} rack units"


MOST_UNLIKE = 12
"""Kinds of amplifiers that are paired with each other; with more of them there are twins enough."""


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

    def with_show(self, show: Show) -> AssignProblem:
        """Ask the same of another show."""
        return msgspec.structs.replace(self, rig=evaluate(show))

    def there(self) -> Question:
        """Ask for what stands there alone."""
        show, wishes = self.rig.show, self.wishes
        groups = groups_of(show, self.rig.show_index, self.wanted, free_drives=wishes.free_drives)
        taken = taken_by(self.rig)
        pins = {zone.id: frozenset(zone.served_by) for zone in show.zones if zone.served_by} | dict(wishes.pins)
        # Who names a rack means what stands in it.
        inside = [(unit.id, unit.rack) for unit in self.rig.show_index.units.values() if unit.rack]
        pins = {zone: names | {unit for unit, rack in inside if rack in names} for zone, names in pins.items()}
        alone = standing_alone(self.rig)
        pinned = frozenset(name for names in pins.values() for name in names) | alone
        loss_db = self.rig.loss_limits_db()
        return Question(
            groups=groups,
            sources=sources_there(self.rig, taken, needs_of(groups), self.fittings, pinned),
            amplifiers={model.id: model for model in show.amplifiers},
            limits={zone.id: Limits(self.rig.preferred_ohm, loss_db[zone.id]) for zone in show.zones},
            fittings=self.fittings,
            parts=self.parts,
            host_outputs=self._free_host_outputs(),
            host_inputs=sum(model.inputs - len(unit.inputs) for unit, model in processors_there(self.rig)),
            host_signals=frozenset(text for unit, _ in processors_there(self.rig) for text in unit.inputs.values()),
            new_processors=(),
            pins=pins,
            standing_alone=alone,
            served=self.served,
            mirrored=wishes.mirrored,
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

    def building(self, *, hire: bool = False) -> Question:
        """Ask for what the stock could bring as well; with ``hire`` also for models of which none is left."""
        there, show = self.there(), self.rig.show
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

    def answer(self, cancelled: Callable[[], bool], progress: Callable[[str], None]) -> tuple[Question, Counts]:
        """Give the best answer; where there are no twins to keep equal sides apart, unlike amplifiers may do."""
        question, counts = self._answer(cancelled, progress)
        if counts.answer.stopped or not _sharing(counts) or len(question.sources) > MOST_UNLIKE:
            return question, counts
        unlike = msgspec.structs.replace(question, unlike=True)
        other = count(unlike, cancelled=cancelled, progress=progress)
        better = _sharing(other) < _sharing(counts) and not other.answer.stopped
        return (unlike, other) if better else (question, counts)

    def with_uneven_apart(
        self, question: Question, counts: Counts, cancelled: Callable[[], bool], progress: Callable[[str], None]
    ) -> tuple[Question, Counts]:
        """Keep sides in unequal numbers apart as well, where that leaves nothing silent, weak or without a place."""
        wider = [] if question.building else [self.building()]
        for asked in (question, *wider):
            apart = msgspec.structs.replace(asked, uneven_apart=True)
            first = count(apart, cancelled=cancelled, progress=progress, until="sides apart")
            if not first.answer.stopped and _lacks(first) <= _lacks(counts) and _sharing(first) <= _sharing(counts):
                other = count(apart, cancelled=cancelled, progress=progress)
                return (question, counts) if other.answer.stopped else (apart, other)
        return question, counts

    def _answer(self, cancelled: Callable[[], bool], progress: Callable[[str], None]) -> tuple[Question, Counts]:
        """Give the better of both answers: what stands there where it is enough, since it costs nothing."""
        there = self.there()
        if not there.groups:
            return there, count(there, cancelled=cancelled, progress=progress)
        first = count(there, cancelled=cancelled, progress=progress, until="power") if there.sources else None
        if first is not None and _worth(first) == (0, 0):
            return there, count(there, cancelled=cancelled, progress=progress)
        building = self.building()
        wider = count(building, cancelled=cancelled, progress=progress)
        if first is not None and _worth(first) <= _worth(wider):
            return there, count(there, cancelled=cancelled, progress=progress)
        return building, wider


def _lacks(counts: Counts) -> tuple[int, ...]:
    """Say what comes before the sides, in turn: boxes left silent or weak, presets without a place."""
    reached = counts.answer.reached
    names = ("boxes driven", "by priority", "power", "places for presets")
    return tuple(stage.value for stage in reached if stage.name in names)


def _sharing(counts: Counts) -> int:
    """Count the boxes whose sides may share an amplifier."""
    return next((stage.value for stage in counts.answer.reached if stage.name == "sides apart"), 0)


def _worth(counts: Counts) -> tuple[int, int]:
    return counts.answer.goal("boxes driven").value, counts.answer.goal("power").value


def standing_alone(rig: Rig) -> frozenset[str]:
    """Name the amplifiers in no rack, where others are in racks."""
    amplifiers = [
        unit for unit in rig.show_index.units.values() if isinstance(rig.show_index.models[unit.model], Amplifier)
    ]
    if not any(unit.rack for unit in amplifiers):
        return frozenset()
    return frozenset(unit.id for unit in amplifiers if not unit.rack)


def served_by_runs(show: Show) -> dict[str, frozenset[str]]:
    """Give for each zone the amplifiers and racks that its runs come from."""
    zones = {box.id: box.zone for box in show.boxes}
    found: dict[str, set[str]] = {}
    for run in show.runs:
        for step in run.path:
            if step.box and run.start:
                found.setdefault(zones[step.box], set()).add(run.start.partition(".")[0])
    return {zone: frozenset(names) for zone, names in found.items()}


def names_amplifiers(show: Show) -> bool:
    """Tell whether somebody wrote down what amplifiers there are."""
    amplifiers = {model.id for model in show.amplifiers}
    racks = {model.id for model in show.built_racks}
    in_stock = any(item.model in amplifiers | racks for item in show.stock)
    return in_stock or any(unit.model in amplifiers for unit in show.rack_units) or any(r.as_built for r in show.racks)
