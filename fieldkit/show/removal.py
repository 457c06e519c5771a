"""Taking a thing out of a show with what hangs on it, and saying first what that is."""

from __future__ import annotations

import msgspec

from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import MODEL_TABLES, Run, Show
from fieldkit.show.edits import find, without_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.lost_references import loss_problem
from fieldkit.show.usage import users


class Removal(msgspec.Struct, frozen=True):
    """A show without a thing, and all that goes or changes with it."""

    show: Show
    consequences: tuple[str, ...]
    """One line each, in words: ``box ML1 goes``, ``run W1 ends before ML1``."""


def removed(show: Show, table: str, name: str) -> Removal:
    """Take a thing out, and what cannot be without it. Raises DocumentError for a model that is in use."""
    find(show, table, name)
    if table in MODEL_TABLES:
        return _without_model(show, table, name)
    act = {
        "boxes": _without_box,
        "zones": _without_zone,
        "racks": _without_rack,
        "rack_units": _without_unit,
        "runs": _without_run,
        "supplies": _without_supply,
    }[table]
    result = act(show, name)
    left = _without_records(show, _without_losses(result.show))
    return Removal(left.show, (*result.consequences, *left.consequences))


def _without_model(show: Show, table: str, name: str) -> Removal:
    records = {"stock", "readings", "log", *MODEL_TABLES}
    using = [f"{label} in {other}" for other, label in users(show, table, name) if other not in records]
    if using:
        raise DocumentError(f"'{name}' is in use: {', '.join(using[:6])}", thing=name)
    stock = tuple(item for item in show.stock if item.model != name)
    gone = ("its stock goes",) if len(stock) != len(show.stock) else ()
    return Removal(msgspec.structs.replace(without_thing(show, table, name), stock=stock), gone)


def _without_box(show: Show, name: str) -> Removal:
    said: list[str] = []
    runs: list[Run] = []
    for run in show.runs:
        if not any(step.box == name for step in run.path):
            runs.append(run)
            continue
        path = [msgspec.structs.replace(step, box=None) if step.box == name else step for step in run.path]
        while path and path[-1].box is None:
            path.pop()
        if any(step.box for step in path):
            said.append(f"run {run.id} goes on without it")
            runs.append(msgspec.structs.replace(run, path=tuple(path)))
        else:
            said.append(f"run {run.id} goes, with its cables")
    gone = {run.id for run in show.runs} - {run.id for run in runs}
    readings = tuple(item for item in show.readings if item.line.partition("/")[0] not in gone)
    show = msgspec.structs.replace(without_thing(show, "boxes", name), runs=tuple(runs), readings=readings)
    return Removal(show, tuple(said))


def _without_zone(show: Show, name: str) -> Removal:
    result = _all_without(show, "boxes", [box.id for box in show.boxes if box.zone == name])
    zones = tuple(
        msgspec.structs.replace(zone, low_end_from=tuple(item for item in zone.low_end_from if item != name))
        if zone.low_end_from and name in zone.low_end_from
        else zone
        for zone in result.show.zones
    )
    said = tuple(f"zone {zone.id} is timed to nothing" for zone in zones if zone.timed_to == name)
    zones = tuple(msgspec.structs.replace(zone, timed_to=None) if zone.timed_to == name else zone for zone in zones)
    show = msgspec.structs.replace(result.show, zones=zones)
    return Removal(without_thing(show, "zones", name), (*result.consequences, *said))


def _without_unit(show: Show, name: str) -> Removal:
    feeding = [run.id for run in show.runs if name in _units_of(run)]
    result = _all_without(show, "runs", feeding)
    units = []
    said = list(result.consequences)
    for unit in result.show.rack_units:
        inputs = {key: source for key, source in unit.inputs.items() if source.partition(".")[0] != name}
        if inputs != unit.inputs:
            said.append(f"{unit.id} loses an input")
            units.append(msgspec.structs.replace(unit, inputs=inputs))
        else:
            units.append(unit)
    boxes = []
    for box in result.show.boxes:
        lost = "." in box.input and box.input.partition(".")[0] == name
        said += [f"box {box.id} loses its input"] if lost else []
        boxes.append(msgspec.structs.replace(box, input="") if lost else box)
    show = msgspec.structs.replace(result.show, rack_units=tuple(units), boxes=tuple(boxes))
    free = _without_pin(without_thing(show, "rack_units", name), name)
    return Removal(free.show, (*said, *free.consequences))


def _without_pin(show: Show, name: str) -> Removal:
    """Take a name out of what zones are pinned to."""
    said = tuple(f"zone {zone.id} is not pinned to it any more" for zone in show.zones if name in zone.served_by)
    zones = tuple(
        msgspec.structs.replace(zone, served_by=tuple(item for item in zone.served_by if item != name))
        if name in zone.served_by
        else zone
        for zone in show.zones
    )
    return Removal(msgspec.structs.replace(show, zones=zones), said)


def _without_rack(show: Show, name: str) -> Removal:
    brought = {unit.id for unit in all_units(show) if unit.rack == name} - {unit.id for unit in show.rack_units}
    runs = [run.id for run in show.runs if run.start.partition(".")[0] == name or _units_of(run) & brought]
    result = _all_without(show, "runs", runs)
    own = [unit.id for unit in show.rack_units if unit.rack == name]
    more = _all_without(result.show, "rack_units", own)
    freed = without_thing(more.show, "racks", name)
    said = [*result.consequences, *more.consequences]
    for unit in sorted({name} | brought):
        pin = _without_pin(freed, unit)
        freed = pin.show
        said += pin.consequences
    return Removal(freed, tuple(said))


def _without_run(show: Show, name: str) -> Removal:
    readings = tuple(item for item in show.readings if item.line.partition("/")[0] != name)
    said = ("its readings go",) if len(readings) != len(show.readings) else ()
    return Removal(msgspec.structs.replace(without_thing(show, "runs", name), readings=readings), said)


def _without_supply(show: Show, name: str) -> Removal:
    said: list[str] = []
    tables = {}
    for table, key in (("rack_units", "supply"), ("boxes", "supply"), ("supplies", "fed_from")):
        tables[table] = tuple(
            msgspec.structs.replace(thing, **{key: None}) if getattr(thing, key) == name else thing
            for thing in getattr(show, table)
        )
        word = "is on no supply" if key == "supply" else "is fed from nothing"
        said += [f"{thing.id} {word}" for thing in getattr(show, table) if getattr(thing, key) == name]
    return Removal(without_thing(msgspec.structs.replace(show, **tables), "supplies", name), tuple(said))


def _without_losses(show: Show) -> Show:
    """Forget the losses of what is gone, and what was noted about it."""
    if not show.lost:
        return show
    units = {unit.id: unit for unit in all_units(show)}
    models, runs = models_by_id(show), {run.id for run in show.runs}
    left = tuple(
        msgspec.structs.replace(
            lost,
            moved=tuple(moved for moved in lost.moved if moved.run in runs),
            changed=tuple(changed for changed in lost.changed if changed.unit in units),
        )
        for lost in show.lost
        if not loss_problem(lost.id, show, units, models)
    )
    return msgspec.structs.replace(show, lost=left)


def _without_records(before: Show, after: Show) -> Removal:
    """Forget what was logged about things that are gone, and what was read at points that are.

    A thing of the same label that comes later was not tested. What named nothing before is left as it is.
    """
    if not before.log and not before.readings:
        return Removal(after, ())
    labels = _labels(before) - _labels(after)
    points = _points(before) - _points(after)
    log = tuple(entry for entry in after.log if _about(entry.at) not in labels)
    runs = {run.id for run in after.runs}
    readings = tuple(
        reading
        for reading in after.readings
        if (reading.line.partition("/")[0], reading.at.rpartition(".")[0]) not in points
        or reading.line.partition("/")[0] not in runs
    )
    gone = dict.fromkeys(entry.at for entry in after.log if _about(entry.at) in labels)
    said = [f"what the log says of {at} goes" for at in gone]
    unread = dict.fromkeys(f"{item.line} at {item.at}" for item in after.readings if item not in readings)
    said += [f"the reading of {place} goes" for place in unread]
    return Removal(msgspec.structs.replace(after, log=log, readings=readings), tuple(said))


def _about(at: str) -> str:
    """Name the thing that a log entry is about: ``SR-1`` of ``SR-1.3``, ``W1`` of ``W1/2``."""
    return at.partition(".")[0].partition("/")[0]


def _labels(show: Show) -> set[str]:
    tables = (show.boxes, show.racks, show.runs, show.supplies, all_units(show))
    return {thing.id for table in tables for thing in table}


def _points(show: Show) -> set[tuple[str, str]]:
    """List the boxes and panels that can be metered at, each with its run."""
    return {
        (run.id, name) for run in show.runs for step in run.path for name in (step.box, step.panel) if name is not None
    }


def _all_without(show: Show, table: str, names: list[str]) -> Removal:
    said: list[str] = []
    for name in names:
        step = removed(show, table, name)
        word = {"boxes": "box", "runs": "run", "rack_units": "unit"}[table]
        said += [f"{word} {name} goes", *step.consequences]
        show = step.show
    return Removal(show, tuple(dict.fromkeys(said)))


def _units_of(run: Run) -> set[str]:
    """Name the units that a run starts at or is fed by."""
    return {run.start.partition(".")[0], *(name.partition(".")[0] for name in run.feeds.values())}
