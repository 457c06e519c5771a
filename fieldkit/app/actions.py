"""What a key does, as data: an action, where it exists, and the bindings that are made of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec
from textual.binding import Binding, BindingType


class At(msgspec.Struct, frozen=True):
    """An action on one screen or in one window: what it does there, told for that place."""

    help: str
    """A sentence for the menu."""
    label: str = ""
    """The word for the key bar, where it is another than the action's own."""
    rows: tuple[str, ...] = ()
    """Kinds of rows on which it does something; none: whatever the row."""
    words: str = ""
    """More words by which it is found here."""
    shown: bool = True
    """Whether it may stand in the key bar here."""


class Action(msgspec.Struct, frozen=True):
    """Something that can be done: one name, one key and one meaning wherever it exists."""

    name: str
    """The action's method is ``action_`` and this name; the binding's id is the place and this."""
    keys: str
    """Keys that do it, joined by commas; the first is shown. Empty: it is in the menu only."""
    label: str
    """One or two words for the key bar."""
    help: str = ""
    """A sentence for the menu, of what works on every screen; the others have one for each place."""
    words: str = ""
    """Other words by which somebody may look for it, in any order."""
    at: Mapping[str, At] = {}
    """Screens and windows where it exists, beside every screen where it has a sentence of its own."""
    rows: tuple[str, ...] = ()
    """Kinds of rows on which it does something; none: whatever the row."""
    shown: bool = True
    """Whether it may stand in the key bar; what does not is in the menu all the same."""
    priority: bool = False
    """Whether it works even while a field has the keys."""

    @property
    def key(self) -> str:
        """The key that is shown for it."""
        return self.keys.partition(",")[0]

    def placed(self, place: str) -> Action:
        """Return it as it is told at a place where it exists."""
        here = self.at[place]
        return Action(
            self.name,
            self.keys,
            here.label or self.label,
            here.help,
            f"{self.words} {here.words}".strip(),
            rows=here.rows,
            shown=self.shown and here.shown,
            priority=self.priority,
        )

    def matters_on(self, kind: str) -> bool:
        """Tell whether it does something on a row of this kind."""
        return not self.rows or kind in self.rows


def bindings(place: str, actions: Iterable[Action]) -> list[BindingType]:
    """Make Textual's bindings of actions."""
    return [
        Binding(
            action.keys,
            action.name,
            action.label,
            show=action.shown,
            tooltip=action.help,
            id=f"{place}.{action.name}",
            priority=action.priority,
        )
        for action in actions
        if action.keys
    ]


_KEY_NAMES = {
    "question_mark": "?",
    "slash": "/",
    "escape": "esc",
    "pageup": "page up",
    "pagedown": "page down",
    "less_than_sign": "<",
    "greater_than_sign": ">",
}


def key_text(key: str) -> str:
    """Write a key as it stands on a keyboard."""
    return _KEY_NAMES.get(key, key).replace("ctrl+", "^")


def function_key(number: str) -> str:
    """Return the function key of the screen that a digit opens; 0 is f10."""
    return f"f{int(number) or 10}"
