"""From parsed TOML to a show, with errors that a person can act on; and back to plain values."""

from __future__ import annotations

import math
from typing import Any, NoReturn, TypeVar

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.gear.wording import explained, read_value
from fieldkit.show.document import About, Show
from fieldkit.show.duty import Duty
from fieldkit.show.errors import DocumentError
from fieldkit.show.migration import carried_over
from fieldkit.show.position import Position
from fieldkit.show.reading_value import ReadingValue
from fieldkit.text.toml_places import line_of
from fieldkit.text.words import Path
from fieldkit.units import Measure

AnyThing = TypeVar("AnyThing", bound=msgspec.Struct)

_NAMED_BY = {"stock": "model", "readings": "line"}
"""Tables whose things have no id of their own."""


def decode(data: dict[str, Any], text: str = "", file: str = "") -> Show:
    """Make a show of parsed TOML; the text is searched for the line only when something is wrong.

    Raises DocumentError.
    """
    try:
        data = carried_over(data)
    except UnusableError as error:
        raise DocumentError(f"format: {error}", file=file, line=line_of(text, ("format",))) from error
    try:
        show = msgspec.convert(data, Show, dec_hook=read_value)
    except msgspec.ValidationError as error:
        _raise_located(error, data, text, file)
    except RecursionError as error:
        raise DocumentError("nested too deeply to be a show", file=file) from error
    wrong = _wrong_damping(show.about)
    if wrong:
        raise DocumentError(wrong, file=file, line=line_of(text, ("show", "minimum_damping")), thing="show")
    return show


def convert(data: Any, kind: type[AnyThing]) -> AnyThing:
    """Make one thing of plain values. Raises DocumentError with the reason and no line."""
    try:
        thing = msgspec.convert(data, kind, dec_hook=read_value)
        msgspec.json.encode(data, enc_hook=str)
    except msgspec.ValidationError as error:
        raise DocumentError(explained(error, kind)[0]) from error
    except UnicodeEncodeError as error:  # half of a pair of characters, as a terminal may send it
        mark = f"U+{ord(error.object[error.start]):04X}"
        raise DocumentError(f"expected text that a file can hold, got the character {mark}") from error
    wrong = _wrong_damping(thing)
    if wrong:
        raise DocumentError(wrong)
    return thing


def _wrong_damping(thing: Any) -> str:
    """Say what is wrong with the one bare number of a show, since msgspec lets infinities and no numbers pass."""
    damping = thing.minimum_damping if isinstance(thing, About) else None
    if damping is None or (math.isfinite(damping) and damping >= 0):
        return ""
    return f"minimum_damping: expected a number from 0 up, got {damping}"


def schema() -> dict[str, Any]:
    """Write the JSON Schema of the show file."""
    return msgspec.json.schema(Show, schema_hook=_schema_of)


def _schema_of(kind: type) -> dict[str, Any]:
    if issubclass(kind, Measure):
        example = f"1 {kind.unit}" if kind.unit else "80 %"
        return {"type": "string", "description": f"{kind.dimension} with its unit, such as '{example}'"}
    if issubclass(kind, ReadingValue):
        return {"type": "string", "description": "ohms as '3.3 ohm', or 'open', or 'short'"}
    if issubclass(kind, Position):
        return {"type": "string", "description": "along, across, up as '50 m, -3 m, 5 m'"}
    if issubclass(kind, Duty):
        return {"type": "string", "description": Duty.phrase}
    raise NotImplementedError(kind.__name__)


def _raise_located(error: msgspec.ValidationError, data: dict[str, Any], text: str, file: str) -> NoReturn:
    says, path = explained(error, Show, table=True)
    raise DocumentError(says, file=file, line=line_of(text, path), thing=thing_at(data, path)) from error


def thing_at(data: dict[str, Any], path: Path) -> str:
    """Name the thing at a place of the document by its id, else by its table and number."""
    if not path:
        return ""
    table = str(path[0])
    if len(path) < 2 or not isinstance(path[1], int):
        return table if table in Show.__struct_encode_fields__ else ""
    try:
        name = data[table][path[1]].get(_NAMED_BY.get(table, "id"))
    except (KeyError, IndexError, TypeError, AttributeError):
        name = None
    return name if isinstance(name, str) and name else f"{table} number {path[1] + 1}"
