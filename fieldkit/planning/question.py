"""The question that the whole numbers answer, and their answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.fitting import Fit, Limits
from fieldkit.planning.groups import Group, Way
from fieldkit.planning.outlets import Fittings, Kind
from fieldkit.planning.patterns import Pattern
from fieldkit.planning.sources import Source
from fieldkit.planning.whole_numbers import Answer

Hosting = Literal["inside", "outside", "nowhere"]
HostKey = tuple[str, str, str, str]
"""Zone, signal, loudspeaker and preset: what one processor output can hold."""


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
    adaptor: str = ""
    """What its lead needs at the end, to go into the box."""
    other: tuple[int, Kind] | None = None
    """Source and kind on the second side, where that has no amplifier like the first one's."""

    def places(self) -> tuple[tuple[int, Kind], ...]:
        """Give source and kind on the first side, and on the second where that is another."""
        first = (self.source, self.kind)
        return (first, self.other) if self.other else (first,)

    def sources(self) -> tuple[int, ...]:
        """Give the sources that it takes places of."""
        return tuple(source for source, _ in self.places())


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
    standing_alone: frozenset[str] = frozenset()
    """Amplifiers in no rack where others are in racks: nobody knows whether a lead to somewhere else reaches them."""
    served: Mapping[str, frozenset[str]] = {}
    """Zone -> amplifiers and racks that its runs came from, as far as it had any."""
    mirrored: bool = True
    building: bool = True
    """The stock is asked for amplifiers: rack units count first."""
    preferred_first: bool = False
    """No output under the preferred load where that can be, even at the price of rack units."""
    uneven_apart: bool = False
    """With ``mirrored``, the two sides of a zone that have unequal numbers hang on different amplifiers too."""
    unlike: bool = False
    """The two sides of a zone may hang on amplifiers that are not alike."""
    slack: bool = False
    """Let what is short be had at a price, to find out what is short."""

    def within_reach(self, zone: str, source: Source) -> bool:
        """Tell whether a zone that had runs may be led to a source: not to or from an amplifier that stands alone."""
        before = self.served.get(zone)
        if not before or before & {name for name, _ in source.members}:
            return True
        alone = any(name in self.standing_alone for name, _ in source.members)
        return not alone and not before <= self.standing_alone

    def keeps_hand(self, group: Group) -> bool:
        """Tell whether a group must hang on amplifiers of its own side."""
        return self.mirrored and self.uneven_apart and group.hand is not None

    @property
    def two_sides(self) -> bool:
        """Tell whether some zone has two sides that are to be kept apart."""
        return self.mirrored and any(group.is_mirrored or self.keeps_hand(group) for group in self.groups)


class Counts(msgspec.Struct, frozen=True):
    """The answer: clusters, patterns, and how well each goal was reached."""

    clusters: tuple[tuple[Option, int], ...]
    """So many of this kind; for a group on two sides, so many on each."""
    pairs: tuple[tuple[int, Pattern, int], ...]
    """Source, pattern, and how many pairs of amplifiers or racks, one a side."""
    sided: tuple[tuple[int, Pattern, int, int], ...]
    """Source, pattern, side, and how many that have no twin on the other side."""
    singles: tuple[tuple[int, Pattern, int], ...]
    undriven: tuple[int, ...]
    """Boxes of each group that nothing drives, on one side."""
    processors: tuple[tuple[str, int], ...]
    """New processors, by model."""
    slack: tuple[tuple[str, int], ...]
    """What would have to be there in addition, by model; ``processor output`` for those."""
    answer: Answer


def host_keys(group: Group, way: Way) -> tuple[HostKey, ...]:
    """List what processor outputs would have to hold for a group, all its sides together."""
    keys: dict[HostKey, None] = {}
    for side in range(len(group.sides)):
        for _, loads in way.loads:
            preset = loads[0].choice.id or "" if loads else ""
            keys[group.zone.id, group.signal(side), group.speaker.id, preset] = None
    return tuple(keys)


def side_names(groups: Sequence[Group]) -> tuple[frozenset[str], frozenset[str]]:
    """Give the names of the first and of the second side of all zones on two sides."""
    first, second = (
        frozenset(name for group in groups for side, name in group.places() if side == wanted) for wanted in (0, 1)
    )
    return first, second


def needs_of(groups: Sequence[Group]) -> tuple[tuple[str, ...], ...]:
    """List the pin pairs that clusters ask of a place, each once."""
    return tuple(dict.fromkeys(way.pairs for group in groups for way in group.ways if way.pairs))
