"""What a user chose for good, in small files of the config folder: own keys, light or dark, bars or none."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from textual.keys import Keys, key_to_character

from fieldkit.app.action_table import EVERYWHERE, FILTER, TABLE
from fieldkit.app.actions import function_key
from fieldkit.app.screens import SCREENS
from fieldkit.show.errors import FileError, ShowError
from fieldkit.show.keep.storage import read_text, write_text
from fieldkit.text.folders import config_folder
from fieldkit.text.words import nearest, printable

Background = Literal["dark", "light"]

_KEYS_FILE = "keys.toml"
_FILE = "background.txt"
_BARS_FILE, _LEFT_OUT = "bars.txt", "left out"


def own_keys() -> dict[str, str]:
    """Read the user's own keys: ``keys.toml`` in the config folder, a table of action and key. Raises FileError.

    An action is named by screen and word: ``racks.why``.
    """
    file = config_folder() / _KEYS_FILE
    if not file.exists():
        return {}
    try:
        found = tomllib.loads(read_text(file))
    except tomllib.TOMLDecodeError as error:
        raise FileError(f"not valid TOML: {error}", file=file.name) from error
    if not all(isinstance(key, str) for key in found.values()):
        raise FileError('expected lines such as "racks.why" = "y"', file=file.name)
    return found


def usable_keys(own: Mapping[str, str]) -> tuple[dict[str, str], str]:
    """Give the own keys that can be used, and a sentence about the others; empty where all can.

    A name may be old or mistyped, a key mistyped too; the letter of another action here is that action's no longer.
    """
    names = action_names()
    unknown = [name for name in own if name not in names]
    wrong = [name for name in own if name in names and not all(map(_is_key, own[name].split(",")))]
    usable = {name: key for name, key in own.items() if name not in (*unknown, *wrong)}
    parts = [f"'{printable(name)}' is no action{nearest(name, names)}" for name in unknown]
    parts += [f"'{printable(own[name])}' of {name} is no key: expected one such as y, f9 or ctrl+y" for name in wrong]
    parts += [
        f"{key} of {name} is the key of {other} too: give that one another"
        for name, key in usable.items()
        for other, keys in names.items()
        if other != name and key in usable.get(other, keys).split(",") and _meet(name, other)
    ][:1]
    return usable, f"{_KEYS_FILE}: {'; '.join(parts)}" if parts else ""


def action_names() -> dict[str, str]:
    """List the actions that have a key, each with its keys: ``racks.why``.

    ``everywhere.`` is what every screen has, ``screens.`` goes to one.
    """
    everywhere = {f"everywhere.{action.name}": action.keys for action in EVERYWHERE if action.keys}
    here = {f"{place}.{action.name}": action.keys for action in TABLE for place in action.at if action.keys}
    screens = {f"screens.{mode}": f"{key},{function_key(key)}" for key, mode, _ in SCREENS}
    return {**everywhere, "everywhere.redraw": "ctrl+l", **screens, "tables.filter": FILTER.keys, **here}


def _is_key(key: str) -> bool:
    """Tell whether a terminal has such a key: a character, by itself or by its name, or a key that has a name."""
    *held, base = key.strip().split("+") if len(key.strip()) > 1 else [key]
    known = {named.value for named in Keys} | {f"f{number}" for number in range(1, 25)}
    return set(held) <= {"ctrl", "shift", "alt"} and (base in known or key_to_character(base) is not None)


def _meet(name: str, other: str) -> bool:
    """Tell whether two actions can be had in one place, but for one that is everywhere and told anew there."""
    place, word = name.split(".")
    other_place, other_word = other.split(".")
    return word != other_word and (place == other_place or bool({"everywhere", "screens"} & {place, other_place}))


def background(environment: Mapping[str, str] | None = None) -> Background:
    """Find the background: the user's choice, else what ``COLORFGBG`` says, else dark.

    ``COLORFGBG`` is ``foreground;background`` in numbers of the 16 colours; 7 and 15 are the whites.
    """
    chosen = _chosen()
    if chosen is not None:
        return chosen
    environment = os.environ if environment is None else environment
    return "light" if environment.get("COLORFGBG", "").rpartition(";")[2] in {"7", "15"} else "dark"


def choose(word: Background) -> Path:
    """Keep a background for the next time, and give its file. Raises FileError."""
    return _keep(_FILE, word)


def bars() -> bool:
    """Tell whether bars and scales are drawn: they are, unless the user chose to leave them out."""
    return _read(_BARS_FILE) != _LEFT_OUT


def choose_bars(*, drawn: bool) -> Path:
    """Keep for the next time whether bars and scales are drawn, and give the file. Raises FileError."""
    return _keep(_BARS_FILE, "drawn" if drawn else _LEFT_OUT)


def _keep(name: str, word: str) -> Path:
    file = config_folder() / name
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(f"the folder cannot be made: {error.strerror}", file=file.name) from error
    write_text(file, f"{word}\n", keep_before=False)
    return file


def theme(word: Background, *, plain: bool) -> str:
    """Name the theme for a background; ``plain`` uses the terminal's own 16 colours."""
    return f"{'ansi' if plain else 'textual'}-{word}"


def _read(name: str) -> str:
    try:
        return read_text(config_folder() / name).strip()
    except ShowError:
        return ""  # nothing was chosen yet, or it cannot be read: what goes without saying rules


def _chosen() -> Background | None:
    word = _read(_FILE)
    if word == "light":
        return "light"
    return "dark" if word == "dark" else None
