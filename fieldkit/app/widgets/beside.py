"""A pane of text beside a table, shown only where the terminal is wide; it follows the cursor."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from textual.app import RenderResult
from textual.content import Content
from textual.widget import Widget

from fieldkit.app.widgets.lines import as_shown, clip_mark

WIDTH = 52


class Beside(Widget):
    """Lines of plain text, wrapped to the pane; nothing in them is ever markup."""

    DEFAULT_CSS = f"Beside {{ width: {WIDTH}; height: 1fr; padding: 1 0 0 2; display: none; }}"

    def __init__(self) -> None:
        super().__init__()
        self.lines: tuple[str, ...] = ()

    def say(self, lines: Iterable[str]) -> None:
        """Show other lines."""
        fresh = tuple(lines)
        if fresh != self.lines:
            self.lines = fresh
            if self.display:
                self.refresh()

    def render(self) -> RenderResult:
        """Draw as many lines as there is room for."""
        wrapped = []
        for line in self.lines:
            indent = " " * (len(line) - len(line.lstrip()))
            wrapped += textwrap.wrap(line, WIDTH - 3, subsequent_indent=f"{indent}  ", break_on_hyphens=False) or [""]
        room = max(1, self.size.height)
        if len(wrapped) > room:
            wrapped = [*wrapped[: room - 1], clip_mark(self)]
        return Content(as_shown(self, "\n".join(wrapped)))
