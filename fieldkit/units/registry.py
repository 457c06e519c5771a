"""The calculator's pint registry, made from the same table; only the calculator imports this module.

pint is imported on first use, and never sees what a person typed: its string parser reads '2,5 mm' as 25 mm,
'5 ft 3 in' as 15 ft·in and '' as 1. Levels (dBu, dBV, dBW, dBm) and wire gauges are no pint units: pint's
logarithmic arithmetic makes 32 dBu of 20 dBu + 6 dB. They become volts, watts or mm² here. dB is a dimension
of its own, so that it adds only to itself. VA is volts times amperes, and converts to watts.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Sequence
from functools import cache
from types import ModuleType
from typing import Any, TypeAlias

from .conversion import from_computing, to_computing
from .errors import UnitError
from .lookup import find_unit
from .table import PREFIXES, ROWS, UNITS, Unit

PintRegistry: TypeAlias = Any
PintUnit: TypeAlias = Any
PintQuantity: TypeAlias = Any
"""What pint makes, as the three. It takes a tenth of a second to import, so none of its names stands here."""


class _NoNumpy:
    """Keeps numpy from pint, which takes it up wherever it is installed: 13 MB of memory that plain numbers do without.

    Another thread may import numpy meanwhile, for the solver of plans: this is only for the thread that made it.
    """

    def __init__(self) -> None:
        self._thread = threading.get_ident()

    def find_spec(self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None) -> None:
        """Find nothing. Raises ModuleNotFoundError for numpy, which pint takes for not installed."""
        del path, target
        if fullname == "numpy" and threading.get_ident() == self._thread:
            raise ModuleNotFoundError("numpy is kept from pint", name=fullname)


@cache
def registry() -> PintRegistry:
    """Build the one registry when it is first asked for."""
    sys.meta_path.insert(0, no_numpy := _NoNumpy())
    try:
        import pint
    finally:
        sys.meta_path.remove(no_numpy)

    built: PintRegistry = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    built.load_definitions(definitions())
    return built


def definitions() -> list[str]:
    """Write the table as pint's definitions."""
    lines = [f"{name}- = {factor!r} = {symbol}-" for symbol, (name, factor) in PREFIXES.items()]
    lines.append("radian = []")
    for unit in ROWS:
        if unit.definition == "-":
            continue
        symbol = f" = {unit.shown or unit.symbol}" if _is_name(unit.shown or unit.symbol) else ""
        lines.append(f"{unit.name} = {unit.definition or _by_factor(unit)}{symbol}")
    return lines


def pint_unit(symbol: str) -> PintUnit:
    """Look up the pint unit of a spelling of ours; that of the computing unit for a level or a gauge.

    '' is dimensionless. Raises UnitError for an unknown unit.
    """
    return registry().Unit(_pint_name(symbol))


@cache
def _pint_name(symbol: str) -> str:
    if not symbol:
        return "dimensionless"
    unit = find_unit(symbol)
    if UNITS[unit.stem or unit.symbol].definition == "-":
        unit = find_unit(unit.computes_in)
    return unit.name


def to_pint(value: float, symbol: str) -> PintQuantity:
    """Make a pint quantity of a number in a unit of ours; a level or a gauge becomes V, W or mm²."""
    unit = find_unit(symbol) if symbol else None
    if unit is not None and unit.scale != "linear":
        value = to_computing(value, unit)
    return registry().Quantity(value, pint_unit(symbol))


def from_pint(quantity: PintQuantity, symbol: str) -> float:
    """Convert a pint quantity to a number in a unit of ours. Raises UnitError for another dimension."""
    import pint  # as registry() has imported it, without numpy

    try:
        number = float(quantity.to(pint_unit(symbol)).magnitude)
    except pint.DimensionalityError as error:
        raise UnitError(str(quantity.units), f"a quantity in {symbol or 'no unit'}") from error
    unit = find_unit(symbol) if symbol else None
    return number if unit is None or unit.scale == "linear" else from_computing(number, unit)


def pint_units() -> tuple[Unit, ...]:
    """List the units, prefixed ones included, that the registry knows."""
    return tuple(unit for unit in UNITS.values() if UNITS[unit.stem or unit.symbol].definition != "-")


def _by_factor(unit: Unit) -> str:
    base = find_unit(unit.computes_in)
    return f"{unit.factor!r} * {base.name}"


def _is_name(symbol: str) -> bool:
    return symbol.isidentifier() or symbol in ("°", "°C", "°F")
