"""Widths of text in cells of a terminal or a typewriter face: two for wide letters, none for marks that combine."""

from __future__ import annotations

import re
import unicodedata

_JOINT = re.compile(r"[^-/_,;]*[-/_,;]+|[^-/_,;]+")
"""A piece of a word with the mark behind which it may be cut."""


def cells(text: str) -> int:
    """Count the cells that a text takes."""
    if text.isascii():
        return len(text)
    return sum(_cells_of(mark) for mark in text)


def _cells_of(mark: str) -> int:
    if unicodedata.combining(mark):
        return 0
    return 2 if unicodedata.east_asian_width(mark) in "WF" else 1


def padded(text: str, width: int, *, right: bool = False) -> str:
    """Fill a text up with spaces."""
    space = " " * max(0, width - cells(text))
    return space + text if right else text + space


def clipped(text: str, width: int) -> str:
    """Cut a text to so many cells, with a mark where something is missing."""
    if cells(text) <= width:
        return text
    kept = text[:width]
    while kept and cells(kept) > width - 1:
        kept = kept[:-1]
    return f"{kept}…"


def wrapped(text: str, width: int) -> list[str]:
    """Break a text into lines of at most so many cells, at spaces where there are any; at least one line.

    A letter wider than the room stands alone on its line.
    """
    lines, line, room = [], "", width
    for word in text.split():
        for part in _parts(word, width):
            size = cells(part)
            if line and size + 1 > room:
                lines.append(line)
                line, room = "", width
            line = f"{line} {part}" if line else part
            room = width - cells(line)
    if line or not lines:
        lines.append(line)
    return lines


def _parts(word: str, width: int) -> list[str]:
    """Cut a word that is wider than the room: behind its joints where that does, else anywhere."""
    if cells(word) <= width:
        return [word]
    parts, part = [], ""
    for piece in _JOINT.findall(word):
        if part and cells(part) + cells(piece) > width:
            parts.append(part)
            part = ""
        for mark in piece if cells(piece) > width else (piece,):
            if part and cells(part) + cells(mark) > width:
                parts.append(part)
                part = ""
            part += mark
    return [*parts, part]
