"""Everything that a key can do, declared once: key bar, help, palette and a user's own keys are made of this."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
from textual.binding import Binding, BindingType


class Action(msgspec.Struct, frozen=True):
    """Something that a key does."""

    name: str
    """The action's method is ``action_`` and this name; the binding's id is the screen's and this."""
    keys: str
    """Keys that do it, joined by commas; the first is shown."""
    label: str
    """One or two words for the key bar."""
    help: str
    """A sentence for help and palette."""
    shown: bool = True
    """Whether it stands in the key bar; what does not is in the help and the palette all the same."""
    priority: bool = False
    """Whether it works even while a field has the keys."""

    @property
    def key(self) -> str:
        """The key that is shown for it."""
        return self.keys.partition(",")[0]


EVERYWHERE: tuple[Action, ...] = (
    Action("go_to", "g", "go to", "Type part of any label: its card, with what feeds it and what is on it"),
    Action("findings", "f", "findings", "List what is wrong with this plan, worst first"),
    Action("triage", "t", "triage", "Look for a fault: at the thing of this row, or at any label"),
    Action("undo", "u,ctrl+z", "undo", "Take back the last change", shown=False),
    Action("redo", "ctrl+r,ctrl+y", "redo", "Do again what was taken back", shown=False),
    Action("save", "ctrl+s", "save", "Write the show to its file", shown=False, priority=True),
    Action("take_over", "ctrl+t", "take over", "Edit a show that somebody else has open, or had", shown=False),
    Action("palette", "ctrl+p", "all commands", "Find any command, screen or label by part of its name", shown=False),
    Action("help", "question_mark", "help", "What this screen is for, its keys and its words"),
    Action(
        "background", "f12", "light or dark", "Change between a light and a dark background, and keep it", shown=False
    ),
    Action("leave", "q,ctrl+q", "leave", "Leave the program; it asks when something is not saved", shown=False),
)
"""What works on every screen."""


def bindings(prefix: str, actions: Iterable[Action]) -> list[BindingType]:
    """Make Textual's bindings of actions."""
    return [
        Binding(
            action.keys,
            action.name,
            action.label,
            show=action.shown,
            tooltip=action.help,
            id=f"{prefix}.{action.name}",
            priority=action.priority,
        )
        for action in actions
    ]


_KEY_NAMES = {
    "question_mark": "?",
    "slash": "/",
    "escape": "esc",
    "pageup": "page up",
    "pagedown": "page down",
}


def key_text(key: str) -> str:
    """Write a key as it stands on a keyboard."""
    return _KEY_NAMES.get(key, key).replace("ctrl+", "^")


def function_key(number: str) -> str:
    """Return the function key of the screen that a digit opens; 0 is f10."""
    return f"f{int(number) or 10}"
