"""The assignment as whole numbers: how many clusters of each size on amplifiers of each kind, filled in which pattern.

Boxes are not placed here. A cluster is so many boxes of one group on one run, which takes one place of an amplifier;
a pattern is all the places that an amplifier or rack offers at the same time. Where a zone has two sides, both take
the same clusters; amplifiers come in pairs, one a side, and what stands in the middle fills the gaps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.fitting import Fit, Limits, fit
from fieldkit.planning.groups import Group, Way
from fieldkit.planning.leads import can_reach
from fieldkit.planning.outlets import Fittings, Kind
from fieldkit.planning.patterns import Pattern
from fieldkit.planning.sources import UNLIMITED, Source
from fieldkit.planning.whole_numbers import Answer, Goal, Programme

Hosting = Literal["inside", "outside", "nowhere"]
HostKey = tuple[str, str, str, str]
"""Zone, signal, loudspeaker and preset: what one processor output can hold."""

INFINITY = float("inf")
MOST_SLACK = 500
PROCESSOR_OUTPUT = "processor output"
"""What is short where presets have no place to run."""


class Option(msgspec.Struct, frozen=True, gc=False):
    """One kind of cluster: of which group, driven how, from what, how many boxes, its presets where."""

    group: int
    way: Way
    source: int
    kind: Kind
    boxes: int
    fit: Fit
    hosting: Hosting
    apart: bool
    """Each side has it on an amplifier of its own; else both sides may share one."""


class Question(msgspec.Struct, frozen=True):
    """All that the whole numbers depend on."""

    groups: tuple[Group, ...]
    sources: tuple[Source, ...]
    amplifiers: Mapping[str, Amplifier]
    limits: Mapping[str, Limits]
    """By zone."""
    fittings: Fittings
    parts: Mapping[str, int]
    """Adaptors and panels that are limited: how many are free."""
    host_outputs: int
    """Free outputs of the processors that are there."""
    host_inputs: int
    """Free inputs of the processors that are there."""
    host_signals: frozenset[str]
    """Signals that they get already."""
    new_processors: tuple[tuple[Processor, int], ...]
    """Processors that the stock could add, and how many."""
    pins: Mapping[str, frozenset[str]] = {}
    """Zone -> models, amplifiers or racks that may serve it."""
    mirrored: bool = True
    building: bool = True
    """The stock is asked for amplifiers: rack units count first."""
    slack: bool = False
    """Let what is short be had at a price, to find out what is short."""


class Counts(msgspec.Struct, frozen=True):
    """The answer: clusters, patterns, and how well each goal was reached."""

    clusters: tuple[tuple[Option, int], ...]
    """So many of this kind; for a group on two sides, so many on each."""
    pairs: tuple[tuple[int, Pattern, int], ...]
    """Source, pattern, and how many pairs of amplifiers or racks, one a side."""
    singles: tuple[tuple[int, Pattern, int], ...]
    undriven: tuple[int, ...]
    """Boxes of each group that nothing drives, on one side."""
    processors: tuple[tuple[str, int], ...]
    """New processors, by model."""
    slack: tuple[tuple[str, int], ...]
    """What would have to be there in addition, by model; ``processor output`` for those."""
    answer: Answer


class _Build:
    """Puts the programme together."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.programme = Programme()
        self.options: list[Option] = []
        self.columns: list[int] = []
        self.pair_columns: list[tuple[int, Pattern, int]] = []
        self.single_columns: list[tuple[int, Pattern, int]] = []
        self.slack_columns: list[tuple[str, int, int]] = []
        self.undriven = [self.programme.column(group.count, group.count) for group in question.groups]
        self.new_hosts = [(model, self.programme.column(count)) for model, count in question.new_processors]
        self.host_terms: dict[int, float] = {}
        for index in range(len(question.groups)):
            self._group(index)
        for index in range(len(question.sources)):
            self._source(index)
        self._parts()
        self._hosts()

    def _group(self, index: int) -> None:
        group, programme = self.question.groups[index], self.programme
        everything: dict[int, float] = {self.undriven[index]: 1.0}
        ways: list[dict[int, float]] = []
        for way in group.ways:
            own: dict[int, float] = {}
            for option in self._options(index, way):
                column = programme.column(group.count // option.boxes)
                self.options.append(option)
                self.columns.append(column)
                own[column] = float(option.boxes)
            everything |= own
            ways.append(own)
        programme.row(group.count, group.count, everything)
        if len(ways) > 1:
            chosen = [programme.column(1) for _ in ways]
            for column, own in zip(chosen, ways, strict=True):
                programme.row(-INFINITY, 0.0, own | {column: -float(group.count)})
            programme.row(0.0, 1.0, dict.fromkeys(chosen, 1.0))

    def _options(self, index: int, way: Way) -> list[Option]:
        question = self.question
        group = question.groups[index]
        allowed = question.pins.get(group.zone.id)
        found = []
        for number, source in enumerate(question.sources):
            if allowed is not None and not allowed & source.called():
                continue
            for kind in dict.fromkeys(kind for pattern in source.patterns for kind in pattern.counts):
                if kind.pairs != way.pairs or not can_reach(kind, group, question.fittings):
                    continue
                found += self._sizes(index, way, number, kind)
        return found

    def _sizes(self, index: int, way: Way, source: int, kind: Kind) -> list[Option]:
        question = self.question
        group = question.groups[index]
        outputs = [
            (loads, question.amplifiers[model], mode)
            for (_, loads), (_, mode, model) in zip(way.loads, kind.feeds, strict=True)
        ]
        found = []
        for boxes in range(1, group.count + 1 if group.links else 2):
            fits = fit(outputs, boxes, question.limits[group.zone.id])
            if fits is None:
                break
            hostings: list[Hosting] = ["inside"] if fits.is_hosted else ["outside"]
            if not fits.is_hosted and not fits.needs_host:
                hostings.append("nowhere")
            aparts = [True, False] if group.is_mirrored and question.mirrored else [False]
            found += [
                Option(index, way, source, kind, boxes, fits, hosting, apart)
                for hosting in hostings
                for apart in aparts
            ]
        return found

    def _source(self, index: int) -> None:
        question, programme = self.question, self.programme
        source = question.sources[index]
        own = [(option, column) for option, column in self._chosen() if option.source == index]
        if not own:
            return
        most = sum(group.count * group.weight for group in question.groups)
        count = min(source.count + (MOST_SLACK if question.slack and source.is_new else 0), most)
        any_pair = count >= 2 and any(option.apart for option, _ in own)
        pairs = [(pattern, programme.column(count // 2)) for pattern in source.patterns] if any_pair else []
        singles = [(pattern, programme.column(count)) for pattern in source.patterns]
        self.pair_columns += [(index, pattern, column) for pattern, column in pairs]
        self.single_columns += [(index, pattern, column) for pattern, column in singles]
        for kind in dict.fromkeys(option.kind for option, _ in own):
            apart = {column: 1.0 for option, column in own if option.kind == kind and option.apart}
            supply = {column: -float(pattern.counts.get(kind, 0)) for pattern, column in pairs}
            programme.row(-INFINITY, 0.0, apart | supply)
            weights = {
                column: float(question.groups[option.group].weight) for option, column in own if option.kind == kind
            }
            supply = {column: 2.0 * factor for column, factor in supply.items()}
            supply |= {column: -float(pattern.counts.get(kind, 0)) for pattern, column in singles}
            programme.row(-INFINITY, 0.0, weights | supply)
        used = {column: 2.0 for _, column in pairs} | {column: 1.0 for _, column in singles}
        if question.slack and source.is_new:
            extra = programme.column(MOST_SLACK)
            self.slack_columns.append((source.model, extra, max(1, source.units)))
            used[extra] = -1.0
        if source.count < UNLIMITED:
            programme.row(-INFINITY, float(source.count), used)
        self._sides_of_members(source, [column for _, column in pairs])

    def _sides_of_members(self, source: Source, pairs: list[int]) -> None:
        """Keep the pairs within what stands on each side, where racks say which side is theirs."""
        left, right = self.side_names()
        for names in (left, right):
            there = sum(side not in (right if names is left else left) for _, side in source.members)
            if source.members and pairs:
                self.programme.row(-INFINITY, float(there), dict.fromkeys(pairs, 1.0))

    def side_names(self) -> tuple[frozenset[str], frozenset[str]]:
        """Give the names of the first and of the second side of all zones on two sides."""
        sides = [group.sides for group in self.question.groups if group.is_mirrored]
        return frozenset(names[0] for names in sides), frozenset(names[1] for names in sides)

    def _chosen(self) -> list[tuple[Option, int]]:
        return list(zip(self.options, self.columns, strict=True))

    def _patterns(self) -> list[tuple[Pattern, int, int, int]]:
        """List pattern, column, how many amplifiers or racks one of it is, and its source."""
        pairs = [(pattern, column, 2, index) for index, pattern, column in self.pair_columns]
        return pairs + [(pattern, column, 1, index) for index, pattern, column in self.single_columns]

    def _parts(self) -> None:
        for part, free in self.question.parts.items():
            terms = {
                column: float(number * pattern.parts[part])
                for pattern, column, number, _ in self._patterns()
                if part in pattern.parts
            }
            if not terms:
                continue
            if self.question.slack:
                extra = self.programme.column(MOST_SLACK)
                self.slack_columns.append((part, extra, 1))
                terms[extra] = -1.0
            self.programme.row(-INFINITY, float(free), terms)

    def _hosts(self) -> None:
        users: dict[HostKey, dict[int, float]] = defaultdict(dict)
        for option, column in self._chosen():
            if option.hosting == "outside":
                for key in host_keys(self.question.groups[option.group], option.way):
                    users[key][column] = 1.0
        total: dict[int, float] = {}
        signals: dict[str, dict[int, float]] = defaultdict(dict)
        for key in sorted(users):
            column = self.programme.column(1)
            if key[1] and key[1] not in self.question.host_signals:
                signals[key[1]][column] = 1.0
            most = sum(group.count for group in self.question.groups)
            self.programme.row(-INFINITY, 0.0, users[key] | {column: -float(most)})
            total[column] = 1.0
        self.host_terms = dict(total)
        inputs: dict[int, float] = {}
        for own in signals.values():
            column = self.programme.column(1)
            self.programme.row(-INFINITY, 0.0, own | {column: -float(len(own))})
            inputs[column] = 1.0
        for terms, of_model, of_rack in ((total, "outputs", 1), (inputs, "inputs", 0)):
            terms |= {column: -float(getattr(model, of_model)) for model, column in self.new_hosts}
            for _, column, number, index in self._patterns():
                brought = number * self.question.sources[index].hosts[1 - of_rack]
                if users and brought:
                    terms[column] = -float(brought)
        if self.question.slack and users:
            extra = self.programme.column(MOST_SLACK)
            self.slack_columns.append((PROCESSOR_OUTPUT, extra, 1))
            total[extra] = -1.0
        self.programme.row(-INFINITY, float(self.question.host_outputs), total)
        if not self.question.slack:
            self.programme.row(-INFINITY, float(self.question.host_inputs), inputs)

    def goals(self) -> list[Goal]:
        """List what is wanted, in turn."""
        groups, chosen = self.question.groups, self._chosen()

        def boxes(which: Callable[[Option], bool]) -> dict[int, float]:
            return {c: float(o.boxes * groups[o.group].weight) for o, c in chosen if which(o)}

        def clusters(amount: Callable[[Option], int]) -> dict[int, float]:
            return {c: float(amount(o) * groups[o.group].weight) for o, c in chosen}

        goals = [
            Goal("boxes driven", {c: float(g.weight) for g, c in zip(groups, self.undriven, strict=True)}),
            Goal("by priority", {c: float(g.weight * _urgency(g)) for g, c in zip(groups, self.undriven, strict=True)}),
        ]
        if self.question.slack:
            return [*goals, Goal("what is short", {column: float(price) for _, column, price in self.slack_columns})]
        goals += [
            Goal("power", boxes(lambda o: o.fit.is_weak)),
            Goal("places for presets", boxes(lambda o: o.hosting == "nowhere" and _has_presets(o.way))),
        ]
        if self.question.mirrored:
            goals.append(Goal("sides apart", boxes(lambda o: not o.apart and groups[o.group].is_mirrored)))
        under = Goal("preferred load", clusters(lambda o: o.fit.under_preferred))
        racks = Goal("racks", self._used(lambda source: int(source.is_rack)))
        units = Goal("rack units", self._used(lambda source: source.units) | self._new_host_units())
        goals += [units, under, racks] if self.question.building else [under, racks, units]
        return [
            *goals,
            Goal("amplifiers", self._used(lambda source: source.amplifiers) | {c: 1.0 for _, c in self.new_hosts}),
            Goal("drives as planned", boxes(lambda o: o.way.drive != groups[o.group].ways[0].drive)),
            Goal("full power", boxes(lambda o: o.fit.is_short)),
            Goal("adaptors and panels", {c: float(n * sum(p.parts.values())) for p, c, n, _ in self._patterns()}),
            Goal("channels", clusters(_channels)),
            Goal("processor outputs", self.host_terms),
            self._models_mixed(),
            Goal("even loads", clusters(lambda o: o.boxes * o.boxes)),
        ]

    def _used(self, of_each: Callable[[Source], int]) -> dict[int, float]:
        sources = self.question.sources
        free = self.question.building  # what is there already costs nothing more
        return {
            column: float(number * of_each(sources[index]))
            for _, column, number, index in self._patterns()
            if sources[index].is_new or not free
        }

    def _new_host_units(self) -> dict[int, float]:
        return {column: float(model.units) for model, column in self.new_hosts}

    def _models_mixed(self) -> Goal:
        """Count the models that serve each zone."""
        users: dict[tuple[str, str], dict[int, float]] = defaultdict(dict)
        for option, column in self._chosen():
            zone = self.question.groups[option.group].zone.id
            users[zone, self.question.sources[option.source].model][column] = 1.0
        if len({model for _, model in users}) < 2:
            return Goal("models mixed", {})
        terms = {}
        for (zone, _), own in users.items():
            column = self.programme.column(1)
            most = sum(group.count for group in self.question.groups if group.zone.id == zone)
            self.programme.row(-INFINITY, 0.0, own | {column: -float(most)})
            terms[column] = 1.0
        return Goal("models mixed", terms)


def count(
    question: Question,
    *,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[str], None] = lambda _: None,
    until: str | None = None,
) -> Counts:
    """Solve the whole numbers; with ``until``, only the goals up to that one. Somebody may cancel at any time."""
    build = _Build(question)
    goals = build.goals()
    if until is not None:
        names = [goal.name for goal in goals]
        goals = goals[: names.index(until) + 1]
    answer = build.programme.minimise(goals, cancelled=cancelled, progress=progress)
    values = answer.values
    return Counts(
        clusters=tuple((o, values[c]) for o, c in zip(build.options, build.columns, strict=True) if values[c]),
        pairs=tuple((index, pattern, values[c]) for index, pattern, c in build.pair_columns if values[c]),
        singles=tuple((index, pattern, values[c]) for index, pattern, c in build.single_columns if values[c]),
        undriven=tuple(values[c] for c in build.undriven),
        processors=tuple((model.id, values[c]) for model, c in build.new_hosts if values[c]),
        slack=tuple((name, values[c]) for name, c, _ in build.slack_columns if values[c]),
        answer=answer,
    )


def host_keys(group: Group, way: Way) -> tuple[HostKey, ...]:
    """List what processor outputs would have to hold for a group, all its sides together."""
    keys: dict[HostKey, None] = {}
    for side in range(len(group.sides)):
        for _, loads in way.loads:
            preset = loads[0].choice.id or "" if loads else ""
            keys[group.zone.id, group.signal(side), group.speaker.id, preset] = None
    return tuple(keys)


def _has_presets(way: Way) -> bool:
    return any(load.choice.preset is not None for _, loads in way.loads for load in loads)


def _channels(option: Option) -> int:
    return sum(1 if mode == "single" else 2 for _, mode, _ in option.kind.feeds)


def _urgency(group: Group) -> int:
    return max(1, 100 - (group.zone.priority or 50))


def needs_of(groups: Sequence[Group]) -> tuple[tuple[str, ...], ...]:
    """List the pin pairs that clusters ask of a place, each once."""
    return tuple(dict.fromkeys(way.pairs for group in groups for way in group.ways if way.pairs))
