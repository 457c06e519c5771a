"""What the search of a fail-over may use, how a plug may stand, and what it claims there."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence

import msgspec

from fieldkit.planning.failover.inputs import drawn_for
from fieldkit.planning.failover.placements import ALIKE_DB, Decision, PlacedFeed, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.planning.failover.spares import SpareLead
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.solve.evaluation import Rig

GOALS = {
    "risk": "an output that nothing limits can cost a driver: it is taken only where a box would be silent",
    "mixed": "boxes that hear a signal beside their own play, and somebody has to mix it at the desk",
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


TOLERANCE = 0.98
"""Three boxes of 8 ohm are 2.67 ohm, and are meant where a data sheet says 2.7."""


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
    joins: Callable[[Plug, Placement], list[Placement]]
    """Lists how a plug can join what another one brings to its place."""
    free: Mapping[str, tuple[str, ...]]
    """Free outputs of each processor."""
    spares: frozenset[str]
    """Units that would have to be brought in."""
    blocked: frozenset[str]
    """Connectors that hold something that feeds no box."""
    leads: Mapping[SpareLead, int]
    """Leads of the stock that no run uses."""
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


def plugs_in_turn(plugs: Sequence[Plug]) -> list[Plug]:
    """Sort plugs by priority, those of one priority as the show has them."""
    return sorted(plugs, key=lambda plug: (plug.rank, plug.order))


def claims_of(stand: Stand) -> Iterator[Claim]:
    """List what a stand takes: its socket, the ways that pairs of channels are set, its channels."""
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
        for run in place.joined:
            yield Claim(("socket", "joined", run.id), plug.start)
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


def may_join(need: PairNeed, feed: PlacedFeed) -> bool:
    """Tell whether something may come to a processor output beside what stays there."""
    if need.settings != feed.need.settings or (need.gain_db is None) != (feed.gain_db is None):
        return False
    return need.gain_db is None or feed.gain_db is None or feed.gain_db <= need.gain_db + ALIKE_DB


def same_limiter(feed: PlacedFeed, other: PlacedFeed) -> bool:
    """Tell whether one limiter at a processor output is right for two outputs behind it."""
    if feed.need.settings != other.need.settings or (feed.gain_db is None) != (other.gain_db is None):
        return False
    return feed.gain_db is None or other.gain_db is None or abs(feed.gain_db - other.gain_db) <= ALIKE_DB
