"""A line that somebody types: an echo of what it is taken for, ways to finish the word, texts of before."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import ClassVar, TypeAlias

import msgspec
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Input

from fieldkit.app.widgets.foretold import Foretold
from fieldkit.app.widgets.lines import TextLine
from fieldkit.errors import FieldkitError

Effect: TypeAlias = Callable[[str], Sequence[str]]
"""What an answer would bring, in lines; none where it cannot be used."""
_BARE = re.compile(r"\s*\d+([.,]\d+)?\s*")


class Help(msgspec.Struct, frozen=True):
    """What a field knows while somebody types in it."""

    endings: Callable[[str], Sequence[tuple[str, str]]] = lambda _: ()
    """Ways to finish a text: the whole text with it, and how it is shown."""
    aside: Callable[[str], str] = lambda _: ""
    """What to say beside the field: the values that the call being typed wants."""
    earlier: Sequence[str] = ()
    """Texts of before, the newest last."""


class TextQuestion(msgspec.Struct, frozen=True):
    """A line that somebody is asked to type."""

    title: str
    value: str
    """What stands in the field at first."""
    look: Callable[[str], str]
    """Echoes a text that can be used, and raises FieldkitError with the reason for any other."""
    hint: str = ""
    """The keys, where they are others than enter and esc."""
    help: Help = Help()
    begun: bool = False
    """Whether the value is what somebody has begun to type: the next key goes behind it, and not in its place."""
    effect: Effect | None = None
    """What the text would bring; asked only for one that can be used and is not the first."""
    units: tuple[str, ...] = ()
    """Units that a bare number could have, the likeliest first: which one is asked, and never assumed."""

    def with_unit(self, text: str) -> tuple[str, ...]:
        """List what a bare number may mean here; nothing for any other text."""
        if not self.units or not _BARE.fullmatch(text):
            return ()
        return tuple(f"{text.strip()} {unit}" for unit in self.units)


class TypedLine(Vertical):
    """The field, what its text is taken for, and how it can go on."""

    DEFAULT_CSS = """
    TypedLine { height: auto; }
    TypedLine #echo { height: 2; }
    """
    BINDINGS: ClassVar = [
        Binding("tab", "finish", show=False, priority=True),
        Binding("up", "earlier(-1)", show=False, priority=True),
        Binding("down", "earlier(1)", show=False, priority=True),
    ]

    class Submitted(Message):
        """A text that can be used was taken."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    class HelpAsked(Message):
        """Nothing but a question mark stands in the field."""

    def __init__(self, question: TextQuestion) -> None:
        super().__init__()
        self.question = question
        self._filled: tuple[str, ...] = ()
        """What ``tab`` goes round among; forgotten when somebody types."""
        self._place = len(question.help.earlier)

    def compose(self) -> ComposeResult:
        """Lay out field, echo, and what a text would bring."""
        yield Input(self.question.value, id="value", select_on_focus=not self.question.begun)
        yield TextLine(id="echo")
        yield TextLine(id="endings", classes="hint")
        if self.question.effect is not None:
            yield Foretold()

    def begin(self) -> None:
        """Begin in the field, with all of it selected, or behind what was begun."""
        field = self.query_one(Input)
        field.cursor_blink = False
        self.screen.set_focus(field)
        if self.question.begun:
            field.cursor_position = len(field.value)
        self._echo(field.value)

    def ask(self, question: TextQuestion) -> None:
        """Ask another question in the same place."""
        self.question, self._filled, self._place = question, (), len(question.help.earlier)
        self._type(question.value)
        self._echo(question.value)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say what the text is taken for."""
        event.stop()
        if event.value == "?":
            self.post_message(self.HelpAsked())
        if event.value not in self._filled:
            self._filled = ()
        self._echo(event.value)

    def action_finish(self) -> None:
        """Finish the word; again for the next way to."""
        field = self.query_one(Input)
        if not self._filled:
            self._filled = tuple(text for text, _ in self._endings(field.value) if text != field.value)
        if self._filled:
            place = self._filled.index(field.value) + 1 if field.value in self._filled else 0
            self._type(self._filled[place % len(self._filled)])

    def action_earlier(self, by: int) -> None:
        """Go through the texts of before."""
        earlier = self.question.help.earlier
        if earlier:
            self._place = max(0, min(self._place + by, len(earlier)))
            self._type(earlier[self._place] if self._place < len(earlier) else "")

    def _type(self, text: str) -> None:
        field = self.query_one(Input)
        field.value = text
        field.cursor_position = len(text)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the text, unless it cannot be used; a bare number is given its likeliest unit first, to be seen."""
        event.stop()
        choices = self.question.with_unit(event.value)
        if choices:
            self._filled = choices
            self._type(choices[0])
            return
        try:
            self.question.look(event.value)
        except FieldkitError as error:
            self.query_one("#echo", TextLine).say(f"! {error}")
            return
        self.post_message(self.Submitted(event.value))

    def _endings(self, text: str) -> Sequence[tuple[str, str]]:
        choices = self.question.with_unit(text)
        return [(choice, choice.split()[-1]) for choice in choices] or self.question.help.endings(text)

    def _echo(self, text: str) -> None:
        choices = self.question.with_unit(text)
        usable = not choices
        try:
            said = f"? {' or '.join(choices)}?" if choices else self.question.look(text)
        except FieldkitError as error:
            usable, said = False, f"! {error}" if text.strip() else str(error)
        self.query_one("#echo", TextLine).say(said)
        effect = self.question.effect
        if effect is not None:
            asked = usable and text != self.question.value
            self.query_one(Foretold).ask(lambda: effect(text) if asked else ())
        shown = [word for _, word in self._endings(text)] if not self._filled else []
        aside = self.question.help.aside(text)
        self.query_one("#endings", TextLine).say(f"tab: {'   '.join(shown)}" if shown else aside)
