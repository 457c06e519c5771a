"""A result into the unit that was asked for, or into the one it is shown in."""

from __future__ import annotations

from fieldkit.calculator.errors import NoAnswer, UnusableInput
from fieldkit.calculator.naming import describe, dimension_of, is_angle, is_plain, phrase, unit_phrase, wanted
from fieldkit.calculator.tree import UnitExpression
from fieldkit.calculator.values import (
    Amount,
    Level,
    Temperature,
    Value,
    amount,
    compound,
    from_quantity,
    level,
    temperature,
)
from fieldkit.units import DIMENSIONS, UNITS, Unit, shown
from fieldkit.units.conversion import from_computing
from fieldkit.units.registry import pint_unit

GAUGE = UNITS["AWG"]


class Converted(Amount, frozen=True):
    """A plain quantity that is shown in a unit which pint does not know: 60 %, 13.2 AWG."""

    shown_in: str = ""


def convert_value(value: Value, to: UnitExpression) -> Value:
    """Convert a value. Raises UnusableInput for another dimension, NoAnswer for a level of nothing."""
    single = to.single()
    if isinstance(value, Temperature):
        return _convert_temperature(value, to, single)
    if isinstance(value, Level):
        return _convert_level(value, to, single)
    quantity = value.quantity
    if single is None:
        target = compound(to)
        if quantity.dimensionality != target.dimensionality or quantity.dimensionless:
            raise _mismatch(value, to)
        return from_quantity(quantity.to(target))
    if single.symbol in ("°C", "°F"):
        raise _no_scale(value, to, single)
    if single.symbol == "%":
        if not is_plain(quantity):
            raise _mismatch(value, to)
        return Converted(from_quantity(quantity.to("dimensionless") * 100).quantity, shown_in="%")
    if single.symbol == "dB SPL" or not _same_dimension(value, single):
        raise _mismatch(value, to)
    if single.scale == "linear":
        return from_quantity(quantity.to(pint_unit(single.symbol)))
    return _scaled(value, single)


def in_computing_unit(value: Value, unit: Unit) -> float:
    """Give the number of a value in a unit of the table. Raises as convert_value does."""
    return convert_value(value, UnitExpression(((unit.symbol, 1),), unit.symbol)).number


def _same_dimension(value: Amount, unit: Unit) -> bool:
    target = pint_unit(unit.symbol)
    same = value.quantity.dimensionality == target.dimensionality
    return bool(same) and (unit.dimension == "angle") == is_angle(value.quantity)


def _scaled(value: Amount, unit: Unit) -> Value:
    """Convert into a level or a gauge, which only something above zero has."""
    number = float(value.quantity.to(pint_unit(unit.computes_in)).magnitude)
    if number <= 0:
        raise NoAnswer(
            f"expected {unit_phrase(UNITS[unit.computes_in])} above 0 to give in {unit.symbol}, got {describe(value)}"
        )
    scaled = from_computing(number, unit)
    if unit == GAUGE:
        return Converted(amount(scaled, pint_unit("")).quantity, shown_in=unit.symbol)
    return level(scaled, unit)


def _convert_level(value: Level, to: UnitExpression, unit: Unit | None) -> Value:
    if (
        unit is None
        or unit.computes_in != value.unit.computes_in
        or ((unit.symbol == "dB SPL") != (value.unit.symbol == "dB SPL"))
    ):
        if unit is not None and value.unit.computes_in in ("V", "W") and unit.computes_in == value.unit.computes_in:
            raise _mismatch(value, to)
        same_as = {"V": "V", "W": "W"}.get(value.unit.computes_in)
        if same_as is None or unit is None or not _same_dimension(measured_like(value), unit):
            raise _mismatch(value, to)
    if unit == value.unit:
        return value
    return convert_value(measured_like(value), to)


def measured_like(value: Level) -> Amount:
    """Give the volts or watts that a level stands for."""
    return amount(value.volts_or_watts, pint_unit(value.unit.computes_in))


def _convert_temperature(value: Temperature, to: UnitExpression, unit: Unit | None) -> Value:
    if unit is None or unit.dimension != "temperature":
        raise _mismatch(value, to)
    return value if unit == value.unit else temperature(from_computing(value.celsius, unit), unit)


def _no_scale(value: Amount, to: UnitExpression, unit: Unit) -> UnusableInput:
    """Build the error for a difference of temperatures on a scale, and for what is no temperature at all."""
    dimension = dimension_of(value.quantity)
    if dimension is None or dimension.name != "temperature":
        return _mismatch(value, to)
    return UnusableInput(
        f"expected K for a difference of temperatures, got {unit.symbol}, which is a scale with a zero of its own"
    )


def _mismatch(value: Value, to: UnitExpression) -> UnusableInput:
    """Build the error for a unit of another dimension: what would fit, and what the unit is."""
    unit = to.single()
    got = f"got {shown(to.text)}, which is {unit_phrase(unit) if unit else phrase(amount(1, compound(to)))}"
    hint = ""
    if isinstance(value, Level):
        expected = wanted(DIMENSIONS[value.unit.dimension], of_unit=True)
    elif isinstance(value, Temperature):
        expected = wanted(DIMENSIONS["temperature"], of_unit=True)
    elif is_angle(value.quantity):
        expected = wanted(DIMENSIONS["angle"], of_unit=True)
    elif is_plain(value.quantity):
        expected = "no unit or %, since the result is a plain number"
        if unit is not None and unit.symbol == "dB":
            hint = "; voltage_gain_db(...) and power_gain_db(...) give dB"
    else:
        dimension = dimension_of(value.quantity)
        expected = wanted(dimension, of_unit=True) if dimension else f"a unit for {phrase(value)}"
        if dimension is not None and dimension.name == "gain":
            hint = "; voltage_ratio(...) and power_ratio(...) give a ratio"
    return UnusableInput(f"expected {expected}, {got}{hint}")
