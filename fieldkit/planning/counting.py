"""The assignment as whole numbers: how many clusters of each size on amplifiers of each kind, filled in which pattern.

Boxes are not placed here. A cluster is so many boxes of one group on one run, which takes one place of an amplifier;
a pattern is all the places that an amplifier or rack offers at the same time. Where a zone has two sides, both take
the same clusters; amplifiers come in pairs, one a side, and what stands in the middle fills the gaps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from fieldkit.planning.fitting import fit
from fieldkit.planning.goals import goals_of
from fieldkit.planning.groups import Way
from fieldkit.planning.leads import can_reach, end_adaptor
from fieldkit.planning.outlets import Kind
from fieldkit.planning.patterns import Pattern
from fieldkit.planning.question import Counts, Hosting, HostKey, Option, Question, host_keys
from fieldkit.planning.sources import UNLIMITED, Source
from fieldkit.planning.whole_numbers import Programme

INFINITY = float("inf")
MOST_SLACK = 500
PROCESSOR_OUTPUT = "processor output"
"""What is short where presets have no place to run."""


class Build:
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
        adaptor = end_adaptor(kind, group, question.fittings)
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
                Option(index, way, source, kind, boxes, fits, hosting, apart, adaptor)
                for hosting in hostings
                for apart in aparts
            ]
        return found

    def _source(self, index: int) -> None:
        question, programme = self.question, self.programme
        source = question.sources[index]
        own = [(option, column) for option, column in self.chosen() if option.source == index]
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

    def chosen(self) -> list[tuple[Option, int]]:
        """List the kinds of clusters with their columns."""
        return list(zip(self.options, self.columns, strict=True))

    def patterns(self) -> list[tuple[Pattern, int, int, int]]:
        """List pattern, column, how many amplifiers or racks one of it is, and its source."""
        pairs = [(pattern, column, 2, index) for index, pattern, column in self.pair_columns]
        return pairs + [(pattern, column, 1, index) for index, pattern, column in self.single_columns]

    def _parts(self) -> None:
        for part, free in self.question.parts.items():
            terms = {
                column: float(number * pattern.parts[part])
                for pattern, column, number, _ in self.patterns()
                if part in pattern.parts
            }
            terms |= {
                column: float(self.question.groups[option.group].weight)
                for option, column in self.chosen()
                if option.adaptor == part
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
        for option, column in self.chosen():
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
            for _, column, number, index in self.patterns():
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


def count(
    question: Question,
    *,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[str], None] = lambda _: None,
    until: str | None = None,
) -> Counts:
    """Solve the whole numbers; with ``until``, only the goals up to that one. Somebody may cancel at any time."""
    build = Build(question)
    goals = goals_of(build)
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
