"""What is painted: the difference between what the terminal shows and what it should show, when the line can take it.

Textual sends each change as it comes. Here the lines of the screen that were sent last are remembered, and only the
cells that differ from them go out. While the line is behind nothing goes out at all; when it has caught up, the newest
state does, whatever lay between. So a held key on a slow line is behind by a frame, and not by all of them.

Leans on these inner parts of Textual 8.2: ``App._display``, ``_batch_count``, ``_running``, ``_closed``,
``_begin_update``, ``_end_update``, ``Screen._compositor``, ``Compositor._render_chops``, ``LayoutUpdate.strips``,
``ChopsUpdate.spans``, ``visible_screen_stack``; ``tests/test_app_driver.py`` looks after them.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from itertools import takewhile
from typing import Any

from rich.cells import cell_len
from rich.console import RenderableType
from rich.control import Control
from rich.segment import Segment
from textual._ansi_sequences import SYNC_END, SYNC_START
from textual._compositor import ChopsUpdate, LayoutUpdate
from textual._context import visible_screen_stack
from textual.app import App
from textual.driver import Driver
from textual.geometry import Size
from textual.screen import Screen
from textual.strip import Strip


class PaintedApp(App[None]):
    """An application that paints the newest state, and only what differs from what is seen."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._seen: list[Strip | None] = []
        """What the terminal shows, line by line; None where that is not known."""
        self._seen_size = Size(0, 0)
        self._late: set[int] = set()
        """Lines that changed while the line to the terminal was behind."""

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

    def action_redraw(self) -> None:
        """Paint all cells anew: something else has written on this terminal."""
        self._seen = [None] * self.size.height
        self._late = set(range(self.size.height))
        self._catch_up()

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        driver = _steady(self._driver)
        if driver is None or not isinstance(renderable, LayoutUpdate | ChopsUpdate):
            super()._display(screen, renderable)
            return
        if not self._batch_count and self._running and not self._closed:
            if self.size != self._seen_size or not self._seen:
                self._seen = [None] * self.size.height
                self._seen_size = self.size
            if isinstance(renderable, ChopsUpdate):
                self._late |= {y for y, _, _ in renderable.spans}
            else:
                self._late |= set(range(self.size.height))
            self._catch_up()
        self.post_display_hook()

    def _catch_up(self) -> None:
        """Paint what is late, if the line can take it."""
        driver = _steady(self._driver)
        if not self._late or driver is None or not self._running or self._closed or self._batch_count:
            return
        if not driver.ready:
            return
        try:
            frame = self._frame()
        except Exception as error:  # noqa: BLE001 - as Textual does: a fault in a widget's drawing ends the program
            self._handle_exception(error)
            return
        if frame:
            cursor = Control.move_to(*self.screen.outer_size.clamp_offset(self.cursor_position)).segment.text
            frame += cursor
            driver.write_frame(f"{SYNC_START}{frame}{SYNC_END}" if self._sync_available else frame)

    def _frame(self) -> str:
        visible_screen_stack.set(self._background_screens)
        compositor = self.screen._compositor  # noqa: SLF001
        chops = compositor._render_chops(self.size.region, self._late.__contains__)  # noqa: SLF001
        parts = []
        for y in sorted(self._late):
            if y < min(len(chops), len(self._seen)):
                strip = Strip.join(chops[y].values())
                parts.append(self._changed(y, self._seen[y], strip))
                self._seen[y] = strip
        self._late.clear()
        return "".join(parts)

    def _changed(self, y: int, before: Strip | None, after: Strip) -> str:
        """Write the sequence that changes one line into the other; empty where they are equal."""
        start, end = _differing(before, after)
        if start >= end:
            return ""
        return Control.move_to(start, y).segment.text + after.crop(start, end).render(self.console)


def _steady(driver: Driver | None) -> Any:
    return driver if hasattr(driver, "write_frame") else None


def _differing(before: Strip | None, after: Strip) -> tuple[int, int]:
    """Find the first cell that differs and the one after the last; the whole line where a character is wide."""
    if before is None or before.cell_length != after.cell_length:
        return 0, after.cell_length
    if list(before) == list(after):
        return 0, 0
    if not (_narrow(before) and _narrow(after)):
        return 0, after.cell_length
    old, new = _cells(before), _cells(after)
    start = _alike(old, new)
    return start, len(new) - _alike(reversed(old[start:]), reversed(new[start:]))


def _narrow(strip: Iterable[Segment]) -> bool:
    return all(text.isascii() or all(cell_len(sign) == 1 for sign in text) for text, _, _ in strip)


def _cells(strip: Iterable[Segment]) -> list[tuple[str, object]]:
    return [(sign, segment.style) for segment in strip for sign in segment.text]


def _alike(one: Iterable[object], other: Iterable[object]) -> int:
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))
