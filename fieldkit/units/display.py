"""Numbers and quantities for people: few digits, no exponent for ordinary sizes, a prefix where natural."""

from __future__ import annotations

import math
from functools import cache

from .conversion import from_computing, to_computing
from .errors import UnitError
from .gauges import gauge_text
from .lookup import find_unit, known_unit
from .table import UNITS, Unit

_LEAST = 0.1
"""Under this a smaller prefix is taken: 0.47 mH and not 470 µH, 47 µF and not 0.047 mF."""
_MOST = 10_000.0
"""From here a larger prefix is taken: 2400 W stays, 12 kHz does not stay 12000 Hz."""
_NOT_SHOWN = ("c", "h")
"""Prefixes that are read, and shown only where a caller asks for them."""


def format_number(value: float, digits: int = 3) -> str:
    """Write a number with that many significant digits, more where its whole part has more.

    Zeros at the end go; an exponent is used only from 10¹⁵ up and under 10⁻⁹. What is not a number is said
    in words.
    """
    if math.isnan(value):
        return "no value"
    if math.isinf(value):
        return "infinite" if value > 0 else "minus infinite"
    rounded = _rounded(value, digits)
    if rounded == 0:
        return "0"
    if not 1e-9 <= abs(rounded) < 1e15:
        mantissa, _, exponent = f"{rounded:.{max(digits - 1, 0)}e}".partition("e")
        return f"{_without_zeros(mantissa)}e{int(exponent)}"
    decimals = max(digits - 1 - math.floor(math.log10(abs(rounded))), 0)
    return _without_zeros(f"{rounded:.{decimals}f}")


def format_value(value: float, unit: str, digits: int = 3, *, ascii_only: bool = False) -> str:
    """Write a number in a unit for people, with a prefix where one is natural: 0.00047, 'H' is '0.47 mH'.

    unit: any spelling of a unit, '' for a bare number, or units joined by '/' or '·', which stay
    ascii_only: ohm, mm2, degC and u instead of Ω, mm², °C and µ
    Not a number, and infinities, are words without a unit. Raises UnitError for an unknown unit.
    """
    if not unit or not math.isfinite(value):
        return format_number(value, digits)
    known = known_unit(unit)
    if known is None:
        return f"{format_number(value, digits)} {_compound(unit, ascii_only=ascii_only)}"
    if known.scale == "gauge":
        return f"{gauge_text(value) or format_number(value, digits)} AWG"
    chosen = _natural(value, known, digits)
    number = value if chosen is known else from_computing(to_computing(value, known), chosen)
    symbol = unit_text(chosen, ascii_only=ascii_only)
    return f"{format_number(number, digits)}{'' if symbol == '°' else ' '}{symbol}"


def unit_text(unit: Unit, *, ascii_only: bool = False) -> str:
    """Write the symbol of a unit for screens and paper, or in ASCII."""
    if ascii_only:
        return unit.plain or unit.symbol
    return unit.shown or unit.symbol


def _natural(value: float, unit: Unit, digits: int) -> Unit:
    """Choose the prefix: the unit's own while the number is ordinary, else the largest that keeps it so."""
    if value == 0 or _LEAST <= abs(_rounded(value, digits)) < _MOST:
        return unit
    family = _family(unit.stem or unit.symbol)
    if len(family) < 2:
        return unit
    computing = to_computing(value, unit)
    if abs(value) < 1:
        fits = [other for other in family if abs(_rounded(computing / other.factor, digits)) >= _LEAST]
        return fits[-1] if fits else family[0]
    fits = [other for other in family if abs(_rounded(computing / other.factor, digits)) < _MOST]
    return fits[0] if fits else family[-1]


@cache
def _family(stem: str) -> tuple[Unit, ...]:
    """List a unit with its prefixes that are shown, smallest first."""
    family = [unit for unit in UNITS.values() if stem in (unit.symbol, unit.stem) and unit.prefix not in _NOT_SHOWN]
    return tuple(sorted(family, key=lambda unit: unit.factor))


def _compound(unit: str, *, ascii_only: bool) -> str:
    """Write joined units: 'ohm/m' is 'Ω/m'."""
    if "/" not in unit and "·" not in unit:
        find_unit(unit)  # raises, with the nearest spelling
    above, slash, below = unit.partition("/")
    parts = []
    for side in (above, below) if slash else (above,):
        factors = side.strip("()").split("·")
        joined = "·".join(f if f == "1" else unit_text(find_unit(f), ascii_only=ascii_only) for f in factors)
        parts.append(f"({joined})" if side is below and len(factors) > 1 else joined)
    if ascii_only:
        return slash.join(parts).replace("·", "*")
    return slash.join(parts)


def _rounded(value: float, digits: int) -> float:
    """Round to significant digits, the whole part never."""
    if digits < 1:
        raise UnitError(digits, "at least 1 digit")
    if value == 0 or not math.isfinite(value):
        return value
    return round(value, max(digits - 1 - math.floor(math.log10(abs(value))), 0))


def _without_zeros(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text
