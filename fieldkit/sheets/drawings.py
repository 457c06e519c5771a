"""The rig in drawings: signal flow, mains, limiter ladders, sockets pin by pin, and the plan of the room."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.rig.power.supplies import supplies_of
from fieldkit.sheets.diagram import CELL_PX, COLUMNS, ROW_PX
from fieldkit.sheets.flow import flow_diagram
from fieldkit.sheets.limiter_ladder import LADDER_WORDS, limiter_ladders
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Diagram, Lettering, Mark, Outline, Page, Words
from fieldkit.sheets.supply_tree import supply_tree
from fieldkit.text.widths import cells, clipped
from fieldkit.text.words import counted
from fieldkit.units import convert

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
    columns, rows = COLUMNS - 24, HIGHEST - 4
    metres_per_px = max(wide / (CELL_PX * columns), deep / (ROW_PX * rows), 0.01)
    taken: set[tuple[int, int]] = set()
    marks: list[Mark] = []
    lowest = 0
    for name, mark, (far, right, _) in sorted(places, key=lambda place: place[2][:2]):
        x = 2 + round((right - min(across)) / (metres_per_px * CELL_PX))
        y = 2 + round((far - min(along)) / (metres_per_px * ROW_PX))
        text = clipped(f"{mark} {name}", COLUMNS - 2 - x)
        while any((x + step, y) in taken for step in range(-1, cells(text) + 1)):
            y += 1
        taken |= {(x + step, y) for step in range(cells(text))}
        marks.append(Lettering(x, y, text))
        lowest = max(lowest, y)
    unit = "ft" if material.units == "imperial" else "m"
    size = f"{convert(wide, 'm', unit):.0f} {unit} across, {convert(deep, 'm', unit):.0f} {unit} deep"
    marks += [
        Outline(0, 0, COLUMNS, lowest + 2),
        Lettering(2, 0, " stage "),
        Lettering(2, lowest + 1, clipped(f" {size}; left is left for the audience ", COLUMNS - 4)),
    ]
    missing = len(material.show.boxes) - sum(box.position is not None for box in material.show.boxes)
    title = "Plan of the room" + (f"; {counted(missing, 'box')} without a position" if missing else "")
    return Diagram(title, lowest + 2, tuple(marks))
