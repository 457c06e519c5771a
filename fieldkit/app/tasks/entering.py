"""The entry line in the application: line after line adds things, each said back while it is typed."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.app.dialogs.windows import Help, TextQuestion
from fieldkit.app.shell import Shell
from fieldkit.app.tasks.adding import add_one_of
from fieldkit.planning.entry.line import KINDS, finished, read_entry
from fieldkit.reports.entries import entry_text
from fieldkit.show.document import Show

MOST_OFFERED = 6
"""Ways to finish a word that fit into a window of 80 columns."""


def enter_lines(shell: Shell, tables: Sequence[str]) -> None:
    """Ask for lines until somebody leaves; an empty one asks step by step, for things of ``tables``."""
    _ask(shell, tables, "add: a line says what, words in any order", [])


def _ask(shell: Shell, tables: Sequence[str], title: str, earlier: list[str]) -> None:
    session = shell.session
    if session is None:
        return
    show = session.present

    def take(line: str) -> None:
        if not line.strip():
            add_one_of(shell, tables)
            return
        entry = read_entry(show, line)
        said = entry_text(entry)
        if shell.apply(f"{said[0]} added", lambda: entry.show):
            shell.show_new(*entry.added[-1])
            _ask(shell, tables, shell.safe(f"added {said[0]}"), [*earlier, line])

    hint = "enter adds it   enter on an empty line asks step by step   esc leaves"
    shell.ask(TextQuestion(title, "", lambda line: _echo(show, line), hint, _help(show, earlier)), take)


def _echo(show: Show, line: str) -> str:
    """Say how a line is understood. Raises EntryError or DocumentError for one that is not."""
    if not line.strip():
        return f"such as: {KINDS[0].example}"
    return "; ".join(entry_text(read_entry(show, line)))


def _help(show: Show, earlier: Sequence[str]) -> Help:
    def endings(line: str) -> list[tuple[str, str]]:
        at = len(line) if line[-1:].isspace() or not line else len(line) - len(line.rsplit(maxsplit=1)[-1])
        return [(f"{line[:at]}{word}", word) for word in finished(show, line)[:MOST_OFFERED]] if line else []

    def aside(line: str) -> str:
        firsts = ", ".join(kind.words[0] for kind in KINDS if kind.words)
        return "" if line else f"boxes, or begin with: {firsts}"

    return Help(endings, aside, earlier)
