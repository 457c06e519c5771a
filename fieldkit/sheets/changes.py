"""What changed since an older show, told by the pages that a crew holds: which to print again, and what is new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fieldkit.sheets.cell_text import cell_text
from fieldkit.sheets.page import Cell, Column, Items, Page, RunDrawing, Table, Words

MOST = 200
"""So many changes of one table are told; more than that is another show."""

Row = tuple[Cell, ...]


def changes_page(before: Mapping[str, Page], after: Mapping[str, Page]) -> Page:
    """Make the page from two sets of pages. What a page of one place says again is told once, where it comes first."""
    stale = [page for key, page in after.items() if key not in before or page.mark != before[key].mark]
    rows = [(page.title, before[page.key].mark if page.key in before else "new", page.mark) for page in stale]
    rows += [(page.title, page.mark, "no more") for key, page in before.items() if key not in after]
    columns = (Column("page"), Column("was"), Column("is now"))
    again = Table(
        "print-again", "Print again", columns, tuple(rows), compared=False, empty="nothing: every page is as it was"
    )
    said: set[tuple[str, ...]] = set()
    told: list[Items] = []
    for key, page in after.items():
        empty = Page(page.key, page.title, ())
        found = [item for item in _told(before.get(key, empty), page) if item not in said]
        said.update(found)
        told += [Items(tuple(found), page.title)] if found else []
    words = (Words(("No fact on these pages has changed.",)),) if not told else ()
    return Page("changes", "What changed", (again, *words, *told))


def _told(before: Page, after: Page) -> Iterator[tuple[str, ...]]:
    old = {table.name: table for table in before.tables}
    for table in after.tables:
        if table.compared:
            told = list(_changes(old.get(table.name, _emptied(table)), table))
            yield from ((text,) for text in told[:MOST])
            if len(told) > MOST:
                yield (f"{table.title}: and {len(told) - MOST} more",)
    for name, table in old.items():
        if table.compared and name not in {other.name for other in after.tables}:
            yield from ((text,) for text in _changes(table, _emptied(table)))
    notes = {block.name: block.title for block in before.blocks if isinstance(block, RunDrawing)}
    for block in after.blocks:
        if isinstance(block, RunDrawing) and notes.get(block.name, block.title) != block.title:
            yield (f"run {block.title}; was {notes[block.name]}",)


def _emptied(table: Table) -> Table:
    return Table(table.name, table.title, table.columns, (), table.keys)


def _changes(old: Table, new: Table) -> Iterator[str]:
    """Tell the rows of a table that are new, gone, or have another cell."""
    was, now = _by_key(old), _by_key(new)
    for key, row in now.items():
        name = _named(key)
        if key not in was:
            yield f"{new.title}: new: {_row_text(row, new)}"
        elif was[key] != row:
            parts = [
                f"{column.title} {_cell(cell, column) or 'nothing'}, was {_cell(other, column) or 'nothing'}"
                for column, cell, other in zip(new.columns, row, was[key], strict=True)
                if _cell(cell, column) != _cell(other, column)
            ]
            if parts:
                yield f"{new.title}: {name}: {'; '.join(parts)}"
    for key, row in was.items():
        if key not in now:
            yield f"{new.title}: no more: {_row_text(row, old)}"


def _by_key(table: Table) -> dict[Row, Row]:
    """Index rows by their keys; rows of the same key are told apart by their number."""
    found: dict[Row, Row] = {}
    for row in table.rows:
        key, number = tuple(row[place] for place in table.keys), 1
        while key in found:
            number += 1
            key = (*(row[place] for place in table.keys), number)
        found[key] = row
    return found


def _named(key: Row) -> str:
    return " ".join(str(part) for part in key if part not in {"", None})


def _row_text(row: Row, table: Table) -> str:
    parts = list(zip(row, table.columns, strict=True))
    keys = [text for place in table.keys if (text := _cell(*parts[place]))]
    rest = [
        f"{column.title} {text}"
        for place, (cell, column) in enumerate(parts)
        if place not in table.keys and (text := _cell(cell, column))
    ]
    return f"{' '.join(keys)} ({', '.join(rest)})" if rest else " ".join(keys)


def _cell(cell: Cell, column: Column) -> str:
    return cell_text(cell, column, with_unit=True)
