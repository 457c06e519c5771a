"""How the cells and headings of a table are written."""

from __future__ import annotations

from fieldkit.sheets.page import Cell, Column
from fieldkit.units import format_number, unit_text
from fieldkit.units.lookup import known_unit

LEVELS = ("dBu", "dBV", "dBFS", "dB")
"""Written with one decimal: nobody sets a level finer."""


def cell_text(cell: Cell, column: Column, *, with_unit: bool = False) -> str:
    """Write a cell: a text as it is, a number with the digits of its column."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    number = f"{cell:.1f}" if column.unit in LEVELS else format_number(cell, column.digits)
    return f"{number} {unit_symbol(column)}".rstrip() if with_unit else number


def heading(column: Column) -> str:
    """Write the heading of a column with the unit of its numbers."""
    unit = unit_symbol(column)
    return f"{column.title} ({unit})" if unit else column.title


def unit_symbol(column: Column) -> str:
    """Return the symbol of a column's unit; empty for none."""
    if not column.unit:
        return ""
    unit = known_unit(column.unit)
    return column.unit if unit is None else unit_text(unit)  # a level in the host, dBFS, is no unit of measure


def is_numeric(column: Column) -> bool:
    """Tell whether a column holds numbers, to be set to the right."""
    return bool(column.unit)
