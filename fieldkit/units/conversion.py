"""Numbers from one unit into another of the same computing unit; levels and wire gauges included."""

from __future__ import annotations

import math

from .errors import UnitError
from .gauges import area_gauge, gauge_area
from .lookup import find_unit
from .table import DIMENSIONS, Unit


def convert(value: float, unit: str, to: str) -> float:
    """Convert a number in one unit into another: volts and dBu, mm² and AWG, °F and K.

    Zero volts is minus infinity dBu. Raises UnitError for an unknown unit, for units that measure different
    things (W and VA among them), and for a negative voltage or power as a level.
    """
    if unit == to:
        return value
    source, target = find_unit(unit), find_unit(to)
    if source.computes_in != target.computes_in:
        wanted = DIMENSIONS[source.dimension]
        raise UnitError(
            to,
            f"a unit of {wanted.name} ({', '.join(wanted.typical)})",
            f"which is a unit of {target.dimension}",
        )
    return from_computing(to_computing(value, source), target)


to_display = convert
"""The same, by the name of its commonest use: from the computing unit into the one to show."""


def to_computing(number: float, unit: Unit) -> float:
    """Convert a number in a unit to the computing unit; infinite where it is beyond floats."""
    if unit.scale == "linear":
        return (number + unit.offset) * unit.factor
    try:
        if unit.scale == "gauge":
            return gauge_area(number)
        return float(unit.factor * 10.0 ** (number / unit.decade))
    except OverflowError:
        return math.inf


def from_computing(value: float, unit: Unit) -> float:
    """Convert a value in the computing unit to a number in a unit. Raises UnitError for a level below zero."""
    if unit.scale == "linear":
        return value / unit.factor - unit.offset
    if value < 0:
        raise UnitError(value, f"at least 0 {unit.computes_in}", f"which has no {unit.symbol}")
    if unit.scale == "gauge":
        return area_gauge(value) if value else math.inf
    return unit.decade * math.log10(value / unit.factor) if value else -math.inf
