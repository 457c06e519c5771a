"""Something failed: see what falls silent and the moves that bring back most, take them, and put back later."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import CancelledError

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message

from fieldkit.app.dialogs.answering import Accept
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Dialog, Read
from fieldkit.app.shell import Shell
from fieldkit.app.widgets.lines import TextLine
from fieldkit.planning.failover.fail_over import FailOver, fail_over
from fieldkit.planning.failover.returning import moves_made, way_back
from fieldkit.reports.failing_over import failover_text, moves_text, way_text
from fieldkit.show.document import Show
from fieldkit.show.errors import ShowError

PREVIEW_WIDTH = 69
"""Columns of text in a window at 80 columns."""


def mark_failed(shell: Shell, names: Sequence[str]) -> None:
    """Ask which of several things failed, and show the way out; what has failed already is put back."""
    session = shell.session
    if session is None:
        shell.say("no show is open")
        return
    failed = [item.id for item in session.present.failed]
    # What the row is about comes first; in a hurry nobody looks for the row of the amplifier that went dark.
    others = (*session.rig.show_index.units, *(supply.id for supply in session.present.supplies))
    known = dict.fromkeys((*names, *others))
    options = [ChoiceRow(f"failed {name}", (name, "has failed")) for name in known if name not in failed]
    for name in failed:
        options.append(ChoiceRow(f"back {name}", (name, "put back: it works again, or its spare is there")))
        options.append(ChoiceRow(f"moves {name}", (name, "has failed: its moves once more, step by step")))

    def chosen(key: str | None) -> None:
        what, _, name = (key or "").partition(" ")
        if what == "failed":
            shell.push(Searching(session.present, name), lambda found: _show(shell, name, found))
        elif what:
            shell.later(_go_back if what == "back" else _once_more, shell, name)

    if not options:
        shell.say("there is no amplifier, processor or supply yet that could fail")
    else:
        shell.push(Choose("what failed, or is back", options), chosen)


def _once_more(shell: Shell, name: str) -> None:
    """Show the moves that were taken for a loss again, for whoever is still making them."""
    session = shell.session
    if session is None:
        return
    try:
        moves = moves_made(session.present, name)
    except ShowError as error:
        shell.say(f"! {error}")
        return
    lines = [("", line) for line in moves_text(moves, shell.style, PREVIEW_WIDTH)]
    shell.push(Read(f"{name} has failed: the moves that were taken", lines))


def _go_back(shell: Shell, name: str) -> None:
    """Show the moves that bring everything back to where it was, and take them on enter."""
    session = shell.session
    if session is None:
        return
    try:
        way = way_back(session.present, name)
    except ShowError as error:
        shell.say(f"! {error}")
        return
    if not way.moves:
        shell.apply(f"{name} put back", lambda: way.show)
        return

    def answered(answer: str | None) -> None:
        if answer == "take":
            shell.later(shell.apply, f"{name} put back, {_counted(len(way.moves))}", lambda: way.show)
        else:
            shell.later(shell.say, "nothing was changed")

    lines = [("", line) for line in way_text(way, shell.style, PREVIEW_WIDTH)]
    hint = "enter: note it back, with these moves; one step to undo   esc leaves it"
    shell.push(Accept(f"{name} is back: {_counted(len(way.moves))}", lines, hint), answered)


def _counted(number: int) -> str:
    return f"{number} move{'' if number == 1 else 's'}"


def _show(shell: Shell, name: str, found: FailOver | ShowError | None) -> None:
    """Show what falls silent and the moves, and take them on enter."""
    if found is None:
        shell.later(shell.say, "nothing was changed")
        return
    if isinstance(found, ShowError):
        shell.later(shell.say, f"! {found}")
        return
    number = len(found.moves)
    needed = bool(found.silent or found.powered)
    title = f"{name} has failed: " + (
        _counted(number) if number else "no move helps" if needed else "nothing falls silent"
    )
    lines = [("", line) for line in failover_text(found, shell.style, PREVIEW_WIDTH)]

    def answered(answer: str | None) -> None:
        if answer == "take":
            moved = f", {_counted(number)}; x shows them again" if number else "; x puts it back"
            shell.later(shell.apply, f"{name} marked failed{moved}", lambda: found.show)
        else:
            shell.later(shell.say, "nothing was changed")

    noted = "note it failed, with these moves" if number else "note it failed"
    hint = f"enter: {noted}; one step to undo   esc leaves it"
    shell.push(Accept(title, lines, hint), answered)


class Searching(Dialog["FailOver | ShowError"]):
    """A window over the search, which runs beside the screen; ``esc`` drops what it finds."""

    class Found(Message):
        """The search is done."""

        def __init__(self, found: FailOver | ShowError) -> None:
            super().__init__()
            self.found = found

    def __init__(self, show: Show, name: str) -> None:
        super().__init__()
        self.show_before, self.name_of_failed = show, name
        self._stop = threading.Event()

    def compose(self) -> ComposeResult:
        """Lay out what it does and the keys."""
        with Vertical(classes="small"):
            yield TextLine(f"looking for the fewest moves without {self.name_of_failed}", classes="title")
            yield TextLine("esc leaves everything as it is", classes="hint")

    def on_mount(self) -> None:
        """Begin the search."""
        self.run_worker(self._search, thread=True, exclusive=True)

    def _search(self) -> None:
        try:
            found: FailOver | ShowError = fail_over(self.show_before, [self.name_of_failed], self._stop.is_set)
        except CancelledError:
            return  # the window is closed, and nobody waits for an answer
        except ShowError as error:
            found = error
        self.post_message(self.Found(found))

    def on_unmount(self) -> None:
        """Stop the search with the window, as when the program is left."""
        self._stop.set()

    def on_searching_found(self, event: Found) -> None:
        """Close the dialog with what was found as its result."""
        self.dismiss(event.found)
