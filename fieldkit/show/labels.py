"""New labels, and copies under them: another box like this one, on the other side."""

from __future__ import annotations

import msgspec

from fieldkit.show.document import Box, Show
from fieldkit.show.usage import LABELS


def another_like(show: Show, box: Box) -> Box:
    """Copy a box under the next free label: ``W1`` makes ``W2``; on the other side where there are two."""
    label = next_label(show, box.id)
    zone = next(zone for zone in show.zones if zone.id == box.zone)
    sides = list(zone.signals)
    side = next((name for name in sides if name != box.side), box.side) if len(sides) == 2 else box.side
    return msgspec.structs.replace(box, id=label, side=side, serial="", note="")


def next_label(show: Show, label: str) -> str:
    """Make the next label after one that nobody has: ``ML2`` after ``ML1``, ``W-B2`` after ``W-B``."""
    taken = {thing.id for table in LABELS for thing in getattr(show, table)}
    stem = label.rstrip("0123456789")
    number = int(label[len(stem) :] or 1)
    while f"{stem}{number}" in taken or f"{stem}{number}" == label:
        number += 1
    return f"{stem}{number}"
