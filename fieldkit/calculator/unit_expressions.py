"""Units as they are typed after a number: ``mm²``, ``ohm/km``, ``W/m^2``, ``W/(m*K)``.

After a number, ``*`` and ``/`` belong to the unit when a unit follows them: ``10 W / 2 ohm`` divides two
quantities, and ``10 W/ohm`` is one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from fieldkit.calculator.errors import UnusableInput
from fieldkit.calculator.tokens import Token, tokenize
from fieldkit.calculator.tree import UnitExpression
from fieldkit.units import Unit, shown
from fieldkit.units.lookup import known_unit, nearest_hint

HIGHEST_EXPONENT = 9
"""Of a unit as typed; nothing of the trade goes beyond 4."""

_WITH_DIGIT = re.compile(r"(.*[^\W\d])([234])")
"""ft2, m3: the digit is an exponent."""


@lru_cache(maxsize=256)
def unit_expression(text: str) -> UnitExpression:
    """Read a unit by itself, as for a conversion. Raises UnusableInput for anything else."""
    tokens = tokenize(text)
    if tokens[0].kind == "end":
        raise UnusableInput("expected a unit, got nothing")
    try:
        unit, end = read_unit(tokens, 0)
    except UnusableInput as error:
        raise UnusableInput(error.message) from None
    if tokens[end].kind != "end":
        raise UnusableInput(f"expected a unit, got {shown(text)}")
    return unit


def begins_unit(tokens: Sequence[Token], index: int) -> bool:
    """Tell whether a unit begins here; a name before a parenthesis is a function."""
    token = tokens[index]
    return token.kind == "word" and not tokens[index + 1].is_operator("(") and _factor(token.text) is not None


def read_unit(tokens: Sequence[Token], index: int) -> tuple[UnitExpression, int]:
    """Read a unit from here on; give it and the index of the token after it."""
    first = tokens[index]
    if not begins_unit(tokens, index):
        raise unknown_unit(first)
    factors: list[tuple[str, int]] = []
    index = _read_factor(tokens, index, 1, factors)
    while tokens[index].is_operator("*", "/"):
        sign = -1 if tokens[index].text == "/" else 1
        if begins_unit(tokens, index + 1):
            index = _read_factor(tokens, index + 1, sign, factors)
        elif tokens[index + 1].is_operator("(") and begins_unit(tokens, index + 2):
            index = _read_group(tokens, index + 2, sign, factors)
        else:
            break
    if len(factors) > 1 or factors[0][1] != 1:
        _refuse_odd(factors, first)
    return UnitExpression(tuple(factors), _text(tokens, first, index)), index


def unknown_unit(token: Token) -> UnusableInput:
    """Build the error for a word that is no unit."""
    hint = nearest_hint(token.text)
    return UnusableInput(
        f"expected a unit, got {shown(token.text)}, which is unknown{'; ' + hint if hint else ''}",
        token.start + 1,
    )


def _read_group(tokens: Sequence[Token], index: int, sign: int, factors: list[tuple[str, int]]) -> int:
    """Read units in parentheses, as the m·K of W/(m*K)."""
    index = _read_factor(tokens, index, sign, factors)
    while tokens[index].is_operator("*") and begins_unit(tokens, index + 1):
        index = _read_factor(tokens, index + 1, sign, factors)
    if not tokens[index].is_operator(")"):
        raise UnusableInput("expected units joined by * and a closing parenthesis", tokens[index].start + 1)
    return index + 1


def _read_factor(tokens: Sequence[Token], index: int, sign: int, factors: list[tuple[str, int]]) -> int:
    found = _factor(tokens[index].text)
    if found is None:
        raise unknown_unit(tokens[index])
    unit, built_in = found
    exponent, after = _exponent(tokens, index + 1)
    squared = known_unit(f"{tokens[index].text}²") if exponent == 2 and built_in == 1 else None
    if squared is not None:
        factors.append((squared.symbol, sign))
    else:
        factors.append((unit.symbol, sign * built_in * exponent))
    return after


def _factor(text: str) -> tuple[Unit, int] | None:
    """Read the unit of a word, and the exponent that the word ends with."""
    unit = known_unit(text)
    if unit is not None:
        return unit, 1
    match = _WITH_DIGIT.fullmatch(text)
    unit = known_unit(match[1]) if match else None
    return (unit, int(match[2])) if match and unit else None


def _exponent(tokens: Sequence[Token], index: int) -> tuple[int, int]:
    """Read the exponent after a unit, 1 where there is none, and the index after it."""
    token = tokens[index]
    if token.kind == "raised":
        return _whole(token, token.value), index + 1
    if not token.is_operator("^"):
        return 1, index
    index += 1
    sign = -1.0 if tokens[index].is_operator("-") else 1.0
    index += tokens[index].is_operator("-")
    if tokens[index].kind != "number":
        raise UnusableInput(
            "expected a whole number as the exponent of a unit; put the quantity in parentheses to raise it",
            tokens[index].start + 1,
        )
    exponent = _whole(tokens[index], sign * tokens[index].value)
    following = tokens[index + 1]
    if following.is_operator("^") or following.kind == "raised" or begins_unit(tokens, index + 1):
        raise UnusableInput("expected one exponent after a unit; use parentheses", following.start + 1)
    return exponent, index + 1


def _whole(token: Token, exponent: float) -> int:
    if exponent != int(exponent) or not 1 <= abs(exponent) <= HIGHEST_EXPONENT:
        raise UnusableInput(
            f"expected a whole number from 1 to {HIGHEST_EXPONENT} as the exponent of a unit, got {token.text}",
            token.start + 1,
        )
    return int(exponent)


def _refuse_odd(factors: Sequence[tuple[str, int]], first: Token) -> None:
    """Refuse units in a compound that are no plain factor: levels, gauges and scales with an offset."""
    for symbol, _ in factors:
        unit = known_unit(symbol)
        if unit is None or unit.scale != "linear" or symbol == "dB SPL":
            raise UnusableInput(f"expected plain units in a compound, got {symbol}", first.start + 1)
        if symbol in ("°C", "°F"):
            raise UnusableInput(f"expected K in a compound unit, got {symbol}", first.start + 1)


def _text(tokens: Sequence[Token], first: Token, end: int) -> str:
    return "".join(token.text for token in tokens if first.start <= token.start < tokens[end].start)
