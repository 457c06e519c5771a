"""The search of fail-over: which plug goes where, so that most is heard, by priority, at little risk, in few moves.

It is a whole-number programme, as the assignment is. Each plug *stands* in one way: at home, pulled, or in one of its
places. What it takes there (the connector, channels, how pairs of channels are set, processor outputs and inputs) it
*claims*, and each of those is one thing at a time. Plugs that play are looked at only once one wants their place:
until then they go *somewhere* for the price of one move, which no plan can be under. What the programme cannot say
(limiters that outputs share, and whatever the checks find) is looked at in each answer; an answer that does not hold
is ruled out, and the programme solved again. So what comes out is the best that holds, and that is proved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from itertools import pairwise

import msgspec

from fieldkit.planning.assign.inputs import Patched, drawn_for, sources_for
from fieldkit.planning.assign.whole_numbers import Answer, Goal, Programme
from fieldkit.planning.failover.placements import ALIKE_DB, Decision, PlacedFeed, Placement, free_inputs
from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.rig.connect.hosts import link_chain
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.solve.evaluation import Rig

TOLERANCE = 0.98
"""Three boxes of 8 ohm are 2.67 ohm, and are meant where a data sheet says 2.7."""

ELSEWHERE = 2
"""Reach from which on a plug may use what is free, and take nothing from others."""

MOST_REFUSED = 60
"""So many answers may turn out not to hold; then the best that does is given, and not called proved."""

MOST_PLAIN = 15
"""Places and plugs from here on are alike to the last of the goals, so that its sums stay small."""

SINGLY = 8
"""From so many on, a placement that does not hold by itself is left out, which is then no proof any more."""

GOALS = {
    "risk": "an output that nothing limits can cost a driver: it is taken only where a box would be silent",
    "moves": "one person makes them, and each can go wrong: plugs, patches, spares that are brought",
    "plugs": "a patch at the rack is sooner done than a loudspeaker plug carried over",
    "brought": "what stands there is quicker than what comes from the truck",
    "reach": "a lead that may not reach is no move",
    "worse": "new warnings, and outputs that are weaker",
    "set otherwise": "a pair of channels that is bridged or not any more is one more thing to get wrong",
    "adaptors": "fewer things between",
    "patches": "fewer cables in the hand",
    "plainness": "of plans alike in all this, the one in which what comes first gets its plainest place",
}
"""What comes after silence by priority, in this order, and why; each is kept before the next begins."""

Cost = tuple[int, ...]
"""Parts of boxes that stay silent by priority, then the goals."""

Resource = tuple[Hashable, ...]
StandKey = tuple[str, str, int]
Cut = frozenset[StandKey]
INFINITY = float("inf")


class Repatch(msgspec.Struct, frozen=True):
    """What the search found."""

    decisions: tuple[Decision, ...]
    """For each plug that is touched, in the order of priority."""
    sources: Mapping[tuple[str, str], str]
    """Unit and input -> what is patched into it, where that changes."""
    routes: Mapping[tuple[str, str], str]
    """Processor and output -> the inputs that lead there, where that changes."""
    cost: Cost
    proved: bool
    fitting: Mapping[str, tuple[Placement, ...]] = {}
    """Connector of a plug -> the places that it could have, were they free."""

    @property
    def moves_at(self) -> int:
        """Where in the cost the moves stand."""
        return len(self.cost) - len(GOALS) + list(GOALS).index("moves")


class PatchRound(msgspec.Struct, frozen=True):
    """What the search may use."""

    rig: Rig
    """With the spares of the stock standing ready."""
    plugs: Sequence[Plug]
    placements: Callable[[Plug], list[Placement]]
    free: Mapping[str, tuple[str, ...]]
    """Free outputs of each processor."""
    spares: frozenset[str]
    """Units that would have to be brought in."""
    blocked: frozenset[str]
    """Connectors that hold something that feeds no box."""
    accept: Callable[[Repatch], bool]
    """Looks a whole plan over, the checks included."""
    cancelled: Callable[[], bool]
    """Asked at every step; once it is true, the search ends with CancelledError."""


class Stand(msgspec.Struct, frozen=True, eq=False):
    """One way in which a plug may end."""

    plug: Plug
    column: int
    how: str
    """``home``, ``pulled``, ``somewhere`` or ``placed``."""
    place: Placement | None = None

    @property
    def key(self) -> StandKey:
        """Tell it from others of its plug, alike from one round to the next: the places stay what they are."""
        return self.plug.start, self.how, id(self.place)


class Claim(msgspec.Struct, frozen=True):
    """What a stand takes: of a resource one label at a time, and of its siemens no more than all together may."""

    resource: Resource
    label: Hashable
    siemens: float = 0.0
    most: float = 0.0


def repatch(stage: PatchRound) -> Repatch:
    """Find the best way to plug a show some of whose plugs are silent."""
    known: dict[str, list[Placement]] = {}
    refused: list[Cut] = []
    exact = True

    def expand(plug: Plug) -> None:
        _hear(stage)
        places = [] if plug.unclear else stage.placements(plug)
        known[plug.start] = [item for item in places if item.socket.id not in stage.blocked]

    for plug in stage.plugs:
        if plug.is_failed:
            expand(plug)
    while True:
        build = _Build(stage, known, refused)
        answer = build.programme.minimise(build.goals(), cancelled=stage.cancelled)
        _hear(stage)
        chosen = build.chosen(answer)
        unknown = [stand.plug for stand in chosen if stand.how == "somewhere"]
        for plug in unknown:
            expand(plug)
        if unknown:
            continue
        decisions = _decisions(chosen)
        patched = sources_for(stage.rig, stage.plugs, decisions, stage.free)
        fitting = {name: tuple(places) for name, places in known.items()}
        empty = Patched({}, {}, 0)
        plan = _plan(decisions, patched or empty, answer, build.cost(answer), fitting)
        if patched is not None and stage.accept(plan):
            return plan if exact else msgspec.structs.replace(plan, proved=False)
        if len(refused) >= MOST_REFUSED or all(stand.how == "home" for stand in chosen):
            return _nothing(stage, build, fitting)
        if patched is None:
            refused.append(_clash(stage, chosen))
        else:
            refused.append(frozenset(stand.key for stand in chosen))
        if len(refused) >= SINGLY:
            exact = False
            refused += [
                frozenset({stand.key})
                for stand in chosen
                if stand.how == "placed" and not _holds_alone(stage, stand, answer)
            ]


def _hear(stage: PatchRound) -> None:
    if stage.cancelled():
        raise CancelledError


def _plan(
    decisions: tuple[Decision, ...],
    patched: Patched,
    answer: Answer,
    cost: Cost,
    fitting: Mapping[str, tuple[Placement, ...]],
) -> Repatch:
    proved = all(item.proved for item in answer.reached)
    return Repatch(decisions, patched.sources, patched.routes, cost, proved, fitting)


def _nothing(stage: PatchRound, build: _Build, fitting: Mapping[str, tuple[Placement, ...]]) -> Repatch:
    """Leave everything as it is: what is silent stays silent."""
    stays = tuple(Decision(plug, None, stays=True) for plug in _in_turn(stage.plugs) if plug.is_failed)
    silent = [sum(plug.failed_weight[rank] for plug in stage.plugs) for rank in range(build.ranks)]
    return Repatch(stays, {}, {}, (*silent, *(0 for _ in GOALS)), proved=False, fitting=fitting)


def _decisions(chosen: Sequence[Stand]) -> tuple[Decision, ...]:
    found = []
    for stand in sorted(chosen, key=lambda item: (item.plug.rank, item.plug.order)):
        if stand.how == "home" and not stand.plug.is_failed:
            continue
        found.append(Decision(stand.plug, stand.place, stays=stand.how == "home"))
    return tuple(found)


def _clash(stage: PatchRound, chosen: Sequence[Stand]) -> Cut:
    """Find few stands that cannot be together, since a processor output would have to be two things at a time."""
    kept = list(chosen)
    for stand in chosen:
        fewer = [item for item in kept if item is not stand]
        if sources_for(stage.rig, [item.plug for item in fewer], _decisions(fewer), stage.free) is None:
            kept = fewer
    return frozenset(stand.key for stand in kept)


def _holds_alone(stage: PatchRound, stand: Stand, answer: Answer) -> bool:
    """Tell whether one placement holds with all else left as it is."""
    others = [Decision(plug, None, stays=True) for plug in stage.plugs if plug.is_failed and plug is not stand.plug]
    decisions = (Decision(stand.plug, stand.place), *others)
    patched = sources_for(stage.rig, stage.plugs, decisions, stage.free)
    return patched is not None and stage.accept(_plan(decisions, patched, answer, (), {}))


def _in_turn(plugs: Sequence[Plug]) -> list[Plug]:
    return sorted(plugs, key=lambda plug: (plug.rank, plug.order))


class _Build:
    """The programme of one round."""

    def __init__(
        self,
        stage: PatchRound,
        known: Mapping[str, list[Placement]],
        refused: Sequence[Cut],
    ) -> None:
        self.stage, self.known = stage, known
        self.programme = Programme()
        self.ranks = len(stage.plugs[0].weight) if stage.plugs else 1
        self.costs: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        self.stands: dict[str, list[Stand]] = {}
        self.claims: dict[int, list[Claim]] = {}
        self._shared: dict[Hashable, int] = {}
        turn = reversed(_in_turn(stage.plugs))
        self._turns = {plug.start: min(number, MOST_PLAIN) for number, plug in enumerate(turn, start=1)}
        for plug in stage.plugs:
            self._plug(plug)
        self._sockets_and_labels()
        for plug in stage.plugs:
            if not plug.is_failed and not plug.unclear:
                self._gives_way(plug)
        self._limits()
        self._hosts()
        for cut in refused:
            columns = {stand.column: 1.0 for stand in self._all() if stand.key in cut}
            if len(columns) == len(cut):
                self.programme.row(-INFINITY, len(cut) - 1.0, columns)

    def _all(self) -> Iterator[Stand]:
        return (stand for own in self.stands.values() for stand in own)

    # ---- columns -------------------------------------------------------------------------------------------------

    def _plug(self, plug: Plug) -> None:
        home = Stand(plug, self.programme.column(1, 1), "home")
        own = [home]
        self._silent(home.column, plug.failed_weight)
        if not plug.unclear:
            pulled = Stand(plug, self.programme.column(1), "pulled")
            self._silent(pulled.column, plug.weight)
            self.costs["moves"][pulled.column] += 1
            own.append(pulled)
            if plug.start in self.known:
                for number, place in enumerate(self.known[plug.start]):
                    own.append(Stand(plug, self.programme.column(1), "placed", place))
                    self.costs["plainness"][own[-1].column] = min(number, MOST_PLAIN) * self._turns[plug.start]
            else:
                own.append(Stand(plug, self.programme.column(1), "somewhere"))
                self.costs["moves"][own[-1].column] += 1
        self.stands[plug.start] = own
        self.programme.row(1.0, 1.0, {stand.column: 1.0 for stand in own})
        for stand in own:
            self.claims[stand.column] = list(_claims(stand))
            if stand.place is not None:
                self._price(stand.column, stand.place)

    def _silent(self, column: int, weight: Sequence[int]) -> None:
        for rank, parts in enumerate(weight):
            if parts:
                self.costs[f"silent {rank}"][column] += parts

    def _price(self, column: int, place: Placement) -> None:
        stage = self.stage
        for name, value in (
            ("moves", int(place.moved)),
            ("risk", place.risk),
            ("plugs", int(place.moved)),
            ("reach", place.reach),
            ("worse", place.worse),
            ("set otherwise", len(place.socket.changes)),
            ("adaptors", int(place.adaptor is not None)),
        ):
            if value:
                self.costs[name][column] += value
        units = {unit for feed in place.feeds for unit in (feed.output.unit.id, feed.pool) if unit in stage.spares}
        for name in units:
            brought = self._joint(("brought", name), column)
            self.costs["moves"][brought] = self.costs["brought"][brought] = 1.0
        for feed in place.feeds:
            inputs = stage.rig.show_index.units[feed.output.unit.id].inputs
            chain = link_chain(inputs, str(feed.output.channels[0]))
            if feed.pool or inputs.get(chain[-1], "") != feed.source:
                patch = self._joint(("patch", feed.output.unit.id, chain[-1], place.moved), column)
                self.costs["patches"][patch] = 1.0
                if not place.moved:
                    self.costs["moves"][patch] = 1.0
            if feed.pool:
                self._joint(("drawn", feed.pool, drawn_for(feed)), column)
                present = stage.rig.show_index.units[feed.pool].inputs.values()
                for signal in feed.need.signals:
                    if signal not in present:
                        entry = self._joint(("entered", feed.pool, signal), column)
                        self.costs["moves"][entry] = 1.0

    def _joint(self, key: Hashable, column: int) -> int:
        """Return the column of a cost that several stands share; this stand forces it to 1."""
        if key not in self._shared:
            self._shared[key] = self.programme.column(1)
        self.programme.row(-INFINITY, 0.0, {column: 1.0, self._shared[key]: -1.0})
        return self._shared[key]

    # ---- rows ----------------------------------------------------------------------------------------------------

    def _sockets_and_labels(self) -> None:
        """Let every resource be one thing at a time."""
        users: dict[Resource, dict[Hashable, list[tuple[Stand, Claim]]]] = defaultdict(lambda: defaultdict(list))
        for stand in self._all():
            for claim in self.claims[stand.column]:
                users[claim.resource][claim.label].append((stand, claim))
        for resource, found in users.items():
            labels: Mapping[Hashable, list[tuple[Stand, Claim]]] = found
            homes = {label for label, its in found.items() if any(stand.how == "home" for stand, _ in its)}
            if len(homes) > 1:  # the show has two things there as it is: nothing new may join them
                labels = self._as_it_is(found)
            if resource[0] == "socket":
                self.programme.row(-INFINITY, 1.0, {stand.column: 1.0 for its in labels.values() for stand, _ in its})
                continue
            if len(labels) > 1:
                flags = {}
                for label, its in labels.items():
                    at_home = any(stand.how == "home" for stand, _ in its)
                    flags[label] = self.programme.column(1, int(at_home))
                    for stand, _ in its:
                        self.programme.row(-INFINITY, 0.0, {stand.column: 1.0, flags[label]: -1.0})
                self.programme.row(-INFINITY, 1.0, dict.fromkeys(flags.values(), 1.0))
            for its in labels.values():
                self._loads(its)

    @staticmethod
    def _as_it_is(
        labels: Mapping[Hashable, list[tuple[Stand, Claim]]],
    ) -> dict[Hashable, list[tuple[Stand, Claim]]]:
        result: dict[Hashable, list[tuple[Stand, Claim]]] = defaultdict(list)
        for label, its in labels.items():
            for stand, claim in its:
                if stand.how == "home":
                    result["as it is"].append((stand, msgspec.structs.replace(claim, siemens=0.0)))
                else:
                    result[label].append((stand, claim))
        return result

    def _loads(self, its: Sequence[tuple[Stand, Claim]]) -> None:
        """Let what comes to an output keep its load over the minimum; what hangs there by itself is as it is."""
        siemens: dict[int, float] = defaultdict(float)
        for stand, claim in its:
            siemens[stand.column] += claim.siemens
        most = min(claim.most for _, claim in its)
        if not most or sum(siemens.values()) <= most:
            return
        standing = sum(siemens[stand.column] for stand, _ in its if stand.how == "home")
        if standing <= most:
            self.programme.row(-INFINITY, most, siemens)
            return
        total = sum(siemens.values())
        for stand, _ in its:
            if stand.how != "home":
                row = dict(siemens)
                row[stand.column] += total
                self.programme.row(-INFINITY, most + total, row)

    def _gives_way(self, plug: Plug) -> None:
        """Let a plug that plays give way only to one that takes its place.

        What comes before it is never touched. What is as important may be asked over to another place, and not be
        silenced; what comes after it may. Nothing is pulled for a lead of which nobody knows whether it reaches.
        """
        home, *others = self.stands[plug.start]
        mine = {claim.resource: claim for claim in self.claims[home.column]}
        takers = [
            stand
            for stand in self._all()
            if stand.place is not None
            and stand.plug is not plug
            and stand.plug.rank <= plug.rank
            and stand.place.reach < ELSEWHERE
            and any(self._disturbs(claim, mine.get(claim.resource)) for claim in self.claims[stand.column])
        ]
        self.programme.row(
            -INFINITY, 0.0, {stand.column: 1.0 for stand in others} | {stand.column: -1.0 for stand in takers}
        )
        pulled = others[0]
        first = {stand.column: -1.0 for stand in takers if stand.plug.rank < plug.rank}
        self.programme.row(-INFINITY, 0.0, {pulled.column: 1.0} | first)

    @staticmethod
    def _disturbs(claim: Claim, mine: Claim | None) -> bool:
        return mine is not None and (claim.label != mine.label or bool(mine.siemens))

    def _limits(self) -> None:
        """Draw no more from a processor than it has, and bring one untouched spare of a model before the next."""
        stage = self.stage
        drawn: dict[str, dict[int, float]] = defaultdict(dict)
        entered: dict[str, dict[int, float]] = defaultdict(dict)
        brought: dict[str, list[int]] = defaultdict(list)
        for key, column in self._shared.items():
            match key:
                case ("drawn", str(pool), _):
                    drawn[pool][column] = 1.0
                case ("entered", str(pool), _):
                    entered[pool][column] = 1.0
                case ("brought", str(unit)):
                    brought[stage.rig.show_index.units[unit].model].append(column)
        for pool, columns in drawn.items():
            self.programme.row(-INFINITY, float(len(stage.free[pool])), columns)
        for pool, columns in entered.items():
            free = free_inputs(stage.rig.show_index.units[pool], stage.rig.show_index.models)
            self.programme.row(-INFINITY, float(len(free)), columns)
        for alike in brought.values():
            for first, second in pairwise(alike):
                self.programme.row(-INFINITY, 0.0, {second: 1.0, first: -1.0})

    def _hosts(self) -> None:
        """Let a processor output hold one preset, and a limiter that is right for every gain behind it.

        Beside what stays, an output with less gain is safe, only quieter; one with more gain is not. Where nothing
        stays, the limiter is set for what comes, which must then be of one gain.
        """
        staying: dict[str, list[tuple[Stand, PairNeed]]] = defaultdict(list)
        coming: dict[str, list[tuple[Stand, PlacedFeed]]] = defaultdict(list)
        for stand in self._all():
            if stand.how == "home":
                for need in stand.plug.needs:
                    if need.host is not None and need.host.kind == "processor" and not need.failed:
                        staying[need.host.id].append((stand, need))
            for feed in stand.place.feeds if stand.place else ():
                if feed.host is not None and feed.host.kind == "processor" and not feed.pool:
                    coming[feed.host.id].append((stand, feed))
        for host, new in coming.items():
            there = {stand.column: -1.0 for stand, _ in staying[host]}
            for number, (stand, feed) in enumerate(new):
                for home, need in staying[host]:
                    if home.plug is not stand.plug and not _bears(need, feed):
                        self.programme.row(-INFINITY, 1.0, {stand.column: 1.0, home.column: 1.0})
                for other, second in new[number + 1 :]:
                    if other.plug is not stand.plug and not _same_limiter(feed, second):
                        alike = feed.need.settings == second.need.settings and None not in (
                            feed.gain_db,
                            second.gain_db,
                        )
                        self.programme.row(
                            -INFINITY, 1.0, {stand.column: 1.0, other.column: 1.0} | (there if alike else {})
                        )

    # ---- goals and answer ----------------------------------------------------------------------------------------

    def goals(self) -> list[Goal]:
        """List the goals: silence by priority, then those of the table."""
        table = list(GOALS)
        plain = table.index("moves") + 1
        goals = [Goal(name, self.costs[name]) for name in (*self._silences(), *table[:plain])]
        return [*goals, self._together(table[plain : plain + 3]), self._together(table[plain + 3 :])]

    def _silences(self) -> list[str]:
        return [f"silent {rank}" for rank in range(self.ranks)]

    def _together(self, names: Sequence[str]) -> Goal:
        """Make one goal of several in turn: one of a goal before counts more than all of those behind it can."""
        terms: dict[int, float] = defaultdict(float)
        weight = 1.0
        for name in reversed(names):
            for column, factor in self.costs[name].items():
                terms[column] += weight * factor
            most = (max((self.costs[name][stand.column] for stand in own), default=0.0) for own in self.stands.values())
            weight *= 1.0 + sum(most) + len([column for column in self._shared.values() if self.costs[name][column]])
        return Goal(", ".join(names), terms)

    def cost(self, answer: Answer) -> Cost:
        """Count what an answer costs: silence by priority, then the goals of the table."""
        return tuple(
            round(sum(factor * answer.values[column] for column, factor in self.costs[name].items()))
            for name in (*self._silences(), *GOALS)
        )

    def chosen(self, answer: Answer) -> list[Stand]:
        """List how each plug stands in an answer."""
        return [stand for stand in self._all() if answer.values[stand.column]]


def _bears(need: PairNeed, feed: PlacedFeed) -> bool:
    """Tell whether something may come to a processor output beside what stays there."""
    if need.settings != feed.need.settings or (need.gain_db is None) != (feed.gain_db is None):
        return False
    return need.gain_db is None or feed.gain_db is None or feed.gain_db <= need.gain_db + ALIKE_DB


def _same_limiter(feed: PlacedFeed, other: PlacedFeed) -> bool:
    if feed.need.settings != other.need.settings or (feed.gain_db is None) != (other.gain_db is None):
        return False
    return feed.gain_db is None or other.gain_db is None or abs(feed.gain_db - other.gain_db) <= ALIKE_DB


def _claims(stand: Stand) -> Iterator[Claim]:
    plug = stand.plug
    if stand.how == "home":
        yield Claim(("socket", plug.start), plug.start)
        for need in plug.needs:
            output = need.output
            if need.cut_off:
                continue
            for channel in output.channels:
                yield _on_channel(output, channel, plug, need, need.source)
            if not need.failed:
                for pair, mode in need.modes:
                    yield Claim(("mode", output.unit.id, pair), mode)
    if stand.place is not None:
        place = stand.place
        yield Claim(("socket", place.socket.id), plug.start)
        for unit, pair, mode in place.socket.modes:
            yield Claim(("mode", unit, pair), mode)
        for feed in place.feeds:
            source: Hashable = drawn_for(feed) if feed.pool else feed.source
            output = feed.output
            for channel in output.channels:
                yield _on_channel(output, channel, plug, feed.need, source)


def _on_channel(output: Output, channel: int, plug: Plug, need: PairNeed, source: Hashable) -> Claim:
    """Claim a channel: shared by loads of one kind with one signal, and of nothing else."""
    alike = len(need.settings) == 1
    label: Hashable = (output.id, source, need.settings) if alike else (plug.start, need.pair)
    siemens = sum(1.0 / load.judged_ohm for load in need.loads)
    return Claim(("channel", output.unit.id, channel), label, siemens, 1.0 / (output.minimum_ohm * TOLERANCE))
