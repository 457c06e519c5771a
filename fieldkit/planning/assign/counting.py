"""The assignment as whole numbers: how many clusters of each size on amplifiers of each kind, filled in which pattern.

Boxes are not placed here. A cluster is so many boxes of one group on one run, which takes one place of an amplifier;
a pattern is all the places that an amplifier or rack offers at the same time. Where a zone has two sides, both take
the same clusters; amplifiers come in pairs, one a side, and what stands in the middle fills the gaps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

import msgspec

from fieldkit.planning.assign.fitting import Fit
from fieldkit.planning.assign.options import options_of
from fieldkit.planning.assign.patterns import Kind, Pattern
from fieldkit.planning.assign.problem import ClusterOption, HostKey, Question, Stay, host_keys, side_names
from fieldkit.planning.assign.sources import UNLIMITED, OutputSource
from fieldkit.planning.assign.whole_numbers import Programme

INFINITY = float("inf")
MOST_SLACK = 500
PROCESSOR_OUTPUT = "processor output"
"""What is short where presets have no place to run."""


class Build:
    """Puts the programme together."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.programme = Programme()
        self.options: list[ClusterOption] = []
        self.columns: list[int] = []
        self.pair_columns: list[tuple[int, Pattern, int]] = []
        self.single_columns: list[tuple[int, Pattern, int]] = []
        self.sided_columns: list[tuple[int, Pattern, int, int]] = []
        """Source, pattern, side and column of amplifiers that stand on a side without a twin on the other."""
        self.whole_columns: list[tuple[int, int]] = []
        """Source and column of amplifiers whose connectors are counted lot by lot: whether it is in use."""
        self.spares: tuple[dict[int, float], dict[int, float]] = ({}, {})
        """For each side, the columns of outputs that are left there."""
        self.lacking: list[int] = []
        self.slack_columns: list[tuple[str, int, int]] = []
        self.stays: list[tuple[Stay, int, bool]] = []
        """What stays, its column, and whether it keeps to its side."""
        self.standing: list[tuple[ClusterOption, int]] = []
        """What stays, as the clusters that it is to the goals."""
        self.fixed = list(self._fixed())
        """What stays for certain, as clusters."""
        self.moved: dict[int, float] = {}
        """Columns of what does not stay, with the plugs that it takes."""
        self.undriven = [self.programme.column(group.count, group.count) for group in question.groups]
        self.new_hosts = [(model, self.programme.column(count)) for model, count in question.new_processors]
        self.host_terms: dict[int, float] = {}
        self.too_few: dict[int, float] = {}
        """How many amplifiers are missing from the number that is asked for."""
        extended = self._staying()
        for index in range(len(question.groups)):
            self._group(index, extended)
        for index in range(len(question.sources)):
            self._source(index)
        if question.fewest_amplifiers:
            amplifiers = {c: float(n * question.sources[i].amplifiers) for c, n, i in self.amplifiers()}
            number = question.fewest_amplifiers
            self.too_few = {self.programme.column(number, number): 1.0}
            self.programme.row(float(number), INFINITY, amplifiers | self.too_few)
        self.far: dict[int, float] = dict(self._far_behind())
        """Columns of links between groups that nobody called near."""
        for index in range(len(question.sources)):
            self._links(index)
        self._parts()
        self._hosts()
        self._spares()

    def _fixed(self) -> Iterator[tuple[ClusterOption, int]]:
        """Describe what stays for certain beside groups that are like it, each with a column that is 1."""
        for own in self.question.standing:
            for index, group in enumerate(self.question.groups):
                if (group.zone.id, group.speaker.id) == (own.zone, own.speaker):
                    way = next((way for way in group.ways if way.drive == own.drive), group.ways[0])
                    fit = Fit(is_weak=False, is_short=False, under_preferred=0, needs_host=False, is_hosted=False)
                    kind = Kind(own.feeds, "", passes_on=False)
                    column = self.programme.column(1, 1)
                    self.programme.row(1.0, 1.0, {column: 1.0})
                    yield ClusterOption(index, way, -1, kind, 1, fit, own.hosting, apart=True), column
                    break

    def _staying(self) -> dict[int, dict[int, float]]:
        """Add columns for each run that may stay; return for each group the boxes on it, and those that fit behind."""
        programme, groups = self.programme, self.question.groups
        driven: dict[int, dict[int, float]] = defaultdict(dict)
        for stay in self.question.stays:
            sides = {groups[index].hand for index, _ in stay.boxes}
            columns = [programme.column(1) for _ in ((True, False) if sides in ({0}, {1}) else (False,))]
            moved = programme.column(1, 1)
            programme.row(1.0, 1.0, dict.fromkeys([*columns, moved], 1.0))
            self.moved[moved] = float(stay.plugs)
            for column, own in zip(columns, (len(columns) > 1, False), strict=False):
                self.stays.append((stay, column, own))
                self.standing += [(msgspec.structs.replace(o, apart=own), column) for o in stay.standing]
            for index, number in stay.boxes:
                driven[index] |= dict.fromkeys(columns, float(number))
            for index, number in stay.more:
                behind = programme.column(number)
                programme.row(-INFINITY, 0.0, {behind: 1.0} | dict.fromkeys(columns, -float(number)))
                driven[index][behind] = 1.0
        return driven

    def _stays_of(self, index: int, kind: Kind, side: int | None) -> dict[int, float]:
        """Return the columns of runs that stay on a source: those on their own side, or with None on any."""
        groups = self.question.groups
        return {
            column: 1.0
            for stay, column, own in self.stays
            if (stay.source, stay.kind) == (index, kind)
            and (not own if side is None else own and groups[stay.boxes[0][0]].hand == side)
        }

    def _group(self, index: int, staying: Mapping[int, dict[int, float]]) -> None:
        group, programme = self.question.groups[index], self.programme
        everything: dict[int, float] = {self.undriven[index]: 1.0} | staying.get(index, {})
        ways: list[dict[int, float]] = []
        for way in group.ways:
            own: dict[int, float] = {}
            for option in options_of(self.question, index, way):
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

    def _source(self, index: int) -> None:
        question, programme = self.question, self.programme
        source = question.sources[index]
        kinds = self._kinds(index)
        if not kinds:
            return
        most = sum(group.count * group.weight for group in question.groups)
        count = min(source.count + (MOST_SLACK if question.slack and source.is_new else 0), most)
        aparts = [question.groups[o.group] for o, _ in self.chosen() if o.apart and o.source == index]
        alone = any(group.hand is not None for group in aparts)
        alone = alone or any(own and stay.source == index for stay, _, own in self.stays)
        twins = count > 1 and any(group.is_mirrored for group in aparts)
        pairs = [(pattern, programme.column(count // 2)) for pattern in source.patterns] if twins else []
        sided = [(side, pattern, programme.column(count)) for side in (0, 1) if alone for pattern in source.patterns]
        singles = [(pattern, programme.column(count)) for pattern in source.patterns]
        self.pair_columns += [(index, pattern, column) for pattern, column in pairs]
        self.sided_columns += [(index, pattern, side, column) for side, pattern, column in sided]
        self.single_columns += [(index, pattern, column) for pattern, column in singles]
        for kind in kinds:
            everywhere: dict[int, float] = defaultdict(float)
            for side in (0, 1):
                demand = self._demand(index, kind, side)
                offer = {column: -float(pattern.counts.get(kind, 0)) for pattern, column in pairs}
                offer |= {c: -float(pattern.counts.get(kind, 0)) for own, pattern, c in sided if own == side}
                spare = self._spare(side, programme.column(1)) if offer and self._wants_spare(kind) else {}
                programme.row(-INFINITY, 0.0, demand | spare | offer)
                for column, factor in (demand | spare | offer).items():
                    everywhere[column] += factor
            for column, factor in self._demand(index, kind, None).items():
                everywhere[column] += factor
            for pattern, column in singles:
                everywhere[column] = -float(pattern.counts.get(kind, 0))
            if self._in_the_middle(source):
                for side in (0, 1) if self.question.two_sides else (0,):
                    everywhere |= self._spare(side, programme.column(1)) if self._wants_spare(kind) else {}
            programme.row(-INFINITY, 0.0, everywhere)
        used = {column: 2.0 for _, column in pairs} | {column: 1.0 for _, column in singles}
        used |= {column: 1.0 for _, _, column in sided}
        whole: dict[int | None, int] = {}
        if source.lots:
            whole = self._lots(index, {None: singles} | {s: [(p, c) for o, p, c in sided if o == s] for s in (0, 1)})
            used = dict.fromkeys(whole.values(), 1.0)
        idle = self._idle(source)
        for own in idle:
            used |= own
        if question.slack and source.is_new:
            extra = programme.column(MOST_SLACK)
            self.slack_columns.append((source.model, extra, max(1, source.units)))
            used[extra] = -1.0
        if source.count < UNLIMITED:
            programme.row(-INFINITY, float(source.count), used)
        names = side_names(question.groups)
        for side in (0, 1):
            # What stands on the other side, as its rack says, is not for this one.
            here = dict.fromkeys((column for _, column in pairs), 1.0) | idle[side]
            here |= {column: 1.0 for own, _, column in sided if own == side and not whole}
            here |= {whole[side]: 1.0} if side in whole else {}
            if source.members and here:
                there = sum(at not in names[1 - side] for _, at in source.members)
                programme.row(-INFINITY, float(there), here)

    def _lots(self, index: int, columns: Mapping[int | None, list[tuple[Pattern, int]]]) -> dict[int | None, int]:
        """Let each lot of connectors of one amplifier be used in one way; return whether it is in use, by its side."""
        source, programme = self.question.sources[index], self.programme
        whole: dict[int | None, int] = {}
        for side, own in columns.items():
            if not own:
                continue
            whole[side] = programme.column(1)
            self.whole_columns.append((index, whole[side]))
            for lot in set(source.lots):
                of_lot = [c for (_, c), number in zip(own, source.lots, strict=True) if number == lot]
                programme.row(-INFINITY, 0.0, dict.fromkeys(of_lot, 1.0) | {whole[side]: -1.0})
        return whole

    def amplifiers(self) -> list[tuple[int, int, int]]:
        """List column, how many amplifiers or racks one of it is, and its source."""
        found = [(column, number, index) for _, column, number, index in self.patterns() if not self._by_lot(index)]
        return found + [(column, 1, index) for index, column in self.whole_columns]

    def _by_lot(self, index: int) -> bool:
        return bool(self.question.sources[index].lots)

    def _far_behind(self) -> Iterator[tuple[int, float]]:
        """List the clusters that hang behind the end of a run which stays, and is not near."""
        for option, column in self.chosen():
            group = self.question.groups[option.group]
            if option.kind.behind and not self.question.near_tail(option.kind, group):
                yield column, float(group.weight)

    def _links(self, index: int) -> None:
        """Count what hangs behind a cluster that is not near: what neither a place of its own nor a near one takes."""
        behind = {
            place.kind
            for pattern in self.question.sources[index].patterns
            for _, use in pattern.uses
            for place in use.places[1:]
            if place.adaptor and not place.kind.behind
        }
        firsts: dict[int, dict[int, float]] = defaultdict(dict)
        for option, column in self.chosen():
            if option.source == index and option.kind.passes_on:
                firsts[option.group][column] = 1.0
        carried: dict[int, dict[int, float]] = defaultdict(dict)
        for kind in self._kinds(index):
            demand: dict[int, dict[int, float]] = defaultdict(dict)
            for option, column in self.chosen():
                if kind in behind and (option.source, option.kind) == (index, kind):
                    demand[option.group][column] = 1.0
            if not demand:
                continue
            groups = self.question.groups
            open_links = {column: 1.0 * groups[g].weight for g, own in demand.items() for column in own}
            for group, own in demand.items():
                taken: dict[int, float] = {}
                for first in firsts:
                    if self.question.near(groups[first], groups[group]):
                        column = self.programme.column(groups[group].count)
                        taken[column] = 1.0
                        carried[first][column] = 1.0
                        open_links[column] = -1.0 * groups[group].weight
                self.programme.row(-INFINITY, 0.0, taken | dict.fromkeys(own, -1.0))
            for pattern, column, number, source in self.patterns():
                if source == index and (places := _own_places(pattern, kind)):
                    open_links[column] = -float(number * places)
            most = sum(groups[group].count * groups[group].weight for group in demand)
            column = self.programme.column(most)
            self.programme.row(-INFINITY, 0.0, open_links | {column: -1.0})
            self.far[column] = 1.0
        for first, own in carried.items():
            self.programme.row(-INFINITY, 0.0, own | dict.fromkeys(firsts[first], -1.0))

    def _kinds(self, index: int) -> list[Kind]:
        """List the kinds of places of a source that some cluster may take."""
        staying = (stay.kind for stay, _, _ in self.stays if stay.source == index)
        return list(dict.fromkeys([*(o.kind for o, _ in self.chosen() if o.source == index), *staying]))

    def _demand(self, index: int, kind: Kind, side: int | None) -> dict[int, float]:
        """Return how much of a kind the clusters use: on amplifiers of one side, or with None on any."""
        demand = self._stays_of(index, kind, side)
        for option, column in self.chosen():
            if (option.source, option.kind) != (index, kind):
                continue
            group = self.question.groups[option.group]
            if side is None:
                if not option.apart:
                    demand[column] = float(group.weight)
            elif option.apart and any(own == side for own, _ in group.places()):
                demand[column] = 1.0
        return demand

    def _wants_spare(self, kind: Kind | None = None) -> bool:
        """Tell whether a place that is left counts as a free output: not one behind a run."""
        return not self.question.slack and not (kind is not None and kind.behind)

    def _spare(self, side: int, column: int) -> dict[int, float]:
        """Note a column that says whether a place is left on a side."""
        self.spares[side][column] = 1.0
        return {column: 1.0}

    def _in_the_middle(self, source: OutputSource) -> bool:
        """Tell whether an output of a source would serve either side."""
        left, right = side_names(self.question.groups)
        return not self.question.two_sides or not any(side in left | right for _, side in source.members)

    def _idle(self, source: OutputSource) -> tuple[dict[int, float], dict[int, float]]:
        """Add a column for each side for an amplifier there that drives nothing: its outputs are spare."""
        if source.is_new or not self._wants_spare():
            return {}, {}
        left = self._spare(0, self.programme.column(1))
        return left, self._spare(1, self.programme.column(1)) if self.question.two_sides else {}

    def _spares(self) -> None:
        """Count the sides on which no output is left; without sides, whether there is one at all."""
        if not self._wants_spare():
            return
        for side in (0, 1) if self.question.two_sides else (0,):
            column = self.programme.column(1, 1)
            self.programme.row(1.0, INFINITY, self.spares[side] | {column: 1.0})
            self.lacking.append(column)

    def chosen(self) -> list[tuple[ClusterOption, int]]:
        """List the kinds of clusters with their columns."""
        return list(zip(self.options, self.columns, strict=True))

    def everything(self) -> list[tuple[ClusterOption, int]]:
        """List the kinds of clusters with their columns, those that stay among them: what the goals look at."""
        return [*self.chosen(), *self.standing]

    def patterns(self) -> list[tuple[Pattern, int, int, int]]:
        """List pattern, column, how many amplifiers or racks one of it is, and its source."""
        pairs = [(pattern, column, 2, index) for index, pattern, column in self.pair_columns]
        sided = [(pattern, column, 1, index) for index, pattern, _, column in self.sided_columns]
        return pairs + sided + [(pattern, column, 1, index) for index, pattern, column in self.single_columns]

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
            terms |= {column: float(stay.parts[part]) for stay, column, _ in self.stays if part in stay.parts}
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
        shared: dict[HostKey, dict[int, float]] = defaultdict(dict)
        for name in sorted({name for stay in self.question.stays for _, name in stay.hosts}):
            column = self.programme.column(1)
            for stay, staying, _ in self.stays:
                for key, held_by in stay.hosts:
                    if name == held_by:
                        self.programme.row(-INFINITY, 0.0, {staying: 1.0, column: -1.0})
                        shared[key][column] = 1.0
            total[column] = 1.0
        held, most = self.question.held(), float(sum(group.count for group in self.question.groups))
        for key in sorted(users):
            if key in held:
                continue
            column = self.programme.column(1)
            if key[1] and key[1] not in self.question.host_signals:
                signals[key[1]][column] = 1.0
            self.programme.row(-INFINITY, 0.0, users[key] | dict.fromkeys((column, *shared[key]), -most))
            total[column] = 1.0
        self.host_terms = dict(total)
        inputs: dict[int, float] = {}
        for own in signals.values():
            column = self.programme.column(1)
            self.programme.row(-INFINITY, 0.0, own | {column: -float(len(own))})
            inputs[column] = 1.0
        for terms, of_model, of_rack in ((total, "outputs", 1), (inputs, "inputs", 0)):
            terms |= {column: -float(getattr(model, of_model)) for model, column in self.new_hosts}
            for column, number, index in self.amplifiers():
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


def _own_places(pattern: Pattern, kind: Kind) -> int:
    """Count the places of a kind that lie behind no other cluster."""
    return sum(
        place.kind == kind and not (number and place.adaptor)
        for _, use in pattern.uses
        for number, place in enumerate(use.places)
    )
