"""Drawings as shapes in the plane: lines, boxes, dots and texts, ready for SVG. Lengths are in CSS pixels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import msgspec

from fieldkit.sheets.page import RackDrawing, RackSlot, RearSocket, RunDrawing, Stop
from fieldkit.text.widths import cells, wrapped

WIDTH = 360.0
"""A phone held upright shows it at its own size, and two stand side by side on A4 and Letter."""
LINE = 14.0
LETTER, BOLD = 6.7, 7.3
"""Width of a typewriter letter of 11 and of 12 px."""
LANE = 18.0
LANES_ROOM = 130.0
TALLEST = 620.0
"""A part of a drawing is no taller, so that a page can end between two parts where the whole does not fit one."""
TALLEST_FACE = 340.0
"""The parts of a rack's face stand side by side."""
UNIT = 30.0
"""Height of a rack unit."""
SOCKET = 22.0
"""Height of a row of sockets."""


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
    width: float = WIDTH


class _Sheet:
    """Collects the parts of one drawing, and begins a new one where the last is tall enough."""

    def __init__(self, tallest: float = TALLEST) -> None:
        self.tallest = tallest
        self.pictures: list[Picture] = []
        self.shapes: list[Shape] = []
        self.y = 0.0

    def room_for(self, height: float) -> None:
        if self.shapes and self.y + height > self.tallest:
            self.end()

    def end(self) -> None:
        if self.shapes:
            named = tuple((type(shape).__name__.lower(), shape) for shape in self.shapes)
            self.pictures.append(Picture(self.y, named))
        self.shapes, self.y = [], 0.0


def run_pictures(drawing: RunDrawing) -> tuple[Picture, ...]:
    """Draw a run: its pin pairs as lines from top to bottom, each piece beside them."""
    lanes = drawing.lanes
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
    """Draw a face of a rack, from its highest unit down; a slot with more to say is as high as that takes."""
    sheet = _Sheet(TALLEST_FACE)
    taken: set[int] = set()
    at = {slot.unit + slot.height - 1: slot for slot in reversed(drawing.slots)}
    unit = drawing.units
    while unit > 0:
        slot = at.get(unit)
        units = slot.height if slot else 1
        inside = _slot_shapes(slot) if slot else ([], 0.0)
        height = max(UNIT * units, inside[1] + 6.0)
        sheet.room_for(height)
        for place in range(units):
            sheet.shapes.append(Label(12.0, sheet.y + height / units * (place + 0.6), str(unit - place), middle=True))
        sheet.shapes.append(Frame(26.0, sheet.y + 1.0, WIDTH - 28.0, height - 2.0, "slot" if slot else "free"))
        if slot is not None:
            sheet.shapes += _moved(inside[0], sheet.y + (height - inside[1]) / 2.0)
            taken.add(id(slot))
        sheet.y += height
        unit -= units
    for slot in (*(slot for slot in drawing.slots if id(slot) not in taken), *drawing.unplaced):
        shapes, tall = _slot_shapes(slot)
        sheet.room_for(tall + 10.0)
        sheet.shapes.append(Frame(26.0, sheet.y + 1.0, WIDTH - 28.0, tall + 8.0, "loose"))
        if drawing.units:
            sheet.shapes.append(Label(12.0, sheet.y + 16.0, "?", middle=True))
        sheet.shapes += _moved(shapes, sheet.y + 4.0)
        sheet.y += tall + 10.0
    sheet.end()
    return tuple(sheet.pictures)


def _slot_shapes(slot: RackSlot) -> tuple[list[Shape], float]:
    """Lay out all that a slot says from its own top, and the height that it takes."""
    lines = wrapped(slot.title, int((WIDTH - 44.0) / BOLD))
    for detail in slot.details:
        lines += wrapped(detail, int((WIDTH - 44.0) / LETTER))
    shapes, y = _lines(lines, 34.0, 0.0), LINE * len(lines)
    for kind in ("in", "out"):
        sockets = [socket for socket in slot.sockets if socket.kind == kind]
        if sockets:
            more, height = _socket_row(sockets, y + 2.0)
            shapes += more
            y += height + 2.0
    return shapes, y


def _socket_row(sockets: Sequence[RearSocket], y: float) -> tuple[list[Shape], float]:
    """Draw sockets side by side, each with its name inside and the cables that go in beside it, in as many rows."""
    shapes: list[Shape] = [Label(34.0, y + 14.0, sockets[0].kind)]
    x, top = 62.0, y
    for socket in sockets:
        mark = max(18.0, LETTER * cells(socket.name) + 8.0)
        room = WIDTH - 70.0 - mark
        texts = wrapped(" ".join(socket.cables) or "-", max(1, int(room / LETTER)))
        wide = mark + LETTER * max(map(cells, texts)) + 12.0
        if x + wide > WIDTH - 6.0 and x > 62.0:
            x, y = 62.0, y + SOCKET
        shapes.append(Frame(x, y, mark, 18.0, "socket" if socket.cables else "free"))
        shapes.append(Label(x + mark / 2.0, y + 13.0, socket.name, middle=True))
        shapes += [Label(x + mark + 4.0, y + 13.0 + LINE * row, text) for row, text in enumerate(texts)]
        if len(texts) > 1:
            x, y = 62.0, y + LINE * (len(texts) - 1) + SOCKET
        else:
            x += wide
    return shapes, y + SOCKET - top if x > 62.0 else y - top


def _moved(shapes: Sequence[Shape], y: float) -> list[Shape]:
    """Move frames and texts downwards."""
    return [msgspec.structs.replace(shape, y=shape.y + y) for shape in shapes if isinstance(shape, Frame | Label)]


def _lines(lines: Sequence[str], x: float, y: float) -> list[Shape]:
    return [Label(x, y + LINE * (row + 0.75), line, bold=row == 0) for row, line in enumerate(lines)]
