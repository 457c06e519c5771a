"""The keys that work here, in one line that is drawn anew only when it changes.

The stock footer makes a widget a key: 300 presses of Tab took 46 MB with it.
"""

from __future__ import annotations

from textual.app import RenderResult
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget

from fieldkit.app.actions import key_text


class KeyBar(Widget):
    """One line of keys with their words; what does not fit is behind ``?``."""

    DEFAULT_CSS = "KeyBar { height: 1; dock: bottom; }"
    COMPONENT_CLASSES = {"key-bar--key"}

    def __init__(self) -> None:
        super().__init__()
        self._items: tuple[tuple[str, str], ...] = ()

    def on_mount(self) -> None:
        """Follow the screen's keys."""
        self.screen.bindings_updated_signal.subscribe(self, self._follow)
        # The screen may not be on the stack yet, and has no bindings before it is.
        self.call_after_refresh(self._follow, self.screen)

    def _follow(self, screen: Screen[object]) -> None:
        items = []
        seen = set()
        for action in getattr(screen, "ACTIONS", ()):
            if action.key == "enter":  # the table has this key, and tells the screen
                seen.add(action.name)
                items.append(("enter", action.label))
        for active in screen.active_bindings.values():
            binding = active.binding
            if binding.show and active.enabled and binding.action not in seen:
                seen.add(binding.action)
                items.append((key_text(binding.key), binding.description))
        if tuple(items) != self._items:
            self._items = tuple(items)
            self.refresh()

    def render(self) -> RenderResult:
        """Draw as many keys as fit."""
        parts: list[Content | tuple[str, str]] = []
        room = self.size.width
        for key, label in self._items:
            needed = len(key) + len(label) + (3 if parts else 1)
            if needed > room:
                break
            room -= needed
            if parts:
                parts.append(Content("  "))
            parts.append(Content.styled(key, "bold"))
            parts.append(Content(f" {label}"))
        return Content.assemble(*parts)
