"""The return list: what went out, what came back, what is faulty, what is missing, and whose it is."""

from __future__ import annotations

from collections import Counter

from fieldkit.sheets.material import Material
from fieldkit.sheets.packing import goes_to, gone, pieces
from fieldkit.sheets.page import Cell, Column, Page, Table, Words
from fieldkit.show.document import Stock

WORDS = (
    (
        "Out is what is on the truck: all that is hired, and of one's own what the plan and its spares need. Count "
        "what comes in; out less in is missing. Faulty is what the stock has out of service, and what gets a tag today."
    ),
)


def return_page(material: Material) -> Page:
    """Make the page."""
    columns = (
        *(Column(title) for title in ("goes to", "model", "length", "serial", "out")),
        Column("in", write=True),
        Column("faulty", write=True),
        Column("missing", write=True),
        *(Column(title) for title in ("due back", "note")),
    )
    travelling = pieces(material)
    rows = [_row(item, out, material) for item, out in gone(material, travelling) if out or item.out]
    listed = {item.model for item in material.show.stock}
    others = Counter[tuple[str, str]]()
    for piece in travelling:
        if piece.model not in listed:
            others[piece.model, piece.length] += piece.wanted
    rows += [
        ("not in the stock list", model, length, "", count, None, None, None, "", "")
        for (model, length), count in others.items()
    ]
    rows.sort(key=lambda row: (row[0] == "own", str(row[0])))
    table = Table(
        "return", "What comes back", columns, tuple(rows), grouped=True, compared=False, empty="no stock is listed"
    )
    return Page("return", "Return list", (Words(WORDS), table))


def _row(item: Stock, out: int, material: Material) -> tuple[Cell, ...]:
    missing = max(0, out - item.back) if item.back is not None else None
    due = item.due.isoformat() if item.due else ""
    head = (goes_to(item), item.model, material.length(item.length), item.serial, out)
    return *head, item.back, item.out or None, missing, due, item.note
