"""What was worked out for the rig that was asked for last: rules, screens and pages ask for the same one in a row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from fieldkit.rig.solve.evaluation import Rig

Value = TypeVar("Value")


class Latest(Generic[Value]):
    """A function of a rig that remembers its last answer."""

    def __init__(self, make: Callable[[Rig], Value]) -> None:
        self._make = make
        self._known: tuple[Rig, Value] | None = None

    def __call__(self, rig: Rig) -> Value:
        """Take the value for a rig, by identity: rigs are never changed in place."""
        known = self._known
        if known is not None and known[0] is rig:
            return known[1]
        value = self._make(rig)
        self._known = (rig, value)  # another thread may put its own here; what is returned is this rig's all the same
        return value
