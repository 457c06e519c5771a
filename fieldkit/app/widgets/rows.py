"""A table drawn from the model: rows of text, a header that stays, a cursor that costs two lines of repaint."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from fieldkit.app.action_table import FILTER
from fieldkit.app.actions import bindings
from fieldkit.app.widgets.cells import ListColumn, aligned, clipped, fitted
from fieldkit.app.widgets.lines import clip_mark
from fieldkit.text.style import in_ascii
from fieldkit.text.words import folded

__all__ = ["ListColumn", "Row", "Rows"]


WHOLE_ROW = {"quiet", "heading"}
"""Marks that are for a whole row."""


class Row(msgspec.Struct, frozen=True):
    """A row: its key, by which the cursor finds it again after a change, and its cells."""

    key: str
    cells: tuple[str, ...]
    mark: str = ""
    """``error`` and ``warning`` colour the first cell, on top of what the text says already; ``quiet`` and ``heading``
    are for the whole row."""
    wide: bool = False
    """A row of one text across all columns, its first cell."""
    words: str = ""
    """More by which it is found when the table is filtered: of a box, its zone."""
    heavy: bool = False
    """A row with columns that outweighs the rows below it, which belong to it."""
    second: str = ""
    """The key of another thing that this row tells of, in the columns of the table's second half. A row may tell of
    that one alone, and has no key of its own then."""

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of what it tells of."""
        return tuple(key for key in (self.key, self.second) if key)


class Rows(ScrollView, can_focus=True):
    """Rows with a cursor. It holds no truth: it is given rows, and says what was chosen."""

    DEFAULT_CSS = """
    Rows { height: 1fr; overflow-x: hidden; scrollbar-size-vertical: 0; }
    """
    COMPONENT_CLASSES = {"rows--head", "rows--cursor", "rows--error", "rows--warning", "rows--quiet", "rows--heading"}
    BINDINGS = [
        Binding("down,j", "step(1)", "down", show=False),
        Binding("up,k", "step(-1)", "up", show=False),
        Binding("pagedown,ctrl+f", "page(1)", "page down", show=False),
        Binding("pageup,ctrl+u", "page(-1)", "page up", show=False),
        Binding("home", "edge(0)", "first", show=False),
        Binding("end", "edge(-1)", "last", show=False),
        Binding("right", "half(1)", "across"),
        Binding("left", "half(0)", "across"),
        Binding("enter", "choose", "open", show=False),
        *bindings("tables", (FILTER,)),
    ]

    class Moved(Message):
        """The cursor stands on another row."""

        def __init__(self, rows: Rows, key: str) -> None:
            super().__init__()
            self.rows, self.key = rows, key

        @property
        def control(self) -> Rows:
            """The table it happened in."""
            return self.rows

    class Chosen(Message):
        """A row was opened."""

        def __init__(self, rows: Rows, key: str) -> None:
            super().__init__()
            self.rows, self.key = rows, key

        @property
        def control(self) -> Rows:
            """The table it happened in."""
            return self.rows

    def __init__(
        self,
        columns: Sequence[ListColumn],
        *,
        empty: str = "",
        id: str | None = None,  # noqa: A002
        filters: bool = True,
    ) -> None:
        """``filters`` is False where the window around it does that by itself."""
        super().__init__(id=id)
        self.filters = filters
        self.columns = tuple(columns)
        self.rows: tuple[Row, ...] = ()
        self.empty = empty
        self.cursor = 0
        self.halves: tuple[range, range] = range(0), range(0)
        """The columns of the first and of the second thing of rows that tell of two; the rest is about both."""
        self.half = 0
        """Which of the two the cursor stands on."""
        self.marked: set[str] = set()
        """Keys of the rows that were picked out, to do one thing to all of them."""
        self.wanted: str | None = None
        """What the rows that are shown must hold; None where all are shown."""
        self.typing = False
        """Whether keys go into the filter."""
        self._all: tuple[Row, ...] = ()
        self._widths: tuple[int, ...] = ()

    @property
    def key(self) -> str:
        """The key of the row under the cursor, or of its half; empty where there is none."""
        if not self.rows:
            return ""
        keys = self.rows[self.cursor].keys
        return keys[min(self.half, len(keys) - 1)] if keys else ""

    @property
    def keys(self) -> list[str]:
        """The keys of all that the rows tell of."""
        return [key for row in self.rows for key in row.keys]

    @property
    def _head(self) -> int:
        """Count the lines that the header takes: the filter, and the titles."""
        return (self.wanted is not None) + any(column.title for column in self.columns)

    @property
    def natural_height(self) -> int:
        """Count the lines that all rows take, with the header."""
        return max(1, len(self.rows)) + self._head

    def cut_off(self) -> tuple[str, ...]:
        """Say whole what the row under the cursor has no room for, in one line; nothing where all is seen."""
        if not self.rows or not self._widths:
            return ()
        row = self.rows[self.cursor]
        if row.wide:
            return (row.cells[0].strip(),) if cell_len(row.cells[0]) > self.scrollable_content_region.width else ()
        places = zip(self.columns, row.cells, self._widths, strict=False)
        texts = [f"{column.title} {cell.strip()}".strip() for column, cell, width in places if cell_len(cell) > width]
        return ("; ".join(texts),) if texts else ()

    @property
    def cursor_line(self) -> int:
        """Give the line of the screen that the cursor stands on."""
        return self.region.y + self._head + self.cursor - self.scroll_offset.y

    @property
    def marked_keys(self) -> list[str]:
        """List the keys of the rows that were picked out, in their order, also of those that the filter hides."""
        return [key for row in self._all for key in row.keys if key in self.marked]

    def show(self, rows: Sequence[Row], *, at_first: bool = False) -> None:
        """Show other rows, and repaint only the lines that changed.

        The cursor stays on its key, else near where it was; ``at_first``: it goes to the first, which fits best.
        """
        places = [place for place, column in enumerate(self.columns) if column.decimal]
        self._all = _with_aligned(rows, places) if places else tuple(rows)
        self._show_wanted(at_first=at_first)

    def _show_wanted(self, *, at_first: bool = False) -> None:
        """Show the rows that hold what is wanted."""
        key, before, widths = "" if at_first else self.key, self.rows, self._widths
        parts = folded(self.wanted or "").split()
        holding = (row for row in self._all if all(part in _searched(row) for part in parts))
        self.rows = tuple(holding) if parts else self._all
        places = {key: index for index, row in enumerate(self.rows) for key in row.keys}
        old_cursor = self.cursor
        near = 0 if at_first else min(self.cursor, max(0, len(self.rows) - 1))
        self.cursor = places.get(key, near) if key else near
        self._stand_on(key)
        self._measure()
        if len(before) != len(self.rows) or widths != self._widths or not before:
            self.refresh()
        else:
            changed = {index for index, (a, b) in enumerate(zip(before, self.rows, strict=True)) if a != b}
            if old_cursor != self.cursor:
                changed |= {old_cursor, self.cursor}
            for index in changed:
                self._refresh_row(index)
        self._keep_in_sight()

    def toggle_mark(self) -> None:
        """Pick the row under the cursor out, or put it back, and go on to the next."""
        if self.key:
            self.marked ^= {self.key}
            self._refresh_row(self.cursor)
            self.action_step(1)

    def clear_marks(self) -> None:
        """Put all rows back."""
        self.marked.clear()
        self.refresh()

    def move_to(self, key: str) -> bool:
        """Put the cursor on a row, whatever the filter; False where there is no such row."""
        if self.wanted is not None and key not in self.keys:
            self._filter_by(None)
        for index, row in enumerate(self.rows):
            if key in row.keys:
                self._move(index)
                self._stand_on(key)
                return True
        return False

    def render_line(self, y: int) -> Strip:
        """Draw one line: the header on top, then the rows from the scroll position on."""
        width = self.scrollable_content_region.width
        if y < self._head:
            style = self.get_component_rich_style("rows--head")
            if self.wanted is not None and y == 0:
                said = f"/{self.wanted}{'_' if self.typing else ''}   {len(self.rows)} of {len(self._all)}"
                said += f"   {'enter keeps it' if self.typing else '/ changes it'}, esc: all"
                return Strip([Segment(clipped(said, width, clip_mark(self)), style)], width)
            return self._strip(tuple(column.title for column in self.columns), style, width)
        index = y - self._head + self.scroll_offset.y
        if index >= len(self.rows):
            empty = self.empty if self.wanted is None else "no row holds that"
            text = empty if not self.rows and y == self._head else ""
            return Strip([Segment(set_cell_size(text, width), self.rich_style)])
        row = self.rows[index]
        if self.app.has_class("-ascii"):
            row = msgspec.structs.replace(row, cells=tuple(map(in_ascii, row.cells)))
        if index == self.cursor and all((row.key, row.second)):
            return self._with_half(row, width)
        return self._told(row, width, at_cursor=index == self.cursor)

    def _with_half(self, row: Row, width: int) -> Strip:
        """Draw the row under the cursor with one of its two things left out of the cursor."""
        columns = self.halves[1 - self.half]
        starts = [sum(self._widths[:place]) + 2 * place for place in (columns.start, columns.stop)]
        left, right = starts[0], min(width, starts[1] - 2)
        on, off = (self._told(row, width, at_cursor=at_cursor) for at_cursor in (True, False))
        return Strip.join([on.crop(0, left), off.crop(left, right), on.crop(right, width)])

    def _told(self, row: Row, width: int, *, at_cursor: bool) -> Strip:
        """Draw a row, or the cursor on it."""
        style = first = self.rich_style
        if row.heavy:
            style += self.get_component_rich_style("rows--heading", partial=True)  # its mark has a weight of its own
        if row.mark:
            first += self.get_component_rich_style(f"rows--{row.mark}", partial=True)
        if row.mark in WHOLE_ROW or row.wide:
            style = first
        if at_cursor:
            cursor = self.get_component_rich_style("rows--cursor", partial=True)
            style, first = style + cursor, first + cursor
        for key, place in ((row.key, 0), (row.second, self.halves[1].start)):
            if key and key in self.marked:
                cells = list(row.cells)
                cells[place] = f"*{cells[place].removeprefix(' ')}"
                row = msgspec.structs.replace(row, cells=tuple(cells))
        if row.wide:
            return Strip([Segment(clipped(row.cells[0], width, clip_mark(self)), style)], width)
        return self._strip(row.cells, style, width, first)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the key of the filter to a window that filters by itself, and go across where there are two."""
        if action == "half":
            both = bool(self.rows) and len(self.rows[self.cursor].keys) > 1
            return both and parameters != (self.half,)
        return self.filters if action == "filter" else super().check_action(action, parameters)

    def action_step(self, by: int) -> None:
        """Move the cursor by a row."""
        self._move(self.cursor + by)

    def action_page(self, by: int) -> None:
        """Move what is in sight by a page, and the cursor with it."""
        step = by * max(1, self._room - 1)
        top = max(0, min(self.scroll_offset.y + step, len(self.rows) - self._room))
        self.scroll_to(y=top, animate=False, immediate=True)
        self._move(self.cursor + step)

    def action_edge(self, place: int) -> None:
        """Move the cursor to the first or last row."""
        self._move(len(self.rows) - 1 if place else 0)

    def action_half(self, half: int) -> None:
        """Go to the other thing of a row that tells of two."""
        self.half = half
        self._refresh_row(self.cursor)
        self.post_message(self.Moved(self, self.key))

    def action_choose(self) -> None:
        """Open the row under the cursor; in an empty table the key is empty."""
        self.post_message(self.Chosen(self, self.key))

    def action_filter(self) -> None:
        """Let the keys that follow say what the rows must hold."""
        self.typing = True
        self._filter_by(self.wanted or "")

    def _filter_by(self, wanted: str | None) -> None:
        """Show only the rows that hold what is wanted; None shows all."""
        self.wanted = wanted
        self.typing = self.typing and wanted is not None
        self._widths = ()  # the header has another height: all is painted anew
        before = self.key
        self._show_wanted()
        if self.key != before:
            self.post_message(self.Moved(self, self.key))

    async def on_key(self, event: events.Key) -> None:
        """Take what is typed into the filter, and the keys that end it; all others do what they do."""
        wanted = self.wanted
        if wanted is None or (not self.typing and event.key != "escape"):
            return
        if event.key == "escape":
            self._filter_by(None)
        elif event.key == "enter":
            self.typing = False
            self._filter_by(wanted if wanted.strip() else None)
        elif event.key == "backspace":
            self._filter_by(wanted[:-1])
        elif event.key == "ctrl+u":
            self._filter_by("")
        elif event.is_printable and event.character is not None:
            self._filter_by(wanted + event.character)
        else:
            return
        event.stop()
        event.prevent_default()

    def on_paste(self, event: events.Paste) -> None:
        """Take a pasted text into the filter."""
        if self.typing:
            self._filter_by(f"{self.wanted or ''}{event.text}")

    def on_click(self, event: events.Click) -> None:
        """Put the cursor on the row that was clicked; a second click opens it."""
        index = event.y - self._head + self.scroll_offset.y
        if 0 <= index < len(self.rows):
            if index == self.cursor:
                self.action_choose()
            else:
                self._move(index)

    def on_resize(self) -> None:
        """Find the widths anew."""
        self._measure()
        self._keep_in_sight()

    @property
    def _room(self) -> int:
        return max(1, self.scrollable_content_region.height - self._head)

    def _stand_on(self, key: str) -> None:
        """Put the cursor on the half of its row that a key names."""
        keys = self.rows[self.cursor].keys if self.rows else ()
        half = keys.index(key) if key in keys and len(keys) > 1 else self.half
        if half != self.half:
            self.half = half
            self._refresh_row(self.cursor)

    def _move(self, index: int) -> None:
        index = max(0, min(index, len(self.rows) - 1))
        if index == self.cursor or not self.rows:
            return
        before, self.cursor = self.cursor, index
        self._refresh_row(before)
        self._refresh_row(index)
        self._keep_in_sight()
        self.post_message(self.Moved(self, self.key))

    def _refresh_row(self, index: int) -> None:
        # ScrollView counts lines from the top of the scrolled content; the header takes the first one on screen.
        self.refresh_line(index + self._head)

    def _keep_in_sight(self) -> None:
        top = self.scroll_offset.y
        if self.cursor < top:
            self.scroll_to(y=self.cursor, animate=False, immediate=True)
        elif self.cursor >= top + self._room:
            self.scroll_to(y=self.cursor - self._room + 1, animate=False, immediate=True)

    def _measure(self) -> None:
        width = self.scrollable_content_region.width
        if width <= 0:
            return
        natural = [
            max(
                column.minimum,
                cell_len(column.title),
                *(cell_len(row.cells[place]) for row in self.rows if not row.wide),
                0,
            )
            for place, column in enumerate(self.columns)
        ]
        self._widths = fitted(self.columns, natural, width - 2 * (len(self.columns) - 1))
        self.virtual_size = Size(width, len(self.rows) + self._head)

    def _strip(self, cells: Sequence[str], style: Style, width: int, first: Style | None = None) -> Strip:
        """Lay out a row; its first cell may have a style of its own."""
        parts = []
        mark = clip_mark(self)
        for cell, size, column in zip(cells, self._widths or (10,) * len(cells), self.columns, strict=True):
            text = clipped(cell, size, mark).rstrip() if cell_len(cell) > size else cell
            padding = " " * max(0, size - cell_len(text))
            parts.append(padding + text if column.right else text + padding)
        text = set_cell_size("  ".join(parts), width)
        if first is None or first == style:
            return Strip([Segment(text, style)], width)
        lead = parts[0] if cell_len(parts[0]) <= width else set_cell_size(parts[0], width)
        return Strip([Segment(lead, first), Segment(text[len(lead) :], style)], width)


def _searched(row: Row) -> str:
    """Give the text in which a filter looks."""
    return folded(f"{' '.join(row.cells)} {row.words}")


def _with_aligned(rows: Sequence[Row], places: Sequence[int]) -> tuple[Row, ...]:
    """Give the rows with the numbers of some columns aligned at their decimal points."""
    told = [row for row in rows if not row.wide]
    columns = {place: iter(aligned([row.cells[place] for row in told])) for place in places}
    return tuple(
        row
        if row.wide
        else msgspec.structs.replace(
            row, cells=tuple(next(columns[place]) if place in columns else cell for place, cell in enumerate(row.cells))
        )
        for row in rows
    )
