"""The whole-number programme of a fail-over: how each plug may stand, what it claims there, and what it costs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import pairwise

import msgspec

from fieldkit.planning.assign.whole_numbers import Answer, Goal, Programme
from fieldkit.planning.failover.inputs import drawn_for
from fieldkit.planning.failover.placements import ELSEWHERE, PlacedFeed, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.planning.failover.processor_outputs import free_inputs
from fieldkit.planning.failover.spares import SpareLead
from fieldkit.planning.failover.stands import (
    GOALS,
    Claim,
    Cost,
    Cut,
    PatchRound,
    Resource,
    Stand,
    claims_of,
    may_join,
    plugs_in_turn,
    same_limiter,
)
from fieldkit.rig.connect.hosts import link_chain

MOST_PLAIN = 15
"""Places and plugs from here on are alike to the last of the goals, so that its sums stay small."""


INFINITY = float("inf")


class PatchProgramme:
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
        turn = reversed(plugs_in_turn(stage.plugs))
        self._turns = {plug.start: min(number, MOST_PLAIN) for number, plug in enumerate(turn, start=1)}
        for plug in stage.plugs:
            self._plug(plug)
        self._sockets_and_labels()
        for plug in stage.plugs:
            if not plug.is_failed and not plug.unclear:
                self._gives_way(plug)
        self._limits()
        self._stay_beside()
        self._hosts()
        for cut in refused:
            columns = {stand.column: 1.0 for stand in self._all() if stand.key in cut}
            if len(columns) == len(cut):
                self.programme.row(-INFINITY, len(cut) - 1.0, columns)

    def _all(self) -> Iterator[Stand]:
        return (stand for own in self.stands.values() for stand in own)

    # ---- columns -------------------------------------------------------------------------------------------------

    def _plug(self, plug: Plug) -> None:
        if plug.parent:
            self._tail(plug)
            return
        home = Stand(plug, self.programme.column(1, 1), "home")
        own = [home]
        tails = [other.failed_weight for other in self.stage.plugs if other.parent == plug.start]
        self._silent(
            home.column, [all_of_it - sum(its) for all_of_it, *its in zip(plug.failed_weight, *tails, strict=True)]
        )
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
        self.programme.row(1.0, 1.0, {stand.column: 1.0 for stand in own})
        self._stood(plug, own)

    def _stood(self, plug: Plug, own: list[Stand]) -> None:
        self.stands[plug.start] = own
        for stand in own:
            self.claims[stand.column] = list(claims_of(stand))
            if stand.place is not None:
                self._price(stand.column, stand.place)

    def _tail(self, plug: Plug) -> None:
        """Let what hangs on a stage box go elsewhere by itself, while its plug stays where it is; else it is silent."""
        own = []
        for number, place in enumerate(self.known.get(plug.start, ())):
            own.append(Stand(plug, self.programme.column(1), "placed", place))
            self.costs["plainness"][own[-1].column] = min(number, MOST_PLAIN) * self._turns[plug.start]
        silent = self.programme.column(1, 1)
        self._silent(silent, plug.failed_weight)
        home = self.stands[plug.parent][0].column
        placed = {stand.column: -1.0 for stand in own}
        self.programme.row(-INFINITY, 0.0, {home: 1.0, silent: -1.0} | placed)
        self.programme.row(-INFINITY, 0.0, {home: -1.0} | dict.fromkeys(placed, 1.0))
        self._stood(plug, own)

    def _silent(self, column: int, weight: Sequence[int]) -> None:
        for rank, parts in enumerate(weight):
            if parts:
                self.costs[f"silent {rank}"][column] += parts

    def _price(self, column: int, place: Placement) -> None:
        stage = self.stage
        for name, value in (
            ("moves", int(place.moved)),
            ("risk", place.risk),
            ("mixed", place.mixed),
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
        for feed in place.feeds if place.upon is None else ():
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
            and stand.place.upon is None
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

    def _stay_beside(self) -> None:
        """Keep what is joined where it is, or where it comes to, and take no more leads from the stock than it has."""
        leads: dict[SpareLead, dict[int, float]] = defaultdict(dict)
        for stand in self._all():
            at = stand.place.socket.junction if stand.place else None
            if at is not None and stand.place is not None:
                upon, its = stand.place.upon, self.stands[at.beside.start]
                there = its[0] if upon is None else next(item for item in its if item.place is upon)
                self.programme.row(-INFINITY, 0.0, {stand.column: 1.0, there.column: -1.0})
            if stand.place and stand.place.lead in self.stage.leads:
                leads[stand.place.lead][stand.column] = 1.0
        for lead, columns in leads.items():
            self.programme.row(-INFINITY, float(self.stage.leads[lead]), columns)

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
                    if home.plug is not stand.plug and not may_join(need, feed):
                        self.programme.row(-INFINITY, 1.0, {stand.column: 1.0, home.column: 1.0})
                for other, second in new[number + 1 :]:
                    if other.plug is not stand.plug and not same_limiter(feed, second):
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
