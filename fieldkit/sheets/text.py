"""A page as plain text, 80 columns wide unless told: to read over SSH, and to send to a printer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fieldkit.sheets.cell_text import cell_text, heading, is_numeric
from fieldkit.sheets.diagram import diagram_lines
from fieldkit.sheets.page import (
    Block,
    Diagram,
    Form,
    Items,
    Page,
    RackDrawing,
    RackSlot,
    RunDrawing,
    Stickers,
    Stop,
    Table,
    Words,
)
from fieldkit.text.widths import cells, padded, wrapped

WIDTH = 80
MINIMUM_WIDTH = 40
"""Narrower than this a page is not made; it is then wider than the room."""
GAP = 2
LEAST = 6
"""Narrower than this a column of words cannot be read."""
LINE = "_" * 8


def page_text(page: Page, width: int = WIDTH) -> str:
    """Write a page, so many columns wide; 40 is the least."""
    width = max(width, MINIMUM_WIDTH)
    lines = [*_head(page, width)]
    for block in page.printed:
        lines += ["", *_block(block, width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(page: Page, width: int) -> Iterator[str]:
    mark = f"revision {page.mark}"
    yield from wrapped(page.show, width)
    yield padded(page.title.upper(), width - cells(mark)) + mark
    yield "=" * width
    for text in page.banner:
        yield from _hung("!! ", text, width)
    if page.banner:
        yield "=" * width


def _block(block: Block, width: int) -> Iterator[str]:
    if isinstance(block, Table):
        yield from _table(block, width)
    elif isinstance(block, Words):
        yield from _titled(block.title, width)
        for paragraph in block.paragraphs:
            yield from wrapped(paragraph, width)
    elif isinstance(block, Items):
        yield from _titled(block.title, width)
        yield from _items(block, width)
    elif isinstance(block, RunDrawing):
        yield from _run(block, width)
    elif isinstance(block, RackDrawing):
        yield from _rack(block, width)
    elif isinstance(block, Diagram):
        yield from _titled(block.title, width)
        yield from diagram_lines(block) if block.marks else [block.empty]
    elif isinstance(block, Form):
        yield from _form(block, width)
    else:
        yield from _stickers(block, width)


def _titled(title: str, width: int) -> Iterator[str]:
    if title:
        yield from wrapped(title, width)
        yield "-" * min(width, cells(title))


def _hung(lead: str, text: str, width: int) -> Iterator[str]:
    """Write a text after a lead, what follows under its first word."""
    indent = " " * cells(lead)
    for number, line in enumerate(wrapped(text, width - cells(lead))):
        yield (indent if number else lead) + line


def _items(block: Items, width: int) -> Iterator[str]:
    for item in block.items:
        for number, text in enumerate(item):
            yield from _hung("    - " if number else "* ", text, width)
    if not block.items:
        yield from wrapped(block.empty, width)


# ---- tables ---------------------------------------------------------------------------------------------------


def _table(table: Table, width: int) -> Iterator[str]:
    yield from _titled(table.title, width)
    if not table.rows:
        yield from wrapped(table.empty, width)
        return
    start = 1 if table.grouped else 0
    columns = table.columns[start:]
    rows = [
        [
            cell_text(cell, column) or (LINE if column.write else "")
            for cell, column in zip(row, table.columns, strict=True)
        ]
        for row in table.rows
    ]
    shown = [place for place in range(len(columns)) if any(row[start + place] for row in rows)]
    heads = [heading(columns[place]) for place in shown]
    bodies = [[row[start + place] for place in shown] for row in rows]
    for place, error in enumerate(table.errors):
        bodies[place][0] = f"! {bodies[place][0]}".rstrip() if error else bodies[place][0]
    right = [is_numeric(columns[place]) for place in shown]
    widths = _widths(heads, bodies, width - GAP * start)
    group = None
    indent = " " * GAP * start
    if widths is not None:
        yield from (indent + line for line in _row(heads, widths, right))
    for row, body in zip(rows, bodies, strict=True):
        if start and row[0] != group:
            group = row[0]
            yield from _hung("", group or "-", width)
        if widths is None:
            yield from _record(heads, body, indent, width)
        else:
            yield from (indent + line for line in _row(body, widths, right))


def _widths(heads: Sequence[str], rows: Sequence[Sequence[str]], room: int) -> list[int] | None:
    """Share the room among the columns: the widest gives way first. None where words could not be read any more."""
    columns = [(head, *(row[place] for row in rows)) for place, head in enumerate(heads)]
    widths = [max(cells(text) for text in column) for column in columns]
    # A column may be as narrow as its longest word, within reason: longer words are cut.
    minimum = [
        max(LEAST, min(12, max(cells(word) for text in column for word in text.split() or [""]))) for column in columns
    ]
    minimum = [min(narrow, wide) for narrow, wide in zip(minimum, widths, strict=True)]
    room -= GAP * (len(heads) - 1)
    if sum(minimum) > room:
        return None
    while sum(widths) > room:
        over = [width - narrow for width, narrow in zip(widths, minimum, strict=True)]
        widest = max((place for place in range(len(widths)) if over[place] > 0), key=widths.__getitem__)
        widths[widest] -= 1
    return widths


def _row(row: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> Iterator[str]:
    parts = [wrapped(cell, width) for cell, width in zip(row, widths, strict=True)]
    for index in range(max(len(part) for part in parts)):
        line = [part[index] if index < len(part) else "" for part in parts]
        yield (
            (" " * GAP)
            .join(padded(text, width, right=side) for text, width, side in zip(line, widths, right, strict=True))
            .rstrip()
        )


def _record(heads: Sequence[str], row: Sequence[str], indent: str, width: int) -> Iterator[str]:
    """Write a row that is too wide as a paragraph: its first cell, and under it each other one with its heading."""
    yield from _hung(indent, row[0], width)
    parts = [f"{head} {cell}" for head, cell in zip(heads[1:], row[1:], strict=True) if cell]
    yield from _hung(f"{indent}  ", "; ".join(parts), width)


# ---- drawings -------------------------------------------------------------------------------------------------


def _run(drawing: RunDrawing, width: int) -> Iterator[str]:
    yield from _titled(drawing.title, width)
    lanes = drawing.lanes
    yield " " + "".join(f"{lane:<3}" for lane in lanes)
    for stop in drawing.stops:
        yield from _stop(stop, lanes, width)


def _stop(stop: Stop, lanes: Sequence[str], width: int) -> Iterator[str]:
    """Draw one piece: the lanes at the left, what it is beside them."""
    into = {near for near, _ in stop.joins}
    onward = {far for _, far in stop.joins if far}
    crossing = any(far and far != near for near, far in stop.joins)
    first = "".join(_lane_mark(lane, stop, into, crossing=crossing) for lane in lanes)
    after = "".join(" |  "[:3] if lane in onward else "   " for lane in lanes)
    edge = "[" if stop.kind in {"socket", "box"} else " "
    indent = " " * 2
    for number, line in enumerate(wrapped(stop.title, width - len(first) - 4)):
        yield (after if number else first) + indent + (f"{edge}{line}{']' if edge == '[' else ''}")
    for detail in stop.details:
        for line in wrapped(detail, width - len(first) - 6):
            yield after + indent + "  " + line


def _lane_mark(lane: str, stop: Stop, into: set[str], *, crossing: bool) -> str:
    far = dict(stop.joins).get(lane)
    if lane not in into:
        mark = " "
    elif stop.kind == "socket":
        mark = "+"
    elif lane in stop.taps:
        mark = "O"
    elif not far and stop.kind != "box":
        mark = "!"
    elif crossing and far != lane:
        mark = "x"
    else:
        mark = "|"
    return f" {mark} "


def _rack(drawing: RackDrawing, width: int) -> Iterator[str]:
    yield from _titled(drawing.title, width)
    top = drawing.units
    at = {unit: slot for slot in reversed(drawing.slots) for unit in range(slot.unit, slot.unit + slot.height)}
    said: set[int] = set()
    for unit in range(top, 0, -1):
        slot = at.get(unit)
        lead = f"{unit:>4} |"
        if slot is None:
            yield f"{lead}"
        elif id(slot) in said:
            continue
        else:
            said.add(id(slot))
            yield from _slot(slot, unit, width)
    for slot in drawing.unplaced:
        yield from _slot(slot, 0, width)


def _slot(slot: RackSlot, top: int, width: int) -> Iterator[str]:
    """Draw what is in a rack from its highest unit down, each unit a line, more where it has more to say."""
    inside = width - 8
    texts = [*wrapped(slot.title, inside)]
    for detail in slot.details:
        texts += [f"  {line}" for line in wrapped(detail, inside - 2)]
    for kind in ("in", "out"):
        said = [f"{socket.name}: {' '.join(socket.cables) or '-'}" for socket in slot.sockets if socket.kind == kind]
        if said:
            texts += [f"  {line}" for line in wrapped(f"{kind} " + "; ".join(said), inside - 2)]
    for number in range(max(slot.height, len(texts))):
        unit = f"{top - number:>4}" if number < min(top, slot.height) else "    "
        unit = "   ?" if not top and not number else unit
        text = texts[number] if number < len(texts) else ""
        yield f"{unit} {'[' if number < slot.height else ' '} {text}"


def _form(form: Form, width: int) -> Iterator[str]:
    yield "+" + "-" * (width - 2) + "+"
    for line in (form.title, *(f"{name}: {value or LINE * 4}" for name, value in form.fields)):
        for part in wrapped(line, width - 4):
            yield "| " + padded(part, width - 4) + " |"
    yield "+" + "-" * (width - 2) + "+"


def _stickers(block: Stickers, width: int) -> Iterator[str]:
    yield from wrapped(f"{len(block.labels)} stickers of {block.size} to cut out are in the HTML file.", width)
