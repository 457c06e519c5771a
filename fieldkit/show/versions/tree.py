"""A show as a tree of names, in which every thing and every row has a name of its own wherever it stands.

Two versions of a show are held side by side by those names, and never by lines or places. What has no id is known by
what tells it apart for people: stock by model, length and serial, a reading by line, plug, kind and time, an entry of
the log by kind, place and time. Where that is the same several times, equal ones are matched first. The steps of a
run's path have no name at all: they are aligned with those of the version before.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeAlias

import msgspec

from fieldkit.gear.amplifier import Rating
from fieldkit.gear.loudspeaker import Section
from fieldkit.show.decoding import convert
from fieldkit.show.document import About, ChangedBox, ChangedUnit, Logged, MovedRun, Reading, Run, Show, Stock
from fieldkit.show.errors import DocumentError

Node: TypeAlias = Any
"""A value, a list that is one value, a dict of fields or keys, or ``NamedRows``."""


class NamedRows(dict[str, Node]):
    """Things, rows or names in their order, each by its name. A list among the values is so many rows."""


IDENTITY: dict[type, Callable[[Any], str]] = {
    Stock: lambda item: "\0".join((item.model, _millimetres(item.length), item.serial)),
    Reading: lambda item: "\0".join((item.line, item.at, item.kind, _time(item.time))),
    Logged: lambda item: "\0".join((item.kind, item.at, _time(item.time))),
    MovedRun: lambda item: str(item.run),
    ChangedUnit: lambda item: str(item.unit),
    ChangedBox: lambda item: str(item.box),
    Section: lambda item: "\0".join((item.drive, item.section, str(item.pair))),
    Rating: lambda item: "\0".join((item.load, "bridged" if item.bridged else "")),
}
"""What tells rows apart that have no id."""

NAMES = frozenset({"low_end_from", "served_by", "bridged", "paralleled", "unbalanced_inputs", "presets", "uses"})
"""Lists of names that are added and taken out one by one; any other list of texts is one value, such as two ends."""

ROWS = frozenset({"sections", "powers", "moved", "changed"})
"""Lists of rows that are known by something."""

TABLES = tuple(field.name for field in msgspec.structs.fields(Show) if field.name not in {"format", "about"})
KINDS = {field.name: field.type.__args__[0] for field in msgspec.structs.fields(Show) if field.name in TABLES}
"""Table -> the struct of its things."""

STEP_MISSING, FIELD_DIFFERS, BOX_DIFFERS = 1.5, 1.0, 1.2
"""What a difference between two paths costs, so that the alignment with the fewest is found. A box tells a step
best: that another one stands there is less likely than a step more, unless the lead is the same one."""


class UnfitRowError(DocumentError):
    """A row of a tree that no table can hold, such as one without a key that it needs."""

    def __init__(self, row: tuple[str, ...], error: DocumentError) -> None:
        """``row`` is the table and the row's name."""
        super().__init__(error.problem)
        self.row = row


class Planted:
    """Shows as trees, the second and third by the names of the first; and the way back from tree to show."""

    def __init__(self) -> None:
        self._things: dict[int, tuple[Node, Any]] = {}
        """Struct of a node that was made of it, or it of the node; the node is held so that its id stays its own."""

    def tree(self, show: Show, base: dict[str, Node] | None = None) -> dict[str, Node]:
        """Make the tree of a show, by the names that the tree of an earlier version has for what is in both."""
        base = base or {}
        result: dict[str, Node] = {"show": self._planted(show.about, base.get("show"))}
        for table in TABLES:
            result[table] = self._table(getattr(show, table), base.get(table, NamedRows()))
        return result

    def show(self, tree: dict[str, Node]) -> Show:
        """Make the show of a tree. Raises UnfitRowError where a table cannot hold what it says."""
        tables: dict[str, Any] = {
            table: tuple(self._struct(node, KINDS[table], (table, key)) for key, node in tree[table].items())
            for table in TABLES
        }
        return Show(about=self._struct(tree["show"], About, ("show",)), **tables)

    def _table(self, things: Sequence[Any], base: NamedRows) -> NamedRows:
        keys = _keys(things, base, self._is)
        return NamedRows({key: self._planted(thing, base.get(key)) for key, thing in zip(keys, things, strict=True)})

    def _is(self, node: Node, thing: Any) -> bool:
        known = self._things.get(id(node))
        return known is not None and bool(known[1] == thing)

    def _planted(self, thing: Any, base: Node) -> Node:
        if base is not None and self._is(base, thing):
            return base
        node = _node(thing, base)
        self._things[id(node)] = (node, thing)
        return node

    def _struct(self, node: Node, kind: type, row: tuple[str, ...]) -> Any:
        known = self._things.get(id(node))
        if known is None:
            try:
                known = (node, convert(_plain(node), kind))
            except DocumentError as error:
                raise UnfitRowError(row, error) from error
            self._things[id(node)] = known
        return known[1]


def _time(time: dt.datetime | None) -> str:
    return time.isoformat() if time is not None else ""


def _millimetres(length: Any) -> str:
    return "" if length is None else str(round(1000 * length.value))


def _identity(item: Any) -> str | None:
    known = IDENTITY.get(type(item))
    return known(item) if known else getattr(item, "id", None)


def _keys(items: Sequence[Any], base: NamedRows, same: Callable[[Node, Any], bool]) -> list[str]:
    """Name rows: by their own identity, and where several have the same, by the base's row that is equal first."""
    groups: dict[str, list[int]] = {}
    for index, item in enumerate(items):
        groups.setdefault(item if isinstance(item, str) else _identity(item) or "", []).append(index)
    keys = [""] * len(items)
    for identity, places in groups.items():
        if len(places) == 1 and f"{identity}\0#2" not in base:
            keys[places[0]] = identity
            continue
        free = [key for key in _numbered(identity) if key in base] if base else []
        left = []
        for place in places:
            key = next((key for key in free if same(base[key], items[place])), None)
            if key is None:
                left.append(place)
            else:
                free.remove(key)
                keys[place] = key
        new = (key for key in _numbered(identity, 100_000) if key not in base)
        for place in left:
            keys[place] = free.pop(0) if free else next(new)
    return keys


def _numbered(identity: str, most: int = 1_000) -> Iterator[str]:
    yield identity
    yield from (f"{identity}\0#{number}" for number in range(2, most))


@functools.cache
def _fields(kind: type[msgspec.Struct]) -> tuple[tuple[str, str], ...]:
    """List the fields of a struct: the attribute, and the key of the file. msgspec works it out anew at each call."""
    return tuple((field.name, field.encode_name) for field in msgspec.structs.fields(kind))


def _node(value: Any, base: Node) -> Node:
    if isinstance(value, msgspec.Struct):
        known = base if isinstance(base, dict) else {}
        result: dict[str, Node] = {}
        for name, key in _fields(type(value)):
            inner = getattr(value, name)
            if inner is None:
                continue
            if isinstance(value, Run) and name == "path":
                result["path"] = _path(inner, known.get("path"))
            elif isinstance(inner, tuple):
                result[key] = _rows(name, inner, known.get(key))
            else:
                result[key] = _node(inner, known.get(key))
        return result
    if isinstance(value, dict):
        return {key: _node(inner, None) for key, inner in value.items()}
    return value


def _rows(field: str, values: tuple[Any, ...], base: Node) -> Node:
    if not values:
        return NamedRows() if field in NAMES or field in ROWS else []
    named = field in NAMES if isinstance(values[0], str) else _identity(values[0]) is not None
    if not named:
        return [_node(value, None) for value in values]
    known = base if isinstance(base, NamedRows) else NamedRows()
    keys = _keys(values, known, lambda node, value: bool(node == _node(value, None)))
    return NamedRows({key: _node(value, known.get(key)) for key, value in zip(keys, values, strict=True)})


def _path(steps: tuple[Any, ...], base: Node) -> NamedRows:
    """Name the steps of a path after those of the version before; between them are gaps, for what is put in there."""
    nodes = [_node(step, None) for step in steps]
    if not isinstance(base, NamedRows):
        return NamedRows({f"step {number}": node for number, node in enumerate(nodes, start=1)})
    earlier = {key: node for key, node in base.items() if key.startswith("step ")}
    names, place = list(earlier), 0
    result = NamedRows({"gap 0": []})
    pairs = dict(_aligned(list(earlier.values()), nodes))
    for index, name in enumerate(names):
        there = pairs.get(index)
        if there is not None:
            result[f"gap {index}"].extend(nodes[place:there])
            result[name] = nodes[there]
            place = there + 1
        result[f"gap {index + 1}"] = []
    result[f"gap {len(names)}"].extend(nodes[place:])
    return NamedRows({key: node for key, node in result.items() if node != []})


def _aligned(old: list[Node], new: list[Node]) -> Iterator[tuple[int, int]]:
    """Pair the steps of two paths in order, so that the fewest differences are left."""
    if old == new:
        yield from enumerate(range(len(new)))
        return
    cost = [[STEP_MISSING * (row + column) for column in range(len(new) + 1)] for row in range(len(old) + 1)]
    for row in range(1, len(old) + 1):
        for column in range(1, len(new) + 1):
            cost[row][column] = min(
                cost[row - 1][column - 1] + _difference(old[row - 1], new[column - 1]),
                cost[row - 1][column] + STEP_MISSING,
                cost[row][column - 1] + STEP_MISSING,
            )
    row, column, pairs = len(old), len(new), []
    while row and column:
        if cost[row][column] == cost[row - 1][column - 1] + _difference(old[row - 1], new[column - 1]):
            row, column = row - 1, column - 1
            pairs.append((row, column))
        elif cost[row][column] == cost[row - 1][column] + STEP_MISSING:
            row -= 1
        else:
            column -= 1
    yield from reversed(pairs)


def _difference(one: Node, other: Node) -> float:
    differing = {key for key in {*one, *other} if one.get(key) != other.get(key)}
    return sum(BOX_DIFFERS if key == "box" else FIELD_DIFFERS for key in differing)


def _plain(node: Node) -> Any:
    """Write a node as the file has it."""
    if isinstance(node, NamedRows):
        rows: list[Any] = []
        for value in node.values():
            rows.extend(map(_plain, value) if isinstance(value, list) else [_plain(value)])
        return rows
    if isinstance(node, dict):
        return {key: _plain(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_plain(value) for value in node]
    return str(node) if isinstance(node, str) else node
