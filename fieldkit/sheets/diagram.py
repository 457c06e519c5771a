"""Diagrams in cells: laid out once, written as text for a terminal and as shapes for paper."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.sheets.page import Bar, Diagram, DrawnLine, Lettering, Outline
from fieldkit.sheets.shapes import Frame, Label, Picture, Shape, Stroke
from fieldkit.text.widths import cells

COLUMNS = 76
"""A diagram is no wider: it fits a window of the application at 80 columns."""
CELL_PX, ROW_PX = 6.7, 14.0
"""A cell of a typewriter face of 11 px."""


def diagram_lines(diagram: Diagram) -> Iterator[str]:
    """Write a diagram with letters; texts stand over bars, bars over lines."""
    grid = [[" "] * COLUMNS for _ in range(diagram.height)]
    order: dict[type, int] = {Outline: 0, DrawnLine: 1, Bar: 2, Lettering: 3}
    for mark in sorted(diagram.marks, key=lambda mark: order[type(mark)]):
        if isinstance(mark, Lettering):
            _write(grid, mark.x, mark.y, mark.text)
        elif isinstance(mark, Bar):
            inside = mark.width - 2
            filled = min(inside, round(mark.share * inside))
            end = "!" if mark.share > 1.0 else "]"
            _write(grid, mark.x, mark.y, f"[{'#' * filled}{'.' * (inside - filled)}{end}")
        elif isinstance(mark, DrawnLine):
            for (x1, y1), (x2, y2) in zip(mark.corners, mark.corners[1:], strict=False):
                _line(grid, (x1, y1), (x2, y2))
            for x, y in mark.corners[1:-1]:
                grid[y][x] = "+"
        else:
            right, low = mark.x + mark.width - 1, mark.y + mark.height - 1
            corners = ((mark.x, mark.y), (right, mark.y), (right, low), (mark.x, low))
            for start, end_at in zip(corners, (*corners[1:], corners[0]), strict=True):
                _line(grid, start, end_at)
            for x, y in corners:
                grid[y][x] = "+"
    for row in grid:
        yield "".join(row).rstrip()


def _line(grid: list[list[str]], start: tuple[int, int], end: tuple[int, int]) -> None:
    (x1, y1), (x2, y2) = start, end
    for y in range(min(y1, y2), max(y1, y2) + 1):
        for x in range(min(x1, x2), max(x1, x2) + 1):
            own = "-" if y1 == y2 else "|"
            grid[y][x] = own if grid[y][x] in {" ", own} else "+"


def _write(grid: list[list[str]], x: int, y: int, text: str) -> None:
    """Put a text into the grid; a wide letter takes two cells, a mark that combines goes with the letter before it."""
    for mark in text:
        size = cells(mark)
        if size == 0 and x > 0:
            grid[y][x - 1] += mark
        elif x + size <= len(grid[y]):
            grid[y][x] = mark
            if size == 2:
                grid[y][x + 1] = ""
            x += size


def diagram_picture(diagram: Diagram) -> Picture:
    """Draw a diagram with lines and frames."""
    shapes: list[Shape] = []
    edges = {y for mark in diagram.marks if isinstance(mark, Outline) for y in (mark.y, mark.y + mark.height - 1)}
    for mark in diagram.marks:
        if isinstance(mark, Lettering):
            if mark.y in edges:  # a title in a frame's line, which ends before it
                shapes.append(Frame(CELL_PX * mark.x, ROW_PX * mark.y, CELL_PX * cells(mark.text), ROW_PX, "blank"))
            shapes.append(Label(CELL_PX * mark.x, ROW_PX * (mark.y + 0.75), mark.text, bold=mark.bold))
        elif isinstance(mark, Bar):
            x, y, width = CELL_PX * mark.x, ROW_PX * mark.y + 2.0, CELL_PX * mark.width
            shapes.append(Frame(x, y, width, ROW_PX - 4.0, "free"))
            if mark.share > 0.0:
                shapes.append(Frame(x, y, width * min(1.0, mark.share), ROW_PX - 4.0, "full"))
        elif isinstance(mark, DrawnLine):
            shapes += [
                Stroke(*_middle(*start), *_middle(*end), "tap")
                for start, end in zip(mark.corners, mark.corners[1:], strict=False)
            ]
        else:
            (x, y), (right, low) = _middle(mark.x, mark.y), _middle(mark.x + mark.width - 1, mark.y + mark.height - 1)
            shapes.append(Frame(x, y, right - x, low - y, "panel"))
    named = tuple((type(shape).__name__.lower(), shape) for shape in shapes)
    return Picture(ROW_PX * diagram.height, named, CELL_PX * COLUMNS)


def _middle(x: int, y: int) -> tuple[float, float]:
    return CELL_PX * (x + 0.5), ROW_PX * (y + 0.5)
