"""Things that have another label in a later version of a show, where that is certain, and labels followed through."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from fieldkit.gear.wording import to_plain
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.usage import LABELS, renamed, users

RENAMED_IN_TURN = (*MODEL_TABLES, "zones", "supplies", "racks", "rack_units", "boxes", "runs")
"""What others name comes before them, so that they are alike again once its label is followed."""


class Rename(msgspec.Struct, frozen=True):
    """A thing with another label."""

    table: str
    old: str
    new: str


def renames(old: Show, new: Show) -> tuple[Rename, ...]:
    """Find the things that were renamed between two versions, in the order in which to follow them.

    Certain is a thing that is gone where one of the same table and with all else equal is new; of several alike, those
    that stand at the same places. So is one that stands at the same place, is named by the same things, and has more
    fields that are equal than fields that are not, its serial among them. What may be another thing is not renamed.
    """
    found: list[Rename] = []
    for table in RENAMED_IN_TURN:
        for rename in _in_table(table, old, new):
            step = _followed(old, rename)
            if step is not None:
                found.append(rename)
                old = step
    return tuple(found)


def followed(show: Show, names: Iterable[Rename]) -> Show:
    """Label things as a later version does; one that cannot have its new label keeps it."""
    for rename in names:
        show = _followed(show, rename) or show
    return show


def _followed(show: Show, rename: Rename) -> Show | None:
    try:
        return renamed(show, rename.table, rename.old, rename.new)
    except DocumentError:  # it is not there, or another thing has the label
        return None


def _in_table(table: str, old: Show, new: Show) -> Iterator[Rename]:
    before, after = getattr(old, table), getattr(new, table)
    if before == after:
        return
    had, has = {thing.id for thing in before}, {thing.id for thing in after}
    gone = [(place, thing) for place, thing in enumerate(before) if thing.id not in has]
    come = [(place, thing) for place, thing in enumerate(after) if thing.id not in had]
    brought = _brought(old) | _brought(new) if table in LABELS else set()
    for place, thing in gone:
        alike = [(there, item) for there, item in come if _alike(thing, item)]
        twins = [there for there, item in gone if _alike(thing, item)]
        if len(alike) > 1 or len(twins) > 1:
            alike = [(there, item) for there, item in alike if there == place and len(twins) == len(alike)]
        if not alike:
            alike = [(there, item) for there, item in come if there == place and _edited(table, old, thing, new, item)]
        for _, item in alike:
            if item.id not in brought:
                yield Rename(table, thing.id, item.id)


def _alike(one: Any, other: Any) -> bool:
    return bool(msgspec.structs.replace(one, id=other.id) == other)


def _edited(table: str, old: Show, thing: Any, new: Show, item: Any) -> bool:
    """Tell whether a thing that stands where another one stood is that one, edited too."""
    if type(thing) is not type(item) or getattr(thing, "serial", "") != getattr(item, "serial", ""):
        return False
    before, after = to_plain(thing), to_plain(item)
    fields = {*before, *after} - {"id"}
    equal = sum(before.get(field) == after.get(field) for field in fields)
    if 2 * equal <= len(fields):
        return False
    named = users(old, table, thing.id)
    return bool(named) and named == users(new, table, item.id)


def _brought(show: Show) -> set[str]:
    """Name the units that racks as built bring: their labels follow from the rack's."""
    sizes = {model.id: len(model.contents) for model in show.built_racks}
    return {f"{rack.id}-{number}" for rack in show.racks for number in range(1, sizes.get(rack.as_built or "", 0) + 1)}
