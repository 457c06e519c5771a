"""The rig check: what a meter should read at the rack and at each box, and boxes to write in."""

from __future__ import annotations

from fieldkit.rig.solve.meters import Expected
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Table, Words
from fieldkit.show.document import Reading, Show
from fieldkit.triage.model.odds import table
from fieldkit.triage.rig_check.meter_pass import CheckedLine, entries, in_time

WORDS = (
    (
        "Meter pass: amplifiers off, isolated, and waited for; each plug pulled at the amplifier before it is metered. "
        "Never put ohms on an amplifier's output. Zero the leads first. Then quiet noise, one output at "
        "a time; then polarity."
    ),
    (
        "Boxes at rest and cold read as given; a warm driver reads up to a quarter more. 'open' is what a healthy "
        "line reads where only a capacitor is in the way."
    ),
)


def rig_check_page(material: Material) -> Page:
    """Make the page, in the order in which one walks past the racks."""
    taken: dict[tuple[str, str], list[Reading]] = {}
    for reading in material.show.readings:
        taken.setdefault((reading.line, reading.at), []).append(reading)
    at_rack: list[tuple[Cell, ...]] = []
    at_boxes: list[tuple[Cell, ...]] = []
    verdicts: list[tuple[Cell, ...]] = []
    for entry in entries(material.rig, table()):
        read = _read(in_time(taken.get((entry.line, entry.at), [])))
        if read:
            verdicts.append((entry.line, entry.at, read, entry.says))
        if entry.line not in material.line:
            continue  # a reading of a pair that carries nothing now: there is no line to meter
        if entry.at == "amp":
            at_rack.append((*_rack_head(entry, material), *_bands(entry.expected), read))
        else:
            at_boxes.append((entry.line, entry.at, *_bands(entry.expected), read))
    tables = (_at_rack(tuple(at_rack)), _verdicts(tuple(verdicts)), _log(material.show), _at_boxes(tuple(at_boxes)))
    return Page("rig-check", "Rig check", (Words(WORDS), *tables))


BANDS = (Column("reads", "ohm"), Column("from", "ohm"), Column("to", "ohm"), Column("at 1 kHz", "ohm"))


def _bands(expected: Expected) -> tuple[Cell, ...]:
    z1k = expected.z1k.value if expected.z1k else None
    if expected.dc is None:
        return "open", "", "", z1k
    return expected.dc.value, expected.dc.low, expected.dc.high, z1k


def _rack_head(entry: CheckedLine, material: Material) -> tuple[Cell, ...]:
    """Name a line, its output, the plug to pull, and its boxes."""
    line = material.line[entry.line]
    output = line.output.id if line.output else "not fed"
    boxes = " ".join(dict.fromkeys(load.box.id for load in line.loads)) or "no box"
    boxes += " (assumed)" if entry.expected.assumed and entry.expected.dc is not None else ""
    near = material.ends_of.get((line.run.id, 1))
    return line.id, output, near[0].label if near else line.run.id, boxes


KINDS = {"dc": "", "1khz": " at 1 kHz", "load": " reported by the amplifier"}


def _read(readings: list[Reading]) -> str:
    """Write what was read, the latest last, with who read it and whether it was warm."""
    return ", ".join(
        f"{reading.value}{KINDS[reading.kind]}{' warm' if reading.warm else ''}"
        + (f" ({reading.by})" if reading.by else "")
        for reading in readings
    )


def _at_rack(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    head = tuple(Column(title) for title in ("line", "output", "plug", "boxes"))
    columns = (*head, *BANDS, Column("read", write=True))
    title = "At the rack, looking into each cable"
    return Table("rig-check", title, columns, rows, row_mm=7.5, empty="no line yet")


def _at_boxes(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    columns = (Column("line"), Column("at"), *BANDS, Column("read"))
    title = "Further out, to find a fault: .in looks into a box, .out onward from its link, .alone with both pulled"
    return Table("meter-points", title, columns, rows, grouped=True, compared=False, empty="no box yet")


def _log(show: Show) -> Table:
    """List the faults that were fixed and the notes, in the order of the log."""
    rows = tuple(
        (f"{item.time.astimezone():%Y-%m-%d %H:%M}" if item.time else "", item.at, item.says)
        for item in show.log
        if item.kind in {"fault", "note"}
    )
    columns = tuple(Column(title) for title in ("when", "at", "what was found, done or noted"))
    return Table("log", "Log of faults and notes", columns, rows, keys=(0, 1, 2), empty="nothing in the log")


def _verdicts(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    columns = tuple(Column(title) for title in ("line", "at", "read", "verdict"))
    return Table(
        "verdicts", "What was read, and what it means", columns, rows, keys=(0, 1), empty="nothing was read yet"
    )
