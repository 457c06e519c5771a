"""What is painted: the difference between what the terminal shows and what it should show, when the line can take it.

Textual sends each change as it comes. Here the lines of the screen that were sent last are remembered, and only the
cells that differ from them go out. While the line is behind nothing goes out at all; when it has caught up, the newest
state does, whatever lay between. So a held key on a slow line is behind by a frame, and not by all of them.

Leans on these inner parts of Textual 8.2: ``App._display``, ``_batch_count``, ``_running``, ``_closed``,
``_begin_update``, ``_end_update``, ``Screen._compositor``, ``Compositor._render_chops``, ``visible_screen_stack``,
``active_app``; ``tests/test_app_driver.py`` looks after them. ``quiet`` says which lines of a screen changed.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import compress, count, groupby
from operator import itemgetter, ne
from typing import Any, TypeAlias

from rich.cells import cell_len
from rich.color import ColorSystem
from rich.console import Console, RenderableType
from rich.control import Control
from rich.segment import Segment
from rich.style import Style
from textual._ansi_sequences import SYNC_END, SYNC_START
from textual._context import active_app, visible_screen_stack
from textual.app import App
from textual.driver import Driver
from textual.geometry import Size
from textual.screen import Screen
from textual.strip import Strip

from fieldkit.app.terminal.scrolling import scrolled

_Cell: TypeAlias = tuple[str, Style | None]
WORTH_A_SKIP = 5
"""Cells that are as they were are gone over where to write them takes so many bytes."""


class PaintedApp(App[None]):
    """An application that paints the newest state, and only what differs from what is seen."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._seen: list[Strip | None] = []
        """What the terminal shows, line by line; None where that is not known."""
        self._seen_size = Size(0, 0)
        self._late: set[int] = set()
        """Lines that changed while the line to the terminal was behind."""
        self._in_parts = False
        """Whether a part of a frame went out, and the cursor is still to be put in its place."""
        self._next_line = 0
        """The line after the last that was painted: the next one's turn, so that none waits for ever."""

    def get_driver_class(self) -> type[Driver]:
        """Take the driver that never waits, where there is one for this system."""
        if os.name == "nt":
            return super().get_driver_class()
        from fieldkit.app.terminal.driver import SteadyDriver

        return SteadyDriver

    def _build_driver(self, *arguments: Any, **options: Any) -> Driver:
        driver = super()._build_driver(*arguments, **options)
        if (steady := _steady(driver)) is not None:
            steady.ready_again = self._catch_up
            steady.line_gone = self.line_gone
            steady.resumed = self.action_redraw
        return driver

    def line_gone(self) -> None:
        """Leave, since there is no terminal any more; called from any thread."""
        raise NotImplementedError

    @property
    def is_behind(self) -> bool:
        """Whether lines of the screen wait until the line to the terminal can take them."""
        return bool(self._late)

    def action_redraw(self) -> None:
        """Paint all cells anew: something else has written on this terminal."""
        self._seen = [None] * self.size.height
        self._late = set(range(self.size.height))
        self._catch_up()

    @property
    def draws_what_changed(self) -> bool:
        """Whether a screen only has to say which lines changed; without a terminal nobody sees them."""
        return self.is_headless or _steady(self._driver) is not None

    def lines_changed(self, lines: Iterable[int]) -> None:
        """Paint these lines of the screen when the line to the terminal can take them."""
        if not self.is_headless and not self._batch_count and self._running and not self._closed:
            if self.size != self._seen_size or not self._seen:
                self._seen = [None] * self.size.height
                self._seen_size = self.size
            self._late.update(lines)
            self._catch_up()
        self.post_display_hook()

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        """Paint all of a screen that is none of ours, and so cannot say which of its lines changed."""
        if _steady(self._driver) is None:
            super()._display(screen, renderable)
        else:
            self.lines_changed(range(self.size.height))

    def _catch_up(self) -> None:
        """Paint what is late, if the line can take it."""
        driver = _steady(self._driver)
        if not self._late or driver is None or not self._running or self._closed or self._batch_count:
            return
        if not driver.ready:
            return
        try:
            frame = self._frame(driver.room)
        except Exception as error:  # noqa: BLE001 - as Textual does: a fault in a widget's drawing ends the program
            self._handle_exception(error)
            return
        if frame and self._late:
            driver.write_frame(frame)  # a part, which a slow line shows as it comes
            self._in_parts = True
        elif frame or self._in_parts:
            self._in_parts = False
            cursor = Control.move_to(*self.screen.outer_size.clamp_offset(self.cursor_position)).segment.text
            frame += cursor
            driver.write_frame(f"{SYNC_START}{frame}{SYNC_END}" if self._sync_available else frame)

    def _frame(self, room: int) -> str:
        """Write the late lines, from the one after the last that was written on, for as long as there is room."""
        # The terminal's answer comes from outside of any message, where nobody has said which application it is; a
        # screen under a window asks.
        active_app.set(self)
        visible_screen_stack.set(self._background_screens)
        compositor = self.screen._compositor  # noqa: SLF001
        chops = compositor._render_chops(self.size.region, self._late.__contains__)  # noqa: SLF001
        line = _FrameText(self.console)
        wanted = {y: Strip.join(chops[y].values()) for y in self._late if y < min(len(chops), len(self._seen))}
        self._scroll(line, wanted, room)
        for y in sorted(self._late, key=lambda y: (y < self._next_line, y)):
            if line.size >= room:
                break
            self._late.discard(y)
            self._next_line = y + 1
            if y in wanted:
                _write_changed(line, y, self._seen[y], wanted[y])
                self._seen[y] = wanted[y]
        return line.text()

    def _cost(self, seen: Sequence[Strip | None], wanted: Mapping[int, Strip]) -> int:
        """Count what it takes to write the lines that are wanted over those that are seen."""
        line = _FrameText(self.console)
        for y, strip in wanted.items():
            _write_changed(line, y, seen[y], strip)
        return line.size

    def _scroll(self, line: _FrameText, wanted: Mapping[int, Strip], room: int) -> None:
        """Let the terminal move the lines that have only moved, where that is shorter and all of it has room.

        What is exposed is blank for a moment: on a line that is behind it would be blank for as long as a key is held.
        """
        seen = [strip.text if strip is not None else None for strip in self._seen]
        found = scrolled(seen, {y: strip.text for y, strip in wanted.items()})
        if found is None:
            return
        after = found.applied(self._seen, Strip.blank(self.size.width))
        cost = len(found.sequence) + self._cost(after, wanted)
        if cost <= room and cost < self._cost(self._seen, wanted):
            line.command(found.sequence)
            self._seen = after


def _steady(driver: Driver | None) -> Any:
    return driver if hasattr(driver, "write_frame") else None


class _FrameText:
    """A frame as it is written, cell by cell: a style is said where it changes, and not for each piece of a line."""

    def __init__(self, console: Console) -> None:
        self._colors = console._color_system or ColorSystem.TRUECOLOR  # noqa: SLF001 - as ``Strip.render`` reads it
        self._parts: list[str] = []
        self._style: Style | None = None

    def move(self, x: int, y: int) -> None:
        """Go to a cell."""
        self._parts.append(Control.move_to(x, y).segment.text)

    def command(self, sequence: str) -> None:
        """Tell the terminal something, while no style is on."""
        self._parts.append(sequence)

    def skip(self, cells: int) -> None:
        """Leave so many cells as they are."""
        self._parts.append(f"\x1b[{cells}C")

    def write(self, text: str, style: Style | None) -> None:
        """Write from here on."""
        if style != self._style:
            self._parts.append(_turned(self._style, style, self._colors))
            self._style = style
        self._parts.append(text)

    @property
    def size(self) -> int:
        """How much is written by now, in characters."""
        return sum(map(len, self._parts))

    def text(self) -> str:
        """End the frame; empty where nothing was written."""
        return "".join((*self._parts, _turned(self._style, None, self._colors)))


@lru_cache(maxsize=512)
def _turned(before: Style | None, after: Style | None, colors: ColorSystem) -> str:
    """Find the shortest that turns one style into another: what differs, or an end and a beginning."""
    _, ends = _sequences(before, colors)
    begins, _ = _sequences(after, colors)
    had, has = _says(_sequences(before, colors)[0]), _says(begins)
    if had is None or has is None:
        return ends + begins
    off = [code for name, code in _OFF.items() if had.get(name, "") not in ("", has.get(name))]
    on = [said for name, said in has.items() if said != had.get(name) or _OFF[name] in off]
    # A colour that is another needs no end, and what is on again was ended together with something else.
    off = [code for code in dict.fromkeys(off) if code not in ("39", "49") or _COLOR[code] not in has]
    change = f"\x1b[{';'.join((*off, *on))}m" if off or on else ""
    return min(change, ends + begins, key=len)


def _sequences(style: Style | None, colors: ColorSystem) -> tuple[str, str]:
    """Find what begins and what ends a style."""
    if style is None:
        return "", ""
    begins, _, ends = Strip.render_style(style, "\0", color_system=colors).partition("\0")
    return begins, ends


_OFF = {"1": "22", "2": "22", "3": "23", "4": "24", "7": "27", "9": "29", "ink": "39", "paper": "49"}
"""What ends each part of a style (ECMA-48, 8.3.117)."""
_COLOR = {"39": "ink", "49": "paper"}
_PART = re.compile(
    r"(?P<part>[123479](?!\d))|(?P<ink>38;5;\d+|38;2;\d+;\d+;\d+|3[0-7]|9[0-7])|(?P<paper>48;5;\d+|48;2;\d+;\d+;\d+|4[0-7]|10[0-7])"
)


def _says(begins: str) -> dict[str, str] | None:
    """Take apart what begins a style; None where there is anything else in it, such as a link."""
    said: dict[str, str] = {}
    rest = begins.removeprefix("\x1b[").removesuffix("m")
    while rest:
        found = _PART.match(rest)
        if found is None or rest[found.end() : found.end() + 1] not in ("", ";"):
            return None
        said[found["part"] or str(found.lastgroup)] = found[0]
        rest = rest[found.end() + 1 :]
    return said


def _write_changed(line: _FrameText, y: int, before: Strip | None, after: Strip) -> None:
    """Write what changes one line into the other: nothing where they are equal, all where a character is wide."""
    if before is None or before.cell_length != after.cell_length or not (_narrow(before) and _narrow(after)):
        if before is None or list(before) != list(after):
            line.move(0, y)
            for segment in after:
                line.write(segment.text, segment.style)
        return
    old, new = _cells(before), _cells(after)
    at = None
    for start, end in _differing(_looks(old), _looks(new)):
        if at is None:
            line.move(start, y)
        else:
            line.skip(start - at)
        for style, cells in groupby(new[start:end], itemgetter(1)):
            line.write("".join(sign for sign, _ in cells), style)
        at = end


def _differing(old: Sequence[_Cell], new: Sequence[_Cell]) -> list[tuple[int, int]]:
    """List the stretches of cells that differ; those with little between them are one."""
    found: list[tuple[int, int]] = []
    for x in compress(count(), map(ne, old, new)):
        if found and (x - found[-1][1] < 2 or _size(new[found[-1][1] : x]) < WORTH_A_SKIP):
            found[-1] = (found[-1][0], x + 1)
        else:
            found.append((x, x + 1))
    return found


def _size(cells: Iterable[_Cell]) -> int:
    return sum(len(sign.encode()) for sign, _ in cells)


def _narrow(strip: Iterable[Segment]) -> bool:
    return all(text.isascii() or all(cell_len(sign) == 1 for sign in text) for text, _, _ in strip)


def _cells(strip: Iterable[Segment]) -> list[_Cell]:
    return [(sign, segment.style) for segment in strip for sign in segment.text]


def _looks(cells: Iterable[_Cell]) -> list[_Cell]:
    """Say what cells look like: an empty one has the colour of its ground, whatever a sign in it would have."""
    return [(sign, _ground(style) if sign == " " else style) for sign, style in cells]


@lru_cache(maxsize=512)
def _ground(style: Style | None) -> Style | None:
    if style is None or style.reverse or style.underline or style.underline2 or style.strike or style.overline:
        return style
    return Style(bgcolor=style.bgcolor) if style.bgcolor is not None else None
