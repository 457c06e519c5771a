"""The form of a formula: every input as typed, one of them or the result left blank and found."""

from __future__ import annotations

from collections.abc import Mapping

from fieldkit.calculator.calls import Given, Used, apply_formula, arranged, number_for, number_in, value_of
from fieldkit.calculator.errors import CalculatorError, NoAnswer, UnusableInput
from fieldkit.calculator.evaluation import work_out
from fieldkit.calculator.names import formulas, unknown_function
from fieldkit.calculator.parser import parse
from fieldkit.calculator.values import Value
from fieldkit.formulas.declaration import Parameter, Specification, specification
from fieldkit.formulas.solving import solve

RESULT = "result"
"""The label of the result's field."""


def fill(name: str, fields: Mapping[str, str]) -> tuple[str, Value, tuple[Used, ...]]:
    """Find the one field that was left blank: its label, its value, and the formula with its numbers.

    ``fields`` holds an expression for every label of the formula and for ``result``; several values of one
    input are parted by ``;``. Raises CalculatorError, with ``field`` naming the field it is about.
    """
    if name not in formulas():
        raise unknown_function(name)
    spec = specification(formulas()[name])
    used: list[Used] = []
    labels = [*(item.label for item in spec.parameters), RESULT]
    blank = [label for label in labels if not fields.get(label, "").strip()]
    required = [label for label in blank if label == RESULT or _parameter(spec, label).default is None]
    if len(required) > 1 or not blank:
        raise UnusableInput(f"{name}: expected one field left blank, got {', '.join(required) or 'none'}")
    unknown = required[0] if required else blank[0]
    if unknown == RESULT:
        given = [
            Given(value, parameter.label)
            for parameter in spec.parameters
            for value in _values(fields.get(parameter.label, ""), parameter.label)
        ]
        return RESULT, apply_formula(spec, arranged(spec, given), used), tuple(used)
    return unknown, _solved(spec, unknown, fields, used), tuple(used)


def _solved(spec: Specification, unknown: str, fields: Mapping[str, str], used: list[Used]) -> Value:
    known: dict[str, float | tuple[float, ...]] = {}
    for parameter in spec.parameters:
        values = _values(fields.get(parameter.label, ""), parameter.label) if parameter.label != unknown else []
        if not parameter.repeats and values:
            _single(values, parameter.label)
        numbers = tuple(number_for(spec.name, parameter, place, value) for place, value in enumerate(values))
        if numbers:
            known[parameter.name] = numbers if parameter.repeats else numbers[0]
    wanted = _single(_values(fields[RESULT], RESULT), RESULT)
    try:
        result = number_in(spec.unit, wanted)
    except CalculatorError as error:
        error.message, error.field = f"{spec.name}: result: {error.message}", RESULT
        raise
    parameter = _parameter(spec, unknown)
    try:
        number = solve(formulas()[spec.name], parameter.name, result, **known)
    except ValueError as error:
        raise NoAnswer(str(error), field=unknown) from None
    numbers_by_name = {**known, parameter.name: number}
    arguments = [
        (item, value)
        for item in spec.parameters
        for value in _as_tuple(numbers_by_name.get(item.name, item.default if item.default is not None else 0.0))
    ]
    apply_formula(spec, arguments, used)
    return value_of(number, parameter.unit)


def _values(text: str, label: str) -> list[Value]:
    """Work out the expressions of a field."""
    values = []
    for part in text.split(";"):
        if part.strip():
            try:
                values.append(work_out(parse(part), []))
            except CalculatorError as error:
                error.field = label
                raise
    return values


def _single(values: list[Value], label: str) -> Value:
    """Give the one value of a field that takes one."""
    if len(values) != 1:
        raise UnusableInput(f"{label}: expected one value, got {len(values)}", field=label)
    return values[0]


def _parameter(spec: Specification, label: str) -> Parameter:
    return next(parameter for parameter in spec.parameters if parameter.label == label)


def _as_tuple(value: float | tuple[float, ...]) -> tuple[float, ...]:
    return value if isinstance(value, tuple) else (value,)
