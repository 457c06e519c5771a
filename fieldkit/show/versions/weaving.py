"""A show made of a base and some of the changes of two later versions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from fieldkit.show.borrowing import borrowed
from fieldkit.show.document import Show
from fieldkit.show.references import problems
from fieldkit.show.versions.changes import Change, Library
from fieldkit.show.versions.renames import Rename, followed
from fieldkit.show.versions.tree import NamedRows, Node, Planted, UnfitRowError
from fieldkit.text.words import Path


class Flaw(msgspec.Struct, frozen=True):
    """Why a show would not load, and where."""

    row: tuple[str, ...]
    """Table and name of the row; the table alone for what is no row of the show."""
    field: str
    says: str

    @property
    def place(self) -> tuple[str, ...]:
        """Row and field: the words may name the nearest label, which changes with the others."""
        return (*self.row, self.field)


class Weaver:
    """Three versions of a show as trees that name alike what is alike."""

    def __init__(
        self, base: Show, mine: Show, theirs: Show, labels: dict[tuple[str, str], str], library: Library | None
    ) -> None:
        """``labels`` has the label that each renamed thing has in the three: table and earlier label -> label."""
        self._planted = Planted()
        self.base = self._planted.tree(base)
        self.mine = self._planted.tree(mine, self.base)
        self.theirs = self._planted.tree(theirs, self.base)
        self._labels = labels
        self._library = library

    def woven(self, changes: Iterable[Change]) -> tuple[Show | None, tuple[Flaw, ...]]:
        """Make the show with some changes, and list what keeps it from loading; no show where it cannot be at all."""
        changes = tuple(changes)
        tree = self._tree(changes)
        try:
            show = self._planted.show(tree)
        except UnfitRowError as error:
            return None, (Flaw(error.row, error.problem.partition(":")[0], error.problem),)
        wanted = {(change.path[1], change.path[2]): change.after for change in changes if change.kind == "renamed"}
        other = (Rename(key[0], label, wanted.get(key, key[1])) for key, label in self._labels.items())
        show = followed(show, (name for name in other if name.old != name.new))
        whole = borrowed(show, self._library)[0] if self._library else show
        flaws = (
            Flaw(_row(tree, path), str(path[2]) if len(path) > 2 else "", f"{thing}: {says}")
            for path, thing, says in problems(whole)
        )
        return show, tuple(flaws)

    def _tree(self, changes: Sequence[Change]) -> dict[str, Node]:
        grown = _Grown(self.base)
        orders: dict[tuple[str, ...], list[str] | None] = {}
        for change in changes:
            if change.kind == "order":
                orders[change.path[:-1]] = change.after
            elif change.kind != "renamed" and grown.put(change.path, change.after):
                orders.setdefault(change.path[:-1])
        for path, order in orders.items():
            rows = grown.at(path)
            if isinstance(rows, NamedRows):
                sides = (list(_at(tree, path)) for tree in (self.mine, self.theirs))
                grown.put(path, _ordered(rows, order, list(_at(self.base, path)), *sides))
        return grown.tree


class _Grown:
    """A tree that shares with the one it grew from all that was not changed."""

    def __init__(self, tree: dict[str, Node]) -> None:
        self.tree = dict(tree)
        self._own = {id(self.tree)}

    def put(self, path: tuple[str, ...], value: Node) -> bool:
        """Put a value, None for none, and say whether it is new among rows; nothing where its place is gone."""
        here = self.tree
        for key in path[:-1]:
            inner = here.get(key)
            if not isinstance(inner, dict):
                return False
            if id(inner) not in self._own:
                here[key] = inner = type(inner)(inner)
                self._own.add(id(inner))
            here = inner
        new = isinstance(here, NamedRows) and path[-1] not in here
        if value is None:
            here.pop(path[-1], None)
        else:
            here[path[-1]] = value
        return new

    def at(self, path: tuple[str, ...]) -> Node:
        return _at(self.tree, path)


def _at(tree: Node, path: tuple[str, ...]) -> Any:
    for key in path:
        tree = tree.get(key, NamedRows()) if isinstance(tree, dict) else NamedRows()
    return tree


def _row(tree: dict[str, Node], path: Path) -> tuple[str, ...]:
    table = str(path[0])
    if len(path) < 2 or not isinstance(path[1], int):
        return (table,)
    keys = list(tree.get(table, ()))
    return (table, keys[path[1]]) if path[1] < len(keys) else (table,)


def _ordered(
    rows: NamedRows, order: list[str] | None, base: list[str], mine: list[str], theirs: list[str]
) -> NamedRows:
    """Put rows in order: those of the base as one side has put them, each new one behind what it came behind.

    What both sides put behind one row stands in the order of its names, so that it is the same for both.
    """
    if any(key.startswith("gap ") for key in rows):  # steps are numbered, and what was put in stands behind its number
        return NamedRows(sorted(rows.items(), key=lambda item: _number(item[0])))
    known = set(base)
    backbone = base if order is None else _with_missing(order, base)
    groups: dict[str, list[list[str]]] = {}
    for side in (mine, theirs):
        behind, new = "", set(side) - known
        runs: dict[str, list[str]] = {}
        for key in side:
            if key in new:
                runs.setdefault(behind, []).append(key)
            else:
                behind = key
        for anchor, run in runs.items():
            groups.setdefault(anchor, []).append(run)
    keys: dict[str, None] = {}
    for anchor in ("", *backbone):
        if anchor:
            keys[anchor] = None
        for run in sorted(groups.get(anchor, ())):
            keys.update(dict.fromkeys(run))
    return NamedRows({key: rows[key] for key in keys if key in rows})


def _with_missing(order: list[str], base: list[str]) -> list[str]:
    """Put the rows that an order lacks behind those that they stood behind."""
    result = list(order)
    for place, key in enumerate(base):
        if key not in result:
            before = next((other for other in reversed(base[:place]) if other in result), None)
            result.insert(result.index(before) + 1 if before is not None else 0, key)
    return result


def _number(key: str) -> tuple[int, bool]:
    word, _, number = key.partition(" ")
    return int(number), word == "gap"
