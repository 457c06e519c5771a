"""Lines that have only moved: the terminal moves them by itself, in 30 bytes; to write them takes 100 bytes a line.

A list that goes on by a row has another text in each of its lines, and yet only one that is not on the screen yet. A
region of lines (DECSTBM) in which lines are deleted or inserted (DL, IL) is known to terminals since the VT102, and to
tmux and screen (DL and IL: ECMA-48, 8.3.32 and 8.3.67). What is exposed is blank, in the terminal's own colours
while no style is on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TypeVar

import msgspec

Line = TypeVar("Line")

FEWEST = 3
"""So many lines must have moved to make it worth it."""


class ScrolledLines(msgspec.Struct, frozen=True):
    """A stretch of lines that moves."""

    top: int
    bottom: int
    """The last line that belongs to it."""
    up: int
    """So many lines up; down where it is negative."""

    @property
    def sequence(self) -> str:
        """What tells a terminal to move them, while no style is on; the cursor is anywhere then."""
        many = f"{self.up}M" if self.up > 0 else f"{-self.up}L"
        return f"\x1b[{self.top + 1};{self.bottom + 1}r\x1b[{self.top + 1};1H\x1b[{many}\x1b[r"

    def applied(self, lines: Sequence[Line], blank: Line) -> list[Line]:
        """Move the lines of a screen as the terminal does."""
        inside = range(self.top, self.bottom + 1)
        moved = [lines[y + self.up] if y + self.up in inside else blank for y in inside]
        return [*lines[: self.top], *moved, *lines[self.bottom + 1 :]]


def scrolled(seen: Sequence[str | None], wanted: Mapping[int, str]) -> ScrolledLines | None:
    """Find the lines that have moved, by their texts: what is seen, and what is wanted in some of the lines.

    None where too few have, or a line that stays would go with them.
    """
    places: dict[str, list[int]] = {}
    for y, text in enumerate(seen):
        if text is not None and not text.isspace():
            places.setdefault(text, []).append(y)
    ways = Counter(was - y for y, text in wanted.items() if seen[y] != text for was in places.get(text, ()))
    if not ways:
        return None
    up, count = max(ways.items(), key=lambda way: (way[1], -abs(way[0])))
    moved = [y for y, text in wanted.items() if seen[y] != text and y + up in range(len(seen)) and seen[y + up] == text]
    top, bottom = min(*moved, min(moved) + up), max(*moved, max(moved) + up)
    staying = [y for y in range(top, bottom + 1) if y not in wanted or (seen[y] == wanted[y] and y not in moved)]
    lost = [y for y in staying if y not in wanted or not wanted[y].isspace()]
    if any(y not in wanted for y in lost) or count - len(lost) < max(FEWEST, abs(up)):
        return None
    return ScrolledLines(top, bottom, up)
