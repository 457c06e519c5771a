"""A page for the crew on the screen, as it will stand on paper; the pages before and after it are a key away."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import bindings
from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows

MARGIN = 4
"""Columns that the window's edge and its scroll bar take."""

WRITE = "write "
"""Before the name of a page that is to be written alone."""


class Preview(Dialog[str]):
    """Pages to read; ``esc`` leaves, and the answer is the name of the page that was read last."""

    DEFAULT_CSS = "Preview > Vertical { width: 100%; max-width: 100%; height: 100%; border: none; padding: 0; }"
    WHOLE = True
    BINDINGS: ClassVar = bindings("pages", actions_at("pages"))

    def __init__(self, names: Sequence[str], name: str, write: Callable[[str, int], tuple[str, ...]]) -> None:
        """``write`` gives the lines of a page, at most so many columns wide."""
        super().__init__()
        self.names, self.place, self.write = tuple(names), list(names).index(name), write

    def compose(self) -> ComposeResult:
        """Lay out the page and the keys."""
        with Vertical():
            yield Rows([ListColumn("", share=1)])
            yield TextLine(classes="hint")

    def on_mount(self) -> None:
        """Begin at the top."""
        self.set_focus(self.query_one(Rows))
        self._show()

    def on_resize(self) -> None:
        """Break the lines anew."""
        self._show()

    def action_next(self) -> None:
        """Go on to the next page."""
        self._turn(1)

    def action_after(self) -> None:
        """Go on to the next page."""
        self._turn(1)

    def action_before(self) -> None:
        """Go back to the page before."""
        self._turn(-1)

    def _turn(self, by: int) -> None:
        self.place = (self.place + by) % len(self.names)
        self.query_one(Rows).cursor = 0
        self._show()

    def action_write(self) -> None:
        """Go back to write the page that is read."""
        self.dismiss(f"{WRITE}{self.names[self.place]}")

    def action_leave(self) -> None:
        """Go back, with the cursor on the page that was read."""
        self.dismiss(self.names[self.place])

    def _show(self) -> None:
        lines = self.write(self.names[self.place], self.app.size.width - MARGIN)
        self.query_one(Rows).show([Row(f"{number}", (line,)) for number, line in enumerate(lines)])
        number = f"page {self.place + 1} of {len(self.names)}"
        self.query_one(TextLine).say(
            f"{number}: {self.names[self.place]}   n next   ← before   w write it   arrows scroll   esc leaves"
        )
