"""How far the rig check is: the lines in walking order, those without a reading, and what the passes found."""

from __future__ import annotations

from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Show


def walking_order(rig: Rig) -> list[Line]:
    """List the lines as one walks past them: rack by rack, unit by unit, connector by connector, pair by pair."""
    units = list(rig.show_index.units)
    racks = list(rig.show_index.racks)
    places = {id(line): place for place, line in enumerate(rig.lines)}

    def place(line: Line) -> tuple[int, int, str, int]:
        name, _, connector = line.run.start.partition(".")
        unit = rig.show_index.units.get(name)
        rack = unit.rack if unit else name
        where = racks.index(rack) if rack in racks else len(racks)
        number = units.index(name) if name in units else -1
        return where, number, connector, places[id(line)]

    return sorted((line for line in rig.lines if line.pieces), key=place)


def unmetered(rig: Rig) -> tuple[list[str], int]:
    """List the lines that have not been metered at the amplifier, in walking order, and count all lines."""
    lines = [line.id for line in walking_order(rig) if line.loads]
    read = {reading.line for reading in rig.show.readings if reading.at == "amp"}
    return [name for name in lines if name not in read], len(lines)


def passed(show: Show, kind: str) -> dict[str, bool]:
    """Return the results of a pass of the rig check, by output or box."""
    return {item.at: item.ok for item in show.log if item.kind == kind}
