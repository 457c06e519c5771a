"""Tables for a spreadsheet: one CSV file each, as RFC 4180 has it, and safe to open.

A spreadsheet takes a cell that begins with = + - @ or their wide forms for a formula, also behind spaces; such a text
gets an apostrophe in front, which spreadsheets know as "this is text". Numbers of the program stay numbers.

It stands alone, as each format of the pages does.
"""

from __future__ import annotations

import csv
import io

from fieldkit.sheets.cell_text import heading
from fieldkit.sheets.page import Cell, Column, Table
from fieldkit.units import format_number

ERROR = "error"
"""Heading of the last column, which stands only where a row has an error."""
FORMULA_SIGNS = tuple("=+-@\t\r＝＋－＠")


def table_csv(table: Table) -> str:
    """Write a table with its headings."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    heads = [safe_cell(heading(column)) for column in table.columns]
    writer.writerow([*heads, ERROR] if table.errors else heads)
    for number, row in enumerate(table.rows):
        cells = [_written(cell, column) for cell, column in zip(row, table.columns, strict=True)]
        writer.writerow([*cells, safe_cell(table.errors[number])] if table.errors else cells)
    return out.getvalue()


def _written(cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return safe_cell(cell)
    return str(cell) if isinstance(cell, int) else format_number(cell, max(column.digits, 6))


def safe_cell(text: str) -> str:
    """Keep a spreadsheet from taking a text for a formula."""
    return f"'{text}" if text.lstrip().startswith(FORMULA_SIGNS) or text.startswith(("\t", "\r")) else text
