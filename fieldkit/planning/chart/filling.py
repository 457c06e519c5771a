"""How boxes spread over one amplifier: its channels, the slots for its presets and its common supply, all exactly.

A *cluster* is so many boxes of one kind on one place. What a cluster takes of the amplifier adds up: channels, outputs
that hold a preset, watts asked of a common supply; and the weakest box of all says how far that supply may sag.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.checks.powers import ROUNDING, WEAK, driven_w
from fieldkit.formulas import ohms_law
from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.chart.trial import CHANNELS, Trial, TriedPlace


class BoxCluster(msgspec.Struct, frozen=True):
    """So many boxes on one place, and what that takes."""

    place: TriedPlace
    channels: int
    held: int
    """Outputs of the amplifier that hold a preset for it."""
    demand_w: float
    """Watts that its outputs would ask of a common supply."""
    share: float
    """Of its weakest section, full output over continuous rating before the supply sags."""

    @property
    def count(self) -> int:
        """Boxes."""
        return self.place.count


def cluster_of(amplifier: Amplifier, trial: Trial) -> BoxCluster:
    """Say what one place takes, from its trial by itself."""
    [(place, outputs)] = trial.places
    hosts = amplifier.hosts
    hosted = hosts is not None and hosts.takes(place.candidate.speaker.id)
    shares = [
        driven_w(box) / box.load.continuous_w / out.supply_scale**2
        for out in outputs
        for box in out.lines[0].boxes
        if box.load.continuous_w
    ]
    return BoxCluster(
        place=place,
        channels=CHANNELS[place.mode] * len(outputs),
        held=sum(any(load.choice.preset for load in out.loads) for out in outputs) if hosted else 0,
        demand_w=sum(ohms_law.power_from_voltage(out.clip_v, out.load_ohm or 1e9) for out in outputs),
        share=min(shares, default=float("inf")),
    )


class Room(msgspec.Struct, frozen=True):
    """What an amplifier has for clusters."""

    channels: int
    slots: float
    supply_w: float | None

    def takes(self, fill: Fill) -> bool:
        """Tell whether clusters fit at the same time, no box weak for want of supply."""
        return self.takes_both(fill, EMPTY)

    def takes_both(self, one: Fill, other: Fill) -> bool:
        """Tell the same of two fills together."""
        if one.channels + other.channels > self.channels or one.held + other.held > self.slots:
            return False
        if self.supply_w is None:
            return True
        share = min(one.share, other.share)
        return one.demand_w + other.demand_w <= self.supply_w * max(1.0, share / WEAK) * (1.0 + ROUNDING)


def room_of(amplifier: Amplifier, channels: int | None = None) -> Room:
    """Return the channels, preset slots and supply limit of an amplifier; with ``channels`` only so many channels."""
    slots = amplifier.hosts.slots if amplifier.hosts else None
    limit = amplifier.supply_limit
    return Room(
        amplifier.channels if channels is None else channels, slots or float("inf"), limit.value if limit else None
    )


class Fill(msgspec.Struct, frozen=True):
    """Clusters on one amplifier at the same time."""

    clusters: tuple[BoxCluster, ...] = ()
    channels: int = 0
    held: int = 0
    demand_w: float = 0.0
    share: float = float("inf")

    def with_cluster(self, cluster: BoxCluster) -> Fill:
        """Add one."""
        return self.joined(Fill((cluster,), cluster.channels, cluster.held, cluster.demand_w, cluster.share))

    def joined(self, other: Fill) -> Fill:
        """Put two fills on one amplifier."""
        return Fill(
            (*self.clusters, *other.clusters),
            self.channels + other.channels,
            self.held + other.held,
            self.demand_w + other.demand_w,
            min(self.share, other.share),
        )

    def outdoes(self, other: Fill, *, supply: bool) -> bool:
        """Tell whether another with as many boxes takes as much or more of everything."""
        if self.channels > other.channels or self.held > other.held:
            return False
        return not supply or (self.demand_w <= other.demand_w and self.share >= other.share)

    @property
    def boxes(self) -> int:
        """How many."""
        return sum(cluster.count for cluster in self.clusters)


EMPTY = Fill()

Fills = Mapping[int, Sequence[Fill]]
"""Number of boxes of one kind -> the ways to put them on an amplifier that no other way outdoes."""


def ways_of(clusters: Sequence[BoxCluster], room: Room, most: int) -> Fills:
    """Work out the same up to some number, and keep ways that take more channels and give more power."""
    return fills_of(clusters, room, most, every=True)


def fills_of(clusters: Sequence[BoxCluster], room: Room, most: int | None = None, *, every: bool = False) -> Fills:
    """Work out how any number of boxes of one kind may be put on an amplifier, up to ``most`` of them.

    Kept are those with fewest channels, and where a common supply or ``every`` asks for it those with more power.
    """
    supply = every or room.supply_w is not None
    found: dict[int, list[Fill]] = {0: [Fill()]}
    # Each cluster is added to what the ones before it made, as often as it fits: no order is tried twice.
    for cluster in clusters:
        total = 0
        while total <= max(found):
            for fill in tuple(found.get(total, ())):
                number = total + cluster.count
                if most is not None and number > most:
                    continue
                larger = fill.with_cluster(cluster)
                # What asks too much of the supply by itself asks too much with anything beside it.
                if room.takes(larger):
                    _keep(found.setdefault(number, []), larger, supply=supply)
            total += 1
    return found


def _keep(fills: list[Fill], new: Fill, *, supply: bool) -> None:
    """Keep a fill among those of as many boxes, unless one outdoes it; those that it outdoes go."""
    if any(fill.outdoes(new, supply=supply) for fill in fills):
        return
    fills[:] = [fill for fill in fills if not new.outdoes(fill, supply=supply)]
    fills.append(new)


def joined_fills(one: Sequence[Fill], other: Sequence[Fill], room: Room, *, every: bool = False) -> list[Fill]:
    """Put two kinds on one amplifier in every way that fits and that no other way outdoes."""
    supply = every or room.supply_w is not None
    found: list[Fill] = []
    for left in one:
        for right in other:
            if room.takes_both(left, right):
                _keep(found, left.joined(right), supply=supply)
    return found
