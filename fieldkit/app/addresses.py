"""Where a thing of the show stands, and a show with one of its values changed. No screens here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from fieldkit.app.fields import put
from fieldkit.gear.wording import to_plain
from fieldkit.show.decoding import convert
from fieldkit.show.document import TABLE_WORDS, Show
from fieldkit.show.edits import find, with_thing
from fieldkit.show.usage import renamed

WORDS = {**TABLE_WORDS, "show": "show", "rack_units": "amplifier or processor"}
"""What one thing of each table is called where somebody adds or edits it, and so has to tell what a unit can be."""


ROWS = ("stock", "readings")
"""Tables whose things have no label: their place in the table names them."""


class Address(msgspec.Struct, frozen=True):
    """Where a thing stands: its table, its label, and the way into it through lists of rows."""

    table: str
    name: str
    """Its label; its place, counted from 0, in a table whose things have none; empty for the show itself."""
    inner: tuple[str | int, ...] = ()

    @property
    def title(self) -> str:
        """The address in words."""
        inside = " ".join(str(part + 1) if isinstance(part, int) else part for part in self.inner)
        name = f"entry {int(self.name) + 1}" if self.table in ROWS else self.name
        return f"{WORDS.get(self.table, self.table)} {name} {inside}".strip()


def thing_at(show: Show, address: Address) -> Any:
    """Find the thing at an address. Raises DocumentError or IndexError where there is none."""
    thing = _whole(show, address)
    for part in address.inner:
        thing = thing[part] if isinstance(part, int) else getattr(thing, attribute(type(thing), part))
    return thing


def _whole(show: Show, address: Address) -> Any:
    if address.table == "show":
        return show.about
    if address.table in ROWS:
        return getattr(show, address.table)[int(address.name)]
    return find(show, address.table, address.name)


def with_value(show: Show, address: Address, name: str, value: Any) -> Show:
    """Return a copy of the show with one key of the thing at an address changed. Raises DocumentError."""
    if name == "id" and not address.inner:
        if str(value) == address.name:
            return show
        return renamed(show, address.table, address.name, str(value))
    thing = _whole(show, address)
    if not address.inner:
        return _with(show, address, put(thing, name, value))
    plain = _lists(to_plain(thing))
    here = plain
    for part in address.inner:
        here = here[part]
    if isinstance(here, list):
        here[:] = value
    elif value is None:
        here.pop(name, None)
    else:
        here[name] = value
    return _with(show, address, convert(plain, type(thing)))


def with_rows(show: Show, address: Address, field: str, rows: Sequence[Any]) -> Show:
    """Return a copy of the show with a list of rows of the thing at an address replaced."""
    return with_value(show, address, field, _lists([to_plain(row) for row in rows]))


def _with(show: Show, address: Address, thing: Any) -> Show:
    if address.table == "show":
        return msgspec.structs.replace(show, about=thing)
    if address.table in ROWS:
        rows = getattr(show, address.table)
        place = int(address.name)
        return msgspec.structs.replace(show, **{address.table: (*rows[:place], thing, *rows[place + 1 :])})
    return with_thing(show, address.table, thing)


def without_row(show: Show, table: str, place: int) -> Show:
    """Return a copy of the show without one entry of a table whose things have no label."""
    rows = getattr(show, table)
    return msgspec.structs.replace(show, **{table: (*rows[:place], *rows[place + 1 :])})


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, (list, tuple)) else value


def attribute(kind: type, key: str) -> str:
    """Name the attribute of a struct that a key of the file stands for: ``from`` is ``start``."""
    return next(field.name for field in msgspec.structs.fields(kind) if field.encode_name == key)
