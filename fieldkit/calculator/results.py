"""The result of an expression: a number, its unit, and how it is written."""

from __future__ import annotations

import msgspec

from fieldkit.calculator.calls import Used
from fieldkit.calculator.conversion import Converted, convert_value
from fieldkit.calculator.evaluation import work_out
from fieldkit.calculator.naming import symbol, tidy
from fieldkit.calculator.parser import parse
from fieldkit.calculator.unit_expressions import unit_expression
from fieldkit.calculator.values import Amount, Value
from fieldkit.units import unit_text


class Result(msgspec.Struct, frozen=True):
    """What an expression comes to."""

    value: float
    unit: str
    """Empty for a plain number."""
    text: str
    """The number with at least six digits, then the unit."""
    used: tuple[Used, ...]
    """The formulas of the trade that it took, in the order of their use."""


def evaluate(expression: str, to: str | None = None, *, ascii_only: bool = False) -> Result:
    """Work out an expression, in the unit asked for or in the one that fits. Raises CalculatorError."""
    target = unit_expression(to) if to else None
    used: list[Used] = []
    value = work_out(parse(expression), used)
    if target is not None:
        value = convert_value(value, target)
    elif type(value) is Amount:
        value = tidy(value)
    unit, shown = _units(value, ascii_only=ascii_only)
    text = written(value.number)
    return Result(value.number, unit, f"{text} {shown}" if shown else text, tuple(used))


def written(number: float) -> str:
    """Write a number with at least six digits, and without an exponent where people write none."""
    number += 0.0  # so that minus zero is zero
    if 1e6 <= abs(number) < 1e15:
        return f"{number:.1f}"
    text = f"{number:#.6g}"
    return text.rstrip(".")


def _units(value: Value, *, ascii_only: bool) -> tuple[str, str]:
    """Give a value's unit as its name and as it is shown."""
    if isinstance(value, Converted):
        return value.shown_in, value.shown_in
    if isinstance(value, Amount):
        return symbol(value.quantity), symbol(value.quantity, text=True, ascii_only=ascii_only)
    return value.unit.symbol, unit_text(value.unit, ascii_only=ascii_only)
