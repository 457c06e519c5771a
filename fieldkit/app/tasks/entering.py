"""What ``a`` does on the screens of a show: rows to choose from, or lines of words, one after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fieldkit.app.dialogs.entry_window import TYPED, ChooseOrType
from fieldkit.app.dialogs.windows import ChoiceRow
from fieldkit.app.shell import Shell
from fieldkit.planning.entry.line import read_entry
from fieldkit.reports.entries import entry_text


def choose_or_type(
    shell: Shell, title: str, options: Callable[[], Sequence[ChoiceRow]], chosen: Callable[[str], object]
) -> None:
    """Ask what to add; a line that was typed is added, and the window comes again for the next one."""
    session = shell.session
    if session is None:
        return
    show = session.present

    def answered(answer: str | None) -> None:
        if answer is None:
            return
        if not answer.startswith(TYPED):
            chosen(answer)
            return
        entry = read_entry(show, answer.removeprefix(TYPED))
        said = entry_text(entry)[0]
        if shell.apply(f"{said} added", lambda: entry.show):
            shell.show_new(*entry.added[-1])
            choose_or_type(shell, f"added: {said}", options, chosen)

    shell.push(ChooseOrType(shell.safe(title), options(), show), answered)
