"""A page a hand: what somebody at one side of the stage plugs, and what is patched and set at front of house."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.signal.chain import signal_cables
from fieldkit.rig.solve.meters import expected_readings
from fieldkit.sheets.drawings import room_plan
from fieldkit.sheets.flow import flow_diagram
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Page, Table, Words
from fieldkit.sheets.places import StageSide
from fieldkit.sheets.settings import delay_table
from fieldkit.sheets.wiring import LEGEND, run_drawing
from fieldkit.show.document import Box

SIDES = "Left and right are the show's own words for its sides; ask whether they are seen from the audience."


def side_keys(material: Material) -> tuple[str, ...]:
    """Name the pages of the stage."""
    return tuple(side.key for side in material.stage_sides)


def stage_page(material: Material, key: str) -> Page:
    """Make the page of one side of the stage. Raises KeyError for a key that the show does not have."""
    side = {item.key: item for item in material.stage_sides}[key]
    ids = {box.id for box in side.boxes}
    runs = [run for run in material.show.runs if any(step.box in ids for step in run.path)]
    drawings = tuple(run_drawing(run, material) for run in runs)
    words = (*LEGEND, SIDES) if key != "stage-middle" else LEGEND
    return Page(key, side.title, (_boxes(side, material), Words(words), *drawings), repeats=True)


def _boxes(side: StageSide, material: Material) -> Table:
    order = {zone.id: place for place, zone in enumerate(material.show.zones)}
    boxes = sorted(side.boxes, key=lambda box: order.get(box.zone, len(order)))
    columns = (
        *(Column(title) for title in ("zone", "box", "side", "model", "switch", "cable end in", "pair", "is", "from")),
        Column("reads at the box", "ohm"),
    )
    rows = tuple(row for box in boxes for row in _box_rows(box, material))
    return Table("stage", "Boxes", columns, rows, keys=(1, 6), grouped=True, compared=False)


def _box_rows(box: Box, material: Material) -> Iterator[tuple[Cell, ...]]:
    speaker = material.rig.show_index.speakers[box.id]
    drive = drive_text(box, speaker)
    switch = drive if len(speaker.drives()) > 1 and speaker.switch else ""
    model = box.model or "no data sheet, assumed"
    head = (box.zone, box.id, box.side, model, switch, " ".join(material.ends_into.get(box.id, ())))
    feeds = material.lines_of_box.get(box.id, [])
    for output, solved in feeds:
        reads = next(
            (
                expected.dc.value if expected.dc else "open"
                for expected in expected_readings(solved.line, material.rig.conditions.temperature_c)
                if expected.at == f"{box.id}.in"
            ),
            None,
        )
        for item in solved.boxes:
            if item.load.box.id == box.id:
                section = item.load.section
                yield *head, str(section.pair), section.section, output.output.id, reads
    if not feeds:
        own = f"mains and {box.input or 'a signal'}" if drive == "self-powered" else "nothing feeds it"
        yield *head, "", "", own, None


def front_of_house_page(material: Material) -> Page:
    """Make the page of front of house: what leaves the desk and where it goes, and the delays that follow the air."""
    blocks: list[Block] = [flow_diagram(material), _signals_of_zones(material), _from_the_desk(material)]
    blocks.append(delay_table(material))
    plan = room_plan(material)
    return Page("front-of-house", "Front of house", (*blocks, *([plan] if plan.marks else [])), repeats=True)


def _from_the_desk(material: Material) -> Table:
    """Make the table of the cables that are plugged at the desk; where they come out is on the page of each rack."""
    columns = tuple(Column(title) for title in ("cable", "carries", "from", "to", "split"))
    rows = tuple(
        (cable.id, cable.signal, cable.start, cable.end, f"{cable.shares} start there" if cable.shares > 1 else "")
        for cable in signal_cables(material.rig)
        if cable.kind == "signal cable" and cable.start.startswith("desk")
    )
    title = "Signal cables at the desk"
    return Table("desk-cables", title, columns, rows, compared=False, empty="no input is planned")


def _signals_of_zones(material: Material) -> Table:
    sockets = material.show.about.desk_outputs
    columns = tuple(Column(title) for title in ("signal", "leaves the desk at", "zones and sides"))
    fed: dict[str, list[str]] = {signal: [] for signal in sockets}
    for zone in material.show.zones:
        for side, signal in zone.signals.items():
            fed.setdefault(signal, []).append(f"{zone.id} {side}".strip())
    rows = tuple((signal, sockets.get(signal, "not noted"), ", ".join(names)) for signal, names in fed.items())
    return Table("zone-signals", "Signals", columns, rows, compared=False, empty="no signal is planned")
