"""A tree worked out: every part to a value, every error with its column."""

from __future__ import annotations

from fieldkit.calculator.arithmetic import add, attach, divide, multiply, negate, power, subtract
from fieldkit.calculator.calls import Given, Used, call
from fieldkit.calculator.errors import CalculatorError, NoAnswer
from fieldkit.calculator.tree import Attached, Call, Chain, Literal, Negative, Node, Power
from fieldkit.calculator.values import Value, measured

_OPERATIONS = {"+": add, "-": subtract, "*": multiply, "/": divide}


def work_out(node: Node, used: list[Used]) -> Value:
    """Give the value of a tree, and note in ``used`` the formulas it took. Raises CalculatorError."""
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
    if isinstance(node, Power):
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
