"""A question that one letter answers."""

from __future__ import annotations

from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical

from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.widgets.lines import TextLine


class Letters(Dialog[str]):
    """A list of letters and what they mean: the letter is the answer, ``esc`` leaves."""

    BINDINGS: ClassVar[list[Any]] = []

    def __init__(self, title: str, letters: dict[str, tuple[str, str]]) -> None:
        """``letters`` gives for each letter the answer and how it is said."""
        super().__init__()
        self.heading, self.letters = title, letters

    def compose(self) -> ComposeResult:
        """Lay out the question and the letters."""
        with Vertical(classes="small"):
            yield TextLine(self.heading, classes="title")
            for letter, (_, said) in self.letters.items():
                yield TextLine(f"  {letter}  {said}")
            yield TextLine("press the letter   esc leaves", classes="hint", id="hint")

    def on_key(self, event: events.Key) -> None:
        """Take a letter."""
        if event.character in self.letters:
            event.stop()
            self.dismiss(self.letters[event.character][0])
        elif event.character and event.character.isalnum():
            self.query_one("#hint", TextLine).say(f"! one of {' '.join(self.letters)}   esc leaves")
