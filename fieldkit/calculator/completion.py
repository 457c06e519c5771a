"""What may come next while somebody types: units behind a number, functions elsewhere, a call's values inside it.

It looks at the text up to its end and never evaluates it, so that an unfinished expression is no error here.
"""

from __future__ import annotations

import re

import msgspec

from fieldkit.calculator.listing import Entry, listing
from fieldkit.units import DIMENSIONS, UNITS
from fieldkit.units.lookup import units_of

MOST = 6
"""Suggestions at a time: more is a list to read, and the next letter is quicker."""

_WORD = re.compile(r"[^\W\d][\w²³]*$")
_AFTER_NUMBER = re.compile(r"[0-9²³]\s*$")
_CONVERSION = re.compile(r"(?:^|[\s)])in\s+$")


class Suggestion(msgspec.Struct, frozen=True):
    """A way to go on."""

    text: str
    """The whole text with it."""
    word: str
    """What it puts in."""
    about: str
    """A function's values and what it gives; a unit's dimension."""


def suggestions(text: str) -> tuple[Suggestion, ...]:
    """List ways to finish the word at the end of an expression, the most likely first; none without a word."""
    found = _WORD.search(text)
    if found is None:
        return ()
    word, before = found.group(), text[: found.start()]
    if _AFTER_NUMBER.search(before) or _CONVERSION.search(before):
        return _units(word, before)
    functions = _functions(word, before)
    return functions or _units(word, before)


def unit_suggestions(text: str, dimension: str) -> tuple[Suggestion, ...]:
    """List units of one dimension for the text of a field that wants a quantity; all of its usual ones at a number."""
    found = _WORD.search(text)
    word, before = (found.group(), text[: found.start()]) if found else ("", text)
    if not _AFTER_NUMBER.search(before):
        return ()
    if not word:
        gap = "" if before.endswith(" ") else " "
        return tuple(
            Suggestion(f"{before}{gap}{symbol}", symbol, DIMENSIONS[dimension].phrase)
            for symbol in DIMENSIONS[dimension].typical[:MOST]
        )
    return tuple(item for item in _units(word, before, dimension) if item.word != word)


def signature(text: str) -> str:
    """Give the values of the call that the text ends in: ``cable_loss(length [m], …) → dB``; empty outside one."""
    depth = 0
    for place in range(len(text) - 1, -1, -1):
        if text[place] == ")":
            depth += 1
        elif text[place] == "(" and depth:
            depth -= 1
        elif text[place] == "(":
            name = _WORD.search(text[:place])
            entry = _entries().get(name.group()) if name else None
            return entry.signature if entry else ""
    return ""


def _functions(word: str, before: str) -> tuple[Suggestion, ...]:
    folded = word.casefold()
    names = [name for name in _entries() if name.startswith(folded)]
    names += [name for name in _entries() if folded in name and name not in names and len(folded) > 2]
    return tuple(Suggestion(f"{before}{name}(", name, _entries()[name].title) for name in names[:MOST])


def _units(word: str, before: str, dimension: str | None = None) -> tuple[Suggestion, ...]:
    """Rank the units that begin so: as it is written, then in any case, the shorter first."""
    folded = word.casefold()
    known = UNITS.values() if dimension is None else units_of(dimension)
    fitting = [unit for unit in known if unit.symbol.casefold().startswith(folded)]
    fitting.sort(key=lambda unit: (not unit.symbol.startswith(word), len(unit.symbol), unit.symbol))
    return tuple(
        Suggestion(before + unit.symbol, unit.symbol, DIMENSIONS[unit.dimension].phrase) for unit in fitting[:MOST]
    )


def _entries() -> dict[str, Entry]:
    return {entry.name: entry for entry in listing()}
