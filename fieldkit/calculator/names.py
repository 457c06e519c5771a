"""The names that can be called, and the nearest one to a wrong name."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from fieldkit.calculator.errors import UnusableInput
from fieldkit.calculator.tokens import Token
from fieldkit.units import shown


@cache
def formulas() -> dict[str, Callable[..., Any]]:
    """Load all formulas when they are first asked for, by name."""
    from fieldkit.formulas import all_formulas

    return all_formulas()


def nearest(name: str, choices: list[str]) -> str:
    """Say which name may have been meant, for the end of a message; empty when none is near."""
    import difflib  # only a wrong name pays for it

    close = difflib.get_close_matches(name.casefold()[:60], choices, n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


def unknown_name(token: Token) -> UnusableInput:
    """Build the error for a name that is neither a unit nor a constant, and that is not called."""
    from fieldkit.calculator.mathematics import FUNCTIONS

    if token.text in FUNCTIONS or token.text in formulas():
        message = f"expected parentheses with values after {token.text}"
    else:
        hint = nearest(token.text, [*FUNCTIONS, *formulas(), "pi"])
        message = f"expected a number or the name of a function, got {shown(token.text)}{hint}"
    return UnusableInput(message, token.start + 1)


def unknown_function(name: str) -> UnusableInput:
    """Build the error for a call of something that there is not."""
    from fieldkit.calculator.mathematics import FUNCTIONS

    hint = nearest(name, [*FUNCTIONS, *formulas()])
    return UnusableInput(f"expected the name of a function, got {shown(name)}{hint}")
