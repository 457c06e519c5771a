"""What can go wrong with a calculation: two branches of the tree in ``fieldkit.errors``, with the column."""

from __future__ import annotations

from fieldkit.errors import FieldkitError, NoAnswerError, UnusableError


class CalculatorError(FieldkitError):
    """A calculation that gives no result.

    message: what was expected and what was found instead
    column: where in the expression, from 1; None when it is not about a place in a text
    field: the input of a form that it is about; empty when it is about none
    """

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


class UnusableInput(CalculatorError, UnusableError):  # noqa: N818 - named for what is wrong, as its sibling
    """What was typed cannot be used: syntax, unknown names, wrong kinds, out of range."""


class NoAnswer(CalculatorError, NoAnswerError):  # noqa: N818 - as above
    """What was typed can be read, and no number answers it: division by zero, no solution."""
