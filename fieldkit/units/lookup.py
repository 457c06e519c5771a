"""Which unit a spelling means, which spellings there are, and which one is nearest to a wrong one.

Spellings are read exactly as the table has them. Another case is accepted where it can mean one thing only
('hz', 'KW', 'dbu'), judged against every SI prefix and not only those a unit takes: 'mw' and 'MV' are
refused, since mW and MW, mV and MV are a factor of 10⁹ apart. So are a lone 'k' or 'M', and 'dbv', which was
once another name of dBu.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache

from .errors import UnitError
from .table import DIMENSIONS, PREFIXES, ROWS, UNITS, Unit

# U+00B5 micro sign, U+03BC Greek mu (what casefold makes of the first).
_MICROS = ("µ", "\u03bc", "u")
_WIDE_PREFIXES = ("p", *_MICROS, "n", "m", "c", "h", "k", "M", "G", "T")
_LONE_PREFIXES = ("k", "M", "G", "T")
_LONGEST = 40
"""Longer texts are no unit, and are not compared with any."""


def find_unit(spelling: str) -> Unit:
    """Look up the unit of a spelling, prefixed ones included. Raises UnitError, with the nearest spelling."""
    unit = known_unit(spelling)
    if unit is None:
        raise UnitError(spelling, "a unit", "which is unknown", nearest_hint(spelling))
    return unit


@lru_cache(maxsize=1024)
def known_unit(spelling: str) -> Unit | None:
    """Look up the unit of a spelling; None where there is none."""
    if len(spelling) > _LONGEST:
        return None
    return _exact().get(spelling) or _folded().get(_fold(spelling))


def units_of(dimension: str) -> tuple[Unit, ...]:
    """List the units that may be typed for a dimension, prefixed ones included."""
    accepted = DIMENSIONS[dimension].accepts or (dimension,)
    return tuple(unit for unit in UNITS.values() if unit.dimension in accepted)


def spellings(dimension: str | None = None) -> Iterator[str]:
    """List all spellings, of one dimension or of all, canonical symbols first: for completion lists."""
    units = tuple(UNITS.values()) if dimension is None else units_of(dimension)
    yield from (unit.symbol for unit in units)
    symbols = {unit.symbol for unit in units}
    yield from (text for text, unit in _exact().items() if unit.symbol in symbols and text not in symbols)


def same_but_for_case(spelling: str, dimension: str) -> str | None:
    """Find the spelling of a dimension that differs only by case: 'H' for 'h' as an inductance."""
    folded = _fold(spelling)
    return next((text for text in spellings(dimension) if text != spelling and _fold(text) == folded), None)


def nearest_hint(spelling: str, dimension: str | None = None) -> str:
    """Say which spelling may have been meant, among a dimension's or all; empty when none is near."""
    if not spelling or len(spelling) > _LONGEST or not spelling.isprintable():
        return ""
    if spelling in _LONE_PREFIXES:
        return f"a lone '{spelling}' is no unit: write it out, as in {_prefix_examples(spelling, dimension)}"
    if _fold(spelling) == "dbv":
        return "write 'dBV' (0 dBV is 1 V) or 'dBu' (0 dBu is 0.775 V)"
    folded = _fold(spelling)
    choices = list(spellings(dimension))
    near = [text for text in choices if _fold(text) == folded]
    near = near or [text for text in spellings() if _fold(text) == folded] or _close(folded, choices)
    return f"did you mean {' or '.join(repr(text) for text in dict.fromkeys(near[:2]))}?" if near else ""


def _close(folded: str, choices: list[str]) -> list[str]:
    """Find the nearest choice, if any; a wrong letter is likelier than a missing one in so short words."""
    import difflib  # only a wrong spelling pays for it

    def likeness(text: str) -> float:
        other = _fold(text)
        ratio = difflib.SequenceMatcher(None, folded, other).ratio()
        if ratio < (0.5 if len(folded) <= 3 else 0.7):
            return 0.0
        return ratio + 0.2 * (len(other) == len(folded)) + 0.1 * (other[0] == folded[0])

    best = max(choices, key=likeness)
    return [best] if likeness(best) >= 0.75 else []


def _prefix_examples(prefix: str, dimension: str | None) -> str:
    units = tuple(UNITS.values()) if dimension is None else units_of(dimension)
    examples = [unit.symbol for unit in units if unit.prefix == prefix]
    return ", ".join(examples[:3] or ["kHz", "kohm", "kW"])


@cache
def _exact() -> dict[str, Unit]:
    """Index every spelling, as it stands."""
    index = dict(UNITS)
    for unit in ROWS:
        for spelling in (*unit.spellings, *unit.words):
            index[spelling] = unit
        for prefix in unit.prefixes:
            target = UNITS[prefix + unit.symbol]
            for symbol in _MICROS if prefix == "µ" else (prefix,):
                for spelling in (unit.symbol, *unit.spellings):
                    index.setdefault(symbol + spelling, target)
            for word in unit.words:
                index.setdefault(PREFIXES[prefix][0] + word, target)
    return index


@cache
def _folded() -> dict[str, Unit]:
    """Index the spellings that mean one thing in any case; see the top of the file."""
    meanings: dict[str, set[str]] = {}
    for spelling, unit in _exact().items():
        meanings.setdefault(_fold(spelling), set()).add(unit.symbol)
    for unit in ROWS:
        for prefix in _WIDE_PREFIXES if unit.prefixes else ():
            symbol = ("µ" if prefix in _MICROS else prefix) + unit.symbol
            for spelling in (unit.symbol, *unit.spellings):
                meanings.setdefault(_fold(prefix + spelling), set()).add(symbol)
    for lone in (*_LONE_PREFIXES, "dBv"):
        meanings.setdefault(_fold(lone), set()).add(lone)
    single = ((text, next(iter(symbols))) for text, symbols in meanings.items() if len(symbols) == 1)
    return {text: UNITS[symbol] for text, symbol in single if symbol in UNITS}


def _fold(spelling: str) -> str:
    """Fold case, and the two micro signs into 'u'."""
    return spelling.casefold().replace("\u03bc", "u")
