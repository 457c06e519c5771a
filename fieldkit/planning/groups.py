"""What is to be driven: boxes that are alike, in one zone, on one side or on two sides in equal numbers."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import msgspec

from fieldkit.gear.loudspeaker import Drive, Loudspeaker
from fieldkit.rig.lines import Ground, Load, load_of
from fieldkit.rig.uses import planned_drive
from fieldkit.show.document import Box, Show, Zone


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
    hand: int | None = None
    """0 or 1 where the other side of the zone is a group of its own, since it has more boxes or fewer."""

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
        """Give the sides that the group stands on, 0 or 1, with their names; none where there is one side only."""
        if self.hand is not None:
            return ((self.hand, self.sides[0]),)
        return tuple(enumerate(self.sides)) if self.is_mirrored else ()

    def signal(self, side: int) -> str:
        """Name the signal of one side; empty where none is planned."""
        signals = self.zone.signals
        only = next(iter(signals.values())) if len(signals) == 1 else ""
        return signals.get(self.sides[side], only if not self.sides[side] else "")

    @property
    def links(self) -> bool:
        """Tell whether a run can go on behind a box."""
        return self.speaker.connectors >= 2


def groups_of(show: Show, ground: Ground, wanted: Collection[str], *, free_drives: bool) -> tuple[Group, ...]:
    """Gather the wanted boxes (by label) into groups, zones in the order of their priority, then of the show."""
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
    orders: dict[frozenset[str], tuple[str, ...]] = {}
    for sides in alike.values():
        first = next(iter(sides.values()))[0]
        zone, speaker = zones[first.zone], ground.speakers[first.id]
        ways = _ways(first, ground, free_drives=free_drives)
        lots = _together(zone, sides)
        everywhere = tuple(name for lot in lots for name in lot)
        order = orders.setdefault(frozenset(everywhere), everywhere)  # left before right in every zone
        two = zone.use != "wedge" and len(lots) == 2 and all(everywhere)
        for together in lots:
            names = tuple(name for name in order if name in together)
            boxes = tuple(tuple(box.id for box in sides[name]) for name in names)
            groups.append(Group(zone, speaker, names, boxes, ways, order.index(names[0]) if two else None))
    ranks = {zone.id: index for index, zone in enumerate(show.zones)}
    return tuple(sorted(groups, key=lambda group: (group.zone.priority or 1_000, ranks[group.zone.id])))


def _together(zone: Zone, sides: Mapping[str, list[Box]]) -> list[tuple[str, ...]]:
    """Say which sides are planned as one: two out front with equal numbers; the sides of wedges are mixes."""
    names = tuple(name for name in zone.signals if name in sides)
    names = (*names, *(name for name in sides if name not in names))
    if zone.use != "wedge" and len(names) == 2 and all(names) and len(sides[names[0]]) == len(sides[names[1]]):
        return [names]
    return [(name,) for name in names]


def _ways(box: Box, ground: Ground, *, free_drives: bool) -> tuple[Way, ...]:
    speaker = ground.speakers[box.id]
    planned = box.drive or box.switch or planned_drive(box, speaker)
    drives: list[Drive] = [planned]
    if free_drives and box.drive is None and box.switch is None:
        drives += [drive for drive in speaker.drives() if drive not in (planned, "self-powered")]
    ways = [way_of(box, ground, drive) for drive in drives]
    # A drive that only the program thinks of must have its presets; one that a person planned is theirs to mend.
    return (ways[0], *(way for way in ways[1:] if all(load.choice.preset for _, loads in way.loads for load in loads)))


def way_of(box: Box, ground: Ground, drive: Drive) -> Way:
    """Give the loads of a box in one drive."""
    speaker, use = ground.speakers[box.id], ground.uses[box.zone]
    loads: dict[str, tuple[Load, ...]] = {}
    for section in speaker.sections_in(drive):
        if section.impedance is not None:
            pair = str(section.pair)
            loads[pair] = (*loads.get(pair, ()), load_of(box, speaker, drive, section, use))
    return Way(drive, tuple(sorted(loads.items(), key=lambda item: int(item[0]))))
