"""The preset of a section: from box, drive, use and low end, and why."""

from __future__ import annotations

import msgspec

from fieldkit.gear.loudspeaker import USES, Drive, Loudspeaker, Preset, Section, Use
from fieldkit.rig.connect.uses import ZoneUse
from fieldkit.show.document import Box


class Choice(msgspec.Struct, frozen=True, gc=False):
    """A preset, or none, and the reason."""

    preset: Preset | None
    why: str
    by_hand: bool = False
    guessed: bool = False
    """True where it stands on a use, or on a low end, that nobody said."""

    @property
    def id(self) -> str | None:
        """The preset's name, if there is one."""
        return self.preset.id if self.preset else None


def choose(box: Box, speaker: Loudspeaker, section: Section, zone_use: ZoneUse) -> Choice:
    """Choose the preset of one section of one box.

    What the show names by hand rules. Else the section's preset for this very use, else one for any use. A
    sub asks for itself and not for what it gives to others, so for it ``with sub`` also means ``full range``.
    """
    by_hand = box.presets.get(section.section)
    if by_hand is not None:
        return Choice(speaker.preset(by_hand), "named by hand in the show", by_hand=True)
    offered = [preset for name in section.presets if (preset := speaker.preset(name))]
    if not offered and speaker.assumed:
        return Choice(None, "no data sheet, so no preset is known")
    if not offered:
        return Choice(None, f"'{speaker.id}' has no preset for its {section.section} section, {section.drive}")
    what = f"{section.drive} {section.section} of '{speaker.id}'"
    found = preset_for(speaker, section, zone_use.use)
    if found is not None:
        preset, use = found
        meant = "for any use" if use == "any" else f"for use {use}"
        guessed = use != "any" and (zone_use.use_guessed or zone_use.guessed)
        return Choice(preset, f"{what}, {meant}: zone '{box.zone}' is {_said(zone_use)}", guessed=guessed)
    names = ", ".join(f"{preset.id} ({', '.join(preset.uses)})" for preset in offered)
    return Choice(None, f"{what} has no preset for use {zone_use.use}, only {names}")


def preset_for(speaker: Loudspeaker, section: Section, use: Use) -> tuple[Preset, Use] | None:
    """Choose the preset of a section for a use, and say which of its own uses that is; None where it has none.

    The models' pages, the chart and the choice for a rig's boxes all take it from here.
    """
    offered = [preset for name in section.presets if (preset := speaker.preset(name))]
    for wanted in _uses_in_turn(use, section):
        for preset in offered:
            if wanted in preset.uses:
                return preset, wanted
    return None


class PresetRow(msgspec.Struct, frozen=True, gc=False):
    """A section in a drive, and what it plays with in some uses: one row of a model's table of presets."""

    drive: Drive
    section: Section
    preset: Preset | None
    """None where the section has no preset for these uses."""
    uses: tuple[Use, ...]


def preset_rows(speaker: Loudspeaker) -> tuple[PresetRow, ...]:
    """List the presets of a model by drive, section and use; one that serves several uses stands once, gaps stand too.

    Sections that are alike but for their pin pair, as two low drivers are, stand once.
    """
    rows: dict[tuple[Drive, str, tuple[str, ...], str], PresetRow] = {}
    for section in speaker.sections:
        for use in USES if section.presets else ():
            found = preset_for(speaker, section, use)
            key = (section.drive, section.section, section.presets, found[0].id if found else "")
            row = rows.get(key) or PresetRow(section.drive, section, found[0] if found else None, ())
            if use not in row.uses:
                rows[key] = msgspec.structs.replace(row, uses=(*row.uses, use))
    return tuple(rows.values())


def fits(preset: Preset, use: Use, section: Section) -> bool:
    """Tell whether a preset is meant for this use of this section."""
    return any(wanted in preset.uses for wanted in _uses_in_turn(use, section))


def _uses_in_turn(use: Use, section: Section) -> tuple[Use, ...]:
    if section.section == "sub":
        without: Use = "wedge" if use.startswith("wedge") else "full range"
        return (without, use, "any") if without != use else (use, "any")
    return (use, "any")


def _said(zone_use: ZoneUse) -> str:
    guessed = " (guessed)" if zone_use.use_guessed else ""
    return f"{'a wedge' if zone_use.use.startswith('wedge') else 'out front'}{guessed}, {zone_use.why}"
