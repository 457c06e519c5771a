"""Text with a number and a known unit into a quantity; light, and never evaluated.

Besides "20 m": feet with inches ("5 ft 3 in", 5' 3 1/2") and wire gauges ("14 AWG", "AWG 2/0").
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

import msgspec

from .conversion import to_computing
from .errors import UnitError, shown
from .gauges import gauge_number
from .lookup import known_unit, nearest_hint, same_but_for_case
from .numerals import NUMBER, number_value, tidied
from .table import DIMENSIONS, UNITS, Unit

LONGEST = 100
"""Characters of a quantity at most; longer text is answered without being looked at."""

_ANY = "a number with a unit such as '20 m'"
_GAUGE = re.compile(r"(?:AWG ?([^ ]+)|([^ ]+?) ?AWG)\Z", re.IGNORECASE)


class Quantity(msgspec.Struct, frozen=True):
    """What a text says: the number as typed, its unit, and the value in the computing unit."""

    number: float
    unit: str
    """Canonical symbol; feet with inches are a number of feet. Empty for a bare number."""
    dimension: str
    """What the unit measures: 'length'; 'level' for dBu, 'voltage' for V."""
    value: float
    """In the computing unit of the dimension."""


@lru_cache(maxsize=4096)
def parse_quantity(text: str) -> Quantity:
    """Read a number and a unit of the table. Raises UnitError for any other text."""
    return read_quantity(text)


def read_quantity(text: str, dimension: str | None = None) -> Quantity:
    """Read a quantity; a dimension serves the messages only, and the unit may be of another.

    Raises UnitError: no number, no unit, an unknown unit, a number with two readings, or beyond floats.
    """
    expected = _ANY if dimension is None else expected_example(dimension)
    tidy = _tidy(text, expected)
    match = NUMBER.match(tidy)
    unit = _unit(tidy[match.end() :]) if match else None
    if match and unit and unit.scale != "gauge":
        return _quantity(number_value(match, text, expected), unit, text, expected)
    other = _gauge(tidy, text, expected) or _feet(tidy, text, expected)
    if other is not None:
        return other
    if match is None:
        raise UnitError(text, expected, "which does not begin with a number", _number_hint(tidy))
    number_value(match, text, expected)  # a bad number is the first thing to say
    rest = tidy[match.end() :].strip()
    if not rest:
        raise UnitError(text, expected, "which has no unit")
    raise _unknown(rest, match.group().strip(), text, dimension)


def read_number(text: str, expected: str = "a number") -> float | None:
    """Read a number without a unit; None when something follows it. Raises UnitError where there is none."""
    tidy = _tidy(text, expected)
    match = NUMBER.fullmatch(tidy)
    return None if match is None else number_value(match, text, expected)


def expected_example(dimension: str) -> str:
    """Name a dimension with an example, for a message: "a length such as '20 m'"."""
    declared = DIMENSIONS[dimension]
    return f"{declared.phrase} such as '{declared.example}'"


def expected_units(dimension: str) -> str:
    """Name a dimension with its usual units, for a message: "a length (m, mm, ft, in)"."""
    declared = DIMENSIONS[dimension]
    return f"{declared.phrase} ({', '.join(declared.typical)})"


def wrong_dimension(quantity: Quantity, text: str, dimension: str) -> UnitError:
    """Build the error for a quantity of another dimension than expected, with what to write instead."""
    tidy = tidied(text)
    match = NUMBER.match(tidy)
    end = match.end() if match else 0
    hint = _instead(tidy[:end].strip(), tidy[end:].strip(), quantity.unit, dimension)
    return UnitError(text, expected_units(dimension), f"which is {DIMENSIONS[quantity.dimension].phrase}", hint)


def _tidy(text: str, expected: str) -> str:
    if len(text) > LONGEST:
        raise UnitError(text, expected, f"which is {len(text)} characters long")
    tidy = tidied(text)
    if not tidy:
        raise UnitError(text, expected, "which is empty")
    return tidy


def _unit(rest: str) -> Unit | None:
    """Read the unit that follows a number; a full stop may end an abbreviation: '66 in.'."""
    spelling = rest.strip()
    return known_unit(spelling) or known_unit(spelling.removesuffix("."))


def _gauge(tidy: str, text: str, expected: str) -> Quantity | None:
    """Read a wire gauge, written before or after its number."""
    match = _GAUGE.match(tidy)
    if match is None:
        return None
    gauge = gauge_number(match[1] or match[2])
    if gauge is None:
        raise UnitError(text, expected, "which is no gauge from 4/0 to 40", "write it as in 14 AWG or 2/0 AWG")
    return _quantity(float(gauge), UNITS["AWG"], text, expected)


def _feet(tidy: str, text: str, expected: str) -> Quantity | None:
    """Read feet with inches, or inches with a fraction."""
    from .feet import feet_number

    found = feet_number(tidy, text, expected)
    return None if found is None else _quantity(found[0], UNITS[found[1]], text, expected)


def _quantity(number: float, unit: Unit, text: str, expected: str) -> Quantity:
    value = to_computing(number, unit)
    if not math.isfinite(value):
        raise UnitError(text, expected, "which is too large a number")
    return Quantity(number, unit.symbol, unit.dimension, value)


def _unknown(spelling: str, number: str, text: str, dimension: str | None) -> UnitError:
    """Say why what follows a number is no unit, and what may have been meant."""
    expected = _ANY if dimension is None else expected_units(dimension)
    from .feet import inches_unmarked

    if inches_unmarked(spelling):
        return UnitError(text, expected, "whose feet and inches are unclear", "write it as in 5 ft 3 in")
    if spelling[0].isnumeric() and not spelling[0].isascii():
        return UnitError(text, expected, "whose digits are not plain ones", "write 0 to 9")
    if parts := re.match(r"(?:[ _'’]?[0-9]+)+", spelling):
        joined = re.sub(r"[^0-9.,+-]", "", number + parts.group())
        hint = f"write the digits together, as in {joined}" if len(joined) <= 12 else "write the digits together"
        return UnitError(text, expected, "whose number is in parts", hint)
    first, space, _ = spelling.partition(" ")
    if space and known_unit(first) is not None:
        hint = f"write '{number} {first}' alone"
    else:
        hint = nearest_hint(spelling, dimension)
    return UnitError(text, expected, f"whose unit {shown(spelling, 20)} is unknown", hint)


def _number_hint(tidy: str) -> str:
    """Say how to begin a text that does not begin with a number."""
    if tidy[0].isnumeric():
        return "write the digits 0 to 9"
    unit, _, number = tidy.rpartition(" ")
    return f"write '{number} {unit}'" if NUMBER.fullmatch(number) and known_unit(unit) else ""


def _instead(number: str, spelling: str, unit: str, dimension: str) -> str:
    """Say what to write where a unit of another dimension is a likely slip."""
    if dimension == "temperature" and unit == "F":
        return f"write '{number} °F'"
    if dimension == "temperature" and unit == "deg":
        return f"write '{number} °C' or '{number} °F'"
    if dimension == "area" and f"{unit}²" in UNITS:
        return f"write '{number} {unit}²'"
    other = same_but_for_case(spelling, dimension)
    return f"write '{number} {other}'" if other else ""
