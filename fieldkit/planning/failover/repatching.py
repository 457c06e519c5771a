"""The search of fail-over: which plug goes where, so that most is heard, by priority, for the fewest moves.

Exact: every placement of every silent plug is tried, and of every plug that gives way to a more important one,
with what cannot beat the best so far left out. A count of nodes bounds it, and never a clock, so that the answer
is the same on a slow machine and a fast one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import msgspec

from fieldkit.formulas.loads import parallel
from fieldkit.planning.assign.inputs import pools_of, sources_for
from fieldkit.planning.failover.placements import Decision, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug, Weight, added
from fieldkit.rig.solve.evaluation import Rig

MOST_NODES = 10_000
"""Where the search gives up looking for something still better; it then says that it did not prove its answer."""

TOLERANCE = 0.98
"""Three boxes of 8 ohm are 2.67 ohm, and are meant where a data sheet says 2.7."""

ELSEWHERE = 2
"""Reach from which on a plug may use what is free, and take nothing from others."""

Cost = tuple[int, ...]
"""Parts of boxes that stay silent by priority, moves, and then what makes a plan less plain."""


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
    fitting: Mapping[str, tuple[str, ...]] = {}
    """Connector of a plug -> the sockets that could take it, were they free."""


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


class ChannelLoad(msgspec.Struct, frozen=True, eq=False):
    """Somebody on a channel: a plug's need, on which output, from which source."""

    plug: Plug
    need: PairNeed
    output: str
    source: str
    moved: bool


class PatchState(msgspec.Struct, frozen=True):
    """Where everything is at one node of the search."""

    queue: tuple[Plug, ...]
    """Plugs in the hand, the most important first."""
    promised: frozenset[str]
    """Those that gave way to no better ones than they are: they must get another place."""
    at: Mapping[str, Plug]
    """Connector -> the plug in it."""
    users: Mapping[tuple[str, int], tuple[ChannelLoad, ...]]
    modes: Mapping[tuple[str, str], str]
    """Channel pairs whose mode a placement counts on."""
    decisions: tuple[Decision, ...]
    silent: Weight
    rest: tuple[int, ...]
    """Moves, spares brought in, reach, new warnings, pairs set otherwise, adaptors."""


def repatch(stage: PatchRound) -> Repatch:
    """Find the best way to plug a show some of whose plugs are silent."""
    return _Search(stage).run()


class _Search:
    def __init__(self, stage: PatchRound) -> None:
        self.stage = stage
        self.best: Repatch | None = None
        self.nodes = 0
        self._known: dict[str, list[Placement]] = {}
        self._floors: dict[str, tuple[Weight, int]] = {}
        self._seen: dict[object, list[Cost]] = {}

    def run(self) -> Repatch:
        """Search from the state in which every plug with something failed on it is in the hand."""
        plugs = self.stage.plugs
        at = {plug.start: plug for plug in plugs if not plug.is_failed}
        users: dict[tuple[str, int], tuple[ChannelLoad, ...]] = {}
        for plug in at.values():
            _sit_at_home(users, plug)
        nothing = tuple(0 for _ in (plugs[0].weight if plugs else ()))
        failed = _in_turn([plug for plug in plugs if plug.is_failed])
        self._step(PatchState(failed, frozenset(), at, users, {}, (), nothing, (0, 0, 0, 0, 0, 0)))
        if self.best is None:
            raise RuntimeError("the search found not even the way things are")
        fitting = {
            name: tuple(dict.fromkeys(place.socket.id for place in places)) for name, places in self._known.items()
        }
        return msgspec.structs.replace(self.best, proved=self.nodes <= MOST_NODES, fitting=fitting)

    def _step(self, state: PatchState) -> None:
        self.nodes += 1
        if self.best is not None and (self.nodes > MOST_NODES or self._bound(state) >= self.best.cost):
            return
        if not state.queue:
            self._leaf(state)
            return
        if self._seen_better(state):
            return
        plug = state.queue[0]
        state = msgspec.structs.replace(state, queue=state.queue[1:])
        used = _used(state)
        fresh: dict[str, str] = {}
        ways: list[PatchState] = []
        for place in self._places(plug):
            unit = place.feeds[0].output.unit
            if unit.id in self.stage.spares - used and fresh.setdefault(unit.model, unit.id) != unit.id:
                continue  # one untouched spare of a model is as good as another
            after = self._placed(state, plug, place)
            if after is not None:
                ways.append(after)
        # What displaces nobody first: a good plan found early rules out most of the others.
        for after in sorted(ways, key=self._bound):
            self._step(after)
        if plug.start not in state.promised:
            self._step(self._left(state, plug))

    def _places(self, plug: Plug) -> list[Placement]:
        if plug.start not in self._known:
            blocked = self.stage.blocked
            self._known[plug.start] = [item for item in self.stage.placements(plug) if item.socket.id not in blocked]
        return self._known[plug.start]

    def _bound(self, state: PatchState) -> Cost:
        """Give a cost that no way from here on can be under.

        What gave way is a move whatever becomes of it. A failed plug is one as well if it can be moved and not fed
        anew where it is; if it stays, it is silent, and that counts before any move.
        """
        moves, *others = state.rest
        minimum = [self._floor(plug) for plug in state.queue]
        return (*added([state.silent, *(silent for silent, _ in minimum)]), moves + sum(n for _, n in minimum), *others)

    def _floor(self, plug: Plug) -> tuple[Weight, int]:
        """Give what a plug leaves silent at best, and the moves that this takes."""
        if plug.start not in self._floors:
            places = self._places(plug)
            silent = tuple(0 for _ in plug.weight)
            if not places:
                silent = plug.failed_weight if plug.is_failed else plug.weight
            must = any(plug.failed_weight) and bool(places) and all(place.moved for place in places)
            self._floors[plug.start] = silent, int(not plug.is_failed or must)
        return self._floors[plug.start]

    def _seen_better(self, state: PatchState) -> bool:
        """Tell whether the same situation was reached before at no greater cost."""
        channels = (
            (channel, frozenset((user.need.kind, user.source, user.moved) for user in its))
            for channel, its in state.users.items()
        )
        key = (
            tuple((plug.start, plug.start in state.promised) for plug in state.queue),
            frozenset(state.at),
            frozenset(channels),
            frozenset(state.modes.items()),
            frozenset(pools_of(state.decisions, self.stage.free)),
        )
        cost = (*state.silent, *state.rest)
        kept = self._seen.setdefault(key, [])
        if any(other <= cost for other in kept):
            return True
        kept.append(cost)
        return False

    def _placed(self, state: PatchState, plug: Plug, place: Placement) -> PatchState | None:
        """Put a plug into a socket, pulling what gives way; None where something does not."""
        giving_way = _giving_way(state, plug, place)
        modes = dict(state.modes)
        for unit, pair, mode in place.socket.modes:
            if modes.setdefault((unit, pair), mode) != mode:
                return None
        if giving_way is None:
            return None
        at = {name: other for name, other in state.at.items() if other not in giving_way}
        at[place.socket.id] = plug
        users = {
            channel: left
            for channel, its in state.users.items()
            if (left := tuple(user for user in its if user.plug not in giving_way))
        }
        for feed in place.feeds:
            _sit(users, feed.output.channels, ChannelLoad(plug, feed.need, feed.output.id, feed.source, place.moved))
        units = {unit for feed in place.feeds for unit in (feed.output.unit.id, feed.pool)}
        brought = len((units & self.stage.spares) - _used(state))
        more = (
            int(place.moved) + brought,
            brought,
            place.reach,
            place.worse,
            len(place.socket.changes),
            int(place.adaptor is not None),
        )
        decisions = (*state.decisions, Decision(plug, place))
        if not all(pools_of(decisions, self.stage.free).values()):
            return None
        queue = _in_turn([*state.queue, *giving_way])
        promised = state.promised | {other.start for other in giving_way if other.rank == plug.rank}
        return PatchState(queue, promised, at, users, modes, decisions, state.silent, added([state.rest, more]))

    def _left(self, state: PatchState, plug: Plug) -> PatchState:
        """Leave a plug without a new place: where it was, if it has failed and may; else in the hand, as one move."""
        if plug.is_failed and plug.start not in state.at and _can_stay(state, plug):
            users = dict(state.users)
            _sit_at_home(users, plug)
            return msgspec.structs.replace(
                state,
                at={**state.at, plug.start: plug},
                users=users,
                silent=added([state.silent, plug.failed_weight]),
                decisions=(*state.decisions, Decision(plug, None, stays=True)),
            )
        moves, *others = state.rest
        return msgspec.structs.replace(
            state,
            silent=added([state.silent, plug.weight]),
            rest=(moves + 1, *others),
            decisions=(*state.decisions, Decision(plug, None)),
        )

    def _leaf(self, state: PatchState) -> None:
        """Work out what is patched into the inputs, and keep the plan if it is the best and holds."""
        stage = self.stage
        patched = sources_for(stage.rig, stage.plugs, state.decisions, stage.free)
        if patched is None:
            return
        moves, *others = state.rest
        cost = (*state.silent, moves + patched.moves, *others, len(patched.sources))
        if self.best is not None and cost >= self.best.cost:
            return
        plan = Repatch(state.decisions, patched.sources, patched.routes, cost, proved=False)
        if stage.accept(plan):
            self.best = plan


def _in_turn(plugs: Sequence[Plug]) -> tuple[Plug, ...]:
    return tuple(sorted(plugs, key=lambda plug: (plug.rank, plug.order)))


def _used(state: PatchState) -> set[str]:
    """Name the units that placements have gone to, and the processors that they draw on."""
    feeds = [feed for item in state.decisions if item.place for feed in item.place.feeds]
    return {unit for feed in feeds for unit in (feed.output.unit.id, feed.pool)}


def _sit(users: dict[tuple[str, int], tuple[ChannelLoad, ...]], channels: Sequence[int], user: ChannelLoad) -> None:
    unit = user.output.partition(".")[0]
    for channel in channels:
        users[unit, channel] = (*users.get((unit, channel), ()), user)


def _sit_at_home(users: dict[tuple[str, int], tuple[ChannelLoad, ...]], plug: Plug) -> None:
    for need in plug.needs:
        if not need.failed:
            _sit(users, need.output.channels, ChannelLoad(plug, need, need.output.id, need.source, moved=False))


def _giving_way(state: PatchState, plug: Plug, place: Placement) -> list[Plug] | None:
    """List the plugs that a placement pulls; None where one that may not give way is there.

    What comes before it is never touched. What is as important may be asked over to another place, and not be
    silenced; what comes after it may.
    """
    pulled: dict[str, Plug] = {}

    def all_give_way(others: Sequence[Plug]) -> bool:
        for other in others:
            if other.rank < plug.rank or other.unclear or any(other is item.plug for item in state.decisions):
                return False
            pulled[other.start] = other
        # Nothing is silenced for a lead of which nobody knows whether it reaches.
        return not pulled or place.reach < ELSEWHERE

    occupant = state.at.get(place.socket.id)
    if occupant is not None and not all_give_way([occupant]):
        return None
    for unit, pair, _ in place.socket.changes:
        for part in pair.split("+"):
            if not all_give_way([user.plug for user in state.users.get((unit, int(part)), ())]):
                return None
    for feed in place.feeds:
        for channel in feed.output.channels:
            there = state.users.get((feed.output.unit.id, channel), ())
            others = [user for user in there if user.plug.start not in pulled]
            if not _share(feed.output.id, feed.output.minimum_ohm, feed.need, feed.source, others) and not all_give_way(
                [user.plug for user in others]
            ):
                return None
    return list(pulled.values())


def _share(output: str, minimum_ohm: float, need: PairNeed, source: str, others: Sequence[ChannelLoad]) -> bool:
    """Tell whether loads may hang on one output: of one kind, one signal, and not under its minimum load together."""
    if not others:
        return True
    alike = all(
        user.output == output and user.source == source and user.need.settings == need.settings for user in others
    )
    ohms = [load.judged_ohm for item in (need, *(user.need for user in others)) for load in item.loads]
    return alike and len(need.settings) == 1 and parallel(*ohms) >= minimum_ohm * TOLERANCE


def _can_stay(state: PatchState, plug: Plug) -> bool:
    """Tell whether the outputs that still play on a plug are as they were."""
    for need in plug.needs:
        unit = need.output.unit.id
        for (name, pair), mode in state.modes.items():
            if need.failed or name != unit or not {int(part) for part in pair.split("+")} & set(need.output.channels):
                continue
            if mode != need.output.mode:
                return False
        there = [user for channel in need.output.channels for user in state.users.get((unit, channel), ())]
        if not need.failed and not _share(need.output.id, need.output.minimum_ohm, need, need.source, there):
            return False
    return True
