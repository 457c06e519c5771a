"""The calculator: expressions with units, trade functions and conversions.

It is imported where it is used, and pint with the first expression: pint alone takes longer than opening a show.
"""

from fieldkit.calculator.errors import CalculatorError, NoAnswer, UnusableInput
from fieldkit.calculator.evaluation import Result, evaluate
from fieldkit.calculator.listing import listing_text

__all__ = ["CalculatorError", "NoAnswer", "Result", "UnusableInput", "evaluate", "listing_text"]
