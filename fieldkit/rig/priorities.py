"""Which zone comes first where not all can be driven: by priority as the show says, else by what the zone is.

A priority that nobody set is taken from what the show says of the zone, and is *guessed* wherever it is used: mains,
the wedge of the lead, subs, fills, delays, wedges of singers, other wedges, foyers. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Literal

import msgspec

from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.rig.connect.uses import is_sub
from fieldkit.show.document import Show, Zone

ZoneRole = Literal["mains", "lead wedge", "subs", "fill", "delay", "singer's wedge", "wedge", "foyer"]

GUESSED: dict[ZoneRole, int] = {
    "mains": 1,
    "lead wedge": 2,
    "subs": 3,
    "fill": 4,
    "delay": 5,
    "singer's wedge": 6,
    "wedge": 7,
    "foyer": 9,
}
"""The priority that a zone is given where it has none."""

FOYERS = ("foyer", "lobby", "bar", "corridor", "entrance", "restaurant", "lounge")
DELAYS = ("delay", "tower", "balcon")
SINGERS = ("vocal", "vox", "voc", "sing", "choir")
FAR_M = 20.0
"""A zone timed to one this much farther from the listeners than itself is a delay, and not a fill."""


class ZonePriority(msgspec.Struct, frozen=True, gc=False):
    """When a zone is driven, the smaller the earlier."""

    number: int
    guessed: bool
    role: ZoneRole

    @property
    def order(self) -> tuple[int, bool]:
        """What to sort by: a priority that somebody set comes before the same one that is guessed."""
        return self.number, self.guessed

    @property
    def text(self) -> str:
        """Say it as people read it."""
        return f"taken as {self.role}, guessed" if self.guessed else f"priority {self.number}"


def zone_priorities(show: Show, speakers: Mapping[str, Loudspeaker]) -> dict[str, ZonePriority]:
    """Find the priority of every zone; ``speakers`` has the model of each box by the box's id."""
    tops = {box.zone for box in show.boxes if not is_sub(speakers[box.id])}
    served = {box.zone for box in show.boxes}
    roles = {zone.id: _role(zone, show.zones, subs=zone.id in served - tops) for zone in show.zones}
    return {
        zone.id: ZonePriority(zone.priority or GUESSED[roles[zone.id]], zone.priority is None, roles[zone.id])
        for zone in show.zones
    }


def guessed_order(priorities: Mapping[str, ZonePriority], zones: Collection[str]) -> str:
    """Say in what order zones without a priority are taken; empty where each of these has one."""
    guessed = [name for name in zones if priorities[name].guessed]
    named = (f"{name} ({priorities[name].role})" for name in sorted(guessed, key=lambda name: priorities[name].order))
    return ", then ".join(named)


def _role(zone: Zone, zones: Collection[Zone], *, subs: bool) -> ZoneRole:
    words = re.findall(r"[a-z]+", zone.id.lower())

    def named(stems: Collection[str]) -> bool:
        return any(word.startswith(stem) for word in words for stem in stems)

    if zone.use == "wedge":
        if named(("lead",)):
            return "lead wedge"
        return "singer's wedge" if named(SINGERS) else "wedge"
    if named(FOYERS):
        return "foyer"
    if subs:
        return "subs"
    if any("fill" in word for word in words):
        return "fill"
    if named(DELAYS):
        return "delay"
    if named(("main", "lead")):
        return "mains"
    if zone.timed_to is not None:
        away_m = zone.reference_distance.value if zone.reference_distance else 0.0
        own_m = zone.own_distance.value if zone.own_distance else 0.0
        return "delay" if away_m - own_m > FAR_M else "fill"
    others = [other for other in zones if other is not zone and other.use != "wedge"]
    if len(zone.signals) < 2 and any(len(other.signals) == 2 for other in others):
        return "fill"
    return "mains"
