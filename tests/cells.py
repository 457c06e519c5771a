"""What a person sees: the cells that a terminal shows after it was sent some bytes, and their contrast.

The terminal is pyte, which has nothing in common with the program; colours become light by WCAG 2.2's definitions of
*relative luminance* and *contrast ratio*.
"""

from __future__ import annotations

import re
import time
from typing import NamedTuple

import pyte
from terminals import Terminal

COLUMNS, ROWS = 80, 24
NAMES = ("black", "red", "green", "brown", "blue", "magenta", "cyan", "white")
LOWER = ("000000", "cd0000", "00cd00", "cdcd00", "0000ee", "cd00cd", "00cdcd", "e5e5e5")
UPPER = ("7f7f7f", "ff0000", "00ff00", "ffff00", "5c5cff", "ff00ff", "00ffff", "ffffff")
PALETTE = dict(zip(NAMES, LOWER, strict=True)) | dict(zip((f"bright{name}" for name in NAMES), UPPER, strict=True))
"""The 16 colours as xterm has them when nobody changed them (from memory); pyte calls yellow brown."""
UNREAD = re.compile(rb"\x1b\[[<>=?][0-9;]*[$]?[a-zA-Z]")
"""Private modes, which pyte would read as something else."""
WHOLE = re.compile(rb"\x1b(\[[0-?]*[ -/]*[@-~]|[^\[])")
"""A sequence that has all its parts."""


class Cells(NamedTuple):
    """Cells of a row that look alike, less the blank ones."""

    row: int
    text: str
    contrast: float
    reverse: bool
    colours: tuple[str, str]


class Picture:
    """A terminal that shows what it is sent; ``light`` is one whose own colours are black on white."""

    def __init__(self, *, light: bool = False) -> None:
        self.light = light
        self._screen = pyte.Screen(COLUMNS, ROWS)
        self._stream = pyte.ByteStream(self._screen)
        self._rest = b""

    def feed(self, data: bytes) -> None:
        """Show more; a sequence that is cut off waits for its end."""
        data = self._rest + data
        cut = data.rfind(b"\x1b", max(0, len(data) - 32))
        whole = cut < 0 or WHOLE.match(data, cut)
        data, self._rest = (data, b"") if whole else (data[:cut], data[cut:])
        self._stream.feed(UNREAD.sub(b"", data))

    def until(self, terminal: Terminal, text: str, longest_s: float = 60.0) -> None:
        """Show what a terminal writes until a text is there, and a moment longer for the rest of the frame."""
        end = time.monotonic() + longest_s
        while text not in self.text:
            if time.monotonic() > end:
                raise AssertionError(f"{text!r} is not on the screen:\n{self.text}")
            self.feed(terminal.read(0.03, 1.0))
        self.feed(terminal.read(0.06))

    @property
    def text(self) -> str:
        """The lines on the screen."""
        return "\n".join(self._screen.display)

    def seen(self) -> list[Cells]:
        """Give everything on the screen that is not blank."""
        found: list[Cells] = []
        for row in range(ROWS):
            before = None
            for column in range(COLUMNS):
                cell = self._screen.buffer[row][column]
                look = (cell.fg, cell.bg, cell.reverse)
                if not cell.data.strip():
                    continue
                if look == before:
                    found[-1] = found[-1]._replace(text=found[-1].text + cell.data)
                else:
                    ratio = contrast(cell.fg, cell.bg, light=self.light)
                    found.append(Cells(row, cell.data, ratio, cell.reverse, (cell.fg, cell.bg)))
                before = look
        return found


def contrast(front: str, back: str, *, light: bool = False) -> float:
    """Give the contrast ratio of two colours as pyte names them: 1 is invisible, 21 is black on white."""
    own = ("000000", "ffffff") if light else ("e5e5e5", "000000")
    lights = [
        _luminance(default if colour == "default" else PALETTE.get(colour, colour))
        for colour, default in zip((front, back), own, strict=True)
    ]
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
