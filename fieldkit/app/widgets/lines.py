"""Lines of text that repaint only when they say something else."""

from __future__ import annotations

from textual.app import RenderResult
from textual.content import Content
from textual.widget import Widget

from fieldkit.text.style import in_ascii


def clip_mark(widget: Widget) -> str:
    """Give the mark for what is cut off, as this terminal can show it."""
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
        left = (
            self.left
            if len(self.left) + len(right) + 2 <= width
            else self.left[: max(0, width - len(right) - 3)] + clip_mark(self)
        )
        first = Content(left + " " * max(1, width - len(left) - len(right)) + right)
        # One space between them, so that eight screens fit into 80 columns.
        names: list[Content] = []
        for name, present in self.screens:
            names.append(Content(" " if names else ""))
            names.append(Content.styled(f"[{name}]" if present else name, "bold" if present else ""))
        return Content.assemble(first, "\n", *names)
