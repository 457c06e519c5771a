"""What a user chose for good, in small files of the config folder: own keys, light or dark, bars or none."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from fieldkit.show.errors import FileError, ShowError
from fieldkit.show.keep.storage import read_text, write_text

Background = Literal["dark", "light"]

_FILE = "background.txt"
_BARS_FILE, _LEFT_OUT = "bars.txt", "left out"


def config_folder() -> Path:
    """Find the folder of the user's settings: ``FIELDKIT_CONFIG``, else the folder of the platform."""
    named = os.environ.get("FIELDKIT_CONFIG")
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("fieldkit", appauthor=False)


def own_keys() -> dict[str, str]:
    """Read the user's own keys: ``keys.toml`` in the config folder, a table of action and key. Raises FileError.

    An action is named by screen and word: ``racks.why``.
    """
    file = config_folder() / "keys.toml"
    if not file.exists():
        return {}
    try:
        found = tomllib.loads(read_text(file))
    except tomllib.TOMLDecodeError as error:
        raise FileError(f"not valid TOML: {error}", file=file.name) from error
    if not all(isinstance(key, str) for key in found.values()):
        raise FileError('expected lines such as "racks.why" = "y"', file=file.name)
    return found


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
