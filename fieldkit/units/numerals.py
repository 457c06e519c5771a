"""A number as a person types it: point or comma, any minus sign, an exponent; one reading or none."""

from __future__ import annotations

import math
import re

from .errors import UnitError

NUMBER = re.compile(r"([+-]?) ?([0-9.,]*[0-9])(?:[eE]([+-]?[0-9]+))?")
"""A number at the head of a text, commas and points not judged yet."""

_SPACES = dict.fromkeys(
    map(ord, "\t\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"), " "
)
# U+2212 minus; the ordinal indicator and the ring above pass for a degree sign.
_SIGNS = {ord("\u2212"): "-", ord("º"): "°", ord("˚"): "°"}
_FRACTIONS = {
    ord("½"): " 1/2", ord("¼"): " 1/4", ord("¾"): " 3/4",
    ord("⅛"): " 1/8", ord("⅜"): " 3/8", ord("⅝"): " 5/8", ord("⅞"): " 7/8",
}  # fmt: skip
_SAME = {**_SPACES, **_SIGNS, **_FRACTIONS}


def tidied(text: str) -> str:
    """Make look-alikes one: spaces of every width, minus and degree signs, ½ as 1/2; runs of spaces one."""
    return " ".join(part for part in text.translate(_SAME).strip().split(" ") if part)


def number_value(match: re.Match[str], text: str, expected: str) -> float:
    """Read the value of a number that NUMBER found; text and expected are for the error.

    One comma is a decimal point, unless it could part thousands: '2,5' is 2.5, '0,500' is 0.5, '1234,5' is
    1234.5, and '1,000' is refused, as are two signs of either kind. Raises UnitError, for numbers beyond
    floats too.
    """
    sign, digits, exponent = match.groups()
    if digits.count(",") + digits.count(".") > 1:
        raise UnitError(text, expected, "which has more than one decimal sign", "write it as in 1000.5")
    whole, comma, decimals = digits.partition(",")
    if comma and len(decimals) == 3 and len(whole) <= 3 and int(whole or 0) > 0:
        raise UnitError(text, expected, "whose comma has two readings", _two_readings(whole, decimals, text))
    value = float(digits.replace(",", ".") + (f"e{exponent}" if exponent else ""))
    if not math.isfinite(value):
        raise UnitError(text, expected, "which is too large a number")
    return -value if sign == "-" else value


def _two_readings(whole: str, decimals: str, text: str) -> str:
    """Explain a comma before three digits: '1,000 W' could be one or one thousand."""
    unit = text.partition(decimals)[2].strip()
    tail = f" {unit}" if unit and len(unit) <= 12 and unit.isprintable() else ""
    thousands = f"{int(whole)}{decimals}"
    decimal = f"{int(whole)}.{decimals.rstrip('0') or '0'}"
    names = "one or one thousand" if (int(whole), decimals) == (1, "000") else f"{decimal} or {thousands}"
    return f"it could be {names}; write {thousands}{tail} or {decimal}{tail}"
