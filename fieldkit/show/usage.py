"""Who names whom: where in a show a label is used, so that renaming and removing can follow it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec

from fieldkit.gear.wording import to_plain
from fieldkit.show.contents import all_units
from fieldkit.show.decoding import decode
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.show.errors import DocumentError

Plain = dict[str, Any]

LABELS = ("boxes", "zones", "racks", "rack_units", "runs", "supplies")
"""Tables whose ids are labels; the others hold models."""


def renamed(show: Show, table: str, old: str, new: str) -> Show:
    """Give a show in which a thing has another label, with every place that names it following.

    Raises DocumentError for a label that may not be, or that somebody has already.
    """
    if not any(getattr(thing, "id", None) == old for thing in getattr(show, table)):
        raise DocumentError(f"there is no '{old}' in {table}", thing=old)
    if new in _taken(show, table):
        raise DocumentError(f"the label '{new}' is already used", thing=old)
    plain: Plain = to_plain(show)
    for thing in plain[table]:
        if thing["id"] == old:
            thing["id"] = new
    for place in _places(plain, table):
        place(old, new)
    if table == "racks":
        for unit in plain.get("rack_units", []):
            number = unit["id"].removeprefix(f"{old}-")
            if unit["id"] != number and number.isdecimal():
                _follow_unit(plain, unit["id"], f"{new}-{number}")
                unit["id"] = f"{new}-{number}"
        for brought in all_units(show):
            number = brought.id.removeprefix(f"{old}-")
            if brought.id != number and number.isdecimal():
                _follow_unit(plain, brought.id, f"{new}-{number}")
    return decode(_untupled(plain))


def users(show: Show, table: str, name: str) -> tuple[tuple[str, str], ...]:
    """List what names a thing: table and label of each, in the order of the file."""
    plain: Plain = to_plain(show)
    found: dict[tuple[str, str], None] = {}
    for other, index, thing in _things(plain):
        before = msgspec.json.encode(thing)
        label = str(
            thing.get("id") or thing.get("line") or thing.get("model") or thing.get("at") or f"number {index + 1}"
        )
        for place in _places({other: [thing]}, table):
            place(name, f"{name}\0")
        if msgspec.json.encode(thing) != before:
            found[other, label] = None
    return tuple(found)


def _taken(show: Show, table: str) -> set[str]:
    if table in MODEL_TABLES:
        tables: tuple[str, ...] = MODEL_TABLES
    else:
        tables = ("zones",) if table == "zones" else tuple(name for name in LABELS if name != "zones")
    return {thing.id for name in tables for thing in getattr(show, name)}


def _things(plain: Plain) -> Iterator[tuple[str, int, Plain]]:
    for table, things in plain.items():
        if isinstance(things, (list, tuple)):
            for index, thing in enumerate(things):
                yield table, index, thing


def _places(plain: Plain, table: str) -> Iterator[Callable[[str, str], None]]:
    """Give for each place that may name a thing of a table the act of putting another name there."""
    yield from _record_places(plain, table)
    if table in {"rack_units", "racks", "amplifiers", "built_racks"}:
        for zone in plain.get("zones", ()):
            if "served_by" in zone:
                yield _each(zone, "served_by")
    if table in MODEL_TABLES:
        yield from _model_places(plain)
    elif table == "zones":
        for box in plain.get("boxes", ()):
            yield _key(box, "zone")
        for zone in plain.get("zones", ()):
            if "low_end_from" in zone:
                yield _each(zone, "low_end_from")
            yield _key(zone, "timed_to")
    elif table == "boxes":
        for run in plain.get("runs", ()):
            for step in run["path"]:
                yield _key(step, "box")
        yield from _losses(plain, "", "")
    elif table == "supplies":
        yield from _losses(plain, "", "")
        for table_of_users, key in (("rack_units", "supply"), ("boxes", "supply"), ("supplies", "fed_from")):
            for thing in plain.get(table_of_users, ()):
                yield _key(thing, key)
    elif table == "runs":
        for reading in plain.get("readings", ()):
            yield _before(reading, "line", "/")
        yield from _losses(plain, "moved", "run")
    elif table == "racks":
        for unit in plain.get("rack_units", ()):
            yield _key(unit, "rack")
        for run in plain.get("runs", ()):
            yield _before(run, "from", ".")
        for lost in plain.get("lost", ()):
            for moved in lost.get("moved", ()):
                yield _before(moved, "from", ".")
    elif table == "rack_units":
        for run in plain.get("runs", ()):
            yield _before(run, "from", ".")
            for pair in run.get("feeds", {}):
                yield _before(run["feeds"], pair, ".")
        for box in plain.get("boxes", ()):
            if "input" in box:
                yield _before(box, "input", ".")
        for unit in plain.get("rack_units", ()):
            for name in unit.get("inputs", {}):
                yield _before(unit["inputs"], name, ".")
        yield from _losses(plain, "changed", "unit")
        for lost in plain.get("lost", ()):
            yield _before(lost, "id", ".")
            for moved in lost.get("moved", ()):
                yield _before(moved, "from", ".")
                for pair in moved.get("feeds", {}):
                    yield _before(moved["feeds"], pair, ".")
            for changed in lost.get("changed", ()):
                for name in changed.get("inputs", {}):
                    yield _before(changed["inputs"], name, ".")


def _record_places(plain: Plain, table: str) -> Iterator[Callable[[str, str], None]]:
    """Give the places of what was done and read: the thing a log entry is about, the point that was metered."""
    if table in LABELS and table != "zones":
        for reading in plain.get("readings", ()) if table == "boxes" else ():
            if "at" in reading:
                yield _before(reading, "at", ".")
        for entry in plain.get("log", ()):
            yield _key(entry, "at")
            yield _before(entry, "at", ".")
            yield _before(entry, "at", "/")
    elif table == "panels":
        # A panel and a thing may have the same name: the point is the thing's then, as everywhere else.
        labels = {thing["id"] for name in LABELS for thing in plain.get(name, ())}
        for record in (*plain.get("readings", ()), *plain.get("log", ())):
            if "at" in record and record["at"].partition(".")[0] not in labels:
                yield _before(record, "at", ".")


def _losses(plain: Plain, record: str, key: str) -> Iterator[Callable[[str, str], None]]:
    """Give the places of what was lost itself, and of one kind of record of what was moved for it."""
    for lost in plain.get("lost", ()):
        if record != "moved":
            yield _key(lost, "id")
        for item in lost.get(record, ()) if record else ():
            yield _key(item, key)


def _model_places(plain: Plain) -> Iterator[Callable[[str, str], None]]:
    for table in ("boxes", "stock", "rack_units"):
        for thing in plain.get(table, ()):
            yield _key(thing, "model")
    for rack in plain.get("racks", ()):
        yield _key(rack, "as_built")
    for built in plain.get("built_racks", ()):
        for inside in built["contents"]:
            yield _key(inside, "model")
    for table in ("amplifiers", "processors"):
        for model in plain.get(table, ()):
            if "presets" in model.get("hosts", {}):
                yield _each(model["hosts"], "presets")
    for run in plain.get("runs", ()):
        for step in run["path"]:
            for key in ("cable", "adaptor", "panel"):
                yield _key(step, key)
    for lost in plain.get("lost", ()):
        for moved in lost.get("moved", ()):
            yield _key(moved, "adaptor")


def _follow_unit(plain: Plain, old: str, new: str) -> None:
    for place in _places(plain, "rack_units"):
        place(old, new)


def _key(thing: Plain, key: str) -> Callable[[str, str], None]:
    def put(old: str, new: str) -> None:
        if thing.get(key) == old:
            thing[key] = new

    return put


def _each(thing: Plain, key: str) -> Callable[[str, str], None]:
    def put(old: str, new: str) -> None:
        thing[key] = [new if name == old else name for name in thing[key]]

    return put


def _before(thing: Plain, key: str, mark: str) -> Callable[[str, str], None]:
    """Put another name before a joint, as in ``SR-1.A`` and ``W1/2``."""

    def put(old: str, new: str) -> None:
        name, joint, rest = str(thing[key]).partition(mark)
        if joint and name == old:
            thing[key] = f"{new}{joint}{rest}"

    return put


def _untupled(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _untupled(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_untupled(item) for item in value]
    return value
