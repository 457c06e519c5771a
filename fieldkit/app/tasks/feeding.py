"""Feed the outputs: what shares a processor output, what that costs, and what one more processor would cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldkit.app.dialogs.windows import ChoiceRow, Choose
from fieldkit.planning.fixes.feeding import feedings

if TYPE_CHECKING:
    from fieldkit.app.application import FieldkitApp


def feed(app: FieldkitApp) -> None:
    """Show the ways to give every output its processing, each with what it would bring; ``enter`` takes one."""
    session = app.session
    if session is None:
        return
    ways = {str(number): way for number, way in enumerate(feedings(session.rig))}
    if not ways:
        says = "every output has what its preset needs, or none needs a processor"
        app.call_after_refresh(app.say, f"nothing to feed: {says}")
        return

    def taken(key: str | None) -> None:
        if key is not None:
            way = ways[key]
            app.call_after_refresh(app.apply, way.label, lambda: way.show)

    options = [ChoiceRow(key, (app.safe(way.label),)) for key, way in ways.items()]
    title = "feed the outputs that need a processor's: which way"
    app.push_screen(Choose(title, options, effect=lambda key: app.foretold(lambda: ways[key].show)), taken)
