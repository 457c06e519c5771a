"""The one walker over what the texts of a show name: it finds references, and puts other texts in their place.

What to walk is read off the declarations on the fields (``gear.names``), once a kind of thing. Fields that cannot name
what is looked for are not visited, so that following one box does not read the cables.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from functools import cache
from typing import Annotated, Any, Union, cast, get_args, get_origin, get_type_hints

import msgspec

from fieldkit.gear.names import Kind, Names, declared
from fieldkit.show.document import MODEL_TABLES, Show
from fieldkit.text.words import Path

TABLES: dict[Kind, str] = {
    "zone": "zones",
    "box": "boxes",
    "rack": "racks",
    "unit": "rack_units",
    "run": "runs",
    "supply": "supplies",
    "loudspeaker": "loudspeakers",
    "amplifier": "amplifiers",
    "processor": "processors",
    "cable": "cables",
    "adaptor": "adaptors",
    "panel": "panels",
    "built_rack": "built_racks",
}
"""Where the things of a kind stand."""
KIND_OF: dict[str, Kind] = {table: kind for kind, table in TABLES.items()}

DROP = object()
"""What a visitor returns for a text that leaves its list or dict, or whose row goes."""

Visit = Callable[[str, Names, Path], Any]
"""Returns what replaces a text: itself, another text, None for nothing, or DROP."""
Walk = Callable[[Any, Visit, Path], Any]


class Reference(msgspec.Struct, frozen=True):
    """A text that names a thing."""

    path: Path
    """Where it stands in the file: table, number, keys."""
    text: str
    name: str
    names: Names


@cache
def walk_of(kind: type[msgspec.Struct], wanted: frozenset[Kind]) -> Walk | None:
    """Make the walk over one kind of table; None where nothing in it can name what is wanted."""
    hints = get_type_hints(kind, include_extras=True)
    parts = [
        (name, key, walk)
        for name, key in zip(kind.__struct_fields__, kind.__struct_encode_fields__, strict=True)
        if (walk := _walk(hints[name], wanted)) is not None
    ]
    return _over_fields(parts) if parts else None


def _over_fields(parts: list[tuple[str, str, Walk]]) -> Walk:
    def over(thing: Any, visit: Visit, path: Path) -> Any:
        changed = {}
        for name, key, walk in parts:
            value = getattr(thing, name)
            if not value:
                continue
            after = walk(value, visit, (*path, key))
            if after is value:
                continue
            if after is DROP:
                return DROP
            # An empty text is a field that says nothing, as is None.
            changed[name] = "" if after is None and not _may_be_none(cast("Hashable", type(thing)), name) else after
        return msgspec.structs.replace(thing, **changed) if changed else thing

    return over


@cache
def _may_be_none(kind: Hashable, field: str) -> bool:
    return type(None) in get_args(get_type_hints(cast("type", kind))[field])


def _walk(hint: Any, wanted: frozenset[Kind]) -> Walk | None:
    """Make the walk over a value by its type; None where no text in it can name what is wanted."""
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Annotated:
        names = declared(hint)
        if names is not None:
            return _at_text(names) if not wanted.isdisjoint(names.kinds) else None
        return _walk(arguments[0], wanted)
    if origin in {Union, types.UnionType}:
        return next((walk for part in arguments if (walk := _walk(part, wanted)) is not None), None)
    if origin is tuple:
        item = _walk(arguments[0], wanted)
        return _over_items(item) if item is not None else None
    if origin is dict:
        walk = _walk(arguments[1], wanted)
        return _over_values(walk) if walk is not None else None
    if isinstance(hint, type) and issubclass(hint, msgspec.Struct):
        return walk_of(hint, wanted)
    return None


def _at_text(names: Names) -> Walk:
    def at(text: str, visit: Visit, path: Path) -> Any:
        return visit(text, names, path) if text else text

    return at


def _over_items(walk: Walk) -> Walk:
    def over(items: tuple[Any, ...], visit: Visit, path: Path) -> Any:
        after = [walk(item, visit, (*path, index)) for index, item in enumerate(items)]
        if all(new is old for new, old in zip(after, items, strict=True)):
            return items
        return tuple(item for item in after if item is not DROP)

    return over


def _over_values(walk: Walk) -> Walk:
    def over(items: dict[str, Any], visit: Visit, path: Path) -> Any:
        after = {key: walk(item, visit, (*path, key)) for key, item in items.items()}
        if all(after[key] is items[key] for key in items):
            return items
        return {key: item for key, item in after.items() if item is not DROP}

    return over


def rewritten(show: Show, kinds: frozenset[Kind], visit: Visit) -> Show:
    """Let a visitor see, and perhaps change, every text of a show that may name one of these kinds.

    A row of a table for which it gives DROP is left out.
    """
    changed: dict[str, tuple[Any, ...]] = {}
    for table, row in tables_of_rows():
        walk = walk_of(row, kinds)
        things: tuple[Any, ...] = getattr(show, table)
        if walk is None or not things:
            continue
        after = tuple(walk(thing, visit, (table, index)) for index, thing in enumerate(things))
        if any(new is not old for new, old in zip(after, things, strict=True)):
            changed[table] = tuple(thing for thing in after if thing is not DROP)
    return msgspec.structs.replace(show, **changed) if changed else show


@cache
def tables_of_rows() -> tuple[tuple[str, type], ...]:
    """List the tables of a show, and the struct of their rows."""
    hints = get_type_hints(Show, include_extras=True)
    return tuple((name, get_args(hint)[0]) for name, hint in hints.items() if get_origin(hint) is tuple)


class Known:
    """The names of the things of a show, kind by kind; units that racks as built bring among them."""

    def __init__(self, show: Show, units: Mapping[str, Any]) -> None:
        self._of: dict[Kind, set[str]] = {
            kind: {thing.id for thing in getattr(show, table)} for kind, table in TABLES.items()
        }
        self._of["unit"] |= set(units)
        self._together: dict[tuple[Kind, ...], set[str]] = {}

    def has(self, kind: Kind, name: str) -> bool:
        """Tell whether there is such a thing."""
        return name in self._of[kind]

    def of(self, kinds: tuple[Kind, ...]) -> set[str]:
        """List all names of these kinds."""
        if kinds not in self._together:
            self._together[kinds] = set().union(*(self._of[kind] for kind in kinds))
        return self._together[kinds]

    def named(self, text: str, names: Names) -> tuple[str, str, str]:
        """Find what a text names: what stands before it, the name, what stands behind. All empty where it is nobody."""
        for before, name, after in names.candidates(text):
            if any(name in self._of[kind] for kind in names.kinds):
                return before, name, after
        return "", "", ""


def missing(known: Known, rows: Iterable[tuple[Path, Any, frozenset[Kind]]]) -> Iterator[Reference]:
    """Find the texts in rows that must name something, of the kinds looked for, and name what there is not."""
    found: list[Reference] = []

    def visit(text: str, names: Names, path: Path) -> str:
        if not names.required or (names.form == "whole" and text in known.of(names.kinds)):
            return text  # first, since nearly every text is such a one
        name = next((candidate for _, candidate, _ in names.candidates(text)), "")
        # A text of another form than its field wants is for the rule of that field.
        if name and not known.named(text, names)[1]:
            found.append(Reference(path, text, name, names))
        return text

    for path, thing, kinds in rows:
        walk = walk_of(cast("Hashable", type(thing)), kinds)
        if walk is not None:
            walk(thing, visit, path)
    yield from found


def owner_of(show: Show, path: Path) -> str:
    """Name the thing whose table a path leads into: by its id, or by what stands for one."""
    thing = getattr(show, str(path[0]))[path[1]]
    named = getattr(thing, "id", None) or getattr(thing, "line", None) or getattr(thing, "model", None)
    return str(named or f"number {int(path[1]) + 1}")


assert set(TABLES.values()) >= set(MODEL_TABLES)  # noqa: S101  (a kind of model without a table could not be found)
