"""An expression as a tree: what was typed, with its places, and nothing worked out."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from fieldkit.units import UNITS, Unit


class UnitExpression(msgspec.Struct, frozen=True):
    """A unit as typed: ``ohm/km`` is (("ohm", 1), ("km", -1))."""

    factors: tuple[tuple[str, int], ...]
    """Canonical symbols of the table, with their exponents."""
    text: str

    def single(self) -> Unit | None:
        """Return the unit when it is one unit of the table, and None for a compound."""
        if len(self.factors) == 1 and self.factors[0][1] == 1:
            return UNITS[self.factors[0][0]]
        return None


class Literal(msgspec.Struct, frozen=True):
    """A number, with the unit that followed it directly."""

    start: int
    number: float
    unit: UnitExpression | None = None


class Attached(msgspec.Struct, frozen=True):
    """A unit after a parenthesis, a call or a constant: ``(2 + 3) m``."""

    start: int
    operand: Node
    unit: UnitExpression


class Negative(msgspec.Struct, frozen=True):
    """A minus before something that is no number."""

    start: int
    operand: Node


class ChainStep(msgspec.Struct, frozen=True):
    """One operator of a chain, and what follows it."""

    start: int
    operator: str
    operand: Node


class Chain(msgspec.Struct, frozen=True):
    """A sum or a product of any length, from left to right."""

    start: int
    first: Node
    steps: tuple[ChainStep, ...]


class Exponent(msgspec.Struct, frozen=True):
    """Something raised to a power."""

    start: int
    base: Node
    exponent: Node


class Argument(msgspec.Struct, frozen=True):
    """A value of a call, with its label when it was given by name."""

    start: int
    label: str
    value: Node


class Call(msgspec.Struct, frozen=True):
    """A function and its values."""

    start: int
    name: str
    arguments: tuple[Argument, ...]


Node: TypeAlias = Literal | Attached | Negative | Chain | Exponent | Call
