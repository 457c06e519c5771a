"""Whom a page is for: the racks with what stands in each, and the sides of the stage with their boxes."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from fieldkit.show.document import Box, RackUnit, Show

LEFT, RIGHT = frozenset({"left", "l"}), frozenset({"right", "r"})
"""Sides that have a hand of their own, as shows call them; all others share one."""
PLACE_HEADS = ("rack", "stage")
"""How the names of their pages begin."""
LONGEST = 24
"""So many letters of a label go into the name of a file."""


class RackPlace(msgspec.Struct, frozen=True):
    """A rack, or a unit that stands in none."""

    key: str
    """Of its page: ``rack-left``."""
    title: str
    rack: str
    """Empty for a unit in no rack."""
    units: tuple[str, ...]


class StageSide(msgspec.Struct, frozen=True):
    """The boxes that one pair of hands looks after."""

    key: str
    title: str
    boxes: tuple[Box, ...]


def rack_places(show: Show, units: Iterable[RackUnit]) -> tuple[RackPlace, ...]:
    """List the racks in the order of the show, then each unit that is in none."""
    in_rack: dict[str, list[str]] = {rack.id: [] for rack in show.racks}
    loose: list[str] = []
    for unit in units:
        in_rack.get(unit.rack or "", loose).append(unit.id)
    found = [
        (", ".join(part for part in (f"Rack {rack.id}", rack.side) if part), rack.id, tuple(in_rack[rack.id]))
        for rack in show.racks
        if in_rack[rack.id]
    ]
    found += [(f"{unit}, in no rack", "", (unit,)) for unit in loose]
    keys = file_names("rack", [rack or units[0] for _, rack, units in found])
    return tuple(RackPlace(key, *place) for key, place in zip(keys, found, strict=True))


def stage_sides(show: Show) -> tuple[StageSide, ...]:
    """Share the boxes among the left hand, the right hand and one for all other sides, as the show calls them.

    Left and right are the show's own words: whether they are seen from the stage or from the audience, it does not say.
    """
    left = tuple(box for box in show.boxes if box.side.casefold() in LEFT)
    right = tuple(box for box in show.boxes if box.side.casefold() in RIGHT)
    taken = {box.id for box in (*left, *right)}
    rest = tuple(box for box in show.boxes if box.id not in taken)
    found = (
        StageSide("stage-left", "Stage: left", left),
        StageSide("stage-right", "Stage: right", right),
        StageSide("stage-middle", "Stage: the rest" if taken else "Stage", rest),
    )
    return tuple(side for side in found if side.boxes)


def file_names(head: str, labels: Iterable[str]) -> list[str]:
    """Make a file name of the program's own for each label: small letters and digits, each once."""
    found: dict[str, None] = {}
    for label in labels:
        plain = "".join(mark if mark.isascii() and mark.isalnum() else "-" for mark in label.casefold())[:LONGEST]
        parts = [head, *(part for part in plain.split("-") if part)]
        name, number = "-".join(parts), 1
        while name in found or name == head:
            number += 1
            name = "-".join((*parts, str(number)))
        found[name] = None
    return list(found)
