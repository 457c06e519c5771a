"""The labels: for each end of each cable and for each output, as a table and as stickers to cut out."""

from __future__ import annotations

import msgspec

from fieldkit.rig.connect.cable_ends import CableEnd
from fieldkit.rig.signal.chain import signal_cables
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Stickers, Table
from fieldkit.sheets.patch import fed_by_line, of_line

WIDTH_MM, HEIGHT_MM = 63.0, 36.0
"""A sticker unless the show says otherwise: three across and seven down on A4, as many and a row less on Letter."""
MINIMUM_MM, MOST_MM = 10.0, 300.0
"""Smaller than this nobody can read it, larger than this no sheet can hold it."""


def labels_page(material: Material) -> Page:
    """Make the page."""
    ends, outputs, signals = _ends(material), _outputs(material), _signals(material)
    width, height = sticker_mm(material)
    stickers: list[tuple[str, tuple[str, ...]]] = [
        (end.label, (f"into {end.where}", f"other end {end.other}", _carries(end, material))) for end in material.ends
    ]
    stickers += [(str(row[0]), (f"socket {row[2]}", str(row[3]), str(row[4]))) for row in outputs.rows]
    for name, _, start, end in signals.rows:
        stickers += [(str(name), (f"into {start}", f"to {end}")), (str(name), (f"into {end}", f"from {start}"))]
    cut = Stickers("Stickers", width, height, tuple(stickers))
    lists = tuple(msgspec.structs.replace(table, aside=True) for table in (ends, outputs, signals))
    return Page("labels", "Labels", (*lists, cut))


def sticker_mm(material: Material) -> tuple[float, float]:
    """Return width and height of a sticker [mm]."""
    width, height = material.choices.sticker_width, material.choices.sticker_height
    sizes = (width.value * 1000.0 if width else WIDTH_MM, height.value * 1000.0 if height else HEIGHT_MM)
    return min(max(sizes[0], MINIMUM_MM), MOST_MM), min(max(sizes[1], MINIMUM_MM), MOST_MM)


def _ends(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("end", "plugs into", "plug", "other end", "cable", "carries"))
    rows = [
        (end.label, end.where, end.connector, end.other, _cable(end, material), _carries(end, material))
        for end in material.ends
    ]
    return Table("cable-ends", "Cable ends", columns, tuple(rows), empty="no cable is planned")


def _cable(end: CableEnd, material: Material) -> str:
    return f"{material.length(end.length)} {end.cable}".strip()


def _carries(end: CableEnd, material: Material) -> str:
    """Say what is in a cable: run and pair, and the output that feeds it."""
    lines = [line for run in end.runs for line in material.lines_of_run.get(run, [])]
    return ", ".join(f"{line.id} {line.output.id if line.output else 'unfed'}" for line in lines) or "nothing"


def _outputs(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("output", "model", "socket", "line", "boxes", "preset"))
    rows: list[tuple[Cell, ...]] = []
    for output in material.rig.outputs:
        for solved in output.lines:
            socket = f"{solved.line.run.start} pair {solved.line.pair}"
            head = (output.output.id, output.output.model.id, socket, solved.line.id)
            rows.append((*head, fed_by_line(output, solved), of_line(solved)[2]))
    return Table("outputs", "Outputs", columns, tuple(rows), keys=(0, 3), empty="no output drives a box")


def _signals(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("cable", "carries", "one end into", "other end into"))
    rows = tuple(
        (cable.id, cable.signal, cable.start, cable.end)
        for cable in signal_cables(material.rig)
        if cable.kind == "signal cable"
    )
    return Table("signal-ends", "Signal cables", columns, rows, compared=False, empty="no signal cable is planned")
