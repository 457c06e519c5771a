"""Questions in a window of their own: choose from a list, type a line, read a page, say yes."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import ClassVar, TypeVar

import msgspec
from rich.cells import cell_len
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from fieldkit.app.terminal.quiet import QuietScreen
from fieldkit.app.widgets.cells import clipped
from fieldkit.app.widgets.foretold import MOST_LINES, Foretold, broken
from fieldkit.app.widgets.lines import TextLine, clip_mark
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.widgets.typed_line import Effect, Help, TextQuestion, TypedLine
from fieldkit.text.words import folded

__all__ = ["Ask", "ChoiceRow", "Choose", "Dialog", "Effect", "Help", "Read", "TextQuestion"]

Answer = TypeVar("Answer")


LEAST_LINES = 12
"""Lines of a window with a list, whatever row it is about: fewer show too little of it."""
MOST_OF_IT = 75
"""Percent of the lines of the screen that a window takes."""
ABOUT_A_LIST = 4
"""Lines of a list's window that are no rows: the edge, title, field and keys."""


class Dialog(ModalScreen[Answer], QuietScreen[Answer]):
    """A window over a screen; ``esc`` leaves it without an answer."""

    AUTO_FOCUS = ""
    DEFAULT_CSS = """
    Dialog { align: right bottom; background: transparent; }
    Dialog.-above { align: right top; }
    Dialog > Vertical { width: 100%; background: $surface; padding: 0 1; border-top: solid $primary; }
    Dialog.-above > Vertical { border-top: none; border-bottom: solid $primary; }
    Dialog.-wide > Vertical { width: 66%; max-width: 110; border-left: solid $primary; }
    Dialog > Vertical.small { height: auto; }
    Dialog Line.title { text-style: bold; }
    Dialog #echo { height: 2; }
    Dialog Line.hint { color: $text-muted; }
    """
    BINDINGS: ClassVar = [Binding("escape", "leave", "leave", show=False)]

    WHOLE: ClassVar[bool] = False
    """Whether it takes the whole screen."""
    READING: ClassVar[bool] = False
    """Whether it is a page to read: that takes the lines that it has, also over the row that it is about."""

    @property
    def takes_whole_text(self) -> bool:
        """Whether text that arrives together may go into the field as one; not where a letter can close the window."""
        return True

    def on_mount(self) -> None:
        """Leave the row in sight that it is about, and again whenever what lies beneath is laid out anew."""
        self._leave_row_in_sight()
        stack = self.app.screen_stack
        if self in stack[1:]:
            beneath = stack[stack.index(self) - 1]
            beneath.screen_layout_refresh_signal.subscribe(self, self._laid_out_beneath, immediate=True)

    def _laid_out_beneath(self, _: Screen[object]) -> None:
        self._leave_row_in_sight()

    def on_resize(self) -> None:
        """Leave the row in sight that it is about."""
        self._leave_row_in_sight()

    def _leave_row_in_sight(self) -> None:
        """Stand below the row under the cursor of what lies beneath, or above it, wherever more lines are left."""
        stack = self.app.screen_stack
        beneath = stack[stack.index(self) - 1].focused if self in stack[1:] else None
        height = self.app.size.height
        line = beneath.cursor_line if isinstance(beneath, Rows) else 0
        below = height - line - 1 >= line
        self.set_class(not below, "-above")
        if not self.WHOLE:
            most = (MOST_OF_IT * height) // 100
            room = most if self.READING else max(LEAST_LINES, min(height - line - 1 if below else line, most))
            frame = next(iter(self.query_children(Vertical)), None)
            if frame is None:
                return  # a window without a frame covers nothing
            frame.styles.max_height = most if frame.has_class("small") else room
            if not frame.has_class("small"):
                frame.styles.height = min(room, self.lines_wanted() or room)

    def lines_wanted(self) -> int:
        """Count the lines that all of it takes; 0 where it takes what it is given."""
        return 0

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Close the window with an answer; once: a window that is closed, or not on top, stays as it is."""
        return super().dismiss(result) if self.is_active else AwaitComplete(asyncio.sleep(0))

    def action_leave(self) -> None:
        """Go back without an answer."""
        self.dismiss(None)


class ChoiceRow(msgspec.Struct, frozen=True):
    """Something to choose."""

    key: str
    cells: tuple[str, ...]

    @property
    def text(self) -> str:
        """What is searched while one types."""
        return folded(" ".join(self.cells))


class Choose(Dialog[str]):
    """A list that gets shorter as one types; ``enter`` takes the row under the cursor."""

    BINDINGS: ClassVar = [
        Binding("down", "step(1)", show=False, priority=True),
        Binding("up", "step(-1)", show=False, priority=True),
        Binding("pagedown", "page(1)", show=False, priority=True),
        Binding("pageup", "page(-1)", show=False, priority=True),
    ]

    def __init__(
        self,
        title: str,
        options: Sequence[ChoiceRow],
        *,
        at_once: bool = False,
        effect: Effect | None = None,
    ) -> None:
        """Show options, a column a cell; ``effect`` foretells what the row under the cursor would bring.

        ``at_once`` takes the only match, and a whole label, without waiting for ``enter``.
        """
        super().__init__()
        self.effect = effect
        self.heading = title
        self.options = tuple(options)
        self.columns = max((len(option.cells) for option in self.options), default=1)
        self.at_once = at_once

    @property
    def takes_whole_text(self) -> bool:
        """Each letter can be the one that leaves one match; where there is none, more letters bring none."""
        return not (self.at_once and self.query_one(Rows).rows)

    def compose(self) -> ComposeResult:
        """Lay out title, field and list."""
        with Vertical():
            yield TextLine(self.heading, classes="title")
            yield Input(placeholder="type a part of it", id="filter")
            yield Rows(
                [ListColumn("", share=1 if place == self.columns - 1 else 0) for place in range(self.columns)],
                empty="nothing by that name",
            )
            if self.effect is not None:
                yield Foretold()
            yield TextLine("type to search   enter takes it   esc leaves", classes="hint", id="said")

    def lines_wanted(self) -> int:
        """Count the lines of all options, and of what an answer would bring."""
        return max(3, len(self.options)) + ABOUT_A_LIST + (MOST_LINES + 1 if self.effect is not None else 0)

    def on_mount(self) -> None:
        """Begin in the field."""
        field = self.query_one(Input)
        field.cursor_blink = False
        self._narrow("")
        self.set_focus(field)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Make the list shorter."""
        self._narrow(event.value)

    def on_input_submitted(self) -> None:
        """Take what is chosen."""
        self.take()

    def take(self) -> None:
        """Take the row under the cursor."""
        rows = self.query_one(Rows)
        if rows.key:
            self.dismiss(rows.key)

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Take a row that was clicked."""
        if event.key:
            self.dismiss(event.key)

    def on_rows_moved(self) -> None:
        """Follow the cursor."""
        self._foretell()

    def _foretell(self) -> None:
        effect, key = self.effect, self.query_one(Rows).key
        if effect is not None:
            self.query_one(Foretold).ask(lambda: effect(key) if key else ())

    def action_step(self, by: int) -> None:
        """Move in the list while the field has the keys."""
        self.query_one(Rows).action_step(by)

    def action_page(self, by: int) -> None:
        """Move in the list by a page: as far with what is foretold below it as without."""
        rows = self.query_one(Rows)
        rows.action_step(by * max(1, rows.size.height + sum(line.size.height for line in self.query(Foretold)) - 1))

    def matching(self, typed: str) -> list[ChoiceRow]:
        """List the options that hold all that is typed; what begins with it comes first, a whole label before all."""
        parts = folded(typed).split()
        found = [option for option in self.options if all(part in option.text for part in parts)]
        if parts:
            found.sort(
                key=lambda option: (
                    folded(typed).strip() not in {folded(option.key), folded(option.cells[0])},
                    not option.text.startswith(parts[0]),
                    not all(part in folded(option.cells[0]) for part in parts),
                )
            )
        return found

    def _narrow(self, typed: str) -> None:
        found = self.matching(typed)
        of = f"   {len(found)} of {len(self.options)}" if typed.strip() else ""
        title = self.query_one(".title", TextLine)
        room = title.size.width - cell_len(of)  # nothing before the first layout
        cut = title.size and cell_len(self.heading) > room
        title.say(f"{clipped(self.heading, max(1, room), clip_mark(self)) if cut else self.heading}{of}")
        rows = self.query_one(Rows)
        rows.show([Row(option.key, option.cells) for option in found], at_first=True)
        self._foretell()
        if self.at_once and typed.strip() and (len(found) == 1 or self._is_whole_label(typed)):
            self.dismiss(found[0].key)

    def _is_whole_label(self, typed: str) -> bool:
        """Tell whether what is typed is one label to its end, and the beginning of no other."""
        label = folded(typed).strip()
        begin = [text for option in self.options if (text := folded(option.cells[0])).startswith(label)]
        return begin == [label]


class Ask(Dialog[str]):
    """A line to type, with an echo of what it was taken for, and ways to finish the word."""

    def __init__(self, question: TextQuestion) -> None:
        super().__init__()
        self.question = question

    def compose(self) -> ComposeResult:
        """Lay out title, field, echo."""
        with Vertical(classes="small"):
            yield TextLine(self.question.title, classes="title")
            yield TypedLine(self.question)
            yield TextLine(self.question.hint or "enter takes it   esc leaves", classes="hint", id="said")

    def on_mount(self) -> None:
        """Begin in the field."""
        self.query_one(TypedLine).begin()

    def on_typed_line_submitted(self, event: TypedLine.Submitted) -> None:
        """Close with the text."""
        self.dismiss(event.text)


class Read(Dialog[str]):
    """A page to read, with rows that may lead on."""

    READING = True

    def __init__(self, title: str, lines: Sequence[tuple[str, str]], hint: str = "") -> None:
        """``lines`` are keys and texts; a row with a key can be followed with ``enter``."""
        super().__init__()
        self.heading, self.lines, self.hint = title, tuple(lines), hint
        self._broken = 0
        """Lines that it takes in this width."""

    def lines_wanted(self) -> int:
        """Count the lines as they are broken here."""
        return max(1, self._broken) + ABOUT_A_LIST - 1

    def compose(self) -> ComposeResult:
        """Lay out title and page."""
        with Vertical():
            yield TextLine(self.heading, classes="title")
            yield Rows([ListColumn("", share=1)])
            yield TextLine(self.hint or "arrows scroll   esc leaves", classes="hint", id="said")

    def on_mount(self) -> None:
        """Begin at the top."""
        self.set_focus(self.query_one(Rows))
        self.call_after_refresh(self._fill)

    def on_resize(self) -> None:
        """Break the lines anew."""
        self.call_after_refresh(self._fill)

    def _fill(self) -> None:
        """Show the lines, broken to the width of the window; each part of a line leads where the line does."""
        rows = self.query_one(Rows)
        width = rows.scrollable_content_region.width
        if width > 0:
            parts = [(key, part) for key, text in self.lines for part in broken(text, width)]
            self._broken = len(parts)
            self._leave_row_in_sight()
            rows.show([Row(f"{place}\0{key}", (part,)) for place, (key, part) in enumerate(parts)])

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Follow a row that leads on."""
        key = event.key.partition("\0")[2]
        if key:
            self.dismiss(key)
