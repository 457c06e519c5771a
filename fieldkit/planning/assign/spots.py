"""Spots: the places of amplifiers and racks that have a name by now, and the board that gives them away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec

from fieldkit.planning.assign.patterns import Kind, OutletFeed, Pattern, Place
from fieldkit.planning.assign.problem import Counts, Question
from fieldkit.planning.assign.racking import Racker
from fieldkit.planning.assign.sources import OutputSource


class Spot(msgspec.Struct, frozen=True):
    """One place of one amplifier or rack that has a name by now."""

    name: str
    """Of the amplifier, or of the rack as built."""
    is_rack: bool
    source: int
    connector: str
    number: int
    """Which place of the connector's use it is."""
    place: Place
    use: str
    """Shared by all places of one use: the connector's full name."""
    side: int | None
    """0 or 1 where the amplifier is one of a pair, a side each."""

    def output(self, feed: OutletFeed) -> str:
        """Name the output that a pin pair is fed from."""
        if not self.is_rack:
            return f"{self.name}.{feed.name}"
        number, _, channels = feed.name.partition(".")
        return f"{self.name}-{number}.{channels}"

    def units(self) -> tuple[str, ...]:
        """Name the amplifiers that feed it."""
        return tuple(dict.fromkeys(self.output(feed).partition(".")[0] for _, feed in self.place.feeds))


def sided_sources(question: Question, counts: Counts) -> frozenset[int]:
    """Find the sources that carry a zone which keeps its sides apart, all its boxes: each unit stands on a side."""
    carried = [(option, question.groups[option.group].zone.id) for option, _ in counts.clusters]
    mixed = {zone for option, zone in carried if not option.apart}
    return frozenset(option.source for option, zone in carried if zone not in mixed)


def spots_of(question: Question, counts: Counts, racker: Racker) -> list[Spot]:
    """Give the patterns to amplifiers and racks with names, and list all places that they offer."""
    spots: list[Spot] = []
    sided = sided_sources(question, counts)
    lots: list[tuple[int, Pattern, tuple[int | None, ...], int]] = [
        *((index, pattern, (0, 1), number) for index, pattern, number in counts.pairs),
        *((index, pattern, (side if index in sided else None,), n) for index, pattern, side, n in counts.sided),
        *((index, pattern, (None,), number) for index, pattern, number in counts.singles),
    ]
    lots.sort(key=lambda lot: not question.sources[lot[0]].is_rack)  # they are named first: LEFT is the main rack
    for index, pattern, sides, number in lots:
        source = question.sources[index]
        for _ in range(number):
            for side in sides:
                spots += _spots_of(racker.name(source, side), source, index, pattern, side)
    return spots


def _spots_of(name: str, source: OutputSource, index: int, pattern: Pattern, side: int | None) -> list[Spot]:
    return [
        Spot(name, source.is_rack, index, connector, number, place, f"{name}.{connector}", side)
        for connector, use in pattern.uses
        for number, place in enumerate(use.places)
    ]


class SpotWish(msgspec.Struct, frozen=True):
    """What a cluster asks of the board."""

    wanted: tuple[int, Kind]
    """Source, and what its place must offer."""
    side: int | None
    """The side whose amplifiers alone will do."""
    twin: Spot | None
    """Where its twin on the other side is."""
    before: str
    """The connector that drove its first box."""
    hand: int
    """The side that it stands on, 0 where there are none."""
    kin: frozenset[str]
    """Amplifiers and racks that carry its zone already."""
    coming: int
    """Runs of its zone that still want a place, with this one."""


class Board:
    """The free spots, by what they offer."""

    def __init__(self, spots: Sequence[Spot]) -> None:
        self._free: dict[tuple[int, Kind], list[Spot]] = {}
        for spot in spots:
            self._free.setdefault((spot.source, spot.place.kind), []).append(spot)

    def left(self) -> list[Spot]:
        """List the spots that nothing has taken."""
        return [spot for spots in self._free.values() for spot in spots]

    def take(self, wish: SpotWish, avoid: frozenset[str]) -> Spot:
        """Take a spot: that of before, else like the twin's on the other side, else the first that is free."""
        wanted, side, twin = wish.wanted, wish.side, wish.twin
        free = self._free.get(wanted, [])
        fitting = [spot for spot in free if side is None or spot.side == side]
        if not fitting:
            raise ValueError(f"no place of the pattern is left of kind {wanted[1]}")
        chosen = fitting[0] if side is not None else self._alone(fitting, avoid, wish)
        if twin is not None and side is not None:
            like = (spot for spot in fitting if (spot.connector, spot.number) == (twin.connector, twin.number))
            chosen = next(like, chosen)
        if wish.before:
            chosen = next((spot for spot in fitting if spot.use == wish.before), chosen)
        free.remove(chosen)
        return chosen

    def _alone(self, fitting: Sequence[Spot], avoid: frozenset[str], wish: SpotWish) -> Spot:
        """Choose for what needs no twin: away from the other side, then where its zone is or finds room as a whole.

        Then on no side, then where more places are left.
        """
        left = Counter(spot.side for spot in fitting)
        on = Counter(spot.name for spot in fitting)

        def rank(spot: Spot) -> tuple[bool, bool, bool, bool, int]:
            whole = on[spot.name] >= wish.coming
            away = bool(avoid & set(spot.units()))
            return away, spot.name not in wish.kin, not whole, spot.side is not None, -left[spot.side]

        return min(fitting, key=rank)
