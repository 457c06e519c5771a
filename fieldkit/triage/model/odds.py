"""The table of odds, minutes and spreads: ours, and what the user's own file says otherwise."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from fieldkit.show.errors import FileError
from fieldkit.show.keep.storage import read_text
from fieldkit.text.folders import config_folder
from fieldkit.text.words import nearest

OWN_NAME = "triage.toml"
ORIGIN = "common practice, no source"

Numbers = dict[str, float]


class OddsTable(msgspec.Struct, frozen=True):
    """All that is estimated, by the tables of the file. Chances and shares are 0 to 1, minutes are minutes."""

    odds: Numbers
    kinds: Numbers
    worked_before: Numbers
    ears: Numbers
    lights: Numbers
    swaps: Numbers
    polarity: Numbers
    look: Numbers
    meter: Numbers
    repaired: Numbers
    minutes: Numbers
    reach: Numbers
    repairs: Numbers
    stop: Numbers


def origin() -> str:
    """Say where the odds come from: ours, or the user's own file over them."""
    return f"your own {OWN_NAME}, else {ORIGIN}" if (config_folder() / OWN_NAME).exists() else ORIGIN


def table() -> OddsTable:
    """Read the table, with the user's own file over it. Raises FileError for a file that cannot be used."""
    numbers = dict(_ours())
    file = config_folder() / OWN_NAME
    if not file.exists():
        return OddsTable(**numbers)
    try:
        found = tomllib.loads(read_text(file))
    except tomllib.TOMLDecodeError as error:
        raise FileError(f"not valid TOML: {error}", file=file.name) from error
    for name, values in found.items():
        numbers[name] = numbers[_known(name, numbers, file)] | _checked(name, values, numbers[name], file)
    return OddsTable(**numbers)


@cache
def _ours() -> dict[str, Numbers]:
    return tomllib.loads(Path(__file__).with_name("odds.toml").read_text(encoding="utf-8"))


def _known(name: str, numbers: dict[str, Any], file: Path) -> str:
    if name not in numbers:
        raise FileError(f"unknown key '{name}'{nearest(name, numbers)}", file=file.name)
    return name


CHANCES = {"slip", "finds", "reads", "leads_chance", "warm_chance", "floor", "sure", "unknown", "none-of-these"}
"""Keys that are chances, above 0 and below 1."""


def _checked(name: str, values: Any, known: Numbers, file: Path) -> Numbers:
    if not isinstance(values, dict):
        raise FileError(f"{name}: expected a table of numbers", file=file.name)
    open_ended = name == "worked_before"
    for key, value in values.items():
        if not open_ended:
            _known(key, known, file)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 <= value <= 10_000:
            raise FileError(f"{name}.{key}: expected a number from 0 to 10000, got {value!r}", file=file.name)
        if key in CHANCES and not 0.0 < value < 1.0:
            raise FileError(f"{name}.{key}: expected a chance between 0 and 1, got {value!r}", file=file.name)
        if name in {"minutes", "repairs"} and key not in {"nothing", "z1k-more"} and not value > 0.0:
            raise FileError(f"{name}.{key}: expected minutes above 0, got {value!r}", file=file.name)
    return values
