"""What was worked out last time, for as long as the parts it came from are the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from itertools import compress
from operator import is_, is_not, ne
from typing import Any, NamedTuple, TypeAlias, TypeVar

Thing = TypeVar("Thing")
Value = TypeVar("Value")
Key = TypeVar("Key", bound=Hashable)
_Kept: TypeAlias = tuple[tuple[object, ...], object]
"""The parts of a value, and the value."""


class _Row(NamedTuple):
    """What was made of each thing of a row: three lists of one length."""

    within: tuple[object, ...]
    things: Sequence[object]
    parts: Sequence[tuple[object, ...]]
    """Of each thing; all empty where there are none to read."""
    values: tuple[Any, ...]


class _Grouped(NamedTuple):
    """What was gathered from a row of rows by key."""

    rows: Sequence[Sequence[tuple[Any, Any]]]
    places: dict[Any, list[tuple[int, int]]]
    """Of each key: in which rows its values stand, and where there."""
    groups: dict[Any, tuple[Any, ...]]


_NOBODY = object()
"""Stands where a thing of a new row was not in the old one."""
MOST_EXCHANGED = 8
"""So many things that are others in their places are taken for edits, more for a row that was put in another order."""


class Memory:
    """Keeps results beside the parts they were made of, from one round to the next.

    Parts are compared element by element, identity first, so that an unchanged thing costs a pointer's
    comparison. A single value that was not asked for in a round is forgotten with it; of a row, the last one is kept,
    since there are only so many names of rows.
    """

    def __init__(self) -> None:
        self._last: dict[Hashable, _Kept] = {}
        self._now: dict[Hashable, _Kept] = {}
        self._rows: dict[str, _Row] = {}
        self._grouped: dict[str, _Grouped] = {}

    def begin(self) -> None:
        """Begin a round: what the last one used may be used again."""
        self._last, self._now = self._now, {}

    def branch(self) -> Memory:
        """Make a memory that knows what this one knows, for a round beside its own."""
        other = Memory()
        other._now, other._rows, other._grouped = dict(self._now), dict(self._rows), dict(self._grouped)
        return other

    def once(self, key: Hashable, parts: tuple[object, ...], make: Callable[[], Value]) -> Value:
        """Take the value that was made of these very parts, or make it."""
        kept = self._now.get(key) or self._last.get(key)
        if kept is None or kept[0] != parts:
            kept = (parts, make())
        self._now[key] = kept
        return kept[1]  # type: ignore[return-value]  # a key belongs to one kind of value

    def same(self, key: str, value: Value) -> Value:
        """Take the object of last time where it equals this one, so that what rests on it is recognised at once."""
        return self.once(key, (value,), lambda: value)

    def each(
        self, name: str, things: Iterable[Thing], make: Callable[[Thing], Value], within: tuple[object, ...] = ()
    ) -> tuple[Value, ...]:
        """Make a value of each thing of a row, or take the one that was made of this very thing.

        A value must follow from its thing and from what is in ``within``, all compared by identity. Where none is
        another, the whole is the very tuple of last time.
        """
        row, kept = tuple(things), self._rows.get(name)
        if kept is None or not _are(kept.within, within):
            values = tuple(map(make, row))
        else:
            values = _renewed(*_lined_up(kept, row), row, make)
        self._rows[name] = _Row(within, row, ((),) * len(row), values)
        return values

    def each_of(
        self,
        name: str,
        things: Iterable[Thing],
        within: tuple[object, ...],
        parts: Callable[[Thing], tuple[object, ...]],
        make: Callable[[Thing], Value],
    ) -> tuple[Value, ...]:
        """Do the same where little of what is in ``within`` counts for one thing: its parts, which are read from there.

        While what is in ``within`` is the very same, no parts are read; else a value holds where they are as they were.
        """
        row, kept = tuple(things), self._rows.get(name)
        if kept is None:
            own = list(map(parts, row))
            values = tuple(map(make, row))
        else:
            old, others = _lined_up(kept, row)
            if _are(kept.within, within):
                own = list(old.parts)
                for place in others:
                    own[place] = parts(row[place])
            else:
                own = list(map(parts, row))
                others = sorted({*others, *compress(range(len(row)), map(ne, old.parts, own))})
            values = _renewed(old, others, row, make)
        self._rows[name] = _Row(within, row, own, values)
        return values

    def grouped(self, name: str, rows: Sequence[Sequence[tuple[Key, Value]]]) -> Mapping[Key, tuple[Value, ...]]:
        """Gather the values in a row of rows by their keys, in order; the rows as ``each`` gives them.

        Where no row is another, the whole is the very dict of last time; else the groups that no other row adds to are
        the very tuples.
        """
        kept = self._grouped.get(name)
        found = _regrouped(kept, rows) if kept is not None else None
        self._grouped[name] = found = found or _gathered(rows)
        return found.groups


def _gathered(rows: Sequence[Sequence[tuple[Key, Value]]]) -> _Grouped:
    places: dict[Key, list[tuple[int, int]]] = {}
    for number, row in enumerate(rows):
        for at, (key, _) in enumerate(row):
            places.setdefault(key, []).append((number, at))
    return _Grouped(rows, places, {key: _values_at(rows, its) for key, its in places.items()})


def _regrouped(kept: _Grouped, rows: Sequence[Sequence[tuple[Key, Value]]]) -> _Grouped | None:
    """Gather anew what other rows add to; None where they do not add to the same groups in the same order."""
    if len(kept.rows) != len(rows):
        return None
    others = list(compress(range(len(rows)), map(is_not, kept.rows, rows)))
    if not others:
        return kept
    keys: dict[Key, None] = {}
    for number in others:
        its = [key for key, _ in rows[number]]
        if its != [key for key, _ in kept.rows[number]]:
            return None
        keys.update(dict.fromkeys(its))
    return _Grouped(rows, kept.places, kept.groups | {key: _values_at(rows, kept.places[key]) for key in keys})


def _values_at(rows: Sequence[Sequence[tuple[Key, Value]]], places: Sequence[tuple[int, int]]) -> tuple[Value, ...]:
    return tuple([rows[number][at][1] for number, at in places])


def _lined_up(kept: _Row, row: Sequence[object]) -> tuple[_Row, list[int]]:
    """Put what was kept in the order of a new row, and list the places where the thing is another."""
    if len(kept.things) == len(row):
        others = list(compress(range(len(row)), map(is_not, kept.things, row)))
        if len(others) <= MOST_EXCHANGED:
            return kept, others
    # The old row keeps its things alive, so that no other one has the identity of one of them.
    known = dict(zip(map(id, kept.things), range(len(kept.things)), strict=True))
    places = [known.get(id(thing), -1) for thing in row]
    old = _Row(
        within=kept.within,
        things=_taken((*kept.things, _NOBODY), places),
        parts=_taken((*kept.parts, ()), places),
        values=_taken((*kept.values, None), places),
    )
    return old, [number for number, place in enumerate(places) if place < 0]


def _taken(its: Sequence[Value], places: Sequence[int]) -> tuple[Value, ...]:
    return tuple([its[place] for place in places])


def _renewed(
    old: _Row, others: Sequence[int], row: Sequence[Thing], make: Callable[[Thing], Value]
) -> tuple[Value, ...]:
    """Make the values of some places of a row anew; the very tuple where there are none."""
    if not others:
        return old.values
    values = list(old.values)
    for place in others:
        values[place] = make(row[place])
    return tuple(values)


def _are(some: Sequence[object], others: Sequence[object]) -> bool:
    """Tell whether two rows are the very same objects."""
    return len(some) == len(others) and all(map(is_, some, others))
