"""What can go wrong with a calculation.

* CalculatorError, a ValueError: one clear line, with the column of the trouble

  * UnusableInput: what was typed cannot be used: syntax, unknown names, wrong kinds, out of range (status 2)
  * NoAnswer: it can be read, and there is no number for it: division by zero, no solution (status 1)
"""

from __future__ import annotations

from typing import ClassVar


class CalculatorError(ValueError):
    """A calculation that gives no result.

    message: what was expected and what was found instead
    column: where in the expression, from 1; None when it is not about a place in a text
    field: the input of a form that it is about; empty when it is about none
    """

    exit_status: ClassVar[int] = 2

    def __init__(self, message: str, column: int | None = None, field: str = "") -> None:
        super().__init__(message, column, field)
        self.message = message
        self.column = column
        self.field = field

    def __str__(self) -> str:
        return self.message if self.column is None else f"column {self.column}: {self.message}"

    def place(self, start: int) -> None:
        """Say where it happened, by the offset in the expression, unless that is known more closely."""
        if self.column is None:
            self.column = start + 1


class UnusableInput(CalculatorError):  # noqa: N818 - named for what is wrong, like its base's other child
    """What was typed cannot be used."""


class NoAnswer(CalculatorError):  # noqa: N818 - as above
    """What was typed can be read, and no number answers it."""

    exit_status: ClassVar[int] = 1
