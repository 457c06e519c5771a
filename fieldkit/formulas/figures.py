"""A computed number that remembers where it came from.

The solver calls formulas through an ``Apply``. In everyday use that is ``direct``, a plain call. To explain
one line, the same solver runs again with ``traced`` and with inputs made by ``given``: every value is then a
float that carries a ``Figure``, a tree from the result down to what was typed and to the published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, ParamSpec, Protocol, Self, TypeVar

import msgspec

from fieldkit.formulas.declaration import is_formula, specification

Parameters = ParamSpec("Parameters")
Value = TypeVar("Value")


class Figure(msgspec.Struct, frozen=True):
    """A number with its unit, and how it was found."""

    label: str
    value: float
    unit: str
    formula: str = ""
    """As the formula's docstring writes it; empty for what was given."""
    source: str = ""
    """The published source of the formula, or where a given value stands: ``run W1, step 2``."""
    inputs: tuple[tuple[str, Figure], ...] = ()
    """What went in: the parameter's name, and its own figure."""
    assumed: bool = False
    """True when the value, or any value it rests on, was assumed."""

    def walk(self, depth: int = 0) -> Iterator[tuple[int, str, Figure]]:
        """Go through the figure and all it rests on, with the depth and the name it was used under."""
        yield depth, self.label, self
        for name, figure in self.inputs:
            for below, label, item in figure.walk(depth + 1):
                yield below, (name if below == depth + 1 else label), item


class Traced(float):
    """A float that carries its figure through formulas, and through sums and differences of like units."""

    __slots__ = ("figure",)
    figure: Figure

    def __new__(cls, value: float, figure: Figure) -> Self:
        """Make a traced value of this number."""
        self = super().__new__(cls, value)
        self.figure = figure
        return self

    def __add__(self, other: float) -> Traced:
        return _combined("sum", "a + b", float(self) + float(other), self, other)

    __radd__ = __add__

    def __sub__(self, other: float) -> Traced:
        return _combined("difference", "a − b", float(self) - float(other), self, other)

    def __mul__(self, other: float) -> Traced:
        return _combined("product", "a · b", float(self) * float(other), self, other)

    __rmul__ = __mul__

    def __truediv__(self, other: float) -> Traced:
        return _combined("quotient", "a / b", float(self) / float(other), self, other)


class Apply(Protocol):
    """How a solver calls a formula."""

    def __call__(
        self,
        function: Callable[Parameters, Value],
        /,
        *args: Parameters.args,
        **kwargs: Parameters.kwargs,
    ) -> Value:
        """Call the function with these arguments."""


def direct(function: Callable[Parameters, Value], /, *args: Parameters.args, **kwargs: Parameters.kwargs) -> Value:
    """Call a formula, and keep nothing."""
    return function(*args, **kwargs)


def traced(function: Callable[Parameters, Value], /, *args: Parameters.args, **kwargs: Parameters.kwargs) -> Value:
    """Call a formula and let the result remember its inputs, formula and source."""
    if not is_formula(function):
        return function(*args, **kwargs)
    spec = specification(function)
    bare: Any = [float(arg) for arg in args]  # type: ignore[arg-type]
    bare_named: Any = {name: float(arg) for name, arg in kwargs.items()}  # type: ignore[arg-type]
    value: Any = function(*bare, **bare_named)
    named: list[tuple[str, Any]] = []
    for index, arg in enumerate(args):
        last = len(spec.parameters) - 1
        parameter = spec.parameters[min(index, last)]
        unit = parameter.unit_at(max(index - last, 0))
        named.append((parameter.label, _figure(arg, parameter.label, unit)))
    for parameter in spec.parameters:
        if parameter.name in kwargs:
            figure = _figure(kwargs[parameter.name], parameter.label, parameter.unit)
            named.append((parameter.label, figure))
    figure = Figure(
        label=spec.result.partition(" [")[0],
        value=value,
        unit=spec.unit,
        formula=spec.formula,
        source=spec.source,
        inputs=tuple(named),
        assumed=any(item.assumed for _, item in named),
    )
    result: Any = Traced(value, figure)
    return result  # type: ignore[no-any-return]


def given(value: float, label: str, unit: str, where: str, *, assumed: bool = False) -> Traced:
    """Make a traced value of something typed, looked up or assumed, with the place where it stands."""
    return Traced(value, Figure(label=label, value=float(value), unit=unit, source=where, assumed=assumed))


def explain(value: float, label: str, unit: str) -> Figure:
    """Return the figure behind a value, under a name of the caller's choice."""
    figure = _figure(value, label, unit)
    return msgspec.structs.replace(figure, label=label, unit=figure.unit or unit)


def _figure(value: Any, label: str, unit: str) -> Figure:
    if isinstance(value, Traced):
        return value.figure
    return Figure(label=label, value=float(value), unit=unit, source="a constant")


def _combined(label: str, how: str, value: float, first: Any, second: Any) -> Traced:
    one, other = _figure(first, "a", ""), _figure(second, "b", "")
    unit = one.unit or other.unit if label in {"sum", "difference"} else ""
    inputs = (("a", one), ("b", other))
    assumed = one.assumed or other.assumed
    return Traced(
        value,
        Figure(
            label=label,
            value=value,
            unit=unit,
            formula=how,
            source="arithmetic",
            inputs=inputs,
            assumed=assumed,
        ),
    )
