"""New labels, copies under them, and the side that a label speaks of."""

from __future__ import annotations

from collections.abc import Collection

import msgspec

from fieldkit.show.document import Box, Show
from fieldkit.show.usage import LABELS


def another_like(show: Show, box: Box) -> Box:
    """Copy a box under the next free label: ``W1`` makes ``W2``. Where it stands is not known yet."""
    return msgspec.structs.replace(box, id=next_label(show, box.id), position=None, serial="", note="")


def next_label(show: Show, label: str) -> str:
    """Make the next label after one that nobody in the show has."""
    return label_after(label, {thing.id for table in LABELS for thing in getattr(show, table)})


def label_after(label: str, taken: Collection[str]) -> str:
    """Make the next label after one that is not taken: ``ML2`` after ``ML1``, ``W-B1`` after ``W-B``, ``A-02``."""
    stem = label.rstrip("0123456789")
    digits = label[len(stem) :]
    number = int(digits) + 1 if digits else 1
    while f"{stem}{number:0{len(digits)}}" in taken:
        number += 1
    return f"{stem}{number:0{len(digits)}}"


def side_of_label(show: Show, label: str) -> str | None:
    """Propose the side that a label speaks of, as the labels of the show so far speak of theirs.

    Two boxes whose labels differ in one mark and which stand on different sides say what the mark means, in whatever
    script; until they say otherwise L is left and R is right. None where it says nothing, or two things. Whoever asks
    has to say it back: FL may be a front fill.
    """
    meant = side_marks(show)
    found = {meant[mark] for mark in label if mark in meant}
    return found.pop() if len(found) == 1 else None


def side_marks(show: Show) -> dict[str, str]:
    """Read what single marks of labels mean: mark -> side; a mark that two sides use means nothing."""
    meant: dict[str, set[str]] = {"L": {"left"}, "R": {"right"}}
    by_rest: dict[tuple[str, int, str], list[tuple[str, str]]] = {}
    for box in show.boxes:
        if box.side:
            for at, mark in enumerate(box.id):
                by_rest.setdefault((box.id[:at], at, box.id[at + 1 :]), []).append((mark, box.side))
    for twins in by_rest.values():
        if len({side for _, side in twins}) > 1:
            for mark, side in twins:
                meant.setdefault(mark, set()).add(side)
    return {mark: sides.pop() for mark, sides in meant.items() if len(sides) == 1 and not mark.isdecimal()}
