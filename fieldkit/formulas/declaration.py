"""Declare a formula once: its units and ranges in the annotations, its meaning and source in the docstring.

``@formula`` returns the function itself, so a bare call costs nothing more. The specification (for the
calculator, for explanations, for the documentation) is worked out when it is first asked for.

A docstring has one imperative line, one line a parameter, and labelled lines::

    '''Compute the loop resistance of a two-core cable, out and back.

    length_m: one way along the cable [m]
    resistance_ohm_per_m: of one conductor [ohm/m]
    Result: the loop resistance [ohm]
    Formula: R = 2 · L · r
    Valid: direct current and audio frequencies, where skin effect is negligible
    Raises: nothing within the ranges
    Source: by definition, two conductors in series
    Example: loop_resistance(30, 0.00798) = 0.4788
    '''
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints

import msgspec

Function = TypeVar("Function", bound=Callable[..., Any])

LABELS = ("Result", "Formula", "Valid", "Raises", "Source", "Example")


class In(msgspec.Struct, frozen=True):
    """The unit that a number is given in, and the range in which the formula holds.

    A formula computes in the computing unit of each dimension (see ``fieldkit.units``): SI, but mm² for
    conductors, °C for temperature and dB for gains.
    """

    unit: str
    """One symbol; for repeated values that take turns, one a turn: ``ohm, W``."""
    low: float
    high: float
    whole: bool = False
    """True for counts and gauges, where nothing lies between whole numbers."""


class Parameter(msgspec.Struct, frozen=True):
    """One input of a formula, as declared."""

    name: str
    """The name in the code, with its unit: ``length_m``."""
    label: str
    """The name without the unit, for forms and calls by name: ``length``."""
    unit: str
    low: float
    high: float
    meaning: str
    default: float | None
    repeats: bool
    """True for ``*loads_ohm``: any number of values."""
    whole: bool = False

    def unit_at(self, position: int) -> str:
        """Name the unit of the n-th repeated value, from 0; ``ohm`` and ``W`` by turns for pairs of them."""
        turns = self.unit.split(", ")
        return turns[position % len(turns)]


class Specification(msgspec.Struct, frozen=True):
    """All that a formula says about itself."""

    name: str
    subject: str
    """The module that holds it: ``loads``, ``cables``."""
    title: str
    parameters: tuple[Parameter, ...]
    unit: str
    """Unit of the result; empty for a bare number."""
    low: float
    high: float
    result: str
    formula: str
    valid: str
    raises: str
    source: str
    example: str


_registry: dict[str, Callable[..., Any]] = {}


def formula(function: Function) -> Function:
    """Register a formula under its name and return it unchanged.

    Raises ValueError when two formulas have one name, since the calculator calls them by name.
    """
    name = function.__name__
    if name in _registry and _registry[name].__module__ != function.__module__:
        raise ValueError(f"two formulas are called {name}: {_registry[name].__module__}, {function.__module__}")
    _registry[name] = function
    return function


def is_formula(function: Callable[..., Any]) -> bool:
    """Tell whether this very function was declared as a formula."""
    return _registry.get(getattr(function, "__name__", "")) is function


@cache
def specification(function: Callable[..., Any]) -> Specification:
    """Work out what a formula's annotations and docstring declare.

    Raises ValueError for a formula that lacks a unit, a range or a labelled line of its docstring.
    """
    import inspect

    name = function.__name__
    hints = get_type_hints(function, include_extras=True)
    title, meanings, labels = _read_docstring(name, inspect.getdoc(function) or "")
    parameters = []
    for parameter in inspect.signature(function).parameters.values():
        declared = _declared(hints.get(parameter.name), f"{name}: {parameter.name}")
        if parameter.name not in meanings:
            raise ValueError(f"{name}: {parameter.name} is not described in the docstring")
        default = parameter.default
        parameters.append(
            Parameter(
                name=parameter.name,
                label=_without_unit(parameter.name),
                unit=declared.unit,
                low=declared.low,
                high=declared.high,
                meaning=meanings[parameter.name],
                default=None if default is inspect.Parameter.empty else default,
                repeats=parameter.kind is inspect.Parameter.VAR_POSITIONAL,
                whole=declared.whole,
            )
        )
    result = _declared(hints.get("return"), f"{name}: result")
    return Specification(
        name=name,
        subject=function.__module__.rpartition(".")[2],
        title=title,
        parameters=tuple(parameters),
        unit=result.unit,
        low=result.low,
        high=result.high,
        **{label.lower(): labels[label] for label in LABELS},
    )


def _declared(hint: Any, where: str) -> In:
    """Find the unit and range of one annotation; unions carry them on their first annotated member."""
    if get_origin(hint) is Annotated:
        for extra in get_args(hint)[1:]:
            if isinstance(extra, In):
                return extra
    for member in get_args(hint):
        if get_origin(member) is Annotated:
            return _declared(member, where)
    raise ValueError(f"{where} declares no unit and range")


def _read_docstring(name: str, doc: str) -> tuple[str, dict[str, str], dict[str, str]]:
    """Split a docstring into its title, the parameters' meanings and the labelled lines."""
    title, _, body = doc.partition("\n")
    meanings: dict[str, str] = {}
    labels: dict[str, str] = {}
    current: tuple[dict[str, str], str] | None = None
    for line in body.splitlines():
        head, colon, rest = line.partition(":")
        if not line.strip():
            current = None
        elif colon and not line.startswith(" ") and head in LABELS:
            labels[head] = rest.strip()
            current = (labels, head)
        elif colon and not line.startswith(" ") and head.isidentifier():
            meanings[head] = rest.strip()
            current = (meanings, head)
        elif current is not None:
            current[0][current[1]] += " " + line.strip()
    missing = [label for label in LABELS if not labels.get(label)]
    if not title.strip() or missing:
        raise ValueError(f"{name}: the docstring lacks {', '.join(missing) or 'a title'}")
    return title.strip(), meanings, labels


_UNIT_SUFFIXES = (
    "_ohm_per_m", "_btu_per_h", "_ohm", "_mm2", "_mm", "_m", "_w", "_va", "_v", "_a", "_h", "_f", "_hz", "_s", "_db",
    "_dbu", "_dbv", "_dbw", "_dbm", "_c", "_j", "_pa", "_deg",
)  # fmt: skip


def _without_unit(name: str) -> str:
    """Take the unit off a parameter's name: ``length_m`` is called ``length``."""
    for suffix in _UNIT_SUFFIXES:
        if name.endswith(suffix) and len(name) > len(suffix):
            return name.removesuffix(suffix)
    return name
