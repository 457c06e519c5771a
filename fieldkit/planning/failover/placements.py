"""Placements: a plug in a socket, with what feeds it there; and what becomes of each plug."""

from __future__ import annotations

import msgspec

from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.planning.failover.sockets import Socket
from fieldkit.planning.failover.spares import SpareLead
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.outputs import Output
from fieldkit.show.document import Run
from fieldkit.units import Length

ELSEWHERE = 2
"""Reach from which on a plug may use what is free, and take nothing from others."""


OUT_OF_REACH = 3
"""Reach of what stands by itself, such as a delay tower: no lead goes from there to the stage, or back."""


ALIKE_DB = 0.1
"""Gains this near are the same to a limiter."""


class PlacedFeed(msgspec.Struct, frozen=True, eq=False):
    """One pin pair of a plug at its new place."""

    need: PairNeed
    output: Output
    source: str
    """A signal or a processor output; one that is free where ``pool`` names the processor."""
    pool: str
    host: Host | None
    gain_db: float | None
    desk: bool = False
    """Straight from the desk, for want of the processor that held its preset: high-passed there, low, unlimited."""
    shared: str = ""
    """What its boxes are to hear, where they hear it only if the desk adds it to the signal of the output they join."""
    beside: PlacedFeed | None = None
    """The feed of what it joins, where that comes to its output in the same plan: it gets what that gets."""


class Placement(msgspec.Struct, frozen=True, eq=False):
    """A plug in a socket."""

    plug: Plug
    socket: Socket
    adaptor: str | None
    feeds: tuple[PlacedFeed, ...]
    runs: tuple[Run, ...]
    """As they are in the show then."""
    reach: int
    """0 in the same rack, 1 in another one, 2 elsewhere: on the other side, or where an amplifier stands alone."""
    risk: int
    """Outputs that nothing limits any more."""
    worse: int
    """Warnings that the old place did not have, and outputs that are weaker for being no pair any more."""
    joined: tuple[Run, ...] = ()
    """Runs that go on playing, as they are once this plug has joined them."""
    lead: SpareLead = SpareLead("", Length("0 m"))
    """A lead from the stock that it takes; without a model where it has its own one."""
    upon: Placement | None = None
    """The placement of what it joins, where that is moved or fed anew in the same plan."""

    @property
    def mixed(self) -> int:
        """Count the outputs that carry the sum of two signals then."""
        return sum(bool(feed.shared) for feed in self.feeds)

    @property
    def moved(self) -> bool:
        """Tell whether somebody has to plug it."""
        return self.socket.id != self.plug.start or self.adaptor is not None

    def takes_from(self, other: Plug) -> bool:
        """Tell whether another plug has to give up its connector or a channel for this."""
        if self.joined:
            return False
        channels = {(feed.output.unit.id, number) for feed in self.feeds for number in feed.output.channels}
        its = {(need.output.unit.id, number) for need in other.needs for number in need.output.channels}
        return self.socket.id == other.start or bool(channels & its)


class Decision(msgspec.Struct, frozen=True, eq=False):
    """What becomes of a plug: a new place, or it stays where it was, or it is pulled and waits."""

    plug: Plug
    place: Placement | None
    stays: bool = False
