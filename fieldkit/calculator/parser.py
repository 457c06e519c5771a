"""Tokens into a tree: sums of products of powers, by recursive descent with a limit on depth.

From loosest to tightest: ``+ -``, ``* /``, sign, ``^`` (from right to left), unit after a number. So
``10 W / 2 ohm`` is 5 W/ohm, ``1 / 2 ohm`` is 1 / (2 ohm), ``-2^2`` is -4, and the sign of ``-10 dBV`` belongs
to its number. Things side by side do not multiply.

Why no library serves: an expression here holds units with spaces and signs (``66 in``, ``2.5 mm²``, ``20 dBu + 6 dB``),
which Python's ``ast`` refuses as syntax. pint's parser reads them, but takes ``2,5 mm`` for 25 mm, ``5 ft 3 in`` for
15 ft·in, ``10 W / 2 ohm`` for 5 W·ohm and ``2 * 4 dBm`` for 8 dBm, and ends ``10 W *`` with an AssertionError. Neither
knows levels, or calls with values by name and unit, or says at which column what was expected.
"""

from __future__ import annotations

import math
import re

from fieldkit.calculator.errors import UnusableInput
from fieldkit.calculator.tokens import Token, tokenize
from fieldkit.calculator.tree import (
    Argument,
    Attached,
    Call,
    Chain,
    ChainStep,
    Exponent,
    Literal,
    Negative,
    Node,
    UnitExpression,
)
from fieldkit.calculator.unit_expressions import begins_unit, read_unit, unknown_unit
from fieldkit.units import UNITS, UnitError, parse_quantity, shown
from fieldkit.units.lookup import known_unit

DEEPEST = 50
"""Parentheses, calls, roots and powers within one another at most."""

CONSTANTS = {"pi": math.pi, "π": math.pi}


def parse(text: str) -> Node:
    """Read an expression. Raises UnusableInput, with the column, for what is none."""
    parser = _Parser(text)
    if parser.token.kind == "end":
        raise UnusableInput("expected an expression such as 'sqrt(500 W * 8 ohm)', got nothing")
    node = parser.sum()
    if parser.token.kind != "end":
        raise parser.unexpected()
    return node


class _Parser:
    """One pass over the tokens of one expression."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = tokenize(text)
        self.index = 0
        self.depth = 0

    @property
    def token(self) -> Token:
        return self.tokens[self.index]

    def take(self) -> Token:
        """Take the token that is looked at, and go on to the next."""
        token = self.token
        self.index += token.kind != "end"
        return token

    def ahead(self, count: int) -> Token:
        """Look at a token further on; the end token stands for all after it."""
        return self.tokens[min(self.index + count, len(self.tokens) - 1)]

    def sum(self) -> Node:
        """Read terms joined by + and -."""
        start, first = self.token.start, self.product()
        steps = []
        while self.token.is_operator("+", "-"):
            operator = self.take()
            steps.append(ChainStep(operator.start, operator.text, self.product()))
        return Chain(start, first, tuple(steps)) if steps else first

    def product(self) -> Node:
        """Read factors joined by * and /."""
        start, first = self.token.start, self.signed()
        steps = []
        while self.token.is_operator("*", "/"):
            operator = self.take()
            steps.append(ChainStep(operator.start, operator.text, self.signed()))
        return Chain(start, first, tuple(steps)) if steps else first

    def signed(self) -> Node:
        """Read a power with any signs before it."""
        start, negative = self.token.start, False
        while self.token.is_operator("+", "-"):
            negative ^= self.take().text == "-"
        operand = self.power()
        if not negative:
            return operand
        if isinstance(operand, Literal) and (operand.unit is None or operand.unit.single() != UNITS["AWG"]):
            return Literal(start, -operand.number, operand.unit)
        return Negative(start, operand)

    def power(self) -> Node:
        """Read a base and its exponent; exponents of exponents come first."""
        base = self.operand()
        if self.token.kind == "raised":
            token = self.take()
            return Exponent(token.start, base, Literal(token.start, token.value))
        if not self.token.is_operator("^"):
            return base
        token = self.take()
        self.enter(token)
        exponent = self.signed()
        self.leave()
        return Exponent(token.start, base, exponent)

    def operand(self) -> Node:
        """Read a number with its unit, a parenthesis, a root, a call or a constant."""
        token = self.token
        if token.kind == "number":
            return self.number()
        if token.kind == "word":
            return self.named()
        if not token.is_operator("(", "√"):
            raise self.unexpected()
        self.take()
        self.enter(token)
        if token.text == "√":
            node: Node = Call(token.start, "sqrt", (Argument(self.token.start, "", self.radicand()),))
        else:
            node = self.sum()
            self.close(token)
        self.leave()
        return self.attached(node)

    def radicand(self) -> Node:
        """Read what a root sign covers: a parenthesis, or the one number, call or constant after it."""
        opening = self.token
        if not opening.is_operator("("):
            return self.operand()
        self.take()
        node = self.sum()
        self.close(opening)
        return node

    def number(self) -> Node:
        """Read a number and the unit that follows it directly; feet with inches and gauges are one number."""
        token = self.token
        whole = self.measured_by_hand()
        if whole is not None:
            return whole
        self.take()
        unit = self.unit()
        _refuse_squared(token, unit)
        if unit is not None and unit.single() == UNITS["ft"] and self.token.kind == "number":
            self.index -= 1  # to say what is wrong at the foot mark
            raise UnusableInput("expected an operator, or feet with inches as in 5 ft 3 in", self.ahead(1).start + 1)
        return Literal(token.start, token.value, unit)

    def measured_by_hand(self) -> Literal | None:
        """Read what the units package reads whole: 5 ft 3 1/2 in, 3 1/2 in, 2/0 AWG, 14 AWG."""
        token = self.token
        shape, symbols = "", []
        for count in range(8):
            ahead = self.ahead(count)
            unit = known_unit(ahead.text) if ahead.kind == "word" else None
            symbols.append(unit.symbol if unit else ahead.text)
            shape += "n" if ahead.kind == "number" else _SHAPES.get(symbols[-1], "?")
            if shape == "nf-ni" and not any(self.ahead(place).text.isalpha() for place in (1, 4)):
                raise UnusableInput(
                    "expected feet with inches as in 5 ft 3 in, or a difference as in (5 ft) - (3 in)",
                    token.start + 1,
                )
            if shape in _WHOLE:
                if shape == "n/nA" and symbols[2] != "0":
                    return None
                if shape == "n/ni" and not self._is_ruler_fraction():
                    return None
                return self.measured(token, count + 1)
        return None

    def _is_ruler_fraction(self) -> bool:
        """Tell whether a number over a number before inches is a fraction as rulers have them: 3/8 in."""
        above, below = self.token.text, self.ahead(2).text
        before = self.tokens[self.index - 1] if self.index else None
        in_product = before is not None and before.is_operator("*", "/", "^")
        return not in_product and above.isdecimal() and below in _RULER and int(above) < int(below)

    def measured(self, first: Token, count: int) -> Literal:
        """Read the quantity that the next tokens spell as one number."""
        last = self.ahead(count - 1)
        try:
            quantity = parse_quantity(_SLASH.sub("/", self.text[first.start : last.end]))
        except UnitError as error:
            raise UnusableInput(str(error), first.start + 1) from None
        self.index += count
        unit = UnitExpression(((quantity.unit, 1),), quantity.unit)
        return Literal(first.start, quantity.number, unit)

    def unit(self) -> UnitExpression | None:
        """Read the unit that follows, if one does."""
        if self.token.kind != "word":
            return None
        if not begins_unit(self.tokens, self.index):
            if self.token.text in CONSTANTS or self.ahead(1).is_operator("("):
                raise self.unexpected()
            raise unknown_unit(self.token)
        unit, self.index = read_unit(self.tokens, self.index)
        return unit

    def attached(self, node: Node) -> Node:
        """Put the unit that follows a parenthesis, a call or a constant to it."""
        start = self.token.start
        unit = self.unit()
        return node if unit is None else Attached(start, node, unit)

    def named(self) -> Node:
        """Read a call, a constant or a gauge that begins with AWG."""
        token = self.token
        if self.ahead(1).is_operator("("):
            return self.attached(self.call())
        if token.text in CONSTANTS:
            self.take()
            return self.attached(Literal(token.start, CONSTANTS[token.text]))
        unit = known_unit(token.text)
        if unit is not None and unit.symbol == "AWG" and self.ahead(1).kind == "number":
            aught = self.ahead(2).is_operator("/") and self.ahead(3).kind == "number"
            return self.measured(token, 4 if aught else 2)
        if unit is not None:
            raise UnusableInput(
                f"expected a number before the unit {shown(token.text)}, as in 1 {unit.symbol}", token.start + 1
            )
        from fieldkit.calculator.names import unknown_name

        raise unknown_name(token)

    def call(self) -> Call:
        """Read a function and its values."""
        name, opening = self.take(), self.take()
        self.enter(opening)
        arguments: list[Argument] = []
        if not self.token.is_operator(")"):
            arguments.append(self.argument())
            while self.token.is_operator(","):
                self.take()
                arguments.append(self.argument())
        self.close(opening)
        self.leave()
        return Call(name.start, name.text, tuple(arguments))

    def argument(self) -> Argument:
        """Read a value of a call, with its label if it has one."""
        start, label = self.token.start, ""
        if self.token.kind == "word" and self.ahead(1).is_operator("="):
            label = self.take().text
            self.take()
        return Argument(start, label, self.sum())

    def enter(self, token: Token) -> None:
        """Go one level deeper."""
        self.depth += 1
        if self.depth > DEEPEST:
            raise UnusableInput(f"expected at most {DEEPEST} levels within one another, got more", token.start + 1)

    def leave(self) -> None:
        """Come back one level."""
        self.depth -= 1

    def close(self, opening: Token) -> None:
        """Read the parenthesis that closes another."""
        if self.token.kind == "end":
            raise UnusableInput("expected a closing parenthesis for this one", opening.start + 1)
        if not self.token.is_operator(")"):
            raise self.unexpected()
        self.take()

    def unexpected(self) -> UnusableInput:
        """Say what is wrong with the token that is looked at."""
        token = self.token
        before = self.tokens[self.index - 1] if self.index else None
        after_value = before is not None and (before.kind != "operator" or before.text == ")")
        if token.kind == "end":
            return UnusableInput("expected a number, a name or a parenthesis, got the end", token.start + 1)
        if token.is_operator(","):
            wanted = "an operator" if after_value else "a number"
            hint = "a comma parts values inside the parentheses of a function only"
            return UnusableInput(f"expected {wanted}, got ','; {hint}", token.start + 1)
        if token.is_operator(")") and after_value:
            return UnusableInput("expected an opening parenthesis before this one, got none", token.start + 1)
        wanted = "an operator such as * or the end" if after_value else "a number, a name or an opening parenthesis"
        return UnusableInput(f"expected {wanted}, got {shown(token.text)}", token.start + 1)


_SLASH = re.compile(r"\s*/\s*")
_RULER = frozenset({"2", "4", "8", "16", "32", "64"})
"""Parts that an inch is divided into."""

_SHAPES = {"/": "/", "-": "-", "ft": "f", "in": "i", "AWG": "A"}
_WHOLE = frozenset({"nA", "n/nA", "n/ni", "nfni", "nfnn/ni", "nfn/ni", "nn/ni"})
"""Shapes that are one number: n a number, f a mark of feet, i of inches, A of gauge."""


def _refuse_squared(number: Token, unit: UnitExpression | None) -> None:
    """Refuse 63 V^2: whoever types it means the square of 63 V, and the exponent of a unit would be the unit's."""
    if unit is None:
        return
    name, exponent = unit.factors[0]
    if exponent > 1 and UNITS[name].dimension not in {"length", "time"}:
        raise UnusableInput(
            f"expected parentheses around what is raised: ({number.text} {name})^{exponent}; "
            f"without them only the unit would be",
            number.start + 1,
        )
