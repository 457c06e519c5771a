"""Rack faces, front and rear, and what plugs in where."""

from __future__ import annotations

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Page, RackDrawing, RackSlot, RearSocket, Table, Words
from fieldkit.show.document import Rack, RackUnit


def racks_page(material: Material) -> Page:
    """Make the page."""
    drawings: list[Block] = []
    for rack in material.show.racks:
        drawings += [rack_face(rack, material, rear=False), rack_face(rack, material, rear=True)]
    if not drawings:
        drawings = [Words(("no rack is planned",))]
    return Page("racks", "Rack faces", (*drawings, _places(material), _sockets(material)))


def rack_face(rack: Rack, material: Material, *, rear: bool) -> RackDrawing:
    """Draw a face of a rack."""
    built = material.model(rack.as_built or "")
    placed: list[RackSlot] = []
    unplaced: list[RackSlot] = []
    for unit in material.units_of_rack.get(rack.id, ()):
        model = material.model(unit.model)
        height = model.units if isinstance(model, (Amplifier, Processor)) else 0
        slot = _slot(unit, height, material, rear=rear)
        (placed if unit.unit and height else unplaced).append(slot)
    if rear and isinstance(built, BuiltRack):
        sockets = tuple(RearSocket(name, "out", _ends_in(rack.id, name, material)) for name in built.panel)
        unplaced.append(RackSlot(0, 1, "panel", sockets=sockets))
    total = rack.units or (built.units if isinstance(built, BuiltRack) else 0)
    total = max([total, *(slot.unit + slot.height - 1 for slot in placed)])
    title = f"{rack.id} {rack.side}".strip() + (", rear" if rear else ", front")
    return RackDrawing(title, total, tuple(sorted(placed, key=lambda slot: -slot.unit)), tuple(unplaced))


def loose_face(unit: RackUnit, material: Material) -> RackDrawing:
    """Draw the rear of a unit that stands in no rack."""
    return RackDrawing(f"{unit.id}, rear", 0, (), (_slot(unit, 1, material, rear=True),))


def _slot(unit: RackUnit, height: int, material: Material, *, rear: bool) -> RackSlot:
    serial = (f"serial {unit.serial}",) if unit.serial else ()
    details = (unit.model, *serial) if not rear else ()
    sockets = sockets_of(unit, material) if rear else ()
    return RackSlot(unit.unit or 0, max(1, height), unit.id, details, sockets)


def sockets_of(unit: RackUnit, material: Material) -> tuple[RearSocket, ...]:
    """List the sockets on the rear of a unit, inputs first, with the labels of the cable ends that go in."""
    model = material.model(unit.model)
    if isinstance(model, Amplifier):
        inputs = [str(number) for number in range(1, model.channels + 1)]
        outputs = [RearSocket(name, "out", _ends_in(unit.id, name, material)) for name in model.connectors]
        if _behind_a_panel(unit, material):
            outputs = [socket for socket in outputs if socket.cables]
    elif isinstance(model, Processor):
        inputs = [str(number) for number in range(1, model.inputs + 1)]
        leaving = material.signal_ends
        outputs = [
            RearSocket(str(number), "out", leaving.get(f"{unit.id} output {number}", ()))
            for number in range(1, model.outputs + 1)
        ]
    else:
        return ()
    return (*(RearSocket(name, "in", _inputs_in(unit, name, material)) for name in inputs), *outputs)


def _behind_a_panel(unit: RackUnit, material: Material) -> bool:
    """Tell whether a rack's own wires may be in the sockets of a unit, so that none can be called free."""
    rack = material.rig.show_index.racks.get(unit.rack or "")
    built = material.model(rack.as_built or "") if rack is not None else None
    return isinstance(built, BuiltRack) and bool(built.panel)


def _inputs_in(unit: RackUnit, name: str, material: Material) -> tuple[str, ...]:
    source = unit.inputs.get(name, "")
    if source.startswith("="):
        return (f"link of {source[1:]}",)
    return material.signal_ends.get(f"{unit.id} input {name}", ())


def _ends_in(name: str, socket: str, material: Material) -> tuple[str, ...]:
    """Name the cable ends in a loudspeaker socket: a multicore that several runs share is one cable."""
    return tuple(dict.fromkeys(material.plugs_in.get(f"{name}.{socket}", ())))


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
