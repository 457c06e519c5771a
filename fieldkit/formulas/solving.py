"""Solve a formula for the one input that was left blank.

The unknown is looked for over the range that the formula declares for it. A formula that bends back gives
two answers, a flat one gives a whole stretch of them, and a count or a gauge has only whole numbers: all of
these are said in words instead of picking one answer silently.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import inf, isfinite, isnan, nan

from fieldkit.errors import NoAnswerError, UnusableError
from fieldkit.formulas.declaration import Parameter, Specification, specification

STEPS = 600
"""Places tried over the range. Two answers between the same two places cancel out and are not seen."""
SMALLEST_SHARE = 1e-12
"""A range that starts at zero is tried down to this share of its end."""
CLOSE = 1e-9
"""Relative difference under which a result is the one wanted; a jump of the formula misses by more."""
ONE_PLACE = 1e-10
"""Answers nearer than this share of the range are one: near zero a formula may be flat to the last digit."""
CLOSE_TO_WHOLE = 1e-3
"""The same for whole numbers, since 2.667 ohm is typed for 8/3."""


def solve(function: Callable[..., float], unknown: str, result: float, **known: float | Sequence[float]) -> float:
    """Find the input that makes a formula give a result, within the range that the formula declares.

    The unknown and the known inputs go by the parameter's name (``length_m``) or label (``length``), in the
    units that the formula declares; repeated values as a sequence, ``ratings=(8, 500, 4, 900)``; an input
    with a default may be left out. Raises NoAnswerError when nothing in the range, or more than one thing, gives
    the result, and UnusableError when an input is missing, repeated or not one of the formula's.
    """
    spec = specification(function)
    parameter = _parameter(spec, unknown)
    if parameter.repeats:
        raise UnusableError(f"expected one unknown of {spec.name}, got {parameter.label}, which is a list")
    if not isfinite(result):
        raise UnusableError(f"expected a finite result of {spec.name}, got {result:g}")
    arguments, slot = _arguments(spec, parameter, known)

    def at(value: float) -> float:
        arguments[slot] = value
        try:
            found = float(function(*arguments))
        except (ValueError, OverflowError, ZeroDivisionError):
            # Outside what the formula can do: a gap in the range, never an answer.
            return nan
        return found if isfinite(found) else nan

    places = _whole_places(parameter) if parameter.whole else _places(parameter.low, parameter.high)
    tried = [(value, at(value)) for value in places]
    answers = _whole_answers(tried, result) if parameter.whole else _answers(at, tried, result)
    if len(answers) == 1:
        return answers[0]
    if answers:
        raise NoAnswerError(_several(spec, parameter, result, answers))
    raise NoAnswerError(_none(spec, parameter, result, tried))


def _parameter(spec: Specification, name: str) -> Parameter:
    for parameter in spec.parameters:
        if name in (parameter.name, parameter.label):
            return parameter
    labels = ", ".join(parameter.label for parameter in spec.parameters)
    raise UnusableError(f"expected an input of {spec.name} ({labels}), got {name!r}")


def _arguments(
    spec: Specification, unknown: Parameter, known: dict[str, float | Sequence[float]]
) -> tuple[list[float], int]:
    """Lay the known inputs out in the formula's order, with a slot for the unknown."""
    values: dict[str, float | Sequence[float]] = {}
    for name, value in known.items():
        parameter = _parameter(spec, name)
        if parameter is unknown or parameter.name in values:
            raise UnusableError(f"expected {parameter.label} once, got it twice")
        values[parameter.name] = value
    arguments: list[float] = []
    slot = -1
    for parameter in spec.parameters:
        if parameter is unknown:
            slot = len(arguments)
            arguments.append(nan)
            continue
        given = values.get(parameter.name, parameter.default)
        if given is None:
            raise UnusableError(f"expected a value for {parameter.label}, got none")
        if isinstance(given, Sequence):
            arguments.extend(given)
        else:
            arguments.append(given)
    return arguments, slot


def _places(low: float, high: float) -> Iterator[float]:
    """Go through a range from end to end, as many places in each power of ten."""
    if low < 0.0:
        yield from (-place for place in reversed(list(_places(max(0.0, -high), -low))) if place > 0.0)
        if high >= 0.0:
            yield 0.0
        if high > 0.0:
            yield from (place for place in _places(0.0, high) if place > 0.0)
        return
    start = low
    if low == 0.0:
        yield 0.0
        start = high * SMALLEST_SHARE
    for step in range(STEPS):
        yield start * (high / start) ** (step / STEPS)
    yield high


def _whole_places(parameter: Parameter) -> Iterator[float]:
    yield from map(float, range(int(parameter.low), int(parameter.high) + 1))


def _answers(at: Callable[[float], float], tried: Sequence[tuple[float, float]], result: float) -> list[float]:
    """Find the places where the result is met, and close in wherever it is passed."""
    same = CLOSE * 1e-3 * abs(result)
    answers: list[float] = []
    last_value, last_miss = nan, nan
    for value, found in tried:
        miss = found - result
        if abs(miss) <= same:
            answers.append(value)
            miss = 0.0
        elif miss * last_miss < 0.0:
            answer = _close_in(at, result, last_value, value)
            if abs(at(answer) - result) <= CLOSE * abs(result) or at(answer) == result:
                answers.append(answer)
        last_value, last_miss = value, miss
    width = abs(tried[-1][0] - tried[0][0])
    if answers and answers[-1] - answers[0] <= ONE_PLACE * width:
        return [min(answers, key=lambda answer: (abs(at(answer) - result), abs(answer)))]
    return answers


def _close_in(at: Callable[[float], float], result: float, low: float, high: float) -> float:
    """Halve the stretch between two misses of opposite sign until no float lies between."""
    rises = at(low) < result
    while True:
        middle = low + (high - low) / 2.0
        if not low < middle < high:
            return min(low, high, key=lambda value: abs(at(value) - result))
        found = at(middle)
        if isnan(found) or found == result:
            return middle
        if (found < result) == rises:
            low = middle
        else:
            high = middle


def _whole_answers(tried: Sequence[tuple[float, float]], result: float) -> list[float]:
    """Find the whole number that gives the result; when several nearly do, the one that does exactly."""
    for close in (CLOSE, CLOSE_TO_WHOLE):
        answers = [value for value, found in tried if abs(found - result) <= close * abs(result)]
        if answers:
            return answers
    return []


def _with_unit(value: float, unit: str) -> str:
    return f"{value:.6g} {unit}".rstrip()


def _several(spec: Specification, parameter: Parameter, result: float, answers: list[float]) -> str:
    texts = [_with_unit(answer, parameter.unit) for answer in answers]
    text = " and ".join(texts) if len(texts) <= 3 else f"many from {texts[0]} to {texts[-1]}"
    return f"expected one {parameter.label} that gives {_with_unit(result, spec.unit)}, got {text}"


def _none(spec: Specification, parameter: Parameter, result: float, tried: Sequence[tuple[float, float]]) -> str:
    found = [(gives, value) for value, gives in tried if not isnan(gives)]
    span = f"{_with_unit(parameter.low, parameter.unit)} to {_with_unit(parameter.high, parameter.unit)}"
    wanted = _with_unit(result, spec.unit)
    if not found:
        return f"expected inputs that {spec.name} can use, got none with any {parameter.label} from {span}"
    below = max((pair for pair in found if pair[0] < result), default=(-inf, nan))
    above = min((pair for pair in found if pair[0] > result), default=(inf, nan))
    if isfinite(below[0]) and isfinite(above[0]):
        nearest = " and ".join(
            f"{_with_unit(value, parameter.unit)} gives {_with_unit(gives, spec.unit)}"
            for gives, value in (below, above)
        )
        return f"expected a result that some {parameter.label} gives, got {wanted}; {nearest}"
    lowest, highest = (_with_unit(end(found)[0], spec.unit) for end in (min, max))
    return f"expected a result from {lowest} to {highest} ({parameter.label} from {span}), got {wanted}"
