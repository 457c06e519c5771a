"""How a text is shown: numbers with their units, what people typed made safe, ASCII where there is no more."""

from __future__ import annotations

import msgspec

from fieldkit.text.words import printable
from fieldkit.units import format_value

_SPELLED = {
    "Ω": "ohm",
    "²": "2",
    "³": "3",
    "°": "deg",
    "×": "x",
    "·": "*",
    "µ": "u",
    "√": "sqrt ",
    "π": "pi",
    "−": "-",
    "–": "-",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "≈": "~",
    "≠": "=/=",
    "½": "1/2",
    "’": "'",
    "…": "...",
    "├": "|",
    "┤": "|",
    "─": "-",
    "═": "=",
    "┊": ":",
    "●": "o",
    "◄": "<",
}
"""What is ours beyond ASCII, as a terminal without it shows it; what people typed is shown by its numbers."""


def in_ascii(text: str) -> str:
    """Write a text with ASCII alone."""
    if text.isascii():
        return text
    for mark, spelled in _SPELLED.items():
        text = text.replace(mark, spelled)
    return text.encode("ascii", "backslashreplace").decode("ascii")


class Style(msgspec.Struct, frozen=True):
    """How to print: with or without characters beyond ASCII."""

    ascii_only: bool = False
    bars: bool = True
    """Whether bars and scales are drawn beside their numbers; a reader aloud has nothing of them."""

    def value(self, number: float | None, unit: str, digits: int = 3) -> str:
        """Print a number with its unit; a dash for what is not known."""
        return "-" if number is None else format_value(number, unit, digits, ascii_only=self.ascii_only)

    def plain(self, text: str) -> str:
        """Print a text that may hold anything that somebody typed."""
        safe = printable(text, 500)
        if not self.ascii_only:
            return safe
        return in_ascii(safe)
