"""The rig in drawings: signal flow, mains, limiter ladders, sockets pin by pin, and the plan of the room."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fieldkit.rig.power.supplies import supplies_of
from fieldkit.sheets.diagram import CELL_PX, COLUMNS, ROW_PX
from fieldkit.sheets.flow import flow_diagram
from fieldkit.sheets.limiter_ladder import LADDER_WORDS, limiter_ladders
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Diagram, DrawnLine, Lettering, Mark, Outline, Page, Words
from fieldkit.sheets.supply_tree import supply_tree
from fieldkit.text.widths import cells, clipped
from fieldkit.text.words import counted
from fieldkit.units import convert

EMPTY_SHARE = 0.7
"""Share of the depth of a room from which on a stretch without anything is drawn short, and its length written."""
MINIMUM_EMPTY_M = 15.0
"""Shorter stretches are drawn as they are [m]."""
HIGHEST = 44
"""So many rows at the most, so that it stays on one page."""


def drawings_page(material: Material) -> Page:
    """Make the page."""
    flow, plan = flow_diagram(material), room_plan(material)
    ladders = list(limiter_ladders(material))
    blocks: list[Block] = [flow, supply_tree(supplies_of(material.rig), material), plan]
    blocks += [Words((LADDER_WORDS,), "Limiters"), *ladders] if ladders else []
    places: dict[str, dict[str, None]] = {}
    for run in material.show.runs:
        places.setdefault(run.start.partition(".")[0], {})[run.start] = None
    blocks += [socket_faces(place, tuple(starts), material) for place, starts in places.items()]
    return Page("drawings", "Drawings", tuple(blocks))


def socket_faces(place: str, starts: Sequence[str], material: Material) -> Diagram:
    """Draw the sockets in use of one amplifier or rack panel: ``SR-1.A``, ``LEFT.TOPS``."""
    marks: list[Mark] = []
    y = 0
    for start in starts:
        its = sorted(material.lines_at.get(start, ()), key=lambda line: (len(line.pair), line.pair))
        if not its:
            continue
        cables = " ".join(dict.fromkeys(material.plugs_in.get(start, ())))
        marks.append(Outline(0, y, COLUMNS, len(its) + 2))
        marks.append(Lettering(2, y, clipped(f" {start}, cable {cables} ", COLUMNS - 4), bold=True))
        for number, line in enumerate(its, start=1):
            output = line.output.id if line.output else "nothing"
            boxes = " ".join(dict.fromkeys(load.box.id for load in line.loads)) or "no box"
            marks.append(Lettering(2, y + number, f"{line.pair}+ {line.pair}-"))
            marks.append(Lettering(11, y + number, clipped(output, 16)))
            marks.append(Lettering(28, y + number, clipped(line.id, 12)))
            marks.append(Lettering(41, y + number, clipped(f"{boxes} {line.section}".strip(), COLUMNS - 43)))
        y += len(its) + 2
    title = (
        f"Sockets of {place}, pin by pin: pins, output, line, boxes" if place else "Runs that are plugged in nowhere"
    )
    return Diagram(title, y, tuple(marks), empty="no line")


EMPTY_ROWS = 6
"""Rows that are left of a stretch that is drawn short."""


def _empty_stretch(along: Sequence[float]) -> tuple[float, float] | None:
    """Find the stretch of a room in which nothing stands, from and to [m], where it is much of the depth."""
    far = sorted(along)
    gaps = [(there - here, here, there) for here, there in pairwise(far)]
    longest, here, there = max(gaps, default=(0.0, 0.0, 0.0))
    return (here, there) if longest > EMPTY_SHARE * (far[-1] - far[0]) and longest > MINIMUM_EMPTY_M else None


def room_plan(material: Material) -> Diagram:
    """Draw it to scale, seen from above; a label stands behind its mark, or in the next free row."""
    places = [(box.id, "*", box.position.metres) for box in material.show.boxes if box.position is not None]
    places += [
        (f"{zone.id}, listeners", "o", zone.listeners.metres)
        for zone in material.show.zones
        if zone.listeners is not None
    ]
    if not places:
        return Diagram("Plan of the room", 0, (), empty="no box has a position")
    along, across = [place[2][0] for place in places], [place[2][1] for place in places]
    wide, deep = max(across) - min(across), max(along) - min(along)
    unit = "ft" if material.units == "imperial" else "m"
    empty = _empty_stretch(along)
    columns, rows = COLUMNS - 24, HIGHEST - 4 - (EMPTY_ROWS if empty else 0)
    drawn = deep - (empty[1] - empty[0] if empty else 0.0)
    metres_per_px = max(wide / (CELL_PX * columns), drawn / (ROW_PX * rows), 0.01)

    has_edge = min(along) < 0.0 < max(along)

    def row_of(far: float) -> int:
        cut = empty[1] - empty[0] if empty and far > empty[0] else 0.0
        rows_down = round((far - min(along) - cut) / (metres_per_px * ROW_PX)) + (EMPTY_ROWS if cut else 0)
        return 2 + rows_down + (has_edge and far >= 0.0)  # the edge of the stage has a row of its own

    edge = row_of(0.0) - 1
    taken = {(x, edge) for x in range(COLUMNS)} if has_edge else set()
    marks: list[Mark] = []
    lowest = 0
    for name, mark, (far, right, _) in sorted(places, key=lambda place: place[2][:2]):
        x = 2 + round((right - min(across)) / (metres_per_px * CELL_PX))
        y = row_of(far)
        text = clipped(f"{mark} {name}", COLUMNS - 2 - x)
        while any((x + step, y) in taken for step in range(-1, cells(text) + 1)):
            y += 1
        taken |= {(x + step, y) for step in range(cells(text))}
        marks.append(Lettering(x, y, text))
        lowest = max(lowest, y)
    if has_edge:
        marks += [DrawnLine(((1, edge), (COLUMNS - 21, edge))), Lettering(COLUMNS - 20, edge, " edge of the stage ")]
    if empty:
        length = f"{convert(empty[1] - empty[0], 'm', unit):.0f} {unit}"
        marks.append(Lettering(2, row_of(empty[1]) - 2, f". . .  {length} with nothing in it, drawn short  . . ."))
    size = f"{convert(wide, 'm', unit):.0f} {unit} across, {convert(deep, 'm', unit):.0f} {unit} deep"
    marks += [
        Outline(0, 0, COLUMNS, lowest + 2),
        Lettering(2, 0, " stage "),
        Lettering(2, lowest + 1, clipped(f" {size}; left is left for the audience ", COLUMNS - 4)),
    ]
    missing = len(material.show.boxes) - sum(box.position is not None for box in material.show.boxes)
    title = "Plan of the room" + (f"; {counted(missing, 'box')} without a position" if missing else "")
    return Diagram(title, lowest + 2, tuple(marks))
