"""Where a thing of the show stands, and a show with one of its values changed. No screens here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from fieldkit.app.fields import put
from fieldkit.gear.wording import to_plain
from fieldkit.show.decoding import convert
from fieldkit.show.document import Show
from fieldkit.show.edits import find, with_thing
from fieldkit.show.usage import renamed

WORDS = {
    "boxes": "box",
    "zones": "zone",
    "racks": "rack",
    "rack_units": "amplifier or processor",
    "runs": "run",
    "supplies": "supply",
    "stock": "stock",
    "loudspeakers": "loudspeaker",
    "amplifiers": "amplifier",
    "processors": "processor",
    "cables": "cable",
    "adaptors": "adaptor",
    "panels": "panel",
    "built_racks": "rack as built",
}


class Address(msgspec.Struct, frozen=True):
    """Where a thing stands: its table, its label, and the way into it through lists of rows."""

    table: str
    name: str
    inner: tuple[str | int, ...] = ()

    @property
    def title(self) -> str:
        """The address in words."""
        inside = " ".join(str(part + 1) if isinstance(part, int) else part for part in self.inner)
        return f"{WORDS.get(self.table, self.table)} {self.name} {inside}".strip()


def thing_at(show: Show, address: Address) -> Any:
    """Find the thing at an address. Raises DocumentError where there is none."""
    thing: Any = show.about if address.table == "show" else find(show, address.table, address.name)
    for part in address.inner:
        thing = thing[part] if isinstance(part, int) else getattr(thing, attribute(type(thing), part))
    return thing


def with_value(show: Show, address: Address, name: str, value: Any) -> Show:
    """Give a show with one key of the thing at an address changed. Raises DocumentError."""
    if name == "id" and not address.inner:
        return renamed(show, address.table, address.name, str(value))
    thing = thing_at(show, Address(address.table, address.name))
    if not address.inner:
        return _with(show, address.table, put(thing, name, value))
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
    return _with(show, address.table, convert(plain, type(thing)))


def with_rows(show: Show, address: Address, field: str, rows: Sequence[Any]) -> Show:
    """Give a show in which a list of rows of the thing at an address is another."""
    return with_value(show, address, field, _lists([to_plain(row) for row in rows]))


def _with(show: Show, table: str, thing: Any) -> Show:
    return msgspec.structs.replace(show, about=thing) if table == "show" else with_thing(show, table, thing)


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, (list, tuple)) else value


def attribute(kind: type, key: str) -> str:
    """Name the attribute of a struct that a key of the file stands for: ``from`` is ``start``."""
    return next(field.name for field in msgspec.structs.fields(kind) if field.encode_name == key)
