"""The keys that work here, in one line that is drawn anew only when it changes.

The stock footer makes a widget a key: 300 presses of Tab took 46 MB with it.
"""

from __future__ import annotations

from textual.app import RenderResult
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input

from fieldkit.app.actions import key_text

LAST = "menu"
"""The action whose key always stands at the end: all others are found by it."""


class KeyBar(Widget):
    """One line of keys with their words; what does not fit is behind ``?``."""

    DEFAULT_CSS = "KeyBar { height: 1; dock: bottom; }"

    def __init__(self) -> None:
        super().__init__()
        self._items: tuple[tuple[str, str], ...] = ()
        self._last: tuple[tuple[str, str], ...] = ()
        self._follows = False
        """Whether it looks at the keys as soon as what goes on now is done."""

    def on_mount(self) -> None:
        """Follow the screen's keys."""
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.follow())
        # The screen may not be on the stack yet, and has no bindings before it is.
        self.call_after_refresh(self.follow)

    def follow(self) -> None:
        """Show the keys that do something here, once for all that changes them in one go."""
        if not self._follows:
            self._follows = self.call_later(self._look)

    def _look(self) -> None:
        """Show the keys that do something here, on this row."""
        self._follows = False
        keys: dict[str, tuple[str, str]] = {}
        for active in self.screen.active_bindings.values():
            binding = active.binding
            if binding.show and active.enabled:
                keys.setdefault(binding.action, (binding.key, binding.description))
        own = getattr(self.screen, "ACTIONS", ())
        kind = self.screen.row_kind() if own else ""  # type: ignore[attr-defined]  # who has actions has rows
        for action in own:
            if action.key == "enter" and action.shown:  # the table has this key, and tells the screen
                keys = {action.name: ("enter", action.label), **keys}
            if not action.matters_on(kind):
                keys.pop(action.name, None)
        items = tuple((key_text(key), label) for name, (key, label) in keys.items() if name != LAST)
        if own and isinstance(self.screen.focused, Input):
            items = self.screen.FIELD_KEYS  # type: ignore[attr-defined]  # as above
            # A field takes ``?`` for a sign to type, and hands it on where it stands alone.
            keys = {name: (key.replace("ctrl+p", "question_mark"), label) for name, (key, label) in keys.items()}
        last = tuple((key_text(key), label) for name, (key, label) in keys.items() if name == LAST)
        if (items, last) != (self._items, self._last):
            self._items, self._last = items, last
            self.refresh()

    def render(self) -> RenderResult:
        """Draw as many keys as fit; the one that finds all others is never left out."""
        room = self.size.width - sum(len(key) + len(label) + 3 for key, label in self._last)
        shown: list[tuple[str, str]] = []
        for key, label in self._items:
            room -= len(key) + len(label) + (3 if shown else 1)
            if room < 0:
                break
            shown.append((key, label))
        parts: list[Content] = []
        for key, label in (*shown, *self._last):
            parts += [Content("  " if parts else ""), Content.styled(key, "bold"), Content(f" {label}")]
        return Content.assemble(*parts)
