"""Screens that repaint only what changed, draw it once, and read only the style sheets that are new.

Measured with Textual 8.2 at 80×24: with the stock ``focused`` reactive, a Tab repaints the whole screen
(4.6 kB, 63 ms); without its repaint it costs 316 bytes and 6 ms. Textual also draws what changed before it shows it;
``painting`` draws it when the line can take it, so that here it is only told which lines those are. A main screen that
is made has every style sheet parsed anew (12 ms), and what was parsed before forgotten, unless it knows the count of
their changes.

Leans on these inner parts of Textual 8.2: ``Screen._compositor_refresh``, ``_compositor`` and its ``_dirty_regions``,
``_dirty_widgets``, ``_css_update_count``, ``App._css_update_count``, ``_update_mouse_over``;
``tests/test_app_screens.py`` and ``tests/test_app_driver.py`` look after them.
"""

from __future__ import annotations

from typing import Any

from textual.app import App
from textual.reactive import Reactive
from textual.screen import Screen, ScreenResultType
from textual.widget import Widget

from fieldkit.app.terminal.painting import PaintedApp


class QuietScreen(Screen[ScreenResultType]):
    """A screen on which a change of focus repaints the two widgets concerned, and no more.

    A class that has another screen as its base too names that one first: Textual reads styles of the first base alone.
    """

    focused: Reactive[Widget | None] = Reactive(None, repaint=False)

    def _compositor_refresh(self) -> None:
        app = self.app
        if not isinstance(app, PaintedApp) or not app.draws_what_changed or self is not app.screen:
            super()._compositor_refresh()
            return
        regions = self._compositor._dirty_regions  # noqa: SLF001
        changed = {y for region in regions for y in region.line_range}
        regions.clear()
        self._dirty_widgets.clear()
        if changed:
            app.lines_changed(changed)
        app._update_mouse_over(self)  # noqa: SLF001


def made_now(screen: Screen[Any], app: App[Any]) -> None:
    """Note that a screen is made with the style sheets as they are: they are parsed again when they change."""
    app.stylesheet.apply(app)  # what the screen takes its colours from; for the first one nobody has done it yet
    screen._css_update_count = app._css_update_count  # noqa: SLF001
