"""What a meter said: ohms, or one of the two words that meters have for the ends of their scale."""

from __future__ import annotations

from typing import Self

from fieldkit.errors import UnusableError
from fieldkit.units import Resistance, UnitError

WORDS = {"open": "open", "ol": "open", "short": "short"}


class ReadingValue(str):
    """A reading as typed: ``3.3 ohm``, ``open`` (or ``OL``), ``short``."""

    __slots__ = ("ohm", "word")
    ohm: float | None
    word: str | None

    def __new__(cls, text: str) -> Self:
        """Read what was typed. Raises UnusableError for anything that is neither."""
        self = super().__new__(cls, text)
        self.word = WORDS.get(text.strip().lower())
        if self.word:
            self.ohm = None
            return self
        try:
            self.ohm = Resistance(text).value
        except UnitError as error:
            raise UnusableError(f"{error} (or 'open', 'short')") from error
        return self
