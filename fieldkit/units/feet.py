"""Feet with inches ("5 ft 3 in", 5' 3 1/2") and inches with a fraction ("3/8 in").

It stands alone and is imported only for a text that is no plain number and unit: its patterns take a millisecond to
compile.
"""

from __future__ import annotations

import re

from .errors import UnitError

_FOOT = r"(?:(?:ft|foot|feet)\.?|['′’])"
_INCH = r"""(?:(?:in|inch|inches)\.?|["″”]|'')"""
_FRACTION = r"([0-9]{1,3})/([1-9][0-9]{0,2})"
_INCHES = rf"(?:([0-9]{{1,3}}(?:[.,][0-9]{{1,9}})?)(?: {_FRACTION})?|{_FRACTION})"
_FEET_AND_INCHES = re.compile(rf"([+-]?) ?([0-9]{{1,6}}) ?{_FOOT}(?: ?-? ?){_INCHES} ?{_INCH}\Z", re.IGNORECASE)
_BROKEN_INCHES = re.compile(rf"([+-]?) ?(?:([0-9]{{1,6}}) )?{_FRACTION} ?{_INCH}\Z", re.IGNORECASE)
_UNMARKED = re.compile(rf"{_FOOT} ?-? ?[0-9]{{1,2}}(?![0-9])", re.IGNORECASE)


def feet_number(tidy: str, text: str, expected: str) -> tuple[float, str] | None:
    """Read such a text as a number and its unit, 'ft' or 'in'; None for any other.

    A sign is that of the whole.

    tidy: the text with look-alikes made one
    text, expected: for the error
    Raises UnitError for 12 inches or more beside feet.
    """
    if match := _FEET_AND_INCHES.match(tidy):
        sign, feet, inches, over, under, lone_over, lone_under = match.groups()
        rest = float((inches or "0").replace(",", ".")) + _fraction(over or lone_over, under or lone_under)
        if rest >= 12:
            more, left = divmod(rest, 12)
            hint = f"write {int(feet) + int(more)} ft {left:g} in"
            raise UnitError(text, expected, "whose inches are not under 12", hint)
        number, unit = int(feet) + rest / 12, "ft"
    elif match := _BROKEN_INCHES.match(tidy):
        sign, inches, over, under = match.groups()
        number, unit = int(inches or 0) + _fraction(over, under), "in"
    else:
        return None
    return (-number if sign == "-" else number), unit


def inches_unmarked(rest: str) -> bool:
    """Tell whether what follows a number looks like feet and inches without the mark of the inches: 5'3."""
    return _UNMARKED.match(rest) is not None


def _fraction(over: str | None, under: str | None) -> float:
    return int(over) / int(under) if over and under else 0.0
