"""Who names whom: renaming a thing with every text that names it, and listing what uses it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from fieldkit.gear.names import Kind, Names
from fieldkit.gear.thing import Id, ModelId
from fieldkit.show.contents import all_units
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.walker import KIND_OF, Known, owner_of, rewritten
from fieldkit.text.words import Path

LABELS = ("boxes", "zones", "racks", "rack_units", "runs", "supplies")
"""Tables whose ids are labels; the others hold models."""


class _Labelled(msgspec.Struct):
    id: Id


class _NamedModel(msgspec.Struct):
    id: ModelId


def renamed(show: Show, table: str, old: str, new: str) -> Show:
    """Rename a thing, with every place that names it following.

    Raises DocumentError for a label that may not be, or that somebody has already.
    """
    if not any(getattr(thing, "id", None) == old for thing in getattr(show, table)):
        raise DocumentError(f"there is no '{old}' in {table}", thing=old)
    if new in _taken(show, table):
        raise DocumentError(f"the label '{new}' is already used", thing=old)
    rack = _brings(show, old) if table == "rack_units" else None
    if rack is not None:
        raise DocumentError(f"this unit is named after its rack: give '{rack}' another label instead", thing=old)
    convert({"id": new}, _NamedModel if table in MODEL_TABLES else _Labelled)
    kind = KIND_OF[table]
    to: dict[tuple[Kind, str], str] = {(kind, old): new}
    if kind == "rack":
        to |= _units_that_follow(show, old, new)
    known = Known(show, {unit.id: unit for unit in all_units(show)})

    def follow(text: str, names: Names, path: Path) -> str:
        del path
        before, name, after = known.named(text, names)
        other = next((to[kind, name] for kind in names.kinds if (kind, name) in to and known.has(kind, name)), None)
        return text if other is None or not name else f"{before}{other}{after}"

    after = rewritten(show, frozenset(kind for kind, _ in to), follow)
    ids = {"rack_units" if kind == "unit" else table for kind, _ in to}
    tables = {
        other: tuple(_with_id(thing, to.get((KIND_OF[other], thing.id), thing.id)) for thing in getattr(after, other))
        for other in ids
    }
    return msgspec.structs.replace(after, **tables)


def _units_that_follow(show: Show, old: str, new: str) -> dict[tuple[Kind, str], str]:
    """List the units that are called after a rack, ``SR-1``, with their names after it has another."""
    found: dict[tuple[Kind, str], str] = {}
    for unit in all_units(show):
        number = unit.id.removeprefix(f"{old}-")
        if unit.id != number and number.isdecimal():
            found["unit", unit.id] = f"{new}-{number}"
    return found


def _brings(show: Show, unit: str) -> str | None:
    """Name the rack as built that brings a unit; None for a unit that stands by itself."""
    without = msgspec.structs.replace(show, rack_units=tuple(own for own in show.rack_units if own.id != unit))
    return next((brought.rack for brought in all_units(without) if brought.id == unit), None)


def _with_id(thing: Any, name: str) -> Any:
    return thing if name == thing.id else msgspec.structs.replace(thing, id=name)


def relabelled(show: Show, table: str, old: Sequence[str], new: Sequence[str]) -> Show:
    """Rename several things at once, each to the new label at its place; they may take each other's labels.

    Raises DocumentError for a label that may not be, stands twice, or belongs to something else.
    """
    twice = next((label for label in new if new.count(label) > 1), None)
    if twice is not None or len(old) != len(new):
        raise DocumentError(f"expected {len(old)} labels, each once, got {' '.join(new)}")
    waiting = {label: f"~{place}~" for place, label in enumerate(old) if label in new}
    for label, meanwhile in waiting.items():
        show = renamed(show, table, label, meanwhile)
    for label, wanted in zip(old, new, strict=True):
        if waiting.get(label, label) != wanted:
            show = renamed(show, table, waiting.get(label, label), wanted)
    return show


def users(show: Show, table: str, name: str) -> tuple[tuple[str, str], ...]:
    """List what names a thing: table and label of each, in the order of the file."""
    kind = KIND_OF[table]
    known = Known(show, {unit.id: unit for unit in all_units(show)})
    found: dict[tuple[str, str], None] = {}

    def look(text: str, names: Names, path: Path) -> str:
        if known.named(text, names)[1] == name and kind in names.kinds:
            found[str(path[0]), owner_of(show, path)] = None
        return text

    rewritten(show, frozenset({kind}), look)
    return tuple(found)


def _taken(show: Show, table: str) -> set[str]:
    if table in MODEL_TABLES:
        tables: tuple[str, ...] = MODEL_TABLES
    else:
        tables = ("zones",) if table == "zones" else tuple(name for name in LABELS if name != "zones")
    return {thing.id for name in tables for thing in getattr(show, name)}
