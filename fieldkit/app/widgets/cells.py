"""How the cells of a table are laid out: widths shared out, long texts cut, decimal points one under the other."""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec
from rich.cells import cell_len, set_cell_size

_NUMBER = re.compile(r"(\s*[-+]?\d+)([.,]\d+)?(.*)", re.DOTALL)
SHORTEST_CUT = 5
"""Cells from which on a label is cut in its middle: one letter, the mark and one letter say nothing."""


class ListColumn(msgspec.Struct, frozen=True):
    """A column: its title, and how its width is found."""

    title: str
    minimum: int = 3
    share: int = 0
    """Share of the room that is left over; 0 keeps the width of the widest cell."""
    right: bool = False
    decimal: bool = False
    """Whether its numbers stand with their decimal points one under the other."""


def clipped(text: str, size: int, mark: str) -> str:
    """Fit a text into so many cells: a sentence loses its end, a label its middle, since labels differ at both ends."""
    if cell_len(text) <= size:
        return set_cell_size(text, size)
    lead = len(text) - len(text.lstrip())
    if " " in text.strip() or size - lead < SHORTEST_CUT:
        return set_cell_size(text, max(0, size - 1)) + mark
    behind = (size - lead - 1) // 2
    tail = text
    while cell_len(tail) > behind:
        tail = tail[1:]
    return set_cell_size(text, size - 1 - cell_len(tail)) + mark + tail


def fitted(columns: Sequence[ListColumn], natural: Sequence[int], room: int) -> tuple[int, ...]:
    """Share the room out: what is over goes to the columns that take a share, what lacks is taken from them first.

    Where that does not do, the widest column gives way, and so on, but none below its minimum.
    """
    widths = list(natural)
    shares = sum(column.share for column in columns)
    over = room - sum(widths)
    if over > 0 and shares:
        widths = [width + over * column.share // shares for width, column in zip(widths, columns, strict=True)]
    for sharing in (True, False):
        while sum(widths) > room:
            places = [
                place
                for place, column in enumerate(columns)
                if widths[place] > max(column.minimum, 3) and (column.share > 0 or not sharing)
            ]
            if not places:
                break
            widths[max(places, key=widths.__getitem__)] -= 1
    return tuple(widths)


def aligned(texts: Sequence[str]) -> list[str]:
    """Fill numbers up behind their decimals, so that at the right edge their points stand one under the other."""
    parts = [_NUMBER.fullmatch(text) for text in texts]
    longest = max((len(part[2] or "") for part in parts if part), default=0)
    return [
        f"{part[1]}{(part[2] or '').ljust(longest)}{part[3]}" if part else text
        for part, text in zip(parts, texts, strict=True)
    ]
