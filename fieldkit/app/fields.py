"""The fields of any table of the file, described by its type: what the editor shows, and how a text is taken."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.gear.wording import to_plain
from fieldkit.show.connectors import starts
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Show, Step
from fieldkit.show.duty import Duty
from fieldkit.show.position import WANTED, Position
from fieldkit.show.reading_value import ReadingValue
from fieldkit.units import DIMENSIONS, Measure

Kind = Literal["text", "quantity", "number", "choice", "flag", "names", "map", "rows", "table", "date"]

NAMES_OF = {
    "zone": ("zones",),
    "rack": ("racks",),
    "supply": ("supplies",),
    "fed_from": ("supplies",),
    "box": ("boxes",),
    "cable": ("cables",),
    "adaptor": ("adaptors",),
    "panel": ("panels",),
    "as_built": ("built_racks",),
    "low_end_from": ("zones",),
    "near": ("zones",),
    "timed_to": ("zones",),
}
"""Fields that name a thing of another table."""
MODELS_OF = {"boxes": ("loudspeakers",), "rack_units": ("amplifiers", "processors"), "stock": MODEL_TABLES}


class Field(msgspec.Struct, frozen=True):
    """One key of a table."""

    name: str
    kind: Kind
    value: Any
    """As plain values; None where it stands at its default."""
    choices: tuple[str, ...] = ()
    wanted: str = ""
    """What may be typed, in a few words."""
    dimension: str = ""
    """Of a quantity, as the units have it."""
    models: tuple[str, ...] = ()
    """Of a field that names a model: the tables of its kinds."""

    @property
    def shown(self) -> str:
        """The value as one line of text."""
        return shown(self.value)


def shown(value: Any) -> str:
    """Write a plain value in one line, as people read it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {shown(item)}" for key, item in value.items())
    if isinstance(value, (list, tuple)):
        if value and isinstance(value[0], dict):
            return f"{len(value)}: " + "; ".join(str(_head(item)) for item in value)
        return ", ".join(map(str, value))
    return str(value)


def _head(row: dict[str, Any]) -> Any:
    return row.get("box") or row.get("id") or row.get("section") or row.get("cable") or next(iter(row.values()), "")


def fields_of(thing: Any, table: str, show: Show) -> tuple[Field, ...]:
    """List the fields of a thing; ``table`` is the table of the show that it stands in."""
    plain = to_plain(thing)
    info: Any = msgspec.inspect.type_info(type(thing))
    return tuple(_field(item, plain.get(item.encode_name), table, show) for item in info.fields)


def required_of(thing: Any, name: str, table: str, show: Show) -> tuple[Field, ...]:
    """List the fields that a new row or inner table of a thing cannot be without.

    A step of a run needs none by its type, and is nothing without a cable: that is asked for with its length.
    """
    info: Any = msgspec.inspect.type_info(type(thing))
    kind = next(item.type for item in info.fields if item.encode_name == name)
    if isinstance(kind, msgspec.inspect.UnionType):
        kind = next(part for part in kind.types if not isinstance(part, msgspec.inspect.NoneType))
    inner: Any = kind.item_type if isinstance(kind, msgspec.inspect.VarTupleType) else kind
    wanted = {"cable", "length"} if inner.cls is Step else {item.encode_name for item in inner.fields if item.required}
    return tuple(_field(item, None, table, show) for item in inner.fields if item.encode_name in wanted)


def likely_units(show: Show, dimension: str) -> tuple[str, ...]:
    """List the units that a bare number of a dimension may have, the show's last one first; nothing where none may.

    Only lengths of leads and ways, and temperatures: they are spoken without a unit, and have two in the trade.
    """
    if dimension == "temperature":
        typed = show.about.temperature
        return ("°F", "°C") if typed is not None and typed.quantity.unit == "°F" else ("°C", "°F")
    if dimension != "length":
        return ()
    lengths = (step.length for run in reversed(show.runs) for step in reversed(run.path) if step.length is not None)
    last = next((length.quantity.unit for length in lengths), "m")
    return ("ft", "m") if last in {"ft", "in", "yd"} else ("m", "ft")


def must_stay(thing: Any, name: str) -> str:
    """Say why a field cannot be emptied; nothing where it can."""
    info: Any = msgspec.inspect.type_info(type(thing))
    field = next(item for item in info.fields if item.encode_name == name)
    return f"{name.replace('_', ' ')} cannot be empty: enter gives it another value" if field.required else ""


def _field(item: Any, value: Any, table: str, show: Show) -> Field:
    kind = item.type
    if isinstance(kind, msgspec.inspect.UnionType):
        kind = next(part for part in kind.types if not isinstance(part, msgspec.inspect.NoneType))
    name = item.encode_name
    if value is None and item.default not in {msgspec.NODEFAULT, None} and not isinstance(item.default, (tuple, dict)):
        value = item.default if item.default != "" else None
    tables = MODELS_OF.get(table, ()) if name == "model" else NAMES_OF.get(name, ())
    names = tuple(thing.id for other in tables for thing in getattr(show, other))
    if table == "runs" and name == "from":
        names = tuple(start.name for start in starts(show))
    if isinstance(kind, msgspec.inspect.CustomType):
        if issubclass(kind.cls, Measure):
            dimension = DIMENSIONS[kind.cls.dimension]
            return Field(
                name,
                "quantity",
                value,
                wanted=f"{dimension.phrase} ({', '.join(dimension.typical)})",
                dimension=kind.cls.dimension,
            )
        if issubclass(kind.cls, Position):
            return Field(name, "text", value, wanted=WANTED)
        if issubclass(kind.cls, Duty):
            return Field(name, "quantity", value, wanted=Duty.phrase)
        assert issubclass(kind.cls, ReadingValue)  # noqa: S101  (the only other text of ours)
        return Field(name, "quantity", value, wanted="ohms, or open, or short")
    if isinstance(kind, msgspec.inspect.LiteralType):
        return Field(name, "choice", value, tuple(str(choice) for choice in kind.values), "one of the list")
    if isinstance(kind, msgspec.inspect.BoolType):
        return Field(name, "flag", value, ("yes", "no"), "yes or no")
    if isinstance(kind, (msgspec.inspect.IntType, msgspec.inspect.FloatType)):
        return Field(name, "number", value, wanted="a number")
    if isinstance(kind, (msgspec.inspect.DateType, msgspec.inspect.DateTimeType)):
        return Field(name, "date", value, wanted="a date such as 2026-06-20")
    if isinstance(kind, msgspec.inspect.DictType):
        return Field(name, "map", value, wanted="name: value, name: value")
    if isinstance(kind, msgspec.inspect.StructType):
        return Field(name, "table", value, wanted="a table of its own")
    if isinstance(kind, msgspec.inspect.VarTupleType):
        if isinstance(kind.item_type, msgspec.inspect.StructType):
            return Field(name, "rows", value, wanted="rows")
        return Field(name, "names", value, names, "names, with commas between")
    models = tuple(table for table in tables if table in MODEL_TABLES)
    kind_of_field: Kind = "choice" if names or models else "text"
    return Field(name, kind_of_field, value, names, "one of the list" if names else "text", models=models)


def taken(field: Field, text: str) -> Any:
    """Convert a typed text to the plain value of a field; None for an empty text, which restores the default.

    Raises UnusableError for a text that the field cannot take. ``put`` then checks the thing as a whole.
    """
    text = text.strip()
    if not text:
        return None
    if field.kind == "flag":
        if text.casefold() not in {"yes", "no", "y", "n"}:
            raise UnusableError(f"expected yes or no, got '{text[:40]}'")
        return text.casefold().startswith("y")
    if field.kind == "number" or (field.kind == "choice" and field.choices and field.choices[0].isdecimal()):
        try:
            return float(text) if "." in text else int(text)
        except ValueError:
            raise UnusableError(f"expected a number, got '{text[:40]}'") from None
    if field.kind == "date":
        import datetime as dt

        try:
            return dt.datetime.fromisoformat(text) if "T" in text or " " in text else dt.date.fromisoformat(text)
        except ValueError:
            raise UnusableError(f"expected a date such as 2026-06-20, got '{text[:40]}'") from None
    if field.kind == "names":
        return [part.strip() for part in text.split(",") if part.strip()]
    if field.kind == "map":
        pairs = [part.partition(":") for part in text.split(",") if part.strip()]
        if not all(colon and name.strip() and value.strip() for name, colon, value in pairs):
            raise UnusableError("expected name: value, with commas between")
        return {name.strip(): value.strip() for name, _, value in pairs}
    return text


def put(thing: Any, name: str, value: Any) -> Any:
    """Return a thing with one key changed. Raises DocumentError for a value that the file cannot have."""
    plain = to_plain(thing)
    if value is None:
        plain.pop(name, None)
    else:
        plain[name] = value
    return convert(plain, type(thing))
