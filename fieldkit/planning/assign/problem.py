"""What is to be driven: groups of boxes that are alike, and the question that is put for them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Drive, Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.fitting import Fit, Limits
from fieldkit.planning.assign.patterns import Fittings, Kind, Pattern
from fieldkit.planning.assign.sources import OutputSource
from fieldkit.planning.assign.tails import RunTail
from fieldkit.planning.assign.whole_numbers import Answer
from fieldkit.rig.connect.lines import Load, ShowIndex, load_of
from fieldkit.rig.connect.outputs import Mode
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.priorities import ZonePriority, zone_priorities
from fieldkit.show.document import Box, Show, Zone

Hosting = Literal["inside", "outside", "nowhere"]
HostKey = tuple[str, str, str, str]
"""Zone, signal, loudspeaker and preset: what one processor output can hold."""


class ClusterOption(msgspec.Struct, frozen=True, gc=False):
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
    over_loss: int = 0
    """How far the thickest cable would still be over the zone's loss limit [0.1 dB]."""
    carried_a: float = 0.0
    """What each core of its lead carries at the most [A]."""
    is_hot: bool = False
    """That is more than any lead, the multicore before it or the amplifier's connector is rated for."""


class Stay(msgspec.Struct, frozen=True):
    """Runs from one connector that may stay as they are."""

    start: str
    source: int
    kind: Kind
    boxes: tuple[tuple[int, int], ...]
    """Group and number of its boxes on them."""
    hosts: tuple[tuple[HostKey, str], ...]
    """What processor outputs hold for them, and which."""
    parts: Mapping[str, int]
    """Adaptors and panels on them."""
    plugs: int
    """Plugs that a hand moves when they do not stay: one a run."""
    standing: tuple[ClusterOption, ...] = ()
    """What they are to the goals, a cluster for each run and group."""
    more: tuple[tuple[int, int], ...] = ()
    """Group and number of boxes that their last run has room for behind its last box."""


class Standing(msgspec.Struct, frozen=True):
    """Boxes of one model, zone and side on a run that stays for certain: what is planned beside it heeds it."""

    zone: str
    speaker: str
    side: str
    out_front: bool
    """Not in a zone of wedges, whose sides are mixes."""
    drive: Drive
    feeds: tuple[tuple[str, Mode, str], ...]
    hosting: Hosting
    units: frozenset[str]
    """The amplifiers that it is on."""
    racks: frozenset[str]
    at_home: bool
    """All of them stand in racks of its own side."""
    hosts: tuple[tuple[HostKey, str], ...]
    """What processor outputs hold for it, and which."""


class Question(msgspec.Struct, frozen=True):
    """All that the whole numbers depend on."""

    groups: tuple[Group, ...]
    sources: tuple[OutputSource, ...]
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
    stays: tuple[Stay, ...] = ()
    """What stands there and may stay, at no move."""
    linked: frozenset[frozenset[str]] = frozenset()
    """Zones, two by two, that a run links already."""
    standing: tuple[Standing, ...] = ()
    """What stays for certain."""
    tails: Mapping[str, RunTail] = {}
    """Connector -> the end of the run on it, where the run stays and something may hang behind it."""
    mirrored: bool = True
    building: bool = True
    """The stock is asked for amplifiers: rack units count first."""
    preferred_first: bool = False
    """No output under the preferred load where that can be, even at the price of rack units."""
    fewest_amplifiers: int = 0
    """So many amplifiers are taken, even where fewer would do."""
    temperature_c: float = 20.0
    """Of the cables."""
    slack: bool = False
    """Let what is short be had at a price, to find out what is short."""

    def within_reach(self, zone: str, source: OutputSource) -> bool:
        """Tell whether a zone that had runs may be led to a source: not to or from an amplifier that stands alone."""
        before = self.served.get(zone)
        if not before or before & {name for name, _ in source.members}:
            return True
        alone = any(name in self.standing_alone for name, _ in source.members)
        return not alone and not before <= self.standing_alone

    def faces(self, group: Group, source: OutputSource) -> bool:
        """Tell whether a source carries the other side, for certain, so that no side of a group is apart on it.

        That is the other side of the group's own zone, and where the source is one amplifier, of any zone.
        """
        names = {name for name, _ in source.members}
        there = [own for own in self.standing if (own.units | own.racks) & names]
        if not there:
            return False
        sides = side_names(self.groups)
        others = sides[0] | sides[1] if group.is_mirrored else sides[1 - (group.hand or 0)]
        for own in there:
            if own.zone == group.zone.id and (group.is_mirrored or own.side not in group.sides):
                return True
            if len(names) == 1 and own.out_front and own.side in others:
                return True
        return False

    def held(self) -> dict[HostKey, str]:
        """Return what processor outputs hold for what stays."""
        return dict(pair for own in self.standing for pair in own.hosts)

    def near(self, one: Group, other: Group) -> bool:
        """Tell whether a link may lead from a box of one group to one of another: somebody said that they are near."""
        return self._beside(one.zone, other.zone) and (one.hand is None or other.hand is None or one.hand == other.hand)

    def near_tail(self, kind: Kind, group: Group) -> bool:
        """Tell whether a box of a group may hang behind the end of a run that stays, in the place of this kind."""
        tail = self.tails[kind.behind]
        return self._beside(tail.zone, group.zone) and (group.hand is None or not tail.side or tail.side in group.sides)

    def _beside(self, here: Zone, there: Zone) -> bool:
        said = here.id == there.id or there.id in here.near or here.id in there.near
        return said or frozenset((here.id, there.id)) in self.linked

    @property
    def two_sides(self) -> bool:
        """Tell whether some zone has two sides that are to be kept apart."""
        return self.mirrored and any(group.is_sided for group in self.groups)


class Counts(msgspec.Struct, frozen=True):
    """The answer: clusters, patterns, and how well each goal was reached."""

    clusters: tuple[tuple[ClusterOption, int], ...]
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
    staying: tuple[str, ...] = ()
    """Connectors whose runs stay."""
    hot: bool = False
    """There was a way to drive boxes by cable that carries more than it is rated for."""


def signal_of(zone: Zone, side: str) -> str:
    """Name the signal of one side of a zone; empty where none is planned."""
    only = next(iter(zone.signals.values())) if len(zone.signals) == 1 else ""
    return zone.signals.get(side, only if not side else "")


def host_keys(group: Group, way: Way) -> tuple[HostKey, ...]:
    """List what processor outputs would have to hold for a group, all its sides together."""
    keys: dict[HostKey, None] = {}
    for side in range(len(group.sides)):
        for _, loads in way.loads:
            preset = loads[0].choice.id or "" if loads else ""
            keys[group.zone.id, group.signal(side), group.speaker.id, preset] = None
    return tuple(keys)


def side_names(groups: Sequence[Group]) -> tuple[frozenset[str], frozenset[str]]:
    """List the names of the first and of the second side of all zones with two sides."""
    first, second = (
        frozenset(name for group in groups for side, name in group.places() if side == wanted) for wanted in (0, 1)
    )
    return first, second


def needs_of(groups: Sequence[Group]) -> tuple[tuple[str, ...], ...]:
    """List the pin pairs that clusters ask of a place, each once."""
    return tuple(dict.fromkeys(way.pairs for group in groups for way in group.ways if way.pairs))


class Way(msgspec.Struct, frozen=True, gc=False):
    """One drive that a group may have, as the loads of one of its boxes."""

    drive: Drive
    loads: tuple[tuple[str, tuple[Load, ...]], ...]
    """Pin pair at the box -> the sections on it; pairs in their order."""

    @property
    def pairs(self) -> tuple[str, ...]:
        """The pin pairs that need an output each."""
        return tuple(pair for pair, _ in self.loads)


class Group(msgspec.Struct, frozen=True, gc=False):
    """Boxes that are alike: of one model, in one zone, driven alike."""

    zone: Zone
    speaker: Loudspeaker
    sides: tuple[str, ...]
    """Two where the sides carry equal numbers, else one."""
    boxes: tuple[tuple[str, ...], ...]
    """For each side, in the order of the show."""
    ways: tuple[Way, ...]
    priority: ZonePriority
    hand: int | None = None
    """0 or 1 where the other side of the zone is a group of its own."""
    across: str = ""
    """The first box of the second side, where one output may drive boxes of both."""

    @property
    def count(self) -> int:
        """Boxes on one side."""
        return len(self.boxes[0])

    @property
    def weight(self) -> int:
        """How many boxes one box on one side stands for."""
        return len(self.sides)

    @property
    def is_mirrored(self) -> bool:
        """Tell whether the group stands on two sides."""
        return len(self.sides) == 2

    @property
    def is_sided(self) -> bool:
        """Tell whether the zone has a second side, which one amplifier should not carry as well."""
        return self.is_mirrored or self.hand is not None

    def places(self) -> tuple[tuple[int, str], ...]:
        """List the sides that the group stands on, 0 or 1, with their names; none where there is one side only."""
        if self.hand is not None:
            return ((self.hand, self.sides[0]),)
        return tuple(enumerate(self.sides)) if self.is_mirrored else ()

    def signal(self, side: int) -> str:
        """Name the signal of one side; empty where none is planned."""
        return signal_of(self.zone, self.sides[side])

    @property
    def links(self) -> bool:
        """Tell whether a run can go on behind a box."""
        return self.speaker.connectors >= 2


class Grouping(msgspec.Struct, frozen=True):
    """How boxes are gathered into groups."""

    free_drives: bool
    """A box whose drive nobody wrote down may be driven in any way its model has."""
    split: bool = False
    """A group a side; else the two sides of a zone are one group where they have equal numbers."""
    joined: frozenset[str] = frozenset()
    """Zones of which one output may drive boxes of both sides."""


def groups_of(show: Show, show_index: ShowIndex, wanted: Collection[str], how: Grouping) -> tuple[Group, ...]:
    """Gather the wanted boxes (by label) into groups, zones in the order of their priority, then of the show."""
    priorities = zone_priorities(show, show_index.speakers)
    zones = {zone.id: zone for zone in show.zones}
    alike: dict[tuple[object, ...], dict[str, list[Box]]] = {}
    for box in show.boxes:
        if box.id not in wanted:
            continue
        unknown = (str(box.unknown.impedance), str(box.unknown.continuous)) if box.unknown else ()
        presets = tuple(sorted(box.presets.items()))
        key = (box.zone, box.model, unknown, box.drive, box.switch, presets)
        alike.setdefault(key, {}).setdefault(box.side, []).append(box)
    groups: list[Group] = []
    of_zone = _sides_of_zones(show)
    for sides in alike.values():
        first = next(iter(sides.values()))[0]
        zone, speaker = zones[first.zone], show_index.speakers[first.id]
        ways = _ways(first, show_index, free_drives=how.free_drives)
        order = of_zone[zone.id]
        two = zone.use != "wedge" and len(order) == 2 and all(order)
        if two and zone.id in how.joined:
            names = [box.id for name in order for box in sides.get(name, ())]
            across = next((box.id for box in sides.get(order[1], ()) if order[0] in sides), "")
            groups.append(Group(zone, speaker, (order[0],), (tuple(names),), ways, priorities[zone.id], across=across))
            continue
        for together in _together(sides, order, whole=two and not how.split):
            boxes = tuple(tuple(box.id for box in sides[name]) for name in together)
            hand = order.index(together[0]) if two and len(together) == 1 else None
            groups.append(Group(zone, speaker, together, boxes, ways, priorities[zone.id], hand))
    ranks = {zone.id: index for index, zone in enumerate(show.zones)}
    return tuple(sorted(groups, key=lambda group: (group.priority.order, ranks[group.zone.id])))


def _sides_of_zones(show: Show) -> dict[str, tuple[str, ...]]:
    """List the sides on which each zone has boxes, the same two in the same order in every zone: left before right."""
    found: dict[str, dict[str, None]] = {zone.id: dict.fromkeys(zone.signals) for zone in show.zones}
    there: dict[str, set[str]] = {}
    for box in show.boxes:
        found[box.zone][box.side] = None
        there.setdefault(box.zone, set()).add(box.side)
    orders: dict[frozenset[str], tuple[str, ...]] = {}
    for zone, names in found.items():
        own = tuple(name for name in names if name in there.get(zone, ()))
        orders.setdefault(frozenset(own), own)
    return {zone: orders[frozenset(there.get(zone, ()))] for zone in found}


def _together(sides: Mapping[str, list[Box]], order: Sequence[str], *, whole: bool) -> list[tuple[str, ...]]:
    """Say which sides are planned as one: two out front with equal numbers; the sides of wedges are mixes."""
    names = tuple(name for name in order if name in sides)
    if whole and len(names) == 2 and len(sides[names[0]]) == len(sides[names[1]]):
        return [names]
    return [(name,) for name in names]


def _ways(box: Box, show_index: ShowIndex, *, free_drives: bool) -> tuple[Way, ...]:
    speaker = show_index.speakers[box.id]
    planned = box.drive or box.switch or planned_drive(box, speaker)
    drives: list[Drive] = [planned]
    if free_drives and box.drive is None and box.switch is None:
        drives += [drive for drive in speaker.drives() if drive not in (planned, "self-powered")]
    ways = [way_of(box, show_index, drive) for drive in drives]
    # A drive that only the program thinks of must have its presets; one that a person planned is theirs to fix.
    return (ways[0], *(way for way in ways[1:] if all(load.choice.preset for _, loads in way.loads for load in loads)))


def way_of(box: Box, show_index: ShowIndex, drive: Drive) -> Way:
    """Return the loads of a box in one drive."""
    speaker, use = show_index.speakers[box.id], show_index.uses[box.zone]
    loads: dict[str, tuple[Load, ...]] = {}
    for section in speaker.sections_in(drive):
        if section.impedance is not None:
            pair = str(section.pair)
            loads[pair] = (*loads.get(pair, ()), load_of(box, speaker, drive, section, use))
    return Way(drive, tuple(sorted(loads.items(), key=lambda item: int(item[0]))))
