"""Drawings as shapes in the plane: lines, boxes, dots and texts, ready for SVG. Lengths are in CSS pixels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import msgspec

from fieldkit.sheets.page import RackDrawing, RackSlot, RunDrawing, Stop
from fieldkit.sheets.text import lanes_of
from fieldkit.text.widths import wrapped

WIDTH = 360.0
"""A phone held upright shows it at its own size, and two stand side by side on A4 and Letter."""
LINE = 14.0
LETTER, BOLD = 6.7, 7.3
"""Width of a typewriter letter of 11 and of 12 px."""
LANE = 18.0
LANES_ROOM = 130.0
TALLEST = 620.0
"""A part of a drawing is no taller, so that a page can end between two parts where the whole does not fit one."""
UNIT = 30.0
"""Height of a rack unit."""


class Stroke(msgspec.Struct, frozen=True):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    style: str = "lane"


class Frame(msgspec.Struct, frozen=True):
    """A rectangle."""

    x: float
    y: float
    width: float
    height: float
    style: str = ""


class Dot(msgspec.Struct, frozen=True):
    """A round mark, filled or hollow."""

    x: float
    y: float
    filled: bool


class Label(msgspec.Struct, frozen=True):
    """A text; its left end is at x, or its middle."""

    x: float
    y: float
    text: str
    bold: bool = False
    middle: bool = False


Shape: TypeAlias = Stroke | Frame | Dot | Label


class Picture(msgspec.Struct, frozen=True):
    """One part of a drawing."""

    height: float
    shapes: tuple[tuple[str, Shape], ...]
    """Each with its kind in lower case, by which the template knows it."""


class _Sheet:
    """Collects the parts of one drawing, and begins a new one where the last is tall enough."""

    def __init__(self) -> None:
        self.pictures: list[Picture] = []
        self.shapes: list[Shape] = []
        self.y = 0.0

    def room_for(self, height: float) -> None:
        if self.shapes and self.y + height > TALLEST:
            self.end()

    def end(self) -> None:
        if self.shapes:
            named = tuple((type(shape).__name__.lower(), shape) for shape in self.shapes)
            self.pictures.append(Picture(self.y, named))
        self.shapes, self.y = [], 0.0


def run_pictures(drawing: RunDrawing) -> tuple[Picture, ...]:
    """Draw a run: its pin pairs as lines from top to bottom, each piece beside them."""
    lanes = lanes_of(drawing)
    step = min(LANE, LANES_ROOM / max(1, len(lanes)))
    at = {lane: 12.0 + step * place for place, lane in enumerate(lanes)}
    left = 12.0 + step * len(lanes) + 6.0
    sheet = _Sheet()
    sheet.shapes += [Label(x, 11.0, lane, middle=True) for lane, x in at.items()]
    sheet.y = 16.0
    for stop in drawing.stops:
        texts = _texts(stop, left)
        height = LINE * len(texts) + 12.0
        sheet.room_for(height)
        sheet.shapes += _stop(stop, at, left, sheet.y, height)
        sheet.shapes += [
            Label(left + 8.0, sheet.y + 6.0 + LINE * (row + 0.75), text, bold=bold)
            for row, (text, bold) in enumerate(texts)
        ]
        sheet.y += height
    sheet.end()
    return tuple(sheet.pictures)


def _texts(stop: Stop, left: float) -> list[tuple[str, bool]]:
    """Break the words beside a piece into lines that fit; the first of them are bold."""
    room = WIDTH - left - 16.0
    texts = [(line, True) for line in wrapped(stop.title, int(room / BOLD))]
    return texts + [(line, False) for detail in stop.details for line in wrapped(detail, int(room / LETTER))]


def _stop(stop: Stop, at: dict[str, float], left: float, y: float, height: float) -> list[Shape]:
    shapes: list[Shape] = []
    if stop.kind != "cable":
        shapes.append(Frame(left, y + 2.0, WIDTH - left - 2.0, height - 4.0, stop.kind))
    mark_y = y + 6.0 + LINE / 2.0
    for near, far in stop.joins:
        x = at[near]
        if stop.kind == "socket":
            shapes += [Dot(x, mark_y, filled=False), Stroke(x, mark_y + 4.0, x, y + height)]
        elif far:
            shapes.append(Stroke(x, y, at[far], y + height))
        else:
            shapes.append(Stroke(x, y, x, mark_y))
            if near not in stop.taps:
                shapes.append(Stroke(x - 4.0, mark_y, x + 4.0, mark_y, "end"))
        if near in stop.taps:
            shapes += [Stroke(x, mark_y, left, mark_y, "tap"), Dot(x, mark_y, filled=True)]
    return shapes


def rack_pictures(drawing: RackDrawing) -> tuple[Picture, ...]:
    """Draw a face of a rack, from its highest unit down."""
    sheet = _Sheet()
    taken: set[int] = set()
    at = {slot.unit + slot.height - 1: slot for slot in reversed(drawing.slots)}
    unit = drawing.units
    while unit > 0:
        slot = at.get(unit)
        height = slot.height if slot else 1
        sheet.room_for(UNIT * height)
        for place in range(height):
            sheet.shapes.append(Label(12.0, sheet.y + UNIT * (place + 0.6), str(unit - place), middle=True))
        sheet.shapes.append(Frame(26.0, sheet.y + 1.0, WIDTH - 28.0, UNIT * height - 2.0, "slot" if slot else "free"))
        if slot is not None:
            sheet.shapes += _slot_texts(slot, sheet.y)
            taken.add(id(slot))
        sheet.y += UNIT * height
        unit -= height
    for slot in (*(slot for slot in drawing.slots if id(slot) not in taken), *drawing.unplaced):
        texts = [slot.title, *slot.details]
        lines = [line for text in texts for line in wrapped(text, int((WIDTH - 44.0) / LETTER))]
        height_px = LINE * len(lines) + 10.0
        sheet.room_for(height_px)
        sheet.shapes.append(Frame(26.0, sheet.y + 1.0, WIDTH - 28.0, height_px - 2.0, "loose"))
        sheet.shapes.append(Label(12.0, sheet.y + 16.0, "?", middle=True))
        sheet.shapes += _lines(lines, 34.0, sheet.y + 4.0)
        sheet.y += height_px
    sheet.end()
    return tuple(sheet.pictures)


def _slot_texts(slot: RackSlot, y: float) -> list[Shape]:
    """Set as much into a slot as its height holds; the tables below the drawing have the rest."""
    room = max(1, int((UNIT * slot.height - 4.0) / LINE))
    lines = wrapped(slot.title, int((WIDTH - 44.0) / BOLD))
    for detail in slot.details:
        more = wrapped(detail, int((WIDTH - 44.0) / LETTER))
        if len(lines) + len(more) > room:
            continue
        lines += more
    return _lines(lines[:room], 34.0, y + (UNIT * slot.height - LINE * min(room, len(lines))) / 2.0)


def _lines(lines: Sequence[str], x: float, y: float) -> list[Shape]:
    return [Label(x, y + LINE * (row + 0.75), line, bold=row == 0) for row, line in enumerate(lines)]
