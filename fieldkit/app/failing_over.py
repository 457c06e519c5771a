"""Something died: see what falls silent and the moves that bring back most, take them, and put back later."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message

from fieldkit.app.dialogs import Choose, Dialog, Option, Read
from fieldkit.app.widgets.lines import Line
from fieldkit.app.widgets.rows import Rows
from fieldkit.planning.fail_over import FailOver, fail_over
from fieldkit.planning.putting_back import put_back
from fieldkit.reports.failing_over import failover_text
from fieldkit.show.document import Show
from fieldkit.show.errors import ShowError

if TYPE_CHECKING:
    from fieldkit.app.application import FieldkitApp

PREVIEW_WIDTH = 69
"""Columns of text in a window at 80 columns."""


def mark_dead(app: FieldkitApp, names: Sequence[str]) -> None:
    """Ask which of several things died, where there is a choice, and show the way out; what is dead is put back."""
    session = app.session
    if session is None or not names:
        app.say("nothing here can be marked dead: stand on an output, a box, an amplifier or a supply")
        return
    lost = {item.id for item in session.present.lost}
    options = [
        Option(name, (name, "put back: it works again, or its spare is there" if name in lost else "is dead"))
        for name in dict.fromkeys((*names, *lost))
    ]

    def chosen(name: str | None) -> None:
        if name in lost:
            app.call_after_refresh(app.apply, f"{name} put back", lambda: put_back(session.present, name))
        elif name is not None:
            app.push_screen(Searching(session.present, name), lambda found: _show(app, name, found))

    if len(options) == 1:
        chosen(options[0].key)
    else:
        app.push_screen(Choose("what died, or is back", options, columns=2), chosen)


def _show(app: FieldkitApp, name: str, found: FailOver | ShowError | None) -> None:
    """Show what falls silent and the moves, and take them on enter."""
    if found is None:
        app.call_after_refresh(app.say, "nothing was changed")
        return
    if isinstance(found, ShowError):
        app.call_after_refresh(app.say, f"! {found}")
        return
    number = len(found.moves)
    title = f"{name} is dead: " + (f"{number} move{'' if number == 1 else 's'}" if number else "no move helps")
    lines = [("", line) for line in failover_text(found, app.style, PREVIEW_WIDTH)]

    def answered(answer: str | None) -> None:
        if answer == "take":
            app.call_after_refresh(app.apply, f"{name} marked dead, {number} moves", lambda: found.show)
        else:
            app.call_after_refresh(app.say, "nothing was changed")

    hint = "enter: note it dead, with these moves; one step to undo   esc leaves it"
    app.push_screen(WayOut(title, lines, hint), answered)


class WayOut(Read):
    """The moves, line by line; ``enter`` anywhere takes them."""

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Take the moves."""
        event.stop()
        self.dismiss("take")


class Searching(Dialog["FailOver | ShowError"]):
    """A window over the search, which runs beside the screen; ``esc`` drops what it finds."""

    class Found(Message):
        """The search is done."""

        def __init__(self, found: FailOver | ShowError) -> None:
            super().__init__()
            self.found = found

    def __init__(self, show: Show, name: str) -> None:
        super().__init__()
        self.show_before, self.name_of_lost = show, name

    def compose(self) -> ComposeResult:
        """Lay out what it does and the keys."""
        with Vertical(classes="small"):
            yield Line(f"looking for the fewest moves without {self.name_of_lost}", classes="title")
            yield Line("esc leaves everything as it is", classes="hint")

    def on_mount(self) -> None:
        """Begin the search."""
        self.run_worker(self._search, thread=True, exclusive=True)

    def _search(self) -> None:
        try:
            found: FailOver | ShowError = fail_over(self.show_before, [self.name_of_lost])
        except ShowError as error:
            found = error
        self.post_message(self.Found(found))

    def on_searching_found(self, event: Found) -> None:
        """Give what was found to whoever asked."""
        self.dismiss(event.found)
