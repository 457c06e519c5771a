"""What an expression's parts come to: an amount, a level or a temperature.

An amount is a pint quantity; a plain number is one without a unit, and dB is a dimension of its own. Levels
and temperatures are points on a scale, which do not multiply, and are kept in the unit they were typed in.
"""

from __future__ import annotations

from math import isfinite
from typing import Any, TypeAlias

import msgspec

from fieldkit.calculator.errors import NoAnswer, UnusableInput
from fieldkit.calculator.tree import UnitExpression
from fieldkit.units import UNITS, Unit
from fieldkit.units.conversion import to_computing
from fieldkit.units.registry import PintQuantity, PintUnit, pint_unit, registry

ABSOLUTE_ZERO_C = -273.15
ROUNDING_C = 1e-9
"""How far below absolute zero a conversion may round."""


class Amount(msgspec.Struct, frozen=True):
    """A number with a unit that multiplies: a length, a gain in dB, a plain number."""

    quantity: Any
    """A pint quantity of the registry."""
    gauge: float | None = None
    """The wire gauge that an area was typed as."""

    @property
    def number(self) -> float:
        """The number in its own unit."""
        return float(self.quantity.magnitude)


class LevelValue(msgspec.Struct, frozen=True):
    """A level above a reference: 4 dBu, 96 dB SPL."""

    number: float
    unit: Unit

    @property
    def volts_or_watts(self) -> float:
        """The value in the computing unit: rms volts or watts; dB for a sound level."""
        return to_computing(self.number, self.unit)


class TemperatureValue(msgspec.Struct, frozen=True):
    """A point on a scale of temperature."""

    number: float
    unit: Unit

    @property
    def celsius(self) -> float:
        """In °C."""
        return to_computing(self.number, self.unit)

    @property
    def kelvin(self) -> float:
        """Above absolute zero."""
        return self.celsius - ABSOLUTE_ZERO_C


Value: TypeAlias = Amount | LevelValue | TemperatureValue


def plain(number: float) -> Amount:
    """Make a plain number."""
    return amount(number, registry().Unit("dimensionless"))


def amount(number: float, unit: PintUnit) -> Amount:
    """Make an amount. Raises NoAnswer for a number beyond floats."""
    return from_quantity(registry().Quantity(float(number), unit))


def from_quantity(quantity: PintQuantity) -> Amount:
    """Keep a quantity that was computed. Raises NoAnswer for a number beyond floats, and for a complex one."""
    number = quantity.magnitude
    if isinstance(number, complex) or not isfinite(number):
        raise NoAnswer("expected a result within the range of numbers, got one beyond it")
    return Amount(quantity)


def level(number: float, unit: Unit) -> LevelValue:
    """Make a level. Raises NoAnswer where it, or what it stands for, is beyond floats."""
    made = LevelValue(number, unit)
    if not (isfinite(number) and isfinite(made.volts_or_watts)):
        raise NoAnswer("expected a level within the range of numbers, got one beyond it")
    return made


def temperature(number: float, unit: Unit) -> TemperatureValue:
    """Make a temperature. Raises UnusableInput below absolute zero."""
    made = TemperatureValue(number, unit)
    if not isfinite(made.celsius):
        raise NoAnswer("expected a temperature within the range of numbers, got one beyond it")
    if made.celsius < ABSOLUTE_ZERO_C - ROUNDING_C:
        raise UnusableInput(f"expected a temperature from absolute zero (-273.15 °C) up, got {number:g} {unit.symbol}")
    return made


def measured(number: float, unit: UnitExpression | None) -> Value:
    """Make the value of a number that was typed with a unit, or with none."""
    if unit is None:
        return plain(number)
    single = unit.single()
    if single is None:
        return amount(number, compound(unit))
    if single.scale == "level" or single.symbol == "dB SPL":
        return level(number, single)
    if single.scale == "gauge":
        area = amount(to_computing(number, single), pint_unit("mm²"))
        return Amount(area.quantity, gauge=number)
    if single.dimension == "temperature":
        return temperature(number, single)
    if single.symbol == "%":
        return plain(number / 100)
    return amount(number, pint_unit(single.symbol))


def compound(unit: UnitExpression) -> PintUnit:
    """Look up the pint unit of a unit as typed."""
    made = registry().Unit("dimensionless")
    for symbol, exponent in unit.factors:
        made = made * pint_unit(symbol) ** exponent
    return made


def as_amount(value: Value, doing: str) -> Amount:
    """Take a value as one that multiplies; kelvins do. Raises UnusableInput for another point on a scale."""
    if isinstance(value, Amount):
        return value
    if isinstance(value, TemperatureValue):
        if value.unit == UNITS["K"]:
            return amount(value.number, pint_unit("K"))
        raise UnusableInput(
            f"expected K {doing}, got a temperature in {value.unit.symbol}, which is a point on a scale"
        )
    what = f"{value.number:.6g} {value.unit.symbol}"
    instead = _INSTEAD.get(value.unit.symbol, "")
    raise UnusableInput(
        f"expected no level {doing}, got {what}; only dB are added to a level or taken from it"
        f"{f', and {instead}({what}) is an amount' if instead else ''}"
    )


_INSTEAD = {
    "dBu": "voltage_from_dbu",
    "dBV": "voltage_from_dbv",
    "dBW": "power_from_dbw",
    "dBm": "power_from_dbm",
}
