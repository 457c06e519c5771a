"""The tape of the calculator, and what a field knows while somebody calculates in it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.app.dialogs.windows import Help


class TapeEntry(msgspec.Struct, frozen=True):
    """A line of the tape."""

    expression: str
    text: str
    """The result as it is shown."""
    value: str
    """The result as a field takes it: ``49.96 V``."""
    why: tuple[str, ...] = ()
    """The formulas behind it, with inputs and sources, a line each."""


def expression_help(tape: Sequence[TapeEntry]) -> Help:
    """Help with an expression: functions and units, a call's values, and the expressions of before."""
    return Help(_expression_endings, _signature, tuple(dict.fromkeys(entry.expression for entry in tape)))


def quantity_help(tape: Sequence[TapeEntry], dimension: str) -> Help:
    """Help with a field that wants a quantity: its units, and what was calculated before."""

    def endings(text: str) -> tuple[tuple[str, str], ...]:
        from fieldkit.calculator.listing import unit_suggestions

        if text.lstrip().startswith("="):
            return _expression_endings(text)
        return tuple((item.text, item.word) for item in unit_suggestions(text, dimension))

    return Help(endings, _signature, tuple(dict.fromkeys(entry.value for entry in tape)))


def _expression_endings(text: str) -> tuple[tuple[str, str], ...]:
    from fieldkit.calculator.listing import suggestions

    return tuple((item.text, item.word) for item in suggestions(text) if item.text != text)


def _signature(text: str) -> str:
    from fieldkit.calculator.listing import signature

    return signature(text)
