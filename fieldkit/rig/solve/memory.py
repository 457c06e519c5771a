"""What was worked out last time, for as long as the parts it came from are the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TypeVar

Value = TypeVar("Value")


class Memory:
    """Keeps results beside the parts they were made of, from one round to the next.

    Parts are compared element by element, identity first, so that an unchanged thing costs a pointer's
    comparison. Whatever was not asked for in a round is forgotten with it.
    """

    def __init__(self) -> None:
        self._last: dict[Hashable, tuple[tuple[object, ...], object]] = {}
        self._now: dict[Hashable, tuple[tuple[object, ...], object]] = {}

    def begin(self) -> None:
        """Begin a round: what the last one used may be used again."""
        self._last, self._now = self._now, {}

    def once(self, key: Hashable, parts: tuple[object, ...], make: Callable[[], Value]) -> Value:
        """Give the value that was made of these very parts, or make it."""
        kept = self._last.get(key)
        if kept is None or kept[0] != parts:
            kept = (parts, make())
        self._now[key] = kept
        return kept[1]  # type: ignore[return-value]  # a key belongs to one kind of value
