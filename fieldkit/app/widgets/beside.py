"""What there is to say about the row under the cursor: beside the table where there is room, else below it."""

from __future__ import annotations

from collections.abc import Iterable

from textual.app import RenderResult
from textual.containers import Container
from textual.content import Content
from textual.widget import Widget

from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.lines import as_shown, clip_mark

WIDTH = 52
WIDE = 120
"""Columns from which on it stands beside the table; the classes ``-narrow`` and ``-wide`` of screens say the same."""
PAUSE_S = 0.3
"""What there is to say about a row waits until the keys have been quiet for this long."""
SHORTEST = 3
"""Fewer free lines below a table are left alone."""


class Split(Container):
    """A table, and what there is to say about its row: side by side on a wide terminal, else one below the other."""

    DEFAULT_CSS = "Split { height: 1fr; layout: horizontal; }"


class Beside(Widget):
    """Lines of plain text, wrapped to the pane; nothing in them is ever markup.

    On a wide terminal it stands at the right of the table. Elsewhere it is below, and takes the lines that the table
    leaves free; where those do not do for what must be said whole, it takes lines from the table.
    """

    DEFAULT_CSS = f"Beside {{ width: {WIDTH}; height: 1fr; padding: 1 0 0 2; }}"

    def __init__(self, *, classes: str | None = None) -> None:
        super().__init__(classes=classes)
        self.first: tuple[str, ...] = ()
        """What must be said whole."""
        self.more: tuple[str, ...] = ()
        """What may be said where there is room."""
        self._ruled = True
        """Whether a line is drawn above it."""
        self._kept = 0
        """Lines that it took before: it does not shrink from row to row, so that the table stays as it is."""

    @property
    def is_below(self) -> bool:
        """Whether it stands below the table."""
        return self.has_class("below") or self.app.size.width < WIDE

    def say(self, first: Iterable[str], more: Iterable[str] = ()) -> None:
        """Show other lines; ``first`` has what must be whole."""
        fresh = tuple(first), tuple(more), not self.app.has_class("-no-bars")
        if fresh != (self.first, self.more, self._ruled):
            self.first, self.more, self._ruled = fresh
            self.refresh()

    def fit(self, room: int, table: int) -> None:
        """Take the lines that a table of a height leaves free, or what is needed, of so many for both."""
        if not self.is_below:
            self.styles.height = "1fr"
            return
        needed = len(self._wrapped(self.first, self.app.size.width)) + 1 if self.first else 0
        self._kept = max(self._kept, min(needed, max(SHORTEST, room // 2)))
        free = room - table
        height = max(free if free >= SHORTEST else 0, self._kept)
        if self.styles.height is None or self.styles.height.value != height:
            self.styles.height = height

    def forget(self) -> None:
        """Begin anew with the lines that it takes."""
        self._kept = 0

    def _wrapped(self, lines: Iterable[str], width: int) -> list[str]:
        return [part for line in lines for part in broken(line, max(20, width - (0 if self.is_below else 1)))]

    def render(self) -> RenderResult:
        """Draw as many lines as there is room for."""
        width, room = self.size.width, max(1, self.size.height)
        ascii_only = self.app.has_class("-ascii")
        mark = "" if not self._ruled else "-" if ascii_only else "─"
        rule = [mark * width] if self.is_below and (self.first or self.more) else []
        between = [""] if self.first and self.more and not self.is_below else []
        more = filter(None, self.more) if self.is_below else self.more
        whole = [*rule, *self._wrapped(self.first, width)]
        wrapped = [*whole, *between, *self._wrapped(more, width)]
        if len(wrapped) > room != len(whole):
            wrapped = [*wrapped[: room - 1], clip_mark(self)]
        return Content(as_shown(self, "\n".join(wrapped)))
