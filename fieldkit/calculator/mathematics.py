"""The functions of plain mathematics that an expression may call, beside the formulas of the trade."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec

from fieldkit.calculator.arithmetic import in_computing_unit, plain_number, power, square_root, subtract
from fieldkit.calculator.errors import NoAnswer, UnusableInput
from fieldkit.calculator.naming import is_angle
from fieldkit.calculator.values import (
    Amount,
    LevelValue,
    TemperatureValue,
    Value,
    amount,
    as_amount,
    from_quantity,
    plain,
)
from fieldkit.units import UNITS, UnitError, parse_quantity
from fieldkit.units.registry import pint_unit


class Function(msgspec.Struct, frozen=True):
    """A function of mathematics: what it is called with, what it does, and how."""

    signature: str
    title: str
    minimum: int
    most: int
    apply: Callable[[Sequence[Value]], Value]


def _absolute(values: Sequence[Value]) -> Value:
    return from_quantity(abs(as_amount(values[0], "in abs").quantity))


def _of_number(function: Callable[[float], float], name: str) -> Callable[[Sequence[Value]], Value]:
    """Apply a function of the library to a plain number."""

    def apply(values: Sequence[Value]) -> Value:
        number = plain_number(values[0], f"the value of {name}")
        try:
            return plain(function(number))
        except ValueError:
            raise NoAnswer(f"expected a value above 0 for {name}, got {number:g}") from None

    return apply


def _of_angle(function: Callable[[float], float], name: str) -> Callable[[Sequence[Value]], Value]:
    """Apply a trigonometric function to an angle; a plain number counts as radians."""

    def apply(values: Sequence[Value]) -> Value:
        value = values[0]
        if isinstance(value, Amount) and is_angle(value.quantity):
            return plain(function(math.radians(in_computing_unit(value, UNITS["deg"]))))
        return plain(function(plain_number(value, f"the value of {name} (an angle in deg, or radians)")))

    return apply


def _extreme(choose: Callable[[Value, Value], bool]) -> Callable[[Sequence[Value]], Value]:
    """Choose one of several values of one kind."""

    def apply(values: Sequence[Value]) -> Value:
        best = values[0]
        for value in values[1:]:
            if choose(value, best):
                best = value
        return best

    return apply


def _is_less(one: Value, other: Value) -> bool:
    if isinstance(one, TemperatureValue) and isinstance(other, TemperatureValue):
        return one.celsius < other.celsius
    if isinstance(one, LevelValue) and isinstance(other, LevelValue) and one.unit.computes_in == other.unit.computes_in:
        return one.volts_or_watts < other.volts_or_watts
    difference = subtract(one, other)
    return isinstance(difference, Amount) and difference.number < 0.0


def _rounded(values: Sequence[Value]) -> Value:
    value = as_amount(values[0], "in round")
    digits = plain_number(values[1], "the digits of round") if len(values) > 1 else 0.0
    if digits != int(digits) or not 0 <= digits <= 15:
        raise UnusableInput(f"expected a whole number of digits from 0 to 15 in round, got {digits:g}")
    return amount(round(value.number, int(digits)), value.quantity.units)


def _gauge_area(values: Sequence[Value]) -> Value:
    number = plain_number(values[0], "the gauge of awg")
    try:
        area = parse_quantity(f"{number:g} AWG").value
    except UnitError as error:
        raise UnusableInput(str(error)) from None
    return Amount(amount(area, pint_unit("mm²")).quantity, gauge=number)


FUNCTIONS: dict[str, Function] = {
    "sqrt": Function("sqrt(x)", "Take the square root", 1, 1, lambda values: square_root(values[0])),
    "abs": Function("abs(x)", "Take the size without the sign", 1, 1, _absolute),
    "exp": Function("exp(number)", "Raise e to a number", 1, 1, _of_number(math.exp, "exp")),
    "ln": Function("ln(number)", "Take the natural logarithm", 1, 1, _of_number(math.log, "ln")),
    "log10": Function("log10(number)", "Take the logarithm to base 10", 1, 1, _of_number(math.log10, "log10")),
    "log2": Function("log2(number)", "Take the logarithm to base 2", 1, 1, _of_number(math.log2, "log2")),
    "sin": Function("sin(angle)", "Take the sine; deg, or radians", 1, 1, _of_angle(math.sin, "sin")),
    "cos": Function("cos(angle)", "Take the cosine; deg, or radians", 1, 1, _of_angle(math.cos, "cos")),
    "tan": Function("tan(angle)", "Take the tangent; deg, or radians", 1, 1, _of_angle(math.tan, "tan")),
    "min": Function("min(x, y, …)", "Take the least of several of one kind", 1, 99, _extreme(_is_less)),
    "max": Function(
        "max(x, y, …)", "Take the greatest of several of one kind", 1, 99, _extreme(lambda a, b: _is_less(b, a))
    ),
    "round": Function("round(x, digits)", "Round in its own unit; to whole ones without digits", 1, 2, _rounded),
    "square": Function("square(x)", "Multiply by itself", 1, 1, lambda values: power(values[0], plain(2.0))),
    "awg": Function("awg(gauge)", "Give the area of a wire gauge (ASTM B258)", 1, 1, _gauge_area),
}
"""By name. ``pi`` is a constant of the parser."""
