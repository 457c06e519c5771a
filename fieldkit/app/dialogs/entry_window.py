"""One field for two ways to add: a row of a list that narrows, or a line of words, said back as understood."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Input

from fieldkit.app.dialogs.windows import ChoiceRow, Choose
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Rows
from fieldkit.errors import FieldkitError
from fieldkit.planning.entry.line import KINDS, finished, read_entry
from fieldkit.reports.entries import entry_text
from fieldkit.show.document import Show

TYPED = "\0"
"""What the answer begins with where it is a line; no key of a row has it."""
MOST_OFFERED = 6
"""Ways to finish a word that fit into a window of 80 columns."""


class ChooseOrType(Choose):
    """A list that gets shorter as one types; what is typed may also be a line that adds something to the show."""

    BINDINGS: ClassVar = [Binding("tab", "finish", show=False, priority=True)]

    def __init__(self, title: str, options: Sequence[ChoiceRow], show: Show) -> None:
        """``show`` is what a line is read against."""
        super().__init__(title, options)
        self.open_show = show
        self._filled: tuple[str, ...] = ()
        """What ``tab`` goes round among; forgotten when somebody types."""

    def lines_wanted(self) -> int:
        """Count the two lines that say how a line is understood, too."""
        return super().lines_wanted() + 2

    def compose(self) -> ComposeResult:
        """Lay out title, field, how a line is understood, and the list."""
        with Vertical():
            yield TextLine(self.heading, classes="title")
            yield Input(placeholder=f"choose below, or type a line: {KINDS[0].example}", id="filter")
            yield TextLine(id="echo")
            yield TextLine(id="endings", classes="hint")
            yield Rows(
                [ListColumn("", share=1 if place == self.columns - 1 else 0) for place in range(self.columns)],
                empty="a line, then: enter adds it",
            )
            yield TextLine("enter takes it   tab ends a word   esc leaves", classes="hint", id="said")

    def on_mount(self) -> None:
        """Say what a line may begin with."""
        self._say("")

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say how the line is understood."""
        if event.value not in self._filled:
            self._filled = ()
        self._say(event.value)

    def take(self) -> None:
        """Take the line where it says something, else the row under the cursor, else say what is wrong."""
        rows, line = self.query_one(Rows), self.query_one(Input).value
        problem = self._problem(line)
        if not problem and (" " in line.strip() or not rows.key):
            self.dismiss(f"{TYPED}{line}")
        elif rows.key:
            self.dismiss(rows.key)
        else:
            self.query_one("#echo", TextLine).say(f"! {problem}")

    def action_finish(self) -> None:
        """Finish the word; again for the next way to."""
        field = self.query_one(Input)
        if not self._filled:
            self._filled = self._endings(field.value)
        if self._filled:
            place = self._filled.index(field.value) + 1 if field.value in self._filled else 0
            field.value = self._filled[place % len(self._filled)]
            field.cursor_position = len(field.value)

    def _problem(self, line: str) -> str:
        try:
            read_entry(self.open_show, line)
        except FieldkitError as error:
            return str(error)
        return ""

    def _endings(self, line: str) -> tuple[str, ...]:
        words = line.split()
        begun = "" if not words or line[-1:].isspace() else words[-1]
        return tuple(f"{line.removesuffix(begun)}{word}" for word in finished(self.open_show, line))

    def _say(self, line: str) -> None:
        """Echo what the line is taken for; while rows still fit what is typed, a line that says nothing is no fault."""
        echo, endings = self.query_one("#echo", TextLine), self.query_one("#endings", TextLine)
        if not line.strip():
            firsts = ", ".join(kind.words[0] for kind in KINDS if kind.words)
            echo.say("")
            endings.say(f"boxes, or first {firsts}")
            return
        problem = self._problem(line)
        if problem:
            echo.say("" if self.matching(line) else f"! {problem}")
        else:
            echo.say("; ".join(entry_text(read_entry(self.open_show, line))))
        shown = [] if self._filled else [text.split()[-1] for text in self._endings(line)[:MOST_OFFERED]]
        endings.say(f"tab: {'   '.join(shown)}" if shown else "")
