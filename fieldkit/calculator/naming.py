"""Names for what a value is, and the unit that a result is given in.

What was typed stays: 82 ft are feet. A product or root that the trade has a unit for gets it: V·A is W.
Anything else keeps its compound, with units of one kind made one.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any

from fieldkit.calculator.values import Amount, LevelValue, Value, from_quantity
from fieldkit.units import DIMENSIONS, UNITS, Dimension, Unit, format_number, unit_text
from fieldkit.units.registry import PintQuantity, pint_unit, pint_units

_TYPICAL = {"voltage": ("V", "mV", "dBu", "dBV"), "power": ("W", "kW", "dBW", "dBm")}
"""Units to name in a message where more can be typed than the dimension's own."""
_NOT_AMOUNTS = ("ratio", "angle", "impedance", "apparent power", "level", "power level", "sound level")
"""Dimensions that pint sees as others."""
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def dimension_of(quantity: PintQuantity) -> Dimension | None:
    """Tell which dimension of the trade a quantity has; None for a plain number and for any other."""
    return _dimensions().get(_key(quantity.dimensionality))


def phrase(value: Value) -> str:
    """Say what a value is: 'a length', 'a level in dBu', 'a plain number'."""
    if isinstance(value, LevelValue):
        return f"a level in {value.unit.symbol}"
    if not isinstance(value, Amount):
        return "a temperature"
    if is_angle(value.quantity):
        return "an angle"
    if value.quantity.dimensionless:
        return "a plain number"
    dimension = dimension_of(value.quantity)
    if dimension is None:
        return f"a quantity in {symbol(value.quantity)}"
    return "a difference of temperatures" if dimension.name == "temperature" else dimension.phrase


def unit_phrase(unit: Unit) -> str:
    """Say what a unit measures: 'a length'."""
    return DIMENSIONS[unit.dimension].phrase


def wanted(dimension: Dimension, *, of_unit: bool = False) -> str:
    """Name a dimension with its usual units: 'a voltage (V, mV, dBu, dBV)', 'a unit of voltage (...)'."""
    typical = ", ".join(_TYPICAL.get(dimension.name, dimension.typical))
    return f"{f'a unit of {dimension.name}' if of_unit else dimension.phrase} ({typical})"


def describe(value: Value) -> str:
    """Write a value briefly, as in a message: '30', '2.5 mm²', '4 dBu'."""
    unit = symbol(value.quantity) if isinstance(value, Amount) else value.unit.symbol
    number = format_number(value.number, 6)
    return f"{number} {unit}" if unit else number


def is_plain(quantity: PintQuantity) -> bool:
    """Tell whether a quantity is a number without a dimension, and no angle."""
    return quantity.dimensionless and not is_angle(quantity)


def is_angle(quantity: PintQuantity) -> bool:
    """Tell whether a quantity is an angle, which pint takes for a plain number."""
    return quantity.dimensionless and any(name == "degree" for name, _ in _items(quantity))


def tidy(value: Amount) -> Amount:
    """Convert an amount to the unit that a result is shown in; see the top of the file."""
    quantity = value.quantity
    items = _items(quantity)
    if not items or (len(items) == 1 and items[0][1] == 1):
        return value
    if is_plain(quantity):
        return from_quantity(quantity.to("dimensionless"))
    dimension = dimension_of(quantity)
    if dimension is not None:
        return from_quantity(quantity.to(pint_unit(_trade_unit(dimension, items))))
    return from_quantity(quantity.to_reduced_units())


def symbol(quantity: PintQuantity, *, text: bool = False, ascii_only: bool = False) -> str:
    """Write the unit of a quantity: 'ohm/km', as text 'Ω/km', in ASCII 'mm2'. Empty for a plain number."""
    above: list[str] = []
    below: list[str] = []
    for name, exponent in _items(quantity):
        unit = _units_by_name().get(name)
        written = name if unit is None else unit.symbol
        if unit is not None and (text or ascii_only):
            written = unit_text(unit, ascii_only=ascii_only)
        (above if exponent > 0 else below).append(_power(written, abs(exponent), ascii_only=ascii_only))
    joint = "*" if ascii_only else "·"
    if not below:
        return joint.join(above)
    under = joint.join(below)
    return f"{joint.join(above) or '1'}/{f'({under})' if len(below) > 1 else under}"


def _power(written: str, exponent: float, *, ascii_only: bool) -> str:
    if exponent == 1:
        return written
    if not written[-1].isalpha():
        written = f"({written})"
    number = f"{exponent:g}"
    return f"{written}^{number}" if ascii_only or "." in number else written + number.translate(_RAISED)


def _trade_unit(dimension: Dimension, items: list[tuple[str, float]]) -> str:
    """Choose the unit for a dimension; an area keeps to the lengths that made it, and to m² where they mix."""
    if dimension.name == "area":
        names = {name for name, _ in items}
        only = next(iter(names)) if len(names) == 1 else ""
        return {"millimetre": "mm²", "centimetre": "cm²"}.get(only, "m²")
    return {"temperature": "K"}.get(dimension.name, dimension.unit)


@cache
def _dimensions() -> dict[frozenset[tuple[str, float]], Dimension]:
    found = {}
    for dimension in DIMENSIONS.values():
        if dimension.name not in _NOT_AMOUNTS:
            unit = pint_unit("K" if dimension.name == "temperature" else dimension.unit)
            found[_key(unit.dimensionality)] = dimension
    return found


@cache
def _units_by_name() -> dict[str, Unit]:
    return {unit.name: UNITS[unit.symbol] for unit in pint_units()}


def _items(quantity: PintQuantity) -> list[tuple[str, float]]:
    pairs: Iterable[tuple[str, Any]] = quantity.unit_items()
    return [(name, float(exponent)) for name, exponent in pairs]


def _key(dimensionality: Any) -> frozenset[tuple[str, float]]:
    """Make a dimensionality comparable where roots left its exponents rounded."""
    return frozenset((name, round(float(exponent), 6)) for name, exponent in dimensionality.items() if exponent)
