"""The patch: what feeds what, by rack and by zone, and what each input gets."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.signal.chain import signal_cables
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Table, Words
from fieldkit.show.document import Box


def patch_page(material: Material) -> Page:
    """Make the page."""
    blocks = [_by_rack(material), _by_zone(material), _signals(material), _routes(material)]
    unfed = [line.id for line in material.rig.lines if line.output is None]
    words = (Words((f"No output feeds {' '.join(unfed)}.",)),) if unfed else ()
    return Page("patch", "Patch", (*words, *blocks))


def _by_rack(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("rack", "output", "socket", "line", "boxes", "section", "preset", "fed from")),
        Column("load", "ohm"),
    )
    rows = [row for output in material.rig.outputs for row in _rack_rows(output)]
    racks = [rack.id for rack in material.show.racks]
    order = {name: place for place, name in enumerate(racks)}
    rows.sort(key=lambda row: order.get(str(row[0]), len(racks)))
    return Table(
        "patch-by-rack", "By rack", columns, tuple(rows), grouped=True, compared=False, empty="no amplifier yet"
    )


def _rack_rows(output: SolvedOutput) -> Iterator[tuple[Cell, ...]]:
    unit = output.output.unit
    rack, name, source = unit.rack or "no rack", output.output.id, output.source or "not planned"
    if not output.lines:
        yield rack, name, "", "", "free", "", "", source, None
    for solved in output.lines:
        socket = f"{solved.line.run.start.partition('.')[2]} pair {solved.line.pair}"
        if solved.line.run.start.partition(".")[0] != unit.id:
            socket = f"{solved.line.run.start} pair {solved.line.pair}"
        boxes, section, presets = of_line(solved)
        section = f"{section} (assumed)" if output.assumed else section
        yield rack, name, socket, solved.line.id, boxes, section, presets, source, output.load_ohm


def of_line(solved: SolvedLine) -> tuple[str, str, str]:
    """Write the boxes, sections and presets of a line; a preset that rests on an assumption says so."""
    loads = solved.line.loads
    boxes = " ".join(dict.fromkeys(load.box.id for load in loads)) or "no box"
    return boxes, solved.line.section, " ".join(dict.fromkeys(map(_preset, loads)))


def _preset(load: Load) -> str:
    return f"{load.choice.id or 'none'}{' (guessed)' if load.choice.guessed else ''}"


def fed_by_line(output: SolvedOutput, solved: SolvedLine) -> str:
    """Say what a line feeds: its boxes, their section, and whether the figures of its output are assumed."""
    boxes, section, _ = of_line(solved)
    return f"{boxes} {section}".strip() + (" (assumed)" if output.assumed else "")


def _by_zone(material: Material) -> Table:
    titles = ("zone", "box", "side", "model", "drive", "section", "pair", "line", "output", "signal")
    order = {zone.id: place for place, zone in enumerate(material.show.zones)}
    boxes = sorted(material.show.boxes, key=lambda box: order.get(box.zone, len(order)))
    rows = [row for box in boxes for row in _box_rows(box, material)]
    columns = tuple(Column(title) for title in titles)
    return Table("patch-by-zone", "By zone", columns, tuple(rows), keys=(1, 5, 6), grouped=True, empty="no box yet")


def _box_rows(box: Box, material: Material) -> Iterator[tuple[Cell, ...]]:
    drive = drive_text(box, material.rig.show_index.speakers[box.id])
    model = box.model or "no data sheet, assumed"
    feeds = material.lines_of_box.get(box.id, [])
    signal = box.input or next(
        (zone.signals.get(box.side, "") for zone in material.show.zones if zone.id == box.zone), ""
    )
    for output, solved in feeds:
        for item in solved.boxes:
            if item.load.box.id == box.id:
                section = item.load.section
                got = output.source or signal
                pair = str(section.pair)
                head = (box.zone, box.id, box.side, model, drive)
                yield *head, section.section, pair, solved.line.id, output.output.id, got
    if not feeds:
        own = "mains and a signal" if drive == "self-powered" else "nothing"
        yield box.zone, box.id, box.side, model, drive, "", "", "", own, signal


def _signals(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("unit", "cable", "kind", "carries", "from", "to", "is", "split"))
    rows: list[tuple[Cell, ...]] = []
    for cable in signal_cables(material.rig):
        balance = "balanced" if cable.balanced else "unbalanced"
        split = f"{cable.shares} start there" if cable.shares > 1 else ""
        unit = cable.id.partition(".")[0]
        rows.append((unit, cable.id, cable.kind, cable.signal, cable.start, cable.end, balance, split))
    title = "Signal cables and links"
    return Table("signals", title, columns, tuple(rows), keys=(1,), grouped=True, empty="no input is planned")


def _routes(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("processor", "output", "from inputs", "feeds"))
    rows = []
    for unit in material.rig.show_index.units.values():
        model = material.model(unit.model)
        for number in range(1, model.outputs + 1) if isinstance(model, Processor) else ():
            name = f"{unit.id}.{number}"
            fed = [
                f"{to.id} input {key}"
                for to in material.rig.show_index.units.values()
                for key, text in to.inputs.items()
                if text == name
            ]
            fed += [box.id for box in material.show.boxes if box.input == name]
            routed = unit.routes.get(str(number), "")
            if fed or routed:
                rows.append((unit.id, str(number), routed or "not planned", ", ".join(fed) or "nothing"))
    return Table("routes", "Processor outputs", columns, tuple(rows), keys=(0, 1), grouped=True, empty="none in use")
