"""The application under test: started on a show, pressed like a person, read like a person."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from pathlib import Path

from textual.keys import _character_to_key

from fieldkit.app.application import FieldkitApp
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.show.opening import open_show

LOCAL = Terminal(remote=False, colour=True, ascii_only=False)


class PressedApp(FieldkitApp):
    """The application, pressed by a pilot that goes on only when no key waits for its turn any more."""

    async def _press_keys(self, keys: Iterable[str]) -> None:
        await super()._press_keys(keys)
        while self.keys_wait:  # noqa: ASYNC110  (no event tells of it)
            await asyncio.sleep(0.002)


def app_on(path: Path | str | None, terminal: Terminal = LOCAL) -> FieldkitApp:
    """Make the application on a show, or on none."""
    return PressedApp(open_show(path) if path is not None else None, terminal)


def screen_text(app: FieldkitApp) -> str:
    """Read the whole screen as text; the one place where tests lean on Textual's inside."""
    width, height = app.size
    strips = list(app.screen._compositor.render_strips(app.size))[:height]
    return "\n".join("".join(segment.text for segment in strip).ljust(width)[:width].rstrip() for strip in strips)


async def press(pilot, *keys: str) -> str:
    """Press keys one after the other, and read the screen when it has settled."""
    for key in keys:
        await pilot.press(key)
        await pilot.pause()
    if not keys:
        await pilot.pause()
    return screen_text(pilot.app)


async def type_text(pilot, text: str) -> str:
    """Type a text into the field that has the keys, in place of what stands there."""
    from textual.widgets import Input

    field = pilot.app.screen.query_one(Input)
    field.value = ""
    await pilot.pause()
    await pilot.press(*map(_character_to_key, text))
    await pilot.pause()
    return screen_text(pilot.app)
