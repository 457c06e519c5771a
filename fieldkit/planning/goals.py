"""What is wanted of an assignment, in turn: each goal is brought to its best before the next begins."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import TYPE_CHECKING

from fieldkit.planning.groups import Group, Way
from fieldkit.planning.question import Option
from fieldkit.planning.sources import Source
from fieldkit.planning.whole_numbers import Goal

if TYPE_CHECKING:
    from fieldkit.planning.counting import Build

INFINITY = float("inf")


def goals_of(build: Build) -> list[Goal]:
    """List what is wanted, in turn."""
    groups, chosen = build.question.groups, build.chosen()

    def boxes(which: Callable[[Option], bool]) -> dict[int, float]:
        return {c: float(o.boxes * groups[o.group].weight) for o, c in chosen if which(o)}

    def clusters(amount: Callable[[Option], int]) -> dict[int, float]:
        return {c: float(amount(o) * groups[o.group].weight) for o, c in chosen}

    goals = [
        Goal("boxes driven", {c: float(g.weight) for g, c in zip(groups, build.undriven, strict=True)}),
        Goal("by priority", {c: float(g.weight * _urgency(g)) for g, c in zip(groups, build.undriven, strict=True)}),
    ]
    if build.question.slack:
        return [*goals, Goal("what is short", {column: float(price) for _, column, price in build.slack_columns})]
    goals += [
        Goal("power", boxes(lambda o: o.fit.is_weak)),
        Goal("places for presets", boxes(lambda o: o.hosting == "nowhere" and _has_presets(o.way))),
    ]
    if build.question.mirrored:
        goals.append(Goal("sides apart", boxes(lambda o: not o.apart and groups[o.group].is_mirrored)))
    under = Goal("preferred load", clusters(lambda o: o.fit.under_preferred))
    racks = Goal("racks", _used(build, lambda source: int(source.is_rack)))
    units = Goal("rack units", _used(build, lambda source: source.units) | _new_host_units(build))
    # What stands in built racks is there anyway; what is still to be carried in is counted first.
    units_first = build.question.building and not build.question.preferred_first
    goals += [units, under, racks] if units_first else [under, racks]
    goals.append(Goal("same outputs on both sides", boxes(lambda o: o.other is not None)))
    amplifiers = Goal(
        "amplifiers", _used(build, lambda source: source.amplifiers) | {c: 1.0 for _, c in build.new_hosts}
    )
    spare = Goal("sides without a spare output", dict.fromkeys(build.lacking, 1.0))
    # Nothing is carried in for the sake of a spare.
    goals += [amplifiers, spare] if units_first else [spare, units, amplifiers]
    return [
        *goals,
        Goal("drives as planned", boxes(lambda o: o.way.drive != groups[o.group].ways[0].drive)),
        Goal("full power", boxes(lambda o: o.fit.is_short)),
        Goal("adaptors and panels", {c: float(n * sum(p.parts.values())) for p, c, n, _ in build.patterns()}),
        Goal("channels", clusters(_channels)),
        Goal("processor outputs", build.host_terms),
        _models_mixed(build),
        Goal("even loads", clusters(lambda o: o.boxes * o.boxes)),
    ]


def _used(build: Build, of_each: Callable[[Source], int]) -> dict[int, float]:
    sources = build.question.sources
    free = build.question.building  # what is there already costs nothing more
    return {
        column: float(number * of_each(sources[index]))
        for _, column, number, index in build.patterns()
        if sources[index].is_new or not free
    }


def _new_host_units(build: Build) -> dict[int, float]:
    return {column: float(model.units) for model, column in build.new_hosts}


def _models_mixed(build: Build) -> Goal:
    """Count the models that serve each zone.

    Each group has a row of its own, in boxes: then half of its boxes on a model are at least half of a model, and the
    solver has little to search.
    """
    groups = build.question.groups
    users: dict[tuple[str, str], dict[int, dict[int, float]]] = defaultdict(lambda: defaultdict(dict))
    for option, column in build.chosen():
        zone = groups[option.group].zone.id
        for model in {build.question.sources[index].model for index in option.sources()}:
            users[zone, model][option.group][column] = float(option.boxes)
    if len({model for _, model in users}) < 2:
        return Goal("models mixed", {})
    terms = {}
    for by_group in users.values():
        column = build.programme.column(1)
        for index, own in by_group.items():
            build.programme.row(-INFINITY, 0.0, own | {column: -float(groups[index].count)})
        terms[column] = 1.0
    return Goal("models mixed", terms)


def _has_presets(way: Way) -> bool:
    return any(load.choice.preset is not None for _, loads in way.loads for load in loads)


def _channels(option: Option) -> int:
    return sum(1 if mode == "single" else 2 for _, mode, _ in option.kind.feeds)


def _urgency(group: Group) -> int:
    return max(1, 100 - (group.zone.priority or 50))
