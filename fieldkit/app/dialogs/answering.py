"""Questions that one key answers: take a change that is shown, agree to something, a letter of a list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical

from fieldkit.app.dialogs.windows import Dialog, Read
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import Rows


class Accept(Read):
    """A change to look at, line by line; ``enter`` anywhere takes it."""

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Take the change."""
        event.stop()
        self.dismiss("take")


class Confirm(Dialog[bool]):
    """Something to agree to, with what it brings, told whole."""

    DEFAULT_CSS = "Confirm TextLine.whole { height: auto; }"
    BINDINGS: ClassVar = [
        Binding("enter", "agree", show=False),
        Binding("y", "agree", show=False),
        Binding("n", "leave", show=False),
    ]

    def __init__(self, title: str, lines: Sequence[str], yes: str = "do it") -> None:
        super().__init__()
        self.heading, self.lines, self.yes = title, tuple(lines), yes

    def compose(self) -> ComposeResult:
        """Lay out title, what it brings, and the keys."""
        with Vertical(classes="small"):
            yield TextLine(self.heading, classes="title")
            for line in self.lines:
                yield TextLine(line, classes="whole")
            yield TextLine(f"enter: {self.yes}   esc: leave it", classes="hint", id="said")

    def action_agree(self) -> None:
        """Agree."""
        self.dismiss(True)


MOST_LINES = 10
"""So many answers stand one below the other; more stand in two columns, so that 24 lines show them all."""


def beside_each_other(lines: Sequence[str]) -> list[str]:
    """Set a long list in two columns, the first half beside the second."""
    if len(lines) <= MOST_LINES:
        return list(lines)
    half = (len(lines) + 1) // 2
    left, right = lines[:half], [*lines[half:], ""]
    width = max(map(len, left)) + 1
    return [f"{one:<{width}}{other}".rstrip() for one, other in zip(left, right, strict=False)]


class Letters(Dialog[str]):
    """A list of letters and what they mean: the letter is the answer, ``esc`` leaves."""

    BINDINGS: ClassVar[list[Any]] = []

    def __init__(self, title: str, letters: dict[str, tuple[str, str]], caution: str = "") -> None:
        """``letters`` gives for each letter the answer and how it is said; a caution stands before them."""
        super().__init__()
        self.heading, self.letters, self.caution = title, letters, caution

    def compose(self) -> ComposeResult:
        """Lay out the question and the letters."""
        with Vertical(classes="small"):
            yield TextLine(self.heading, classes="title")
            if self.caution:
                yield TextLine(f"! {self.caution}", classes="title")
            for line in beside_each_other([f"  {letter}  {said}" for letter, (_, said) in self.letters.items()]):
                yield TextLine(line)
            yield TextLine("press the letter   esc leaves", classes="hint", id="hint")

    def on_key(self, event: events.Key) -> None:
        """Take a letter."""
        if event.character in self.letters:
            event.stop()
            self.dismiss(self.letters[event.character][0])
        elif event.character and event.character.isalnum():
            self.query_one("#hint", TextLine).say(f"! one of {' '.join(self.letters)}   esc leaves")
