"""Rack faces, front and rear, and what plugs in where."""

from __future__ import annotations

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Page, RackDrawing, RackSlot, Table, Words
from fieldkit.sheets.patch import inputs_of
from fieldkit.show.document import Rack, RackUnit


def racks_page(material: Material) -> Page:
    """Make the page."""
    drawings: list[Block] = []
    for rack in material.show.racks:
        units = [unit for unit in material.rig.show_index.units.values() if unit.rack == rack.id]
        drawings += [_face(rack, units, material, rear=False), _face(rack, units, material, rear=True)]
    if not drawings:
        drawings = [Words(("no rack is planned",))]
    return Page("racks", "Rack faces", (*drawings, _places(material), _sockets(material)))


def _face(rack: Rack, units: list[RackUnit], material: Material, *, rear: bool) -> RackDrawing:
    built = material.model(rack.as_built or "")
    placed: list[RackSlot] = []
    unplaced: list[RackSlot] = []
    for unit in units:
        model = material.model(unit.model)
        height = model.units if isinstance(model, (Amplifier, Processor)) else 0
        details = tuple(_rear(unit, material)) if rear else (unit.model,)
        slot = RackSlot(unit.unit or 0, max(1, height), unit.id, details)
        (placed if unit.unit and height else unplaced).append(slot)
    if rear and isinstance(built, BuiltRack):
        sockets = tuple(f"{socket}: {_runs_from(rack.id, socket, material)}" for socket in built.panel)
        unplaced.append(RackSlot(0, 1, "panel", sockets))
    total = rack.units or (built.units if isinstance(built, BuiltRack) else 0)
    total = max([total, *(slot.unit + slot.height - 1 for slot in placed)])
    title = f"{rack.id} {rack.side}".strip() + (", rear" if rear else ", front")
    return RackDrawing(title, total, tuple(sorted(placed, key=lambda slot: -slot.unit)), tuple(unplaced))


def _rear(unit: RackUnit, material: Material) -> list[str]:
    model = material.model(unit.model)
    sockets = model.connectors if isinstance(model, Amplifier) else {}
    used = [(socket, runs) for socket in sockets if (runs := _runs_from(unit.id, socket, material)) != "free"]
    details = ["; ".join(f"{socket}: {runs}" for socket, runs in used)] if used else []
    inputs = "; ".join(f"in {number}: {_said(source)}" for number, source in inputs_of(unit))
    return [*details, inputs] if inputs else details


def _said(source: str) -> str:
    return f"link of {source[1:]}" if source.startswith("=") else source


def _runs_from(name: str, socket: str, material: Material) -> str:
    runs = [run.id for run in material.show.runs if run.start == f"{name}.{socket}"]
    return " ".join(runs) or "free"


def _places(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("rack", "unit", "name", "model", "height", "serial", "supply"))
    rows = []
    for unit in material.rig.show_index.units.values():
        model = material.model(unit.model)
        height = model.units if isinstance(model, (Amplifier, Processor)) else None
        place = unit.unit or "not noted"
        head = (unit.rack or "no rack", place, unit.id, unit.model)
        rows.append((*head, f"{height} U" if height else "no ears", unit.serial, unit.supply or "not planned"))
    order = {rack.id: place for place, rack in enumerate(material.show.racks)}
    rows.sort(key=lambda row: order.get(str(row[0]), len(order)))
    return Table("rack-places", "What is where", columns, tuple(rows), keys=(2,), grouped=True, empty="no unit yet")


def _sockets(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("unit", "socket", "cable end", "run", "lines"))
    cable_at: dict[str, list[str]] = {}
    for end in material.ends:
        for name, step in end.steps:
            if end.near and step == 1:
                cable_at.setdefault(name, []).append(end.label)
    rows: list[tuple[Cell, ...]] = []
    for run in material.show.runs:
        unit, _, socket = run.start.partition(".")
        lines = " ".join(line.id for line in material.lines_of_run.get(run.id, []))
        rows.append((unit, socket, " ".join(cable_at.get(run.id, [])), run.id, lines))
    rows.sort(key=lambda row: str(row[0]))
    return Table(
        "sockets", "Loudspeaker sockets", columns, tuple(rows), keys=(0, 1, 3), grouped=True, empty="no run yet"
    )
