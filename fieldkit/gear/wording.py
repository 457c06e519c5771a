"""What is typed into files, read as plain values, and refused in words that a person can act on.

msgspec says what is wrong and where; here it is said again in the file's own words, with the nearest name.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.text.words import Path, nearest, printable
from fieldkit.units import DIMENSIONS

_AT = re.compile(r"^(?P<says>.*?)(?: - at `(?P<path>.*)`)?$", re.DOTALL)
_PART = re.compile(r"\.([^.\[\]]+)|\[(\d+)\]|\[\.\.\.\]")
_UNKNOWN = re.compile(r"Object contains unknown field `(.*)`")
_MISSING = re.compile(r"Object missing required field `(.*)`")
_EXPECTED = re.compile(r"Expected `(.*?)`, got `(.*?)`")
_LIMIT = re.compile(r"Expected `(.*?)` (>=|<=|>|<) (\S+)")
_LIMITS = {">=": "of at least", "<=": "of at most", ">": "above", "<": "below"}
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


def read_value(kind: type, value: Any) -> Any:
    """Read a quantity, or another kind of text of ours, for msgspec. Raises UnusableError with what was expected."""
    if not isinstance(value, str):
        dimension = DIMENSIONS.get(getattr(kind, "dimension", ""))
        name = dimension.phrase if dimension else getattr(kind, "phrase", "a reading or a place")
        # msgspec turns this into its own error with the place in it.
        raise UnusableError(f"expected {name} in quotes{' with its unit' if dimension else ''}, got {value!r}")
    return kind(value)


def to_plain(thing: Any) -> Any:
    """Turn a thing into dicts, lists and text, as TOML has them; what stands at its default is left out."""
    return msgspec.to_builtins(thing, builtin_types=(dt.datetime, dt.date), enc_hook=str)


def explained(error: msgspec.ValidationError, kind: type, *, table: bool = False) -> tuple[str, Path]:
    """Say in the file's words what msgspec found, and where.

    With ``table`` the path begins with a table and a number, which are said elsewhere.
    """
    match = _AT.match(str(error))
    says, trail = (match["says"], match["path"] or "$") if match else (str(error), "$")
    path: Path = tuple(int(part[2]) if part[2] else part[1] or "…" for part in _PART.finditer(trail.removeprefix("$")))
    path = path[: path.index("…")] if "…" in path else path
    if unknown := _UNKNOWN.fullmatch(says):
        says = f"unknown key '{printable(unknown[1])}'{nearest(unknown[1], _keys_at(kind, path))}"
        return _placed(says, () if table else path), (*path, unknown[1])
    if missing := _MISSING.fullmatch(says):
        return _placed(f"the key '{missing[1]}' is missing", () if table else path), path
    if expected := _EXPECTED.fullmatch(says):
        wanted = " or ".join(_WORDS.get(word.strip(), word) for word in expected[1].split("|"))
        says = f"expected {wanted}, got {_WORDS.get(expected[2], expected[2])}{_brackets(expected, path)}"
    elif limit := _LIMIT.fullmatch(says):
        says = f"expected {_WORDS.get(limit[1], limit[1])} {_LIMITS[limit[2]]} {limit[3]}"
    elif says.startswith("Invalid enum value"):
        says = f"expected one of {_choices_at(kind, path)}, got {says.partition('value ')[2]}"
    elif "matching regex" in says:
        says = "expected a label of 1 to 64 characters without spaces, brackets, quotes or any of # , = / . + :"
        if "/.+" not in str(error):
            says = "expected a name of 1 to 64 characters without spaces, brackets, quotes or any of # , ="
    # In a show the line says which row it is; by itself a thing has no lines.
    return _placed(says, tuple(part for part in path[1:] if isinstance(part, str)) if table else path), path


def _brackets(expected: re.Match[str], path: Path) -> str:
    """Say which brackets are meant where a table of the file stands in the other ones."""
    kinds = (expected[1].partition("|")[0].strip(), expected[2])
    if len(path) != 1 or kinds not in {("array", "object"), ("object", "array")}:
        return ""
    one, many = f"[{path[0]}] in single brackets, once", f"[[{path[0]}]] in double brackets, before each"
    return f"; write {many if kinds[0] == 'array' else one}"


def _placed(says: str, path: Path) -> str:
    """Put the place inside a thing before a message; rows are counted from 1."""
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
    return f"{place}: {says}" if place else says


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
