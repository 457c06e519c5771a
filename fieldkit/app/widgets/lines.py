"""Lines of text that repaint only when they say something else."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len, set_cell_size
from textual.app import RenderResult
from textual.content import Content
from textual.widget import Widget

from fieldkit.text.style import in_ascii

SHORTEST = 5
"""A key and three letters: no name of a screen is cut to less."""


def clip_mark(widget: Widget) -> str:
    """Return the mark for text that is cut off, in ASCII where the terminal has only that."""
    return "~" if widget.app.has_class("-ascii") else "…"


def as_shown(widget: Widget, text: str) -> str:
    """Write a text as this terminal can show it."""
    return in_ascii(text) if widget.app.has_class("-ascii") else text


class TextLine(Widget):
    """One or a few lines of plain text; nothing in it is ever markup."""

    DEFAULT_CSS = "TextLine { height: 1; width: 1fr; }"

    def __init__(self, text: str = "", *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self.text = text

    def say(self, text: str) -> None:
        """Show another text."""
        if text != self.text:
            self.text = text
            self.refresh()

    def render(self) -> RenderResult:
        """Draw the text as it is."""
        return Content(as_shown(self, self.text))


class TopLines(Widget):
    """Two lines on top: the show with its findings and weather, and the screens with the present one marked."""

    DEFAULT_CSS = "TopLines { height: 2; dock: top; }"

    def __init__(self) -> None:
        super().__init__()
        self.left = self.middle = self.right = ""
        self.screens: tuple[tuple[str, bool], ...] = ()

    def say(self, left: str, middle: str, right: str, screens: tuple[tuple[str, bool], ...]) -> None:
        """Show other texts."""
        if (left, middle, right, screens) != (self.left, self.middle, self.right, self.screens):
            self.left, self.middle, self.right, self.screens = left, middle, right, screens
            self.refresh()

    def render(self) -> RenderResult:
        """Draw both lines."""
        width = self.size.width
        right = f"{self.middle}   {self.right}".strip()
        room = width - cell_len(right)
        left = self.left
        if cell_len(left) + 2 > room:
            left = set_cell_size(left, max(0, room - 3)) + clip_mark(self)
        first = Content(left + " " * max(1, room - cell_len(left)) + right)
        names: list[Content] = []
        for name, present in fitted(self.screens, width):
            names.append(Content(" " if names else ""))
            names.append(Content.styled(name, "bold" if present else ""))
        return Content.assemble(first, "\n", *names)


def fitted(screens: Sequence[tuple[str, bool]], width: int) -> list[tuple[str, bool]]:
    """List the names of the screens with the present one marked, shortened where the line is too long.

    All but the present one are cut to the same length, with room kept for the longest name: so they do not change
    from screen to screen.
    """
    longest = max((len(name) for name, _ in screens), default=0)
    length = longest
    while length > SHORTEST and sum(min(len(name), length) + 1 for name, _ in screens) + 1 + longest - length > width:
        length -= 1
    return [(f"[{name}]" if present else name[:length], present) for name, present in screens]
