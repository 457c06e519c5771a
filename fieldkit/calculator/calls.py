"""Calls of the formulas of the trade: values in their declared units, ranges checked, the result with its unit."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import msgspec

from fieldkit.calculator.arithmetic import convert_value, in_computing_unit, plain_number
from fieldkit.calculator.errors import CalculatorError, NoAnswer, UnusableInput
from fieldkit.calculator.mathematics import FUNCTIONS
from fieldkit.calculator.names import formulas, nearest, unknown_function
from fieldkit.calculator.naming import describe, phrase, symbol, wanted
from fieldkit.calculator.unit_expressions import unit_expression
from fieldkit.calculator.values import Amount, Value, amount, compound, level, plain, temperature
from fieldkit.formulas.declaration import Parameter, Specification, specification
from fieldkit.units import DIMENSIONS, UNITS, format_value

SOUND_LEVEL = "dB SPL"


class Given(msgspec.Struct, frozen=True):
    """A value of a call, with its label when it was given by name."""

    value: Value
    label: str = ""
    start: int | None = None
    """Where it stands in the expression."""


class Used(msgspec.Struct, frozen=True):
    """A formula that was used, and what with: how a result explains itself."""

    name: str
    formula: str
    source: str
    inputs: tuple[tuple[str, float, str], ...]
    """Label, number and unit of each value."""
    value: float
    unit: str


BY_GAUGE = {"cable_loss": "cable_loss_awg", "class_5_resistance": "stranded_awg_resistance"}
"""Formulas of metric cable -> what stands for them where a gauge is given: its copper has a table of its own."""


def call(name: str, values: Sequence[Given], used: list[Used]) -> Value:
    """Call a function by name, and note it in ``used`` when it is a formula. Raises CalculatorError."""
    if name in FUNCTIONS:
        return _call_mathematics(name, values)
    if name not in formulas():
        raise unknown_function(name)
    if name in BY_GAUGE and any(_is_gauge(given.value) for given in values):
        name = BY_GAUGE[name]
        values = [
            Given(given.value, "gauge", given.start) if given.label == "area" and _is_gauge(given.value) else given
            for given in values
        ]
    spec = specification(formulas()[name])
    arguments = arranged(spec, values)
    return apply_formula(spec, arguments, used)


def apply_formula(spec: Specification, arguments: Sequence[tuple[Parameter, float]], used: list[Used]) -> Value:
    """Compute a formula with numbers in its own units."""
    try:
        result = formulas()[spec.name](*(number for _, number in arguments))
    except (ValueError, ZeroDivisionError, OverflowError) as error:
        raise NoAnswer(f"{spec.name}: {error}") from None
    if not isfinite(result):
        raise NoAnswer(f"{spec.name}: expected a result within the range of numbers, got one beyond it")
    inputs = tuple(
        (parameter.label, number, parameter.unit_at(place - _first(parameter, arguments)))
        for place, (parameter, number) in enumerate(arguments)
    )
    used.append(Used(spec.name, spec.formula, spec.source, inputs, float(result), spec.unit))
    return value_of(float(result), spec.unit)


def value_of(number: float, unit: str) -> Value:
    """Make a value of a formula's result."""
    if not unit:
        return plain(number)
    known = UNITS.get(unit)
    if known is None:
        return amount(number, compound(unit_expression(unit)))
    if known.scale == "level" or unit == SOUND_LEVEL:
        return level(number, known)
    if unit == "°C":
        return temperature(number, known)
    return amount(number, compound(unit_expression(unit)))


def arranged(spec: Specification, values: Sequence[Given]) -> list[tuple[Parameter, float]]:
    """Put values in the order of a formula's inputs, as numbers in its units."""
    if len(values) > len(spec.parameters) and not any(parameter.repeats for parameter in spec.parameters):
        raise UnusableInput(_wrong_count(spec, len(values)))
    found: dict[str, list[float]] = {}
    position = 0
    for given in values:
        if given.label:
            parameter = _by_label(spec, given.label)
        elif position < len(spec.parameters):
            parameter = spec.parameters[position]
        else:
            raise UnusableInput(_wrong_count(spec, len(values)))
        taken = found.setdefault(parameter.name, [])
        if taken and not parameter.repeats:
            raise UnusableInput(f"{spec.name}: expected {parameter.label} once, got it twice")
        try:
            taken.append(number_for(spec.name, parameter, len(taken), given.value))
        except CalculatorError as error:
            if given.start is not None:
                error.place(given.start)
            raise
        if not given.label and not parameter.repeats:
            position += 1
    result: list[tuple[Parameter, float]] = []
    for parameter in spec.parameters:
        numbers = found.get(parameter.name, [])
        if not numbers and parameter.default is not None:
            numbers = [parameter.default]
        if not numbers:
            raise UnusableInput(_wrong_count(spec, len(values), missing=parameter.label))
        turns = len(parameter.unit.split(", "))
        if len(numbers) % turns:
            wanted_by_turns = f"{parameter.label} in groups of {turns} ({parameter.unit})"
            raise UnusableInput(f"{spec.name}: expected {wanted_by_turns}, got {len(numbers)} values")
        result.extend((parameter, number) for number in numbers)
    return result


def number_for(name: str, parameter: Parameter, position: int, value: Value) -> float:
    """Convert a value to a number in the unit that a formula wants, within its range."""
    unit = parameter.unit_at(position)
    where = f"{name}: {parameter.label}"
    _keep_apart(where, name, unit, value)
    if parameter.label == "area" and _is_gauge(value) and specification(formulas()[name]).subject != "feeders":
        other = "the resistance of the gauge (stranded_awg_resistance)"
        raise UnusableInput(f"{where}: expected mm², got a gauge; metric cable is other copper: use {other}")
    try:
        gauge = _gauge_of(parameter, value)
        number = number_in(unit, value) if gauge is None else gauge
    except CalculatorError as error:
        error.message, error.field = f"{where}: {error.message}", parameter.label
        raise
    if parameter.whole and abs(number - round(number)) < 1e-9:
        number = float(round(number))
    if parameter.whole and number != int(number):
        raise UnusableInput(f"{where}: expected a whole number, got {number:g}", field=parameter.label)
    if not parameter.low <= number <= parameter.high:
        low, high = (format_value(edge, unit, 6) if unit else f"{edge:g}" for edge in (parameter.low, parameter.high))
        got = format_value(number, unit, 6) if unit else f"{number:g}"
        raise UnusableInput(f"{where}: expected {low} to {high}, got {got}", field=parameter.label)
    return number


_MAINS = {"mains", "feeders", "harmonics", "protection", "generators", "consumption"}
"""Subjects whose formulas keep watts and volt-amperes apart; elsewhere the calculator converts one to the other."""
_POWERS = {"W": "VA", "VA": "W"}


def _keep_apart(where: str, name: str, unit: str, value: Value) -> None:
    """Refuse watts where a mains formula wants VA, and VA where it wants watts; volts times amperes may be either."""
    other = _POWERS.get(unit)
    if other is None or not isinstance(value, Amount) or specification(formulas()[name]).subject not in _MAINS:
        return
    if other in {known.stem or known.symbol for known in map(UNITS.get, [symbol(value.quantity)]) if known}:
        hint = "a power factor leads from one to the other"
        raise UnusableInput(f"{where}: expected {unit}, got {describe(value)}; {hint}")


def number_in(unit: str, value: Value) -> float:
    """Convert a value to a number in the unit of a formula. Raises UnusableInput for another dimension."""
    if not unit:
        return plain_number(value, "this input")
    known = UNITS.get(unit)
    if known is None:
        return convert_value(value, unit_expression(unit)).number
    if unit == SOUND_LEVEL and isinstance(value, Amount):
        known = UNITS["dB"]  # "96 dB" is what people write of a sound level
    try:
        return in_computing_unit(value, known)
    except UnusableInput:
        dimension = DIMENSIONS[UNITS[unit].dimension]
        got = describe(value) if phrase(value) == "a plain number" else f"{describe(value)}, which is {phrase(value)}"
        raise UnusableInput(f"expected {wanted(dimension)}, got {got}") from None


def _is_gauge(value: Value) -> bool:
    return isinstance(value, Amount) and value.gauge is not None


def _gauge_of(parameter: Parameter, value: Value) -> float | None:
    """Read the gauge number of an area that was typed as one, where a formula wants gauges."""
    return value.gauge if isinstance(value, Amount) and parameter.label == "gauge" else None


def _call_mathematics(name: str, values: Sequence[Given]) -> Value:
    function = FUNCTIONS[name]
    if any(given.label for given in values):
        raise UnusableInput(f"{name}: expected values without names, as in {function.signature}")
    if not function.minimum <= len(values) <= function.most:
        raise UnusableInput(
            f"expected {function.signature}, got {len(values)} values; inside a call, write decimals with a point"
        )
    try:
        return function.apply([given.value for given in values])
    except OverflowError:
        raise NoAnswer("expected a result within the range of numbers, got one beyond it") from None


def _first(parameter: Parameter, arguments: Sequence[tuple[Parameter, float]]) -> int:
    return next(place for place, (other, _) in enumerate(arguments) if other is parameter)


def _by_label(spec: Specification, label: str) -> Parameter:
    for parameter in spec.parameters:
        if label in (parameter.label, parameter.name):
            return parameter
    labels = [parameter.label for parameter in spec.parameters]
    hint = nearest(label, labels)
    raise UnusableInput(f"{spec.name}: expected one of {', '.join(labels)}, got {label}{hint}")


def _wrong_count(spec: Specification, count: int, missing: str = "") -> str:
    labels = ", ".join(f"{item.label}, …" if item.repeats else item.label for item in spec.parameters)
    if missing:
        return f"{spec.name}: expected {labels}; {missing} is missing"
    return f"{spec.name}: expected {labels}, got {count} values; inside a call, write decimals with a point"
