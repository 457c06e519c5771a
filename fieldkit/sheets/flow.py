"""The signal flow on one page: from the desk through multicore and processor to rack, output and zone."""

from __future__ import annotations

from fieldkit.rig.signal.chain import SignalPath, signal_paths, way_pieces
from fieldkit.sheets.diagram import COLUMNS
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Diagram, DrawnLine, Lettering, Mark
from fieldkit.text.widths import cells, clipped, wrapped

HEADS = ("desk", "through", "processor", "rack", "output", "zone and boxes")
GAP = 3
FEEDS = 18
NARROWEST = 8


def flow_diagram(material: Material) -> Diagram:
    """Draw it: a row an output, and what several of them come from said once with its branches."""
    rows = _in_order([_cells(path, material) for path in signal_paths(material.rig)])
    used = [place for place in range(len(HEADS)) if any(row[place] for row in rows)]
    rows = [tuple(row[place] for place in used) for row in rows]
    heads = [HEADS[place] for place in used]
    if not rows:
        return Diagram("Signal flow", 0, (), empty="no output drives a box")
    widths = _widths([tuple(heads), *rows])
    at = [sum(widths[:place]) + GAP * place for place in range(len(widths))]
    marks: list[Mark] = [
        Lettering(x, 0, clipped(head, width), bold=True) for x, head, width in zip(at, heads, widths, strict=True)
    ]
    ys = [1]
    for number, row in enumerate(rows):
        feeds = wrapped(row[-1], widths[-1])
        marks += _row(rows, number, at, widths, ys)
        marks += [Lettering(at[-1], ys[-1] + line, clipped(text, widths[-1])) for line, text in enumerate(feeds)]
        ys.append(ys[-1] + len(feeds))
    return Diagram("Signal flow", ys[-1], tuple(marks))


def _cells(path: SignalPath, material: Material) -> tuple[str, ...]:
    """Sort the stations of a path into the columns; what is not planned stays empty."""
    units = material.rig.show_index.units
    desk = next((station for station in path.stations if station.startswith("desk ")), "").removeprefix("desk ")
    entries = [station.rpartition(" input ") for station in path.stations if " input " in station]
    unit, _, number = next((entry for entry in entries if entry[0] in units), ("", "", ""))
    through = " > ".join(way_pieces(units[unit], number)) if unit else ""
    hosts = [station for station in path.stations if " output " in station]
    processor = hosts[0].replace(" output ", ".") if hosts else ""
    into = path.input.rpartition(" input ")[0]
    rack = ""
    if into in units:
        first = next(number for unit, _, number in entries if unit == into)
        own = units[into].rack or ""
        rack = f"{into} in {first}" if not own or into.startswith(own) else f"{own} {into} in {first}"
    return desk or "not planned", through, processor, rack, path.to, _feeds(path.to, material)


def _feeds(to: str, material: Material) -> str:
    box = material.rig.show_index.boxes.get(to)
    if box is not None:
        return f"{box.zone} {box.side}".strip() + ", self-powered"
    loads = material.output[to].loads
    zones = ", ".join(dict.fromkeys(f"{load.box.zone} {load.box.side}".strip() for load in loads))
    boxes = " ".join(dict.fromkeys(load.box.id for load in loads))
    sections = "+".join(dict.fromkeys(load.section.section for load in loads))
    return f"{zones}: {boxes} {sections}"


def _in_order(rows: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Bring together what begins alike, in the order in which it comes first."""
    first: dict[tuple[str, ...], int] = {}
    for row in rows:
        for length in range(1, len(row)):
            first.setdefault(row[:length], len(first))
    return sorted(rows, key=lambda row: [first[row[:length]] for length in range(1, len(row))])


def _widths(rows: list[tuple[str, ...]]) -> list[int]:
    """Share the room: the widest column gives way first; what an output feeds is broken into lines."""
    widths = [max(cells(row[place]) for row in rows) for place in range(len(rows[0]))]
    widths[-1] = min(widths[-1], FEEDS)
    room = COLUMNS - GAP * (len(widths) - 1)
    while sum(widths) > room and max(widths) > NARROWEST:
        widths[widths.index(max(widths))] -= 1
    return widths


def _row(rows: list[tuple[str, ...]], number: int, at: list[int], widths: list[int], ys: list[int]) -> list[Mark]:
    """Write one row, and the wires that lead to what is new in it; its last cell is written by itself."""
    row, y = rows[number], ys[number]
    before = rows[number - 1] if number else ()
    shared = next((place for place in range(len(row)) if row[: place + 1] != before[: place + 1]), len(row))
    marks: list[Mark] = []
    last = None
    for place, text in enumerate(row):
        if place < shared:
            last = place if text else last
            continue
        if not text:
            continue
        if place < len(row) - 1:
            marks.append(Lettering(at[place], y, clipped(text, widths[place])))
        if last is not None:
            bend = at[place] - 2
            if last < shared:
                top = ys[_row_of(rows, number, last)]
                marks.append(DrawnLine(((bend, top), (bend, y), (at[place] - 1, y))))
            else:
                start = at[last] + min(widths[last], cells(row[last]))
                marks.append(DrawnLine(((start, y), (at[place] - 1, y))))
        last = place
    return marks


def _row_of(rows: list[tuple[str, ...]], number: int, place: int) -> int:
    """Find the row in which the cells up to a place were written first."""
    while number and rows[number - 1][: place + 1] == rows[number][: place + 1]:
        number -= 1
    return number
