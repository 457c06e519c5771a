"""What can be computed: the list of formulas, a form for each, and names completed while they are typed."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping

import msgspec

from fieldkit.calculator.calls import Given, Used, apply_formula, arranged, number_for, number_in, value_of
from fieldkit.calculator.errors import CalculatorError, NoAnswer, UnusableInput
from fieldkit.calculator.evaluation import work_out
from fieldkit.calculator.mathematics import FUNCTIONS
from fieldkit.calculator.names import formulas, unknown_function
from fieldkit.calculator.parser import parse
from fieldkit.calculator.values import Value
from fieldkit.errors import FieldkitError
from fieldkit.formulas.declaration import Parameter, Specification, specification
from fieldkit.formulas.solving import solve
from fieldkit.units import DIMENSIONS, UNITS
from fieldkit.units.lookup import units_of

WIDTH = 80


class FormulaEntry(msgspec.Struct, frozen=True):
    """A function that can be called."""

    name: str
    subject: str
    signature: str
    """The call with labels and units: ``cable_loss(length [m], area [mm²], load [ohm]) → dB``."""
    title: str
    source: str


def listing() -> tuple[FormulaEntry, ...]:
    """List every function, those of mathematics first, then the formulas by subject."""
    entries = [
        FormulaEntry(name, "mathematics", function.signature, function.title, "by definition")
        for name, function in FUNCTIONS.items()
    ]
    for name, function in formulas().items():
        spec = specification(function)
        inputs = ", ".join(_input(parameter) for parameter in spec.parameters)
        result = f" → {spec.unit}" if spec.unit else ""
        entries.append(FormulaEntry(name, spec.subject, f"{name}({inputs}){result}", spec.title, spec.source))
    return tuple(entries)


def _input(parameter: Parameter) -> str:
    label = f"{parameter.label} [{parameter.unit}]" if parameter.unit else parameter.label
    if parameter.repeats:
        return f"{label}, …"
    return label if parameter.default is None else f"{label} = {parameter.default:g}"


def listing_text() -> Iterator[str]:
    """Print the listing at 80 columns."""
    subject = ""
    for entry in listing():
        if entry.subject != subject:
            if subject:
                yield ""
            subject = entry.subject
            yield subject.replace("_", " ")
        yield from textwrap.wrap(entry.signature, WIDTH, initial_indent="  ", subsequent_indent="      ")
        yield from textwrap.wrap(entry.title, WIDTH, initial_indent="      ", subsequent_indent="      ")


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
    except FieldkitError as error:
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
    """Take the one value of a field that takes one."""
    if len(values) != 1:
        raise UnusableInput(f"{label}: expected one value, got {len(values)}", field=label)
    return values[0]


def _parameter(spec: Specification, label: str) -> Parameter:
    return next(parameter for parameter in spec.parameters if parameter.label == label)


def _as_tuple(value: float | tuple[float, ...]) -> tuple[float, ...]:
    return value if isinstance(value, tuple) else (value,)


MOST = 6
"""Suggestions at a time: more is a list to read, and the next letter is quicker."""

_WORD = re.compile(r"[^\W\d][\w²³]*$")
_AFTER_NUMBER = re.compile(r"[0-9²³]\s*$")
_CONVERSION = re.compile(r"(?:^|[\s)])in\s+$")


class Suggestion(msgspec.Struct, frozen=True):
    """A way to go on."""

    text: str
    """The whole text with it."""
    word: str
    """What it puts in."""
    about: str
    """A function's values and what it gives; a unit's dimension."""


def suggestions(text: str) -> tuple[Suggestion, ...]:
    """List ways to finish the word at the end of an expression, the most likely first; none without a word."""
    found = _WORD.search(text)
    if found is None:
        return ()
    word, before = found.group(), text[: found.start()]
    if _AFTER_NUMBER.search(before) or _CONVERSION.search(before):
        return _units(word, before)
    functions = _functions(word, before)
    return functions or _units(word, before)


def unit_suggestions(text: str, dimension: str) -> tuple[Suggestion, ...]:
    """List units of one dimension for the text of a field that wants a quantity; all of its usual ones at a number."""
    found = _WORD.search(text)
    word, before = (found.group(), text[: found.start()]) if found else ("", text)
    if not _AFTER_NUMBER.search(before):
        return ()
    if not word:
        gap = "" if before.endswith(" ") else " "
        return tuple(
            Suggestion(f"{before}{gap}{symbol}", symbol, DIMENSIONS[dimension].phrase)
            for symbol in DIMENSIONS[dimension].typical[:MOST]
        )
    return tuple(item for item in _units(word, before, dimension) if item.word != word)


def signature(text: str) -> str:
    """Show the values of the call that the text ends in: ``cable_loss(length [m], …) → dB``; empty outside one."""
    depth = 0
    for place in range(len(text) - 1, -1, -1):
        if text[place] == ")":
            depth += 1
        elif text[place] == "(" and depth:
            depth -= 1
        elif text[place] == "(":
            name = _WORD.search(text[:place])
            entry = _entries().get(name.group()) if name else None
            return entry.signature if entry else ""
    return ""


def _functions(word: str, before: str) -> tuple[Suggestion, ...]:
    folded = word.casefold()
    names = [name for name in _entries() if name.startswith(folded)]
    names += [name for name in _entries() if folded in name and name not in names and len(folded) > 2]
    return tuple(Suggestion(f"{before}{name}(", name, _entries()[name].title) for name in names[:MOST])


def _units(word: str, before: str, dimension: str | None = None) -> tuple[Suggestion, ...]:
    """Rank the units that begin so: as it is written, then in any case, the shorter first."""
    folded = word.casefold()
    known = UNITS.values() if dimension is None else units_of(dimension)
    fitting = [unit for unit in known if unit.symbol.casefold().startswith(folded)]
    fitting.sort(key=lambda unit: (not unit.symbol.startswith(word), len(unit.symbol), unit.symbol))
    return tuple(
        Suggestion(before + unit.symbol, unit.symbol, DIMENSIONS[unit.dimension].phrase) for unit in fitting[:MOST]
    )


def _entries() -> dict[str, FormulaEntry]:
    return {entry.name: entry for entry in listing()}
