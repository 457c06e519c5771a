"""The labels: for each end of each cable, each piece, box and output, as tables and as stickers to cut out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import msgspec

from fieldkit.gear.cabling import Adaptor
from fieldkit.rig.connect.cable_ends import CableEnd
from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.signal.chain import signal_cables
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Stickers, Table
from fieldkit.sheets.patch import fed_by_line, of_line

WIDTH_MM, HEIGHT_MM = 63.0, 36.0
"""A sticker unless the show says otherwise: three across and seven down on A4, as many and a row less on Letter."""
Sticker: TypeAlias = tuple[str, tuple[str, ...]]
"""What is large on it, and what is small."""
MINIMUM_MM, MOST_MM = 10.0, 300.0
"""Smaller than this nobody can read it, larger than this no sheet can hold it."""


def labels_page(material: Material) -> Page:
    """Make the page."""
    ends, outputs, signals = _ends(material), _outputs(material), _signals(material)
    width, height = sticker_mm(material)
    stickers = (*_of_ends(material), *_of_pieces(material), *_of_boxes(material), *_of_outputs(outputs))
    signs = [
        (str(name), (into, other, "signal cable"))
        for name, _, start, end in signals.rows
        for into, other in ((f"into {start}", f"to {end}"), (f"into {end}", f"from {start}"))
    ]
    size = material.size(width, height)
    cut = Stickers("Stickers", width, height, (*stickers, *signs), size)
    lists = tuple(msgspec.structs.replace(table, aside=True) for table in (ends, outputs, signals))
    return Page("labels", "Labels", (*lists, cut))


def _of_ends(material: Material) -> Iterator[Sticker]:
    """Make one for each end of each cable, with its type and length."""
    for end in material.ends:
        cable = " ".join(part for part in (_cable(end, material), end.connector) if part)
        yield end.label, (f"into {end.where}", f"other end {end.other}", cable, _carries(end, material))


def _of_pieces(material: Material) -> Iterator[Sticker]:
    """Make one for each adaptor, and one for each breakout however many runs go through it."""
    sockets: dict[str, list[str]] = {}
    inlets: dict[str, tuple[str, str]] = {}
    for run in material.show.runs:
        for number, step in enumerate(run.path, start=1):
            before, after = material.ends_of.get((run.id, number - 1)), material.ends_of.get((run.id, number + 1))
            into = f"behind {before[1].label}" if before else f"at {run.start}"
            if number > 1 and run.path[number - 2].box:
                into = f"at the link of {run.path[number - 2].box}"
            onward = after[0].label if after else step.box or ""
            if step.adaptor is not None:
                model = material.model(step.adaptor)
                plugs = " to ".join(model.connectors) if isinstance(model, Adaptor) else ""
                to = f"before {onward}" if onward else ""
                yield f"{run.id} adaptor", tuple(text for text in (into, to, step.adaptor, plugs) if text)
            if step.panel is not None:
                name = step.shared or f"{run.id} {step.panel}"
                inlets.setdefault(name, (into, step.panel))
                sockets.setdefault(name, []).append(f"{step.socket} {onward}".strip())
    for name, (into, model_id) in inlets.items():
        yield name, (into, ", ".join(dict.fromkeys(sockets[name])), model_id)


def _of_boxes(material: Material) -> Iterator[Sticker]:
    for box in material.show.boxes:
        speaker = material.rig.show_index.speakers[box.id]
        drive = drive_text(box, speaker)
        ends = " ".join(material.ends_into.get(box.id, ()))
        switch = f"switch: {drive}" if len(speaker.drives()) > 1 and speaker.switch else ""
        lines = (
            f"{box.zone} {box.side}".strip(),
            f"input {ends}" if ends else "",
            switch,
            box.model or "no data sheet",
        )
        yield box.id, tuple(line for line in lines if line)


def _of_outputs(outputs: Table) -> Iterator[Sticker]:
    for row in outputs.rows:
        yield str(row[0]), (f"socket {row[2]}", str(row[3]), str(row[4]))


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
