"""A tree worked out: every part to a value, every error with its column."""

from __future__ import annotations

import msgspec

from fieldkit.calculator.arithmetic import (
    Converted,
    add,
    attach,
    convert_value,
    divide,
    multiply,
    negate,
    power,
    subtract,
)
from fieldkit.calculator.calls import Given, Used, call
from fieldkit.calculator.errors import CalculatorError, NoAnswer
from fieldkit.calculator.naming import symbol, tidy
from fieldkit.calculator.parser import parse
from fieldkit.calculator.tree import Attached, Call, Chain, Exponent, Literal, Negative, Node
from fieldkit.calculator.unit_expressions import unit_expression
from fieldkit.calculator.values import Amount, Value, measured
from fieldkit.units import unit_text

_OPERATIONS = {"+": add, "-": subtract, "*": multiply, "/": divide}


def work_out(node: Node, used: list[Used]) -> Value:
    """Work out the value of a tree, and note in ``used`` the formulas it took. Raises CalculatorError."""
    try:
        return _work_out(node, used)
    except CalculatorError as error:
        error.place(node.start)
        raise
    except OverflowError:
        raise NoAnswer("expected a result within the range of numbers, got one beyond it", node.start + 1) from None


def _work_out(node: Node, used: list[Used]) -> Value:
    if isinstance(node, Literal):
        return measured(node.number, node.unit)
    if isinstance(node, Attached):
        return attach(work_out(node.operand, used), node.unit)
    if isinstance(node, Negative):
        return negate(work_out(node.operand, used))
    if isinstance(node, Exponent):
        return power(work_out(node.base, used), work_out(node.exponent, used))
    if isinstance(node, Call):
        values = [
            Given(work_out(argument.value, used), argument.label, argument.value.start) for argument in node.arguments
        ]
        return call(node.name, values, used)
    return _chain(node, used)


def _chain(node: Chain, used: list[Used]) -> Value:
    value = work_out(node.first, used)
    for step in node.steps:
        operand = work_out(step.operand, used)
        try:
            value = _OPERATIONS[step.operator](value, operand)
        except CalculatorError as error:
            error.place(step.start)
            raise
    return value


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
    """Name a value's unit, and write it as it is shown."""
    if isinstance(value, Converted):
        return value.shown_in, value.shown_in
    if isinstance(value, Amount):
        return symbol(value.quantity), symbol(value.quantity, text=True, ascii_only=ascii_only)
    return value.unit.symbol, unit_text(value.unit, ascii_only=ascii_only)
