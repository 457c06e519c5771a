"""Left against right: which box stands across from which, and what is not the same there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.document import Box
from fieldkit.show.mirroring import other_side


class Across(msgspec.Struct, frozen=True):
    """The box that stands in the same place on the other side, and what is not the same there."""

    name: str
    differs: tuple[str, ...]

    @property
    def word(self) -> str:
        """In two words."""
        return f"{'not as' if self.differs else 'mirrors'} {self.name}"

    @property
    def says(self) -> str:
        """In a sentence, with what differs."""
        if self.differs:
            return f"not as {self.name} across: {'; '.join(self.differs)}"
        return f"mirrors {self.name}: same model, drive, presets and amplifier"


def across(rig: Rig, fed: Mapping[str, Sequence[tuple[SolvedOutput, SolvedLine]]]) -> dict[str, Across]:
    """Find for each box the one across: in its zone, on the other side, as far down the list of its side."""
    sides: dict[tuple[str, str], list[Box]] = {}
    for box in rig.show.boxes:
        sides.setdefault((box.zone, box.side), []).append(box)
    found = {}
    for (zone, side), boxes in sides.items():
        other = other_side(rig.show, zone, side) if side else None
        for box, twin in zip(boxes, sides.get((zone, other or ""), ()) if other else (), strict=False):
            there = _played(rig, twin, fed.get(twin.id, ()))
            found[box.id] = Across(
                twin.id,
                tuple(
                    f"{word} {mine or 'none'}, there {there[word] or 'none'}"
                    for word, mine in _played(rig, box, fed.get(box.id, ())).items()
                    if mine != there[word]
                ),
            )
    return found


def abreast(boxes: Sequence[Box], twins: Mapping[str, Across]) -> list[tuple[Box | None, Box | None]]:
    """Put the boxes of a zone side by side, each with the one across, the left side first.

    What has none across, where others of its side have, is alone on its side; in a zone without sides all are first.
    """
    named = {box.id: box for box in boxes}
    pairs = [(box, named[twins[box.id].name]) for box in boxes if box.id in twins]
    sides = [side for pair in pairs for side in (pair[0].side, pair[1].side)]
    second = "right" if "right" in sides else sides[1] if sides else None
    rows: list[tuple[Box | None, Box | None]] = []
    for box in boxes:
        twin = named.get(twins[box.id].name) if box.id in twins else None
        if twin is None:
            rows.append((None, box) if box.side == second else (box, None))
        elif box.side != second:
            rows.append((box, twin))
    return rows


def _played(rig: Rig, box: Box, fed: Sequence[tuple[SolvedOutput, SolvedLine]]) -> dict[str, str]:
    """Say by what a box is as another: model, drive, the preset of each of its sections, and what amplifies it."""
    loads = [item.load for _, line in fed for item in line.boxes if item.load.box.id == box.id]
    presets = sorted({(load.section.section, load.choice.id or "none") for load in loads})
    return {
        "model": box.model or "assumed",
        "drive": drive_text(box, rig.show_index.speakers[box.id]),
        "preset": " ".join(dict.fromkeys(preset for _, preset in presets)),
        "amplifier": " ".join(dict.fromkeys(output.output.model.id for output, _ in fed)),
    }
