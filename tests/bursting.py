"""The same keys twice: one at a time with a pause between them, and in bursts; what is left must be the same."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import shutil
from collections.abc import Sequence
from pathlib import Path

from apps import app_on, screen_text
from textual import events
from textual.keys import _character_to_key

from fieldkit.app.action_table import EVERYWHERE
from fieldkit.app.actions import function_key
from fieldkit.app.application import FieldkitApp, screen_class
from fieldkit.app.screens import SCREENS
from fieldkit.app.widgets.foretold import PAUSE_S, Foretold
from fieldkit.show.writing import canonical

MOVES = ("down", "up", "pagedown", "pageup", "home", "end", "j", "k")
IN_WINDOWS = ("enter", "escape", "tab", "space", "backspace", "ctrl+u", "y", "n", "shift+tab", "left", "right")
TEXT = "12 m"
LEAVES = {"q", "ctrl+q"}

State = tuple[str, ...]


def keys_everywhere() -> list[str]:
    """List the keys that work on every screen, without those that leave."""
    keys = [key for action in EVERYWHERE for key in action.keys.split(",") if key]
    return [key for key in keys if key not in LEAVES]


def keys_of(mode: str) -> list[str]:
    """List the keys of a screen, from what it declares."""
    frame = screen_class(mode)
    return [key for action in frame.ACTIONS for key in action.keys.split(",") if key]


def walk(seed: int, length: int, mode: str = "") -> list[str]:
    """Make a story of random keys of every screen, or of one, with the windows that they open."""
    chance = random.Random(seed)
    modes = [name for _, name, _ in SCREENS]
    number = {name: function_key(key) for key, name, _ in SCREENS}  # a digit is a reading on Triage
    here = mode or chance.choice(modes)
    story = [number[here]]
    while len(story) < length:
        what = chance.random()
        if what < 0.42:
            story.append(chance.choice(keys_of(here)))
        elif what < 0.62:
            story.append(chance.choice(IN_WINDOWS[:2]))
        elif what < 0.74:
            story.append(chance.choice(MOVES))
        elif what < 0.86:
            story.append(chance.choice((*IN_WINDOWS, *TEXT)))
        elif what < 0.95:
            story.append(chance.choice(keys_everywhere()))
        else:
            here = mode or chance.choice(modes)
            story += ["escape", "escape", number[here]]
    return story[:length]


def key_event(key: str) -> events.Key:
    """Make the event of a key by its name, or of a character."""
    if len(key) == 1:
        return events.Key(key if key.isalnum() else _character_to_key(key), key)
    return events.Key(key, {"space": " ", "question_mark": "?", "slash": "/"}.get(key))


async def quiet(pilot, *, quick: bool = False) -> None:
    """Wait until the program is at rest, by what can be seen from outside: no work in threads, idle processor.

    ``quick`` asks the program itself, which takes a tenth of the time.
    """
    app = pilot.app
    rest = app.keys_done if quick else pilot.pause
    await rest()
    await app.workers.wait_for_complete()
    await rest()


def state_of(app: FieldkitApp) -> State:
    """Say what is left: screen, windows, show, tape, and whether it still runs."""
    if app._exit:
        return ("left",)
    show = canonical(app.session.present) if app.session is not None else ""
    windows = " ".join(type(screen).__name__ for screen in app.screen_stack)
    return (windows, screen_text(app), show, "\n".join(entry.expression for entry in app.bench.tape))


def fresh(folder: Path, sample: Path | None) -> Path | None:
    """Lay the folder of a run out anew, so that both runs find the same files under the same names."""
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "show").mkdir(parents=True)
    os.environ["FIELDKIT_STATE"] = str(folder / "state")
    os.environ["FIELDKIT_CONFIG"] = str(folder / "config")
    if sample is None:
        return None
    path = folder / "show" / sample.name
    shutil.copy(sample, path)
    return path


async def run(
    folder: Path, sample: Path | None, bursts: Sequence[Sequence[str]], *, alone: bool = False, quick: bool = False
) -> list[State]:
    """Press the keys of each burst at once, or each alone when the program is at rest; gives what is left after each.

    ``quick`` is as for ``quiet``.
    """
    app = app_on(fresh(folder, sample))
    found = []
    async with contextlib.AsyncExitStack() as stack:
        stack.enter_context(contextlib.chdir(folder / "show"))
        pilot = await stack.enter_async_context(app.run_test(size=(80, 24)))
        await quiet(pilot)
        for burst in bursts:
            for key in burst:
                app.post_message(key_event(key))
                if alone:
                    await quiet(pilot, quick=quick)
            await app.keys_done()
            if app._exit:
                return [*found, ("left",)]
            if app.screen.query(Foretold):
                await asyncio.sleep(PAUSE_S + 0.05)
            await quiet(pilot, quick=quick)
            found.append(state_of(app))
    return found


def every_key(mode: str) -> list[list[str]]:
    """Make bursts of two of every key of a screen, and of what may open there."""
    number = next(function_key(key) for key, name, _ in SCREENS if name == mode)
    bursts = []
    for pressed in dict.fromkeys((*keys_of(mode), *keys_everywhere())):
        bursts += [[number, pressed], ["down", "enter"], ["escape", "escape", "escape"]]
    return bursts


def split(story: Sequence[str], size: int) -> list[list[str]]:
    """Cut a story into bursts."""
    return [list(story[place : place + size]) for place in range(0, len(story), size)]


def difference(alone: Sequence[State], at_once: Sequence[State], bursts: Sequence[Sequence[str]]) -> str:
    """Say where two runs went different ways; empty where they did not."""
    for burst, one, other in zip(bursts, alone, at_once, strict=False):
        if one != other:
            parts = [f"after {' '.join(burst)}:"]
            for a, b in zip(one, other, strict=False):
                lines = [(x, y) for x, y in zip(a.splitlines(), b.splitlines(), strict=False) if x != y]
                parts += [f"  alone    {x}\n  together {y}" for x, y in lines[:6]]
                if not lines and a != b:
                    parts.append(f"  alone    …{a[-200:]}\n  together …{b[-200:]}")
            return "\n".join(parts)
    return "" if len(alone) == len(at_once) else f"{len(alone)} bursts alone, {len(at_once)} together"
