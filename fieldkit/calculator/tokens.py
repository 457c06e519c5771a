"""An expression into its tokens, each with its place.

Look-alikes are made one first (spaces of every width, × · ÷ − and typographic minus), character by character,
so that places stay those of the text. A comma is a decimal point, unless it stands inside the parentheses of
a call: there it separates values.
"""

from __future__ import annotations

import re
from functools import cache

import msgspec

from fieldkit.calculator.errors import UnusableInput
from fieldkit.units import UnitError, shown, spellings
from fieldkit.units.lookup import known_unit
from fieldkit.units.numerals import NUMBER, number_value

LONGEST = 1000
"""Characters of an expression at most."""

_SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹"
_SAME = str.maketrans(
    {
        **dict.fromkeys("\t\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000", " "),
        **dict.fromkeys("\N{MINUS SIGN}\N{EN DASH}", "-"),
        **dict.fromkeys("×·⋅∙", "*"),
        **dict.fromkeys("÷\N{DIVISION SLASH}\N{FRACTION SLASH}", "/"),
        **dict.fromkeys("º˚", "°"),
    }
)
_PLAIN_NUMBER = re.compile(r"[0-9.]*[0-9](?:[eE][+-]?[0-9]+)?")
_WORD = re.compile(rf"[^\W\d{_SUPERSCRIPTS}](?:[^\W{_SUPERSCRIPTS}])*")
_RAISED = re.compile(rf"⁻?[{_SUPERSCRIPTS}]{{1,3}}")
_OPERATOR = re.compile(r"\*\*|[-+*/^√(),=]")
_AFTER_NUMBER = re.compile(r" ?[^\W\d_]{1,6}[²³]?")


class Token(msgspec.Struct, frozen=True):
    """A piece of an expression."""

    kind: str
    """number, word, raised (a superscript number), operator or end."""
    text: str
    start: int
    end: int
    value: float = 0.0
    """Of a number, or of a superscript."""

    def is_operator(self, *texts: str) -> bool:
        """Tell whether it is one of these operators."""
        return self.kind == "operator" and self.text in texts


def tokenize(text: str) -> list[Token]:
    """Split an expression into tokens, with an end token. Raises UnusableInput for what is no token."""
    if len(text) > LONGEST:
        raise UnusableInput(f"expected at most {LONGEST} characters, got {len(text)}")
    same = text.translate(_SAME)
    tokens: list[Token] = []
    calls: list[bool] = []
    start = 0
    while start < len(same):
        if same[start] == " ":
            start += 1
            continue
        token = _token(same, start, in_call=any(calls))
        if token.text == "(":
            calls.append(bool(tokens) and tokens[-1].kind == "word")
        elif token.text == ")" and calls:
            calls.pop()
        tokens.append(token)
        start = token.end
    tokens.append(Token("end", "", len(text), len(text)))
    return tokens


def _token(text: str, start: int, *, in_call: bool) -> Token:
    if text[start] in "0123456789.,":
        number = _number(text, start, in_call=in_call)
        if number is not None:
            return number
    irregular = _irregular().match(text, start)
    if irregular and known_unit(irregular.group()) is not None:
        return Token("word", irregular.group(), start, irregular.end())
    if word := _WORD.match(text, start):
        return Token("word", word.group(), start, word.end())
    if raised := _RAISED.match(text, start):
        digits = "".join(str(_SUPERSCRIPTS.index(digit)) for digit in raised.group().lstrip("⁻"))
        sign = -1.0 if raised.group().startswith("⁻") else 1.0
        return Token("raised", raised.group(), start, raised.end(), sign * float(digits))
    if operator := _OPERATOR.match(text, start):
        kind = "^" if operator.group() == "**" else operator.group()
        return Token("operator", kind, start, operator.end())
    raise UnusableInput(
        f"expected a number, a unit, a name or one of + - * / ^ ( ), got {shown(text[start])}", start + 1
    )


def _number(text: str, start: int, *, in_call: bool) -> Token | None:
    """Read a number; None where a point or comma has no digit after it."""
    found = (_PLAIN_NUMBER if in_call else NUMBER).match(text, start)
    if found is None:
        return None
    digits = found.group()
    unit = _AFTER_NUMBER.match(text, found.end())
    try:
        match = NUMBER.fullmatch(digits)
        value = number_value(match, digits + (unit.group() if unit else ""), "a number") if match else None
    except UnitError as error:
        raise UnusableInput(str(error), start + 1) from None
    if value is None:
        return None
    return Token("number", digits, start, found.end(), value)


@cache
def _irregular() -> re.Pattern[str]:
    """Match the spellings of units that are no plain word: %, °C, BTU/h, dB SPL, deg C, the mark of feet."""
    odd = [text for text in spellings() if not _WORD.fullmatch(text) and not re.search(r"[\^*²]", text)]
    odd.sort(key=len, reverse=True)
    ends = (re.escape(text) + (r"(?!\w)" if text[-1].isalnum() else "") for text in odd)
    return re.compile("|".join(ends), re.IGNORECASE)
