"""The rig check: what a meter should read at the rack and at each box, and boxes to write in."""

from __future__ import annotations

from fieldkit.rig.lines import Line
from fieldkit.rig.meters import Expected, expected_readings
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Table, Words
from fieldkit.show.document import Reading

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
    """Make the page."""
    taken: dict[tuple[str, str], list[Reading]] = {}
    for reading in material.show.readings:
        taken.setdefault((reading.line, reading.at), []).append(reading)
    temperature = material.rig.conditions.temperature_c
    at_rack: list[tuple[Cell, ...]] = []
    at_boxes: list[tuple[Cell, ...]] = []
    for line in _in_order(material):
        for expected in expected_readings(line, temperature):
            readings = taken.get((line.id, expected.at), [])
            if expected.at == "amp":
                at_rack.append(_rack_row(line, expected, readings, material))
            else:
                at_boxes.append((line.id, expected.at, *_bands(expected), _read(readings)))
    return Page("rig-check", "Rig check", (Words(WORDS), _at_rack(tuple(at_rack)), _at_boxes(tuple(at_boxes))))


def _in_order(material: Material) -> list[Line]:
    """Give the lines in the order of the amplifiers, then those that nothing feeds."""
    fed = [solved.line for output in material.rig.outputs for solved in output.lines]
    return [*fed, *(line for line in material.rig.lines if line.output is None)]


BANDS = (Column("reads", "ohm"), Column("from", "ohm"), Column("to", "ohm"), Column("at 1 kHz", "ohm"))


def _bands(expected: Expected) -> tuple[Cell, ...]:
    z1k = expected.z1k.value if expected.z1k else None
    if expected.dc is None:
        return "open", "", "", z1k
    return expected.dc.value, expected.dc.low, expected.dc.high, z1k


def _rack_row(line: Line, expected: Expected, readings: list[Reading], material: Material) -> tuple[Cell, ...]:
    output = line.output.id if line.output else "not fed"
    boxes = " ".join(dict.fromkeys(load.box.id for load in line.loads)) or "no box"
    boxes += " (assumed)" if expected.assumed and expected.dc is not None else ""
    near = material.ends_of.get((line.run.id, 1))
    plug = near[0].label if near else line.run.id
    return line.id, output, plug, boxes, *_bands(expected), _read(readings)


def _read(readings: list[Reading]) -> str:
    """Write what was read, the latest last, with who read it and whether it was warm."""
    return ", ".join(
        f"{reading.value}{' at 1 kHz' if reading.kind == '1khz' else ''}{' warm' if reading.warm else ''}"
        + (f" ({reading.by})" if reading.by else "")
        for reading in readings
    )


def _at_rack(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    head = tuple(Column(title) for title in ("line", "output", "plug", "boxes"))
    columns = (*head, *BANDS, Column("read", write=True))
    title = "At the rack, looking into each cable"
    return Table("rig-check", title, columns, rows, empty="no line yet")


def _at_boxes(rows: tuple[tuple[Cell, ...], ...]) -> Table:
    columns = (Column("line"), Column("at"), *BANDS, Column("read", write=True))
    title = "Further out, to find a fault: .in looks into a box, .out onward from its link, .alone with both pulled"
    return Table("meter-points", title, columns, rows, grouped=True, compared=False, empty="no box yet")
