"""American Wire Gauge, by its function: ASTM B258, d = 0.127 mm · 92^((36 − n) / 39); m/0 is n = 1 − m."""

from __future__ import annotations

import math
import re

THICKEST = -3
"""4/0 AWG, the thickest size with a name."""
THINNEST = 40

_UNIT_AREA = math.pi / 4 * 0.127**2
"""Area of 36 AWG [mm²], which the standard fixes by its diameter."""

_GAUGE = re.compile(r"(?:([1-4])/0|(0{1,4})|([1-9][0-9]?))\Z")


def gauge_area(gauge: float) -> float:
    """Convert a gauge number to the area of a solid wire [mm²]; 2/0 is -1. Source: ASTM B258."""
    return float(_UNIT_AREA * 92 ** ((36 - gauge) / 19.5))


def area_gauge(area_mm2: float) -> float:
    """Convert an area above 0 [mm²] to a gauge number, not rounded. Source: ASTM B258, inverted."""
    return 36 - 19.5 * math.log(area_mm2 / _UNIT_AREA, 92)


def gauge_number(text: str) -> int | None:
    """Read '14', '0', '00' or '2/0' as a gauge number (14, 0, -1, -1); None for anything else."""
    match = _GAUGE.match(text)
    if match is None:
        return None
    aughts, zeros, digits = match.groups()
    number = 1 - int(aughts) if aughts else 1 - len(zeros) if zeros else int(digits)
    return number if THICKEST <= number <= THINNEST else None


def gauge_text(gauge: float) -> str | None:
    """Write a gauge number as the trade does ('14', '0', '2/0'); None where no whole gauge is meant."""
    number = round(gauge)
    if abs(gauge - number) > 1e-9 or not THICKEST <= number <= THINNEST:
        return None
    return f"{1 - number}/0" if number < 0 else str(number)
