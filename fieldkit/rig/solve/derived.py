"""What is worked out from a rig when somebody first asks for it, and then stays with that rig."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar, cast

from fieldkit.rig.solve.evaluation import Rig

Value = TypeVar("Value")


class Derived(Generic[Value]):
    """A function of a rig whose answer the rig keeps: rules, screens and pages ask for the same in a row."""

    def __init__(self, make: Callable[[Rig], Value]) -> None:
        self._make = make

    def __call__(self, rig: Rig) -> Value:
        """Take the value for a rig; rigs are never changed in place."""
        if self not in rig.derived:
            rig.derived[self] = self._make(rig)
        return cast("Value", rig.derived[self])
