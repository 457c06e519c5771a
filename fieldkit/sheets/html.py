"""All pages as one HTML file that needs nothing else: styles for screen, phone and paper, drawings, no script.

Every text passes through the template's escaping; what stands in the styles is spelled letter by letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

from fieldkit.sheets.cell_text import cell_text, heading, is_numeric
from fieldkit.sheets.diagram import diagram_picture
from fieldkit.sheets.page import Block, Column, Diagram, Items, Page, RackDrawing, RunDrawing, Stickers, Table
from fieldkit.sheets.shapes import Dot, Frame, Picture, Stroke, rack_pictures, run_pictures
from fieldkit.text.widths import cells

LINE_LETTERS = 100
"""So many letters stand side by side on paper, all columns together; a text that is short enough is not broken."""

LONG_WORD = 16
"""Longer words than this may be broken anywhere, so that a table fits its paper."""

ROOMY = 14
"""A text of more letters than this gets a column of some width, where there are many columns."""

SMALL_MM, SMALLEST_MM = 3.0, 1.4
"""Small letters on a sticker; where there is much to say they are set smaller, down to what can still be read."""

NARROW = 3
"""A table of more columns than this is shown row by row on a phone."""

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
        shown["pictures"] = [_svg(part, block.title) for part in run_pictures(block)]
    elif isinstance(block, RackDrawing):
        shown["pictures"] = [_svg(part, block.title) for part in rack_pictures(block)]
    elif isinstance(block, Diagram):
        shown["pictures"] = [_svg(diagram_picture(block), block.title)] if block.marks else []
    elif isinstance(block, Stickers):
        shown["labels"] = [(name, *_sticker_mm(name, lines, block), lines) for name, lines in block.labels]
    return shown


def _svg(picture: Picture, said: str) -> str:
    """Write a picture as SVG; its texts are escaped here."""
    n = _number
    parts = [
        f'<svg viewBox="0 0 {n(picture.width)} {n(picture.height)}" role="img" aria-label="{escape(said, quote=True)}">'
    ]
    for _, shape in picture.shapes:
        if isinstance(shape, Stroke):
            ends = f'x1="{n(shape.x1)}" y1="{n(shape.y1)}" x2="{n(shape.x2)}" y2="{n(shape.y2)}"'
            parts.append(f'<line class="{shape.style}" {ends}/>')
        elif isinstance(shape, Frame):
            size = f'x="{n(shape.x)}" y="{n(shape.y)}" width="{n(shape.width)}" height="{n(shape.height)}"'
            parts.append(f'<rect class="frame {shape.style}" {size}/>')
        elif isinstance(shape, Dot):
            filled = " filled" if shape.filled else ""
            parts.append(f'<circle class="dot{filled}" cx="{n(shape.x)}" cy="{n(shape.y)}" r="4"/>')
        else:
            look = (" class=bold" if shape.bold else "") + (" text-anchor=middle" if shape.middle else "")
            parts.append(f'<text{look} x="{n(shape.x)}" y="{n(shape.y)}">{escape(shape.text)}</text>')
    return "\n".join([*parts, "</svg>"])


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
    wide = len(columns) > NARROW
    titles = [f' data-title="{escape(heading(column))}"' if wide else "" for column in columns]
    groups: list[tuple[str, list[str]]] = []
    for number, row in enumerate(table.rows):
        error = bool(table.errors and table.errors[number])
        group = cell_text(row[0], table.columns[0]) if start else ""
        if not groups or groups[-1][0] != group:
            groups.append((group, []))
        texts = [cell_text(row[place], column) for place, column in zip(places, columns, strict=True)]
        if error and texts:
            texts[0] = f"! {texts[0]}"
        shown = [_cell_html(*parts, short) for parts in zip(texts, columns, titles, strict=True)]
        style = f' style="height:{_number(table.row_mm)}mm"' if table.row_mm else ""
        groups[-1][1].append(f"<tr{' class=error' if error else ''}{style}>{''.join(shown)}</tr>")
    heads = [(title := heading(column), is_numeric(column), column.write, cells(title) <= short) for column in columns]
    return {"heads": heads, "groups": groups, "wide": wide}


def _cell_html(text: str, column: Column, title: str, short: int) -> str:
    """Write a cell with its classes; its text is escaped here."""
    size, numeric = cells(text), is_numeric(column)
    kinds = ["write"] if column.write else ["number"] if numeric else []
    if size <= short:
        kinds.append("short")
    if size > ROOMY and not numeric:
        kinds.append("roomy")
    if size > LONG_WORD and max(map(len, text.split()), default=0) > LONG_WORD:
        kinds.append("long")
    kind = f' class="{" ".join(kinds)}"' if kinds else ""
    turned = "" if text.isascii() else ' dir="auto"'
    return f"<td{kind}{title}{turned}>{escape(text)}</td>"
