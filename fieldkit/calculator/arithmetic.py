"""What may be done with values: arithmetic, and conversion from unit to unit."""

from __future__ import annotations

from fieldkit.calculator.errors import NoAnswer, UnusableInput
from fieldkit.calculator.naming import describe, dimension_of, is_angle, is_plain, phrase, symbol, unit_phrase, wanted
from fieldkit.calculator.tree import UnitExpression
from fieldkit.calculator.values import (
    Amount,
    LevelValue,
    TemperatureValue,
    Value,
    amount,
    as_amount,
    compound,
    from_quantity,
    level,
    measured,
    plain,
    temperature,
)
from fieldkit.units import DIMENSIONS, UNITS, Unit, shown
from fieldkit.units.conversion import from_computing
from fieldkit.units.registry import pint_unit

HIGHEST_POWER = 64
"""Exponents go to this, either way, and so do the exponents of units that they make."""


def add(left: Value, right: Value) -> Value:
    """Add two values of one kind; dB to a level; K to a temperature."""
    if isinstance(left, LevelValue) or isinstance(right, LevelValue):
        return _add_to_level(left, right)
    if isinstance(left, TemperatureValue) or isinstance(right, TemperatureValue):
        return _add_to_temperature(left, right)
    _refuse_two_kinds(left, right)
    return from_quantity(left.quantity + right.quantity)


def subtract(left: Value, right: Value) -> Value:
    """Subtract two values of one kind; dB from a level; two levels give dB, two temperatures K."""
    if isinstance(right, LevelValue):
        return _level_difference(left, right)
    if isinstance(left, LevelValue):
        return level(left.number - _decibels(right, left), left.unit)
    kelvin = UNITS["K"]
    if isinstance(right, TemperatureValue) and (right.unit != kelvin or _is_kelvin(left)):
        return _kelvins(left, right)
    if isinstance(left, TemperatureValue) and left.unit != kelvin:
        return temperature(left.number - _difference(right, left), left.unit)
    one, other = as_amount(left, "in a difference"), as_amount(right, "in a difference")
    _refuse_two_kinds(one, other)
    return from_quantity(one.quantity - other.quantity)


def multiply(left: Value, right: Value) -> Value:
    """Multiply two amounts."""
    one, other = as_amount(left, "in a product"), as_amount(right, "in a product")
    return _checked(Amount(one.quantity * other.quantity))


def divide(left: Value, right: Value) -> Value:
    """Divide two amounts."""
    one, other = as_amount(left, "in a quotient"), as_amount(right, "in a quotient")
    if other.number == 0:
        raise NoAnswer(f"expected a divisor other than 0, got {describe(other)}")
    return _checked(Amount(one.quantity / other.quantity))


def negate(value: Value) -> Value:
    """Change the sign of an amount."""
    return from_quantity(-as_amount(value, "behind a minus").quantity)


def power(base: Value, exponent: Value) -> Value:
    """Raise an amount to a plain number; to whole and half ones where it has a unit."""
    under = as_amount(base, "as the base of a power")
    by = plain_number(exponent, "an exponent")
    if abs(by) > HIGHEST_POWER:
        raise UnusableInput(f"expected an exponent from -{HIGHEST_POWER} to {HIGHEST_POWER}, got {by:g}")
    if under.number == 0 and by < 0:
        raise NoAnswer(f"expected a base other than 0 for a negative exponent, got {describe(under)}")
    if under.number < 0 and by != int(by):
        raise NoAnswer(f"expected a base of 0 or more for the exponent {by:g}, got {describe(under)}")
    if not is_plain(under.quantity) and 2 * by != int(2 * by):
        raise UnusableInput(f"expected a whole or half exponent for {phrase(under)}, got {by:g}")
    if is_plain(under.quantity):
        return plain(float(under.quantity.to("dimensionless").magnitude) ** by)
    return _checked(Amount(under.quantity**by))


def square_root(value: Value) -> Value:
    """Take the square root of an amount."""
    under = as_amount(value, "under a root")
    if under.number < 0:
        raise NoAnswer(f"expected 0 or more under a root, got {describe(under)}")
    return power(under, plain(0.5))


def plain_number(value: Value, what: str) -> float:
    """Take a value as a number without a unit. Raises UnusableInput for any other, naming what it is for."""
    if not isinstance(value, Amount) or not is_plain(value.quantity):
        raise UnusableInput(f"expected a plain number as {what}, got {describe(value)}, {_which_is(value)}")
    return float(value.quantity.to("dimensionless").magnitude)


def attach(value: Value, unit: UnitExpression) -> Value:
    """Put a unit to a plain number that was computed: (2 + 3) m."""
    number = plain_number(value, f"what the unit {unit.text} follows")
    return measured(number, unit)


def _which_is(value: Value) -> str:
    return f"which is {phrase(value)}"


def _refuse_two_kinds(left: Amount, right: Amount) -> None:
    same = left.quantity.dimensionality == right.quantity.dimensionality
    if not same or is_plain(left.quantity) != is_plain(right.quantity):
        raise UnusableInput(
            f"expected two of one kind in a sum, got {describe(left)}, {_which_is(left)}, "
            f"and {describe(right)}, {_which_is(right)}"
        )


def _checked(value: Amount) -> Amount:
    """Refuse what no amount can be: dB times anything with a unit, and units to absurd powers."""
    exponents = {name: float(exponent) for name, exponent in value.quantity.dimensionality.items()}
    if any(abs(exponent) > HIGHEST_POWER for exponent in exponents.values()):
        raise UnusableInput(f"expected units with exponents up to {HIGHEST_POWER}, got {symbol(value.quantity)}")
    gain = exponents.pop("[gain]", 0)
    others = {name: exponent for name, exponent in exponents.items() if exponent}
    if gain and not (gain == 1 and others.keys() <= {"[length]", "[time]"} and max(others.values(), default=-1) < 0):
        raise UnusableInput(
            "expected a plain number to multiply or divide dB by, got another unit; "
            "voltage_ratio(...) and power_ratio(...) make factors of dB"
        )
    return from_quantity(value.quantity)


def _add_to_level(left: Value, right: Value) -> LevelValue:
    if isinstance(left, LevelValue) and isinstance(right, LevelValue):
        raise UnusableInput(
            f"expected dB to add to a level, got {describe(left)} + {describe(right)}; two levels do not add up"
        )
    base, change = (left, right) if isinstance(left, LevelValue) else (right, left)
    if not isinstance(base, LevelValue):
        raise TypeError("one of the two is a level")
    return level(base.number + _decibels(change, base), base.unit)


def _decibels(value: Value, base: LevelValue) -> float:
    """Take a value as the dB that are added to a level or taken from it."""
    if isinstance(value, Amount) and value.quantity.dimensionality == pint_unit("dB").dimensionality:
        return value.number
    raise UnusableInput(f"expected dB beside a level ({describe(base)}), got {describe(value)}, {_which_is(value)}")


def _level_difference(left: Value, right: LevelValue) -> Amount:
    """Subtract two levels of one kind, of one reference or not; the result is in dB."""
    if not isinstance(left, LevelValue) or left.unit.computes_in != right.unit.computes_in:
        raise UnusableInput(
            f"expected a level like {describe(right)} to take it from, got {describe(left)}, {_which_is(left)}"
        )
    reference = left.number
    if left.unit != right.unit:
        reference = from_computing(left.volts_or_watts, right.unit) if left.volts_or_watts else -float("inf")
    return amount(reference - right.number, pint_unit("dB"))


def _add_to_temperature(left: Value, right: Value) -> Value:
    """Add a difference to a temperature; kelvins serve as one."""
    points = [value for value in (left, right) if isinstance(value, TemperatureValue) and not _is_kelvin(value)]
    if len(points) == 2:
        raise UnusableInput(
            f"expected a difference in K to add to a temperature, got {describe(left)} + {describe(right)}"
        )
    if points:
        change = right if points[0] is left else left
        return temperature(points[0].number + _difference(change, points[0]), points[0].unit)
    one, other = as_amount(left, "in a sum"), as_amount(right, "in a sum")
    _refuse_two_kinds(one, other)
    return from_quantity(one.quantity + other.quantity)


def _difference(value: Value, base: TemperatureValue) -> float:
    """Express a difference of temperatures in the size of a base's degrees."""
    if isinstance(value, Amount) or _is_kelvin(value):
        change = as_amount(value, "beside a temperature")
        if change.quantity.dimensionality == pint_unit("K").dimensionality:
            return float(change.quantity.to(pint_unit("K")).magnitude) / base.unit.factor
    raise UnusableInput(
        f"expected K beside a temperature ({describe(base)}), got {describe(value)}, {_which_is(value)}"
    )


def _is_kelvin(value: Value) -> bool:
    return isinstance(value, TemperatureValue) and value.unit == UNITS["K"]


def _kelvins(left: Value, right: TemperatureValue) -> Amount:
    """Subtract two temperatures."""
    if not isinstance(left, TemperatureValue):
        raise UnusableInput(
            f"expected a temperature to take {describe(right)} from, got {describe(left)}, {_which_is(left)}"
        )
    if left.unit == right.unit:
        return amount((left.number - right.number) * left.unit.factor, pint_unit("K"))
    return amount(left.celsius - right.celsius, pint_unit("K"))


GAUGE = UNITS["AWG"]


class Converted(Amount, frozen=True):
    """A plain quantity that is shown in a unit which pint does not know: 60 %, 13.2 AWG."""

    shown_in: str = ""


def convert_value(value: Value, to: UnitExpression) -> Value:
    """Convert a value. Raises UnusableInput for another dimension, NoAnswer for a level of nothing."""
    single = to.single()
    if isinstance(value, TemperatureValue):
        return _convert_temperature(value, to, single)
    if isinstance(value, LevelValue):
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
    """Convert a value to a number in a unit of the table. Raises as convert_value does."""
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


def _convert_level(value: LevelValue, to: UnitExpression, unit: Unit | None) -> Value:
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


def measured_like(value: LevelValue) -> Amount:
    """Convert a level to the volts or watts that it stands for."""
    return amount(value.volts_or_watts, pint_unit(value.unit.computes_in))


def _convert_temperature(value: TemperatureValue, to: UnitExpression, unit: Unit | None) -> Value:
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
    if isinstance(value, LevelValue):
        expected = wanted(DIMENSIONS[value.unit.dimension], of_unit=True)
    elif isinstance(value, TemperatureValue):
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
