"""The application under test: started on a show, pressed like a person, read like a person."""

from __future__ import annotations

import asyncio
import time
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from textual import events
from textual import screen as screens
from textual._context import visible_screen_stack
from textual.css.stylesheet import Stylesheet
from textual.keys import REPLACED_KEYS, _character_to_key, _get_unicode_name_from_key

from fieldkit.app.application import FieldkitApp
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.app.widgets import beside
from fieldkit.show.opening import open_show

LOCAL = Terminal(remote=False, colour=True, ascii_only=False)

beside.PAUSE_S = 0.0  # what is said about a row comes at once, and no test waits for it

screens.UPDATE_PERIOD = 1 / 500  # a change is laid out at once, not with the next of 60 frames a second

LONGEST_S = 60.0
"""After which a key is taken to hang; nothing waits that long where all is well."""
RULES = {}
"""Style texts that were read once. Textual keeps them for one application; a suite starts hundreds, and reading them
is a fifth of what each costs."""
_read = Stylesheet._parse_rules


def _read_once(sheet, css, read_from, **more):
    key = (css, read_from, *more.items(), frozenset(sheet._variables.items()))
    if key not in RULES:
        RULES[key] = _read(sheet, css, read_from, **more)
    return RULES[key]


Stylesheet._parse_rules = _read_once


class PressedApp(FieldkitApp):
    """The application, pressed by a pilot that goes on when a key has come to its end.

    Textual's own pilot waits at each key until the processor is idle, 20 ms and more at a time; that is most of the
    time of a suite, and longer where other programs run.
    """

    async def _press_keys(self, keys: Iterable[str]) -> None:
        for key in keys:
            self.send(_character_to_key(key) if len(key) == 1 and not key.isalnum() else key, _character_of(key))
            await asyncio.sleep(0)
            await self.rest()

    def send(self, name: str, character: str | None) -> None:
        """Send a key as the terminal does."""
        event = events.Key(name, character)
        event.set_sender(self)
        self._driver.send_message(event)

    async def rest(self) -> None:
        """Wait until all that was begun has come to its end and is laid out and painted.

        A window at work holds its keys: whoever tests that presses the next one meanwhile.
        """
        end = time.monotonic() + LONGEST_S
        quiet = 0
        while quiet < 2 and not self._at_work() and self._exception is None:  # that one is said where it is left
            quiet = quiet + 1 if self._rests() else 0
            assert time.monotonic() < end, "what a key began has not come to its end"
            await asyncio.sleep(0.002)

    def _rests(self) -> bool:
        if self.keys_wait or not self._settled() or not self._laid_out():
            return False
        if self._exit or not self.screen_stack:
            return True
        top = self.screen
        return not (top._layout_required or top._repaint_required or top._dirty_widgets or top._callbacks)

    def _laid_out(self) -> bool:
        """Tell whether the window on top has been laid out once: before that it is empty, and at rest all the same."""
        return self._exit or not self.screen_stack or bool(self.screen._compositor.size)


def _character_of(key: str) -> str | None:
    """Give the character that a key stands for, as Textual's pilot does; None for a key that writes nothing."""
    if len(key) == 1:
        return key
    try:
        return unicodedata.lookup(_get_unicode_name_from_key(REPLACED_KEYS.get(key, key)))
    except KeyError:
        return None


def app_on(path: Path | str | None, terminal: Terminal = LOCAL) -> FieldkitApp:
    """Make the application on a show, or on none."""
    return PressedApp(open_show(path) if path is not None else None, terminal)


def screen_text(app: FieldkitApp) -> str:
    """Read the whole screen as text; the one place where tests lean on Textual's inside."""
    width, height = app.size
    visible_screen_stack.set(app._background_screens)
    strips = list(app.screen._compositor.render_strips(app.size))[:height]
    return "\n".join("".join(segment.text for segment in strip).ljust(width)[:width].rstrip() for strip in strips)


async def until(pilot, condition) -> str:
    """Wait until something is so, and read the screen: a text that it shows, or a function of the application."""
    end = time.monotonic() + LONGEST_S
    while not (condition in screen_text(pilot.app) if isinstance(condition, str) else condition(pilot.app)):
        assert time.monotonic() < end, screen_text(pilot.app)
        await asyncio.sleep(0.005)
        await pilot.app.rest()
    await pilot.app.rest()
    return screen_text(pilot.app)


async def press(pilot, *keys: str) -> str:
    """Press keys one after the other, and read the screen when it has settled."""
    await pilot.app._press_keys(keys)
    await pilot.app.rest()
    return screen_text(pilot.app)


async def type_text(pilot, text: str) -> str:
    """Type a text into the field that has the keys, in place of what stands there: fast, in one go.

    Keys that come together do what they do alone (``test_app_bursts.py``), and are handled in a tenth of the time.
    """
    from textual.widgets import Input

    field = pilot.app.screen.query_one(Input)
    field.value = ""
    await pilot.app.rest()
    for character in text:
        pilot.app.send(_character_to_key(character), character)
    await asyncio.sleep(0)
    await pilot.app.rest()
    return screen_text(pilot.app)


async def do(pilot, words: str) -> str:
    """Find an action in the menu by words for it, and do it."""
    await press(pilot, "question_mark")
    await type_text(pilot, words)
    return await press(pilot, "enter")
