"""Feed the outputs: what shares a processor output, what that costs, and what one more processor would cost."""

from __future__ import annotations

from fieldkit.app.dialogs.windows import ChoiceRow, Choose
from fieldkit.app.shell import Shell
from fieldkit.planning.fixes.feeding import feedings


def feed(shell: Shell) -> None:
    """Show the ways to give every output its processing, each with what it would bring; ``enter`` takes one."""
    session = shell.session
    if session is None:
        return
    ways = {str(number): way for number, way in enumerate(feedings(session.rig))}
    if not ways:
        says = "every output has what its preset needs, or none needs a processor"
        shell.later(shell.say, f"nothing to feed: {says}")
        return

    def taken(key: str | None) -> None:
        if key is not None:
            way = ways[key]
            shell.later(shell.apply, way.label, lambda: way.show)

    options = [ChoiceRow(key, (shell.safe(way.label),)) for key, way in ways.items()]
    title = "feed the outputs that need a processor's: which way"
    shell.push(Choose(title, options, effect=lambda key: shell.foretold(lambda: ways[key].show)), taken)
