"""What is wanted of a plan, in turn: each goal is brought to its best and kept, before the next one begins.

``AIMS`` is the one list of them. What stands earlier is never given up for what stands later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping

import msgspec

from fieldkit.planning.assign.counting import INFINITY, Build
from fieldkit.planning.assign.problem import ClusterOption, Question
from fieldkit.planning.assign.solver import Terms
from fieldkit.planning.assign.sources import OutputSource

BOXES_DRIVEN = "boxes driven"
PRESETS = "places for presets"
POWER = "power"
NEAR = "links between near zones"
ALIKE = "siblings alike"
CURRENT = "cables within their current"
HANDS = "left and right alike"
SIDES = "sides apart"
MOVES = "moves"
RACK_UNITS = "rack units"
IN_USE = "rack units in use"
MODELS = "models mixed"
LOSS = "loss"
PREFERRED = "preferred load"
SPARE = "sides without a spare output"


class Aim(msgspec.Struct, frozen=True):
    """One goal: its name, what is counted to be as small as can be, and why it stands where it stands."""

    name: str
    counts: str
    why: str
    turns: Callable[[Build], list[Terms]]
    """What is summed; several where one part comes before the other."""


def _summed(parts: Iterable[tuple[int, float]]) -> Terms:
    """Add up the factors of each column."""
    terms: dict[int, float] = defaultdict(float)
    for column, factor in parts:
        terms[column] += factor
    return terms


def _boxes(build: Build, which: Callable[[ClusterOption], float]) -> Terms:
    groups = build.question.groups
    return _summed((c, which(o) * o.boxes * groups[o.group].weight) for o, c in build.everything() if which(o))


def _clusters(build: Build, amount: Callable[[ClusterOption], int]) -> Terms:
    groups = build.question.groups
    return _summed((c, float(amount(o) * groups[o.group].weight)) for o, c in build.everything())


def _by_priority(build: Build, parts: Iterable[tuple[int, int, float]]) -> list[Terms]:
    """Part a sum by the priority of its groups: group, column and factor of each term."""
    turns: dict[tuple[int, bool], list[tuple[int, float]]] = defaultdict(list)
    for group, column, factor in parts:
        turns[build.question.groups[group].priority.order].append((column, factor))
    return [_summed(turns[order]) for order in sorted(turns)]


def _silent(build: Build) -> list[Terms]:
    groups = build.question.groups
    return _by_priority(build, ((n, c, float(groups[n].weight)) for n, c in enumerate(build.undriven)))


def _sides(build: Build) -> list[Terms]:
    groups = build.question.groups
    if not build.question.mirrored:
        return [{}]
    return _boxes_by_priority(build, lambda o: not o.apart and groups[o.group].is_sided)


def _unhosted(build: Build) -> list[Terms]:
    return _boxes_by_priority(build, lambda o: o.hosting == "nowhere" and _has_presets(o))


def _weak(build: Build) -> list[Terms]:
    return _boxes_by_priority(build, lambda o: o.fit.is_weak)


def _boxes_by_priority(build: Build, which: Callable[[ClusterOption], bool]) -> list[Terms]:
    groups = build.question.groups
    chosen = ((o, c) for o, c in build.everything() if which(o))
    return _by_priority(build, ((o.group, c, float(o.boxes * groups[o.group].weight)) for o, c in chosen))


def _has_presets(option: ClusterOption) -> bool:
    return any(load.choice.preset is not None for _, loads in option.way.loads for load in loads)


def _carried_in(of_each: Callable[[OutputSource], int]) -> Callable[[Build], list[Terms]]:
    """Sum over what the stock brings; processors of their own count with it."""

    def turns(build: Build) -> list[Terms]:
        sources = build.question.sources
        terms = {
            column: float(number * of_each(sources[index]))
            for column, number, index in build.amplifiers()
            if sources[index].is_new
        }
        return [terms | {c: float(model.units if of_each is _height else 1) for model, c in build.new_hosts}]

    return turns


def _height(source: OutputSource) -> int:
    return source.units


def _amplifiers(source: OutputSource) -> int:
    return source.amplifiers


def _in_use(of_each: Callable[[OutputSource], int]) -> Callable[[Build], list[Terms]]:
    def turns(build: Build) -> list[Terms]:
        sources = build.question.sources
        terms = {column: float(number * of_each(sources[index])) for column, number, index in build.amplifiers()}
        return [terms | {c: float(model.units) for model, c in build.new_hosts if of_each is _height}]

    return turns


def _under_preferred(build: Build) -> list[Terms]:
    return [_clusters(build, lambda o: o.fit.under_preferred)]


def _drives(build: Build) -> list[Terms]:
    """Count the ways in which boxes of one model in one zone are driven: drive, mode, and gain if nothing trims it."""

    def way(option: ClusterOption) -> Hashable:
        trimmed = option.hosting != "nowhere"
        gains = ((mode, "" if trimmed else _gain(build.question, model)) for _, mode, model in option.kind.feeds)
        return option.way.drive, tuple(gains)

    return [_mixed(build, way)]


def _gain(question: Question, model: str) -> Hashable:
    gain = question.amplifiers[model].gain
    return round(gain.value, 1) if gain is not None else model


def _models(build: Build) -> list[Terms]:
    """Count the models of amplifier that serve boxes of one model in one zone."""
    return [_mixed(build, lambda o: _models_of(o.kind.feeds))]


def _mixed(build: Build, kind: Callable[[ClusterOption], Hashable]) -> Terms:
    """Count the kinds of drive that serve boxes of one model in one zone, where there is more than one to choose from.

    Each group has a row of its own, in boxes: then half of its boxes on a kind are at least half of a kind, and the
    solver has little to search.
    """
    groups = build.question.groups
    users: dict[tuple[str, str], dict[Hashable, dict[int, dict[int, float]]]] = defaultdict(
        lambda: defaultdict(lambda: defaultdict(lambda: defaultdict(float)))
    )
    for option, column in build.everything():
        group = groups[option.group]
        users[group.zone.id, group.speaker.id][kind(option)][option.group][column] += float(option.boxes)
    for option, column in build.fixed:
        group = groups[option.group]
        users[group.zone.id, group.speaker.id][kind(option)][-1][column] = 1.0
    terms = {}
    for of_zone in users.values():
        if len(of_zone) < 2:
            continue
        for by_group in of_zone.values():
            column = build.programme.column(1)
            for index, own in by_group.items():
                most = groups[index].count if index >= 0 else len(own)
                build.programme.row(-INFINITY, 0.0, own | {column: -float(most)})
            terms[column] = 1.0
    return terms


class _Hand(msgspec.Struct):
    """What one model of amplifier has of one side of a zone."""

    boxes: dict[int, float] = {}
    """Columns of clusters, with the boxes of each."""
    away: dict[int, float] = {}
    """Those of them that are not in a rack of their own side."""
    standing: bool = False
    """It has some boxes for certain."""
    standing_away: bool = False
    """It has some for certain that are not fed from a rack of their own side."""


def _unlike_hands(build: Build) -> list[Terms]:
    """Count, by priority, the models of amplifier that serve one side of a zone and not the other.

    Where both sides are counted as one group they are alike by that. What a rack on a side of the stage feeds on its
    own side is not counted: nobody leads that across for the other rack's amplifiers.
    """
    question, programme = build.question, build.programme
    first = {(g.zone.id, g.speaker.id): n for n, g in enumerate(question.groups) if g.hand is not None}
    parts: list[tuple[int, int, float]] = []
    for key, of_models in _hands(build, first).items():
        if not all(any(pair[hand].boxes or pair[hand].standing for pair in of_models.values()) for hand in (0, 1)):
            continue
        most = float(sum(g.count for g in question.groups if (g.zone.id, g.speaker.id) == key))
        for pair in of_models.values():
            differs = programme.column(1, 1)
            parts.append((first[key], differs, 1.0))
            for one, other in (pair, pair[::-1]):
                there = 1.0 if other.standing else 0.0
                here = 1.0 if one.standing_away else 0.0
                serves = {} if one.standing_away or not one.away else {programme.column(1): 1.0}
                for column in serves:
                    programme.row(-INFINITY, 0.0, one.away | {column: -most})
                also = {} if other.standing or not other.boxes else {programme.column(1): 1.0}
                for column in also:
                    programme.row(0.0, INFINITY, other.boxes | {column: -1.0})
                programme.row(here - there, INFINITY, {differs: 1.0} | also | dict.fromkeys(serves, -1.0))
    return _by_priority(build, parts)


def _hands(
    build: Build, first: Mapping[tuple[str, str], int]
) -> dict[tuple[str, str], dict[Hashable, tuple[_Hand, _Hand]]]:
    """Gather by zone and box model what each model of amplifier may have of its sides, and has for certain."""
    question = build.question
    found: dict[tuple[str, str], dict[Hashable, tuple[_Hand, _Hand]]] = defaultdict(
        lambda: defaultdict(lambda: (_Hand(), _Hand()))
    )
    for option, column in build.everything():
        group = question.groups[option.group]
        if group.hand is not None:
            own = found[group.zone.id, group.speaker.id][_models_of(option.kind.feeds)][group.hand]
            racks = {side for _, side in question.sources[option.source].members}
            at_home = option.apart and racks == {group.sides[0]}
            for columns in (own.boxes, own.away)[: 1 if at_home else 2]:
                columns[column] = columns.get(column, 0.0) + float(option.boxes)
    for there in question.standing:
        if (index := first.get((there.zone, there.speaker))) is not None:
            group = question.groups[index]
            hand = (group.hand or 0) if there.side in group.sides else 1 - (group.hand or 0)
            own = found[there.zone, there.speaker][_models_of(there.feeds)][hand]
            own.standing = True
            own.standing_away = own.standing_away or not there.at_home
    return found


def _models_of(feeds: Iterable[tuple[str, str, str]]) -> frozenset[str]:
    return frozenset(model for _, _, model in feeds)


def _unlike_sides(build: Build) -> list[Terms]:
    """Count what one side of a zone has otherwise than the other: model, place, mode and number of boxes."""
    groups = build.question.groups
    sides = {(g.zone.id, g.speaker.id, g.hand): g.count for g in groups}
    found: dict[Hashable, dict[int, float]] = defaultdict(dict)
    most: dict[Hashable, int] = {}
    for option, column in build.everything():
        group = groups[option.group]
        if group.hand is None or sides.get((group.zone.id, group.speaker.id, 1 - group.hand)) != group.count:
            continue
        source = build.question.sources[option.source].model
        key: Hashable = (group.zone.id, group.speaker.id, option.way.drive, source, option.kind.feeds, option.boxes)
        found[key][column] = found[key].get(column, 0.0) + (1.0 if group.hand else -1.0)
        most[key] = group.count // option.boxes
    terms = {}
    for key, own in found.items():
        column = build.programme.column(most[key])
        build.programme.row(-INFINITY, 0.0, own | {column: -1.0})
        build.programme.row(-INFINITY, 0.0, {c: -factor for c, factor in own.items()} | {column: -1.0})
        terms[column] = 1.0
    return [terms]


def _channels(option: ClusterOption) -> int:
    return sum(1 if mode == "single" else 2 for _, mode, _ in option.kind.feeds)


def _adaptors(build: Build) -> list[Terms]:
    return [{c: float(n * sum(p.parts.values())) for p, c, n, _ in build.patterns()}]


_PREFERRED = Aim(
    PREFERRED, "outputs under the preferred load", "amplifiers run cooler, and one box more can come", _under_preferred
)

AIMS: tuple[Aim, ...] = (
    Aim(BOXES_DRIVEN, "silent boxes, the first priority before the next", "the show is heard, mains first", _silent),
    Aim(
        PRESETS,
        "boxes whose presets have no place, by priority",
        "without filters and a limiter drivers burn",
        _unhosted,
    ),
    Aim(POWER, "boxes 3 dB or more short of power, by priority", "it is loud enough", _weak),
    Aim(
        CURRENT,
        "boxes behind a cable or plug that carries more than it is rated for",
        "contacts and insulation burn",
        lambda b: [_boxes(b, lambda o: o.is_hot)],
    ),
    Aim(ALIKE, "ways of driving boxes alike in a zone", "they play alike, and no trim is forgotten", _drives),
    Aim(
        HANDS,
        "amplifier models that serve one side of a zone and not the other",
        "left and right sound alike; sides share an amplifier before they hang on unlike ones",
        _unlike_hands,
    ),
    Aim(SIDES, "boxes whose sides may share an amplifier", "one amplifier does not silence both sides", _sides),
    Aim(MOVES, "plugs of what stands there that move", "what is plugged and tested stays", lambda b: [b.moved]),
    Aim(RACK_UNITS, "rack units carried in", "somebody hires, carries and powers them", _carried_in(_height)),
    Aim(
        "new amplifiers", "amplifiers and processors carried in", "fewer to patch and to fail", _carried_in(_amplifiers)
    ),
    Aim(NEAR, "links between zones that nobody called near", "a lead must reach", lambda b: [b.far]),
    Aim(MODELS, "amplifier models that serve boxes alike in a zone", "an array hangs on one kind", _models),
    Aim(
        LOSS,
        "tenths of a dB over the loss limit, a box",
        "free outputs are worth more than hot cable",
        lambda b: [_boxes(b, lambda o: float(o.over_loss))],
    ),
    _PREFERRED,
    Aim("racks", "racks as built in use", "fewer to place and to power", _in_use(lambda source: int(source.is_rack))),
    Aim(
        "same outputs on both sides",
        "clusters without a twin on the other side",
        "what is learned on one side holds on the other",
        _unlike_sides,
    ),
    Aim(
        SPARE,
        "sides without a free output",
        "when one fails there is somewhere to go",
        lambda b: [dict.fromkeys(b.lacking, 1.0)],
    ),
    Aim(IN_USE, "rack units that feed something", "the rest may stay off", _in_use(_height)),
    Aim("amplifiers in use", "amplifiers that feed something", "the rest may stay off", _in_use(_amplifiers)),
    Aim(
        "drives as planned",
        "boxes driven in another way than planned",
        "switches stand right already",
        lambda b: [_boxes(b, lambda o: float(o.way.drive != b.question.groups[o.group].ways[0].drive))],
    ),
    Aim("full power", "boxes 1 dB or more short of power", "headroom", lambda b: [_boxes(b, lambda o: o.fit.is_short)]),
    Aim("adaptors and panels", "adaptors and panels", "each one is a joint to fail", _adaptors),
    Aim("channels", "channels in use", "the rest are free for what comes", lambda b: [_clusters(b, _channels)]),
    Aim("processor outputs", "processor outputs in use", "the rest are free for what comes", lambda b: [b.host_terms]),
    Aim(
        "even loads",
        "squares of the boxes on each output",
        "three and three, not four and two",
        lambda b: [_clusters(b, lambda o: o.boxes * o.boxes)],
    ),
)
"""The goals, in turn. Common practice where no source is given."""

SHORT = Aim(
    "what is short",
    "rack units to hire",
    "the least to ask for",
    lambda b: [{column: float(price) for _, column, price in b.slack_columns}],
)


MORE = Aim(
    "amplifiers asked for", "amplifiers fewer than asked for", "to see what more of them bring", lambda b: [b.too_few]
)
