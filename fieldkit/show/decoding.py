"""From parsed TOML to a show, with errors that a person can act on; and back to plain values."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable
from typing import Any, NoReturn, TypeVar

import msgspec

from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError, printable
from fieldkit.show.migration import carried_over
from fieldkit.show.reading_value import ReadingValue
from fieldkit.show.text_blocks import line_of
from fieldkit.units import Measure

Path = tuple[str | int, ...]
AnyThing = TypeVar("AnyThing", bound=msgspec.Struct)

_AT = re.compile(r"^(?P<says>.*?)(?: - at `(?P<path>.*)`)?$", re.DOTALL)
_PART = re.compile(r"\.([^.\[\]]+)|\[(\d+)\]|\[\.\.\.\]")
_UNKNOWN = re.compile(r"Object contains unknown field `(.*)`")
_MISSING = re.compile(r"Object missing required field `(.*)`")
_EXPECTED = re.compile(r"Expected `(.*?)`, got `(.*?)`")
_LIMIT = re.compile(r"Expected `(.*?)` (>=|<=|>|<) (\S+)")
_LIMITS = {">=": "of at least", "<=": "of at most", ">": "above", "<": "below"}
_NAMED_BY = {"stock": "model", "readings": "line"}
"""Tables whose things have no id of their own."""
_WORDS = {
    "str": "text in quotes",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "object": "a table",
    "array": "a list",
    "datetime": "a date with a time",
    "date": "a date",
    "null": "nothing",
}


def decode(data: dict[str, Any], text: str = "", file: str = "") -> Show:
    """Make a show of parsed TOML; the text is searched for the line only when something is wrong.

    Raises DocumentError.
    """
    try:
        data = carried_over(data)
    except ValueError as error:
        raise DocumentError(f"format: {error}", file=file, line=line_of(text, ("format",))) from error
    try:
        show = msgspec.convert(data, Show, dec_hook=_decode_value)
    except msgspec.ValidationError as error:
        _raise_located(error, data, text, file)
    except RecursionError as error:
        raise DocumentError("nested too deeply to be a show", file=file) from error
    damping = show.about.least_damping
    if damping is not None and not (math.isfinite(damping) and damping >= 0):
        message = f"least_damping: expected a number from 0 up, got {damping}"
        raise DocumentError(message, file=file, line=line_of(text, ("show", "least_damping")))
    return show


def convert(data: Any, kind: type[AnyThing]) -> AnyThing:
    """Make one thing of plain values. Raises DocumentError with the reason and no line."""
    try:
        return msgspec.convert(data, kind, dec_hook=_decode_value)
    except msgspec.ValidationError as error:
        raise DocumentError(_explained(error, kind)[0]) from error


def to_plain(thing: Any) -> Any:
    """Turn a thing into dicts, lists and text, as TOML has them; what stands at its default is left out."""
    return msgspec.to_builtins(thing, builtin_types=(dt.datetime, dt.date), enc_hook=_encode_value)


def schema() -> dict[str, Any]:
    """Give the JSON Schema of the show file."""
    return msgspec.json.schema(Show, schema_hook=_schema_of)


def _decode_value(kind: type, value: Any) -> Any:
    if issubclass(kind, (Measure, ReadingValue)):
        if not isinstance(value, str):
            name = getattr(kind, "dimension", "reading")
            # msgspec turns this into its own error with the place in it.
            raise ValueError(  # noqa: TRY004
                f"expected a {name} in quotes with its unit, got {value!r}"
            )
        return kind(value)
    raise TypeError(f"no way to read a {kind.__name__}")  # pragma: no cover  (a type that nobody declared)


def _encode_value(value: Any) -> Any:
    if isinstance(value, str):
        return str(value)
    raise TypeError(f"no way to write a {type(value).__name__}")  # pragma: no cover


def _schema_of(kind: type) -> dict[str, Any]:
    if issubclass(kind, Measure):
        return {"type": "string", "description": f"{kind.dimension} with its unit, such as '1 {kind.unit}'"}
    if issubclass(kind, ReadingValue):
        return {"type": "string", "description": "ohms as '3.3 ohm', or 'open', or 'short'"}
    raise NotImplementedError(kind.__name__)


def _raise_located(error: msgspec.ValidationError, data: dict[str, Any], text: str, file: str) -> NoReturn:
    says, path = _explained(error, Show)
    raise DocumentError(says, file=file, line=line_of(text, path), thing=thing_at(data, path)) from error


def thing_at(data: dict[str, Any], path: Path) -> str:
    """Name the thing at a place of the document by its id, else by its table and number."""
    if not path:
        return ""
    table = str(path[0])
    if len(path) < 2 or not isinstance(path[1], int):
        return table if isinstance(data.get(table), dict) else ""
    try:
        name = data[table][path[1]].get(_NAMED_BY.get(table, "id"))
    except (KeyError, IndexError, TypeError, AttributeError):
        name = None
    return name if isinstance(name, str) and name else f"{table} number {path[1] + 1}"


def nearest(word: str, names: Iterable[str]) -> str:
    """Say which known name is near, or which names there are when they are few."""
    import difflib

    known = sorted(set(names))
    close = difflib.get_close_matches(word[:80], known, n=1, cutoff=0.6)
    if close:
        return f"; did you mean '{close[0]}'?"
    if not known:
        return "; there is none yet"
    return f"; expected {'one of ' if len(known) > 1 else ''}{', '.join(known)}" if len(known) <= 30 else ""


def _explained(error: msgspec.ValidationError, kind: type) -> tuple[str, Path]:
    """Say in the file's words what msgspec found, and where."""
    match = _AT.match(str(error))
    says, trail = (match["says"], match["path"] or "$") if match else (str(error), "$")
    path: Path = tuple(int(part[2]) if part[2] else part[1] or "…" for part in _PART.finditer(trail.removeprefix("$")))
    path = path[: path.index("…")] if "…" in path else path
    if unknown := _UNKNOWN.fullmatch(says):
        key = unknown[1]
        return f"unknown key '{printable(key)}'{nearest(key, _keys_at(kind, path))}", (*path, key)
    if missing := _MISSING.fullmatch(says):
        return f"the key '{missing[1]}' is missing", path
    inside = path[1:] if kind is Show else path
    key = ".".join(part for part in inside if isinstance(part, str))
    if expected := _EXPECTED.fullmatch(says):
        wanted = " or ".join(_WORDS.get(word.strip(), word) for word in expected[1].split("|"))
        says = f"expected {wanted}, got {_WORDS.get(expected[2], expected[2])}"
    elif limit := _LIMIT.fullmatch(says):
        says = f"expected {_WORDS.get(limit[1], limit[1])} {_LIMITS[limit[2]]} {limit[3]}"
    elif says.startswith("Invalid enum value"):
        says = f"expected one of {_choices_at(kind, path)}, got {says.partition('value ')[2]}"
    elif "matching regex" in says:
        says = "expected a label of 1 to 64 characters without spaces, brackets, quotes or any of # , = / . + :"
        if "/.+" not in str(error):
            says = "expected a name of 1 to 64 characters without spaces, brackets, quotes or any of # , ="
    return (f"{key}: {says}" if key else says), path


def _type_at(kind: type, path: Path) -> Any:
    """Follow a path through the declared types."""
    here: Any = msgspec.inspect.type_info(kind)
    for part in path:
        here = _plain_type(here)
        if isinstance(part, int):
            here = getattr(here, "item_type", here)
        elif isinstance(here, msgspec.inspect.StructType):
            here = next((field.type for field in here.fields if field.encode_name == part), here)
        elif isinstance(here, msgspec.inspect.DictType):
            here = here.value_type
    return _plain_type(here)


def _plain_type(here: Any) -> Any:
    if isinstance(here, msgspec.inspect.UnionType):
        return next(item for item in here.types if not isinstance(item, msgspec.inspect.NoneType))
    return here


def _keys_at(kind: type, path: Path) -> list[str]:
    here = _type_at(kind, path)
    return [field.encode_name for field in here.fields] if hasattr(here, "fields") else []


def _choices_at(kind: type, path: Path) -> str:
    here = _type_at(kind, path)
    return ", ".join(str(value) for value in getattr(here, "values", ())) or "the known words"
