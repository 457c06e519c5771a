"""All pages as one HTML file that needs nothing else: styles for screen, phone and paper, drawings, no script.

Every text passes through the template's escaping; what stands in the styles is spelled letter by letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fieldkit.sheets.cell_text import cell_text, heading, is_numeric
from fieldkit.sheets.diagram import diagram_picture
from fieldkit.sheets.page import Block, Cell, Column, Diagram, Items, Page, RackDrawing, RunDrawing, Stickers, Table
from fieldkit.sheets.shapes import Picture, rack_pictures, run_pictures
from fieldkit.text.widths import cells

LINE_LETTERS = 100
"""So many letters stand side by side on paper, all columns together; a text that is short enough is not broken."""

LONG_WORD = 16
"""Longer words than this may be broken anywhere, so that a table fits its paper."""

ROOMY = 14
"""A text of more letters than this gets a column of some width, where there are many columns."""

SMALL_MM, SMALLEST_MM = 3.0, 1.4
"""Small letters on a sticker; where there is much to say they are set smaller, down to what can still be read."""

TEMPLATE = Path(__file__).with_name("sheets.html.j2")


def pages_html(pages: Sequence[Page]) -> str:
    """Write the pages as one file."""
    template = environment().get_template(TEMPLATE.name)
    shown = [(page, [_shown(block) for block in page.printed]) for page in pages]
    return f"{template.render(pages=shown, name=pages[0].show if pages else '')}\n"


def environment() -> Any:
    """Make what reads the templates: every text in them is escaped unless a template says that it is markup."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATE.parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"css_text": css_text, "number": _number}
    return made


def css_text(text: str) -> str:
    """Write a text as a quoted text of a style sheet, each letter that could mean something by its number."""
    plain = "".join(mark if mark.isascii() and mark.isalnum() else f"\\{ord(mark):06x}" for mark in text[:80])
    return f'"{plain}"'


def _number(value: float) -> str:
    """Write a coordinate in as few digits as it needs."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _shown(block: Block) -> dict[str, Any]:
    """Prepare a block for the template: its kind, itself, and what is computed from it."""
    shown: dict[str, Any] = {"kind": type(block).__name__, "block": block}
    shown["aside"] = isinstance(block, Table | Items) and block.aside
    shown["large"] = isinstance(block, Table) and block.large
    if isinstance(block, Table):
        shown |= _table(block)
    elif isinstance(block, RunDrawing):
        shown["pictures"] = run_pictures(block)
    elif isinstance(block, RackDrawing):
        pictures: tuple[Picture, ...] = rack_pictures(block)
        shown["pictures"] = pictures
    elif isinstance(block, Diagram):
        shown["pictures"] = (diagram_picture(block),) if block.marks else ()
    elif isinstance(block, Stickers):
        shown["labels"] = [(name, *_sticker_mm(name, lines, block), lines) for name, lines in block.labels]
    return shown


def _sticker_mm(name: str, lines: Sequence[str], block: Stickers) -> tuple[float, float]:
    """Compute the height of the large and of the small letters on a sticker, so that all of it fits [mm].

    A large letter is 0.62 of its height wide, a small one 0.56 on the average; a small line is 1.25 of it high.
    """
    wide, high = block.width_mm - 5.0, block.height_mm - 4.0
    large = max(2.0, min(block.height_mm * 0.25, wide / (0.62 * max(1, cells(name)))))
    rows = -(-0.62 * large * max(1, cells(name)) // wide)
    small = SMALL_MM
    while small > SMALLEST_MM:
        taken = sum(max(1.0, -(-0.56 * small * (cells(line) + 4) // wide)) for line in lines)
        if 1.1 * large * rows + 1.25 * small * taken <= high:
            break
        small -= 0.1
    return large, small


def _table(table: Table) -> dict[str, Any]:
    """Leave out columns that are empty throughout, and gather rows under their group."""
    start = 1 if table.grouped else 0
    places = [
        place
        for place in range(start, len(table.columns))
        if table.columns[place].write or any(row[place] not in {None, ""} for row in table.rows)
    ]
    columns = [table.columns[place] for place in places]
    short = LINE_LETTERS // max(1, len(columns))
    groups: list[tuple[str, list[tuple[bool, list[tuple[str, str, bool]]]]]] = []
    for number, row in enumerate(table.rows):
        error = bool(table.errors and table.errors[number])
        group = cell_text(row[0], table.columns[0]) if start else ""
        if not groups or groups[-1][0] != group:
            groups.append((group, []))
        shown = [_shown_cell(row[place], table.columns[place], short) for place in places]
        if error and shown:
            text, kinds, turned = shown[0]
            shown[0] = (f"! {text}", kinds, turned)
        groups[-1][1].append((error, shown))
    heads = [(title := heading(column), is_numeric(column), column.write, cells(title) <= short) for column in columns]
    return {"heads": heads, "groups": groups}


def _shown_cell(cell: Cell, column: Column, short: int) -> tuple[str, str, bool]:
    """Return a cell's text, its classes, and whether the browser must find out its writing direction."""
    text = cell_text(cell, column)
    kinds = ["write"] if column.write else ["number"] if is_numeric(column) else []
    kinds += ["short"] if cells(text) <= short else []
    kinds += ["roomy"] if cells(text) > ROOMY and not is_numeric(column) else []
    kinds += ["long"] if len(text) > LONG_WORD and max(map(len, text.split()), default=0) > LONG_WORD else []
    return text, " ".join(kinds), not text.isascii()
