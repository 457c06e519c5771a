"""What was worked out last time, for as long as the parts it came from are the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from operator import is_
from typing import TypeAlias, TypeVar

Value = TypeVar("Value")
_Kept: TypeAlias = tuple[tuple[object, ...], tuple[object, ...], object]
"""The parts of a value, the large things that they were read from, and the value."""


class Memory:
    """Keeps results beside the parts they were made of, from one round to the next.

    Parts are compared element by element, identity first, so that an unchanged thing costs a pointer's
    comparison. Whatever was not asked for in a round is forgotten with it.
    """

    def __init__(self) -> None:
        self._last: dict[Hashable, _Kept] = {}
        self._now: dict[Hashable, _Kept] = {}

    def begin(self) -> None:
        """Begin a round: what the last one used may be used again."""
        self._last, self._now = self._now, {}

    def once(self, key: Hashable, parts: tuple[object, ...], make: Callable[[], Value]) -> Value:
        """Take the value that was made of these very parts, or make it."""
        kept = self._now.get(key) or self._last.get(key)
        if kept is None or kept[0] != parts:
            kept = (parts, (), make())
        self._now[key] = kept
        return kept[2]  # type: ignore[return-value]  # a key belongs to one kind of value

    def once_within(
        self,
        key: Hashable,
        within: tuple[object, ...],
        parts: Callable[[], tuple[object, ...]] | None,
        make: Callable[[], Value],
    ) -> Value:
        """The same where the parts can be read only from large things: while those are the very same, nothing is read.

        within: the large things, compared by identity alone
        parts: reads the parts; None where the large things themselves are all that is looked at
        """
        kept = self._now.get(key) or self._last.get(key)
        if kept is None or len(kept[1]) != len(within) or not all(map(is_, kept[1], within)):
            own = () if parts is None else parts()
            kept = (own, within, make() if kept is None or parts is None or kept[0] != own else kept[2])
        self._now[key] = kept
        return kept[2]  # type: ignore[return-value]
