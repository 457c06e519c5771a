"""What a change would bring, shown below the question while it is still a question."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence

from textual.timer import Timer

from fieldkit.app.widgets.lines import TextLine

PAUSE_S = 0.15
"""Working a change out waits until the keys have been quiet for this long."""
MOST_LINES = 6

_HANGING = re.compile(r"\s*(?:\S+ )*?\S+ {2,}|\s*")


def broken(text: str, width: int) -> list[str]:
    """Break a line at its words; what follows hangs under the text behind a gap, as in a list of keys."""
    found = _HANGING.match(text)
    hanging = found.end() if found and found.end() <= width // 3 else 0
    wrapped = textwrap.wrap(
        text,
        width,
        subsequent_indent=" " * (hanging or min(2, width)) if len(text) > width else "",
        break_on_hyphens=False,
    )
    return wrapped or [""]


class Foretold(TextLine):
    """As many lines as it takes, at most seven; nothing until the first question."""

    DEFAULT_CSS = "Foretold { height: auto; }"

    def __init__(self) -> None:
        super().__init__(id="foretold")
        self._waiting: Timer | None = None

    def ask(self, work_out: Callable[[], Sequence[str]]) -> None:
        """Work a change out as soon as the keys are quiet, and show it; another question takes its place."""
        if self._waiting is not None:
            self._waiting.stop()
        self._waiting = self.set_timer(PAUSE_S, lambda: self._show(work_out()))

    def _show(self, lines: Sequence[str]) -> None:
        width = max(20, self.size.width - 2)
        parts = [part for line in lines for part in broken(line, width)]
        if len(parts) > MOST_LINES:
            parts = [*parts[: MOST_LINES - 1], f"and more: {len(lines)} changes in all"]
        text = "\n".join(["if it is taken:", *(f"  {part}" for part in parts)]) if parts else ""
        if text != self.text:
            self.text = text
            self.refresh(layout=True)
