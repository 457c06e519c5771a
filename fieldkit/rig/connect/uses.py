"""What a zone asks of its boxes: out front or a wedge, and who gives it its low end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from fieldkit.gear.loudspeaker import Drive, Loudspeaker, Use
from fieldkit.show.document import Box, Show, Zone


class ZoneUse(msgspec.Struct, frozen=True, gc=False):
    """How the boxes of a zone are used, and why the program thinks so."""

    use: Use

    low_end_from: tuple[str, ...]
    guessed: bool
    """True where nobody says which zones give it its low end."""
    why: str
    use_guessed: bool = False
    """True where nobody says whether it is out front or a wedge."""

    @property
    def text(self) -> str:
        """The use as people read it, with what of it was guessed."""
        if self.use_guessed:
            return f"{self.use} (guessed)"
        return f"{self.use} (low end guessed)" if self.guessed else self.use


def planned_drive(box: Box, speaker: Loudspeaker) -> Drive:
    """Say how a box is meant to be driven: as written, else its only drive, else passive."""
    if box.drive is not None:
        return box.drive
    drives = speaker.drives()
    return "passive" if "passive" in drives else drives[0]


def drive_text(box: Box, speaker: Loudspeaker) -> str:
    """Say how a box is meant to be driven, and that it was guessed where its model leaves a choice and nobody says."""
    drive = planned_drive(box, speaker)
    return drive if box.drive is not None or len(speaker.drives()) < 2 else f"{drive} (guessed)"


def is_sub(speaker: Loudspeaker) -> bool:
    """Tell whether a model gives low end and nothing else."""
    return all(section.section == "sub" for section in speaker.sections)


def zone_uses(show: Show, speakers: Mapping[str, Loudspeaker]) -> dict[str, ZoneUse]:
    """Work out the use of every zone; ``speakers`` gives the model of each box by the box's id."""
    subs: set[str] = set()
    tops: set[str] = set()
    standing = {(box.zone, id(speakers[box.id])): speakers[box.id] for box in show.boxes}
    for (zone, _), speaker in standing.items():  # of each model once, since rows of boxes are alike
        (subs if is_sub(speaker) else tops).add(zone)
    sub_zones = [zone.id for zone in show.zones if zone.use != "wedge" and zone.id in subs and zone.id not in tops]
    return {zone.id: _zone_use(zone, zone.id in subs, zone.id in tops, sub_zones) for zone in show.zones}


def _zone_use(zone: Zone, has_subs: bool, has_tops: bool, sub_zones: list[str]) -> ZoneUse:  # noqa: FBT001
    if zone.low_end_from is not None:
        sources, guessed = zone.low_end_from, False
        why = f"low end from {_listed(sources)}, as the show says" if sources else "no low end, as the show says"
    elif has_subs and has_tops:
        sources, guessed, why = (zone.id,), True, "the zone has subs of its own (guessed)"
    elif has_tops and zone.use != "wedge" and sub_zones:
        sources, guessed = tuple(sub_zones), True
        why = f"subs stand out front in {_listed(sub_zones)} (guessed)"
    else:
        sources, guessed, why = (), True, "nothing else gives it low end (guessed)"
    with_sub: Use = "wedge with sub" if zone.use == "wedge" else "with sub"
    without: Use = "wedge" if zone.use == "wedge" else "full range"
    return ZoneUse(
        use=with_sub if sources else without,
        low_end_from=tuple(sources),
        guessed=guessed,
        why=why,
        use_guessed=zone.use is None,
    )


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
