"""What a page is made of, before it is written as text, HTML or tables for a spreadsheet. Nothing here is markup."""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec

Cell: TypeAlias = str | float | int | None
"""A text, a number in its column's unit, or nothing."""


class Column(msgspec.Struct, frozen=True):
    """A column of a table."""

    title: str
    unit: str = ""
    """Of its numbers; it stands in the heading."""
    digits: int = 3
    write: bool = False
    """Left empty on paper, to be filled in by hand."""


class Table(msgspec.Struct, frozen=True):
    """Rows under headings. As a file it is named ``name``."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    keys: tuple[int, ...] = (0,)
    """The columns by which one row is told from another."""
    grouped: bool = False
    """The first column is said once, above its rows."""
    compared: bool = True
    """Whether a change in it is told; a table that repeats others is not."""
    empty: str = "nothing"
    on_paper: bool = True
    """False for a table whose facts stand in the lists beside it: it is written for a spreadsheet alone."""
    errors: tuple[str, ...] = ()
    """For each row what is wrong with what it names, empty for nothing; none where no row has an error."""
    row_mm: float = 0.0
    """Height of its rows on paper at the minimum, for what is written in by hand [mm]."""
    large: bool = False
    """Set in large type, to be read from a step away."""
    aside: bool = False
    """Shown on a screen and as text, and left out when the set is printed: stickers or rows beside it say it too."""


class Words(msgspec.Struct, frozen=True):
    """Paragraphs."""

    paragraphs: tuple[str, ...]
    title: str = ""


class Items(msgspec.Struct, frozen=True):
    """A list; each item a text, and what belongs under it."""

    items: tuple[tuple[str, ...], ...]
    title: str = ""
    empty: str = "nothing"
    aside: bool = False
    """As of a table."""
    findings: bool = False
    """Whether it lists findings itself, so that no error stands under what names it a second time."""


class Stop(msgspec.Struct, frozen=True):
    """One piece of a run on its drawing, from the amplifier outward."""

    kind: Literal["socket", "cable", "adaptor", "panel", "box"]
    title: str
    details: tuple[str, ...] = ()
    joins: tuple[tuple[str, str], ...] = ()
    """Pin pair at the near end, pin pair at the far end; the far one is empty where it ends."""
    taps: tuple[str, ...] = ()
    """Pairs that a box uses."""


class RunDrawing(msgspec.Struct, frozen=True):
    """A run, drawn piece by piece with each pin pair as a line of its own."""

    name: str
    title: str
    stops: tuple[Stop, ...]

    @property
    def lanes(self) -> list[str]:
        """The pin pairs, lowest first: each is a line from top to bottom."""
        pairs = {pair for stop in self.stops for join in stop.joins for pair in join if pair}
        return sorted(pairs, key=lambda pair: (len(pair), pair))


class RearSocket(msgspec.Struct, frozen=True):
    """A socket on the rear of something in a rack."""

    name: str
    """As it stands beside the socket: ``A``, ``TOPS``, the number of an input."""
    kind: Literal["in", "out"]
    cables: tuple[str, ...] = ()
    """Labels of the cable ends that go in; none where it is free."""


class RackSlot(msgspec.Struct, frozen=True):
    """Something in a rack: the lowest unit that it fills, how many it fills, and what stands on it."""

    unit: int
    height: int
    title: str
    details: tuple[str, ...] = ()
    sockets: tuple[RearSocket, ...] = ()


class RackDrawing(msgspec.Struct, frozen=True):
    """One face of a rack, its units counted from the bottom."""

    title: str
    units: int
    slots: tuple[RackSlot, ...]
    unplaced: tuple[RackSlot, ...] = ()
    """In the rack, at a place that nobody noted."""


class Stickers(msgspec.Struct, frozen=True):
    """Labels to cut out: what is large on each, and what is small."""

    title: str
    width_mm: float
    height_mm: float
    labels: tuple[tuple[str, tuple[str, ...]], ...]
    size: str = ""
    """Of a sticker, as the reader wants lengths."""


class Lettering(msgspec.Struct, frozen=True):
    """A text on a diagram."""

    x: int
    y: int
    text: str
    bold: bool = False


class DrawnLine(msgspec.Struct, frozen=True):
    """A line on a diagram from corner to corner, each straight across or straight down from the one before."""

    corners: tuple[tuple[int, int], ...]


class Bar(msgspec.Struct, frozen=True):
    """How much of something is used: a share from 0, over 1 where it is too much; rounded to what can be seen."""

    x: int
    y: int
    width: int
    share: float


class Outline(msgspec.Struct, frozen=True):
    """A frame around something; its lines run through its first and last row and column."""

    x: int
    y: int
    width: int
    height: int


Mark: TypeAlias = Lettering | DrawnLine | Bar | Outline


class Diagram(msgspec.Struct, frozen=True):
    """A drawing in cells, as a typewriter has them: one geometry for a terminal and for paper."""

    title: str
    height: int
    marks: tuple[Mark, ...]
    empty: str = ""
    """What is said where there is nothing to draw."""


class Form(msgspec.Struct, frozen=True):
    """Fields on a tag, filled in or left to be written by hand."""

    title: str
    fields: tuple[tuple[str, str], ...]


Block: TypeAlias = Table | Words | Items | RunDrawing | RackDrawing | Diagram | Stickers | Form


class Page(msgspec.Struct, frozen=True):
    """A page for the crew; it may fill several sheets of paper."""

    key: str
    """Names its files: ``patch``."""
    title: str
    blocks: tuple[Block, ...]
    show: str = ""
    """The show's name, at the head of each page."""
    mark: str = ""
    """The revision: eight hexadecimal digits that follow from what is on the page."""
    banner: tuple[str, ...] = ()
    """What must be read before anything on the page: that the plan has errors, and where."""
    across: int | None = None
    """From this one of its printed blocks on it is printed across the sheet; 0 for the whole page."""
    repeats: bool = False
    """For one place or hand: its tables stand on the pages by subject too, and are no files of their own."""
    aside: bool = False
    """By subject, where the pages by place and hand say it too: shown on a screen, and left out of the printed set."""

    @property
    def printed(self) -> tuple[Block, ...]:
        """The blocks for a reader."""
        return tuple(block for block in self.blocks if not isinstance(block, Table) or block.on_paper)

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables of this page, those for a spreadsheet alone too."""
        return tuple(block for block in self.blocks if isinstance(block, Table))
