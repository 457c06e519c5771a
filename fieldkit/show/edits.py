"""Edits: functions from show to show. Each passes through the same checks as a file that is read."""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec

from fieldkit.gear.wording import to_plain
from fieldkit.show.decoding import convert
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError

AnyThing = TypeVar("AnyThing", bound=msgspec.Struct)


def changed(thing: AnyThing, **values: Any) -> AnyThing:
    """Set other values of a thing, named as in the file; None takes a value back to its default.

    Raises DocumentError for a value that the file would not be allowed to hold.
    """
    plain = to_plain(thing) | {key: to_plain(value) for key, value in values.items()}
    return convert({key: value for key, value in plain.items() if value is not None}, type(thing))


def with_thing(show: Show, table: str, thing: Any) -> Show:
    """Put a thing in place of the one with its id, or at the end of its table."""
    items = getattr(show, table)
    for index, item in enumerate(items):
        if getattr(item, "id", None) == thing.id:
            return msgspec.structs.replace(show, **{table: (*items[:index], thing, *items[index + 1 :])})
    return msgspec.structs.replace(show, **{table: (*items, thing)})


def without_thing(show: Show, table: str, name: str) -> Show:
    """Take the thing of this id out of a show. Raises DocumentError where there is none."""
    items = getattr(show, table)
    left = tuple(item for item in items if item.id != name)
    if len(left) == len(items):
        raise DocumentError(f"there is no '{name}' in {table}", thing=name)
    return msgspec.structs.replace(show, **{table: left})


def find(show: Show, table: str, name: str) -> Any:
    """Find a thing by its id. Raises DocumentError where there is none."""
    for item in getattr(show, table):
        if item.id == name:
            return item
    raise DocumentError(f"there is no '{name}' in {table}", thing=name)
