"""The calculator: expressions with units, trade functions and conversions.

Nothing is imported before the first expression: pint alone takes longer than opening a show.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldkit.calculator.evaluation import Result


def evaluate(expression: str, to: str | None = None, *, ascii_only: bool = False) -> Result:
    """Work out an expression such as ``sqrt(500 W * 8 ohm)``, in a unit if one is asked for.

    Raises CalculatorError, a ValueError with one clear line and the exit status of the command.
    """
    from fieldkit.calculator.evaluation import evaluate as work

    return work(expression, to, ascii_only=ascii_only)


def listing_text() -> Iterator[str]:
    """List all that can be called, as text for 80 columns."""
    from fieldkit.calculator.listing import listing_text as lines

    return lines()
