"""The show that is being worked on, with the values it had before: undo is going back to one of them."""

from __future__ import annotations

import time
from collections.abc import Callable

import msgspec

from fieldkit.show.document import Show

DEEPEST = 200
"""Steps kept. A step shares all that it did not change with its neighbours: about 8 kB for 1,000 things."""

TOGETHER_S = 1.0
"""Edits of one field within this time are one step, as they were one thought."""


class EditStep(msgspec.Struct, frozen=True):
    """A value of the show, and the edit that led away from it."""

    show: Show
    label: str
    """What was done, in the user's words: ``length of W1, step 2``."""


class History:
    """The present value, and the ways back and forth from it."""

    def __init__(self, show: Show, clock: Callable[[], float] = time.monotonic) -> None:
        self.present = show
        self.saved = show
        self._back: list[EditStep] = []
        self._forth: list[EditStep] = []
        self._clock = clock
        self._last: tuple[str, float] = ("", 0.0)

    @property
    def dirty(self) -> bool:
        """Whether the present value differs from the one that was saved."""
        return self.present is not self.saved and self.present != self.saved

    @property
    def undoes(self) -> str:
        """What the next undo takes back; empty when there is nothing."""
        return self._back[-1].label if self._back else ""

    @property
    def redoes(self) -> str:
        """What the next redo does again; empty when there is nothing."""
        return self._forth[-1].label if self._forth else ""

    def apply(self, label: str, show: Show, field: str = "") -> bool:
        """Take a new value; edits of one and the same field in quick succession become one step.

        Gives False, and keeps no step, when the value is the present one.
        """
        if show == self.present:
            return False
        now = self._clock()
        joined = field and self._back and self._last[0] == field and now - self._last[1] <= TOGETHER_S
        if not joined:
            self._back.append(EditStep(self.present, label))
            del self._back[:-DEEPEST]
        self._last = (field, now)
        self._forth.clear()
        self.present = show
        return True

    def undo(self) -> str:
        """Go back one step and say what was undone; empty when there is nothing to undo."""
        return self._move(self._back, self._forth)

    def redo(self) -> str:
        """Go forth one step and say what was done again; empty when there is nothing to redo."""
        return self._move(self._forth, self._back)

    def mark_saved(self) -> None:
        """Take the present value for the one on disk."""
        self.saved = self.present
        self._last = ("", 0.0)

    def _move(self, source: list[EditStep], target: list[EditStep]) -> str:
        if not source:
            return ""
        step = source.pop()
        target.append(EditStep(self.present, step.label))
        self.present = step.show
        self._last = ("", 0.0)
        return step.label
