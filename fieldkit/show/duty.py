"""Duty: how hard the programme drives a zone, as average over rated power."""

from __future__ import annotations

from typing import Self

from fieldkit.errors import UnusableError
from fieldkit.formulas.crest import average_power_share
from fieldkit.units import Gain, Ratio, UnitError

IDLE = "idle"
MINIMUM_CREST_DB = 3.0103
"""Crest factor of a sine: nothing that an amplifier plays unclipped has less."""


class Duty(str):
    """As typed: ``idle``, ``1/8``, ``1/3``, a ratio such as ``20 %``, or the programme's crest factor, ``9 dB``."""

    __slots__ = ("share",)
    phrase = "a duty such as 'idle', '1/8', '20 %' or a crest factor such as '9 dB'"
    share: float
    """Average over rated sine power, from 0 to 1."""

    def __new__(cls, text: str) -> Self:
        """Read what was typed. Raises UnusableError for what is no duty from 0 to 1."""
        self = super().__new__(cls, text.strip())
        self.share = _share(self)
        return self


def _share(text: str) -> float:
    if text.casefold() == IDLE:
        return 0.0
    above, slash, below = text.partition("/")
    if slash:
        parts = (above.strip(), below.strip())
        if all(part.isascii() and part.isdecimal() and len(part) < 5 for part in parts) and int(parts[1]) > 0:
            share = int(parts[0]) / int(parts[1])
            if share <= 1.0:
                return share
        raise UnusableError(f"expected {Duty.phrase}, from 0 to 1, got '{text[:40]}'")
    if text.casefold().endswith("db"):
        crest_db = _read(Gain, text)
        if not MINIMUM_CREST_DB - 0.02 <= crest_db <= 40.0:
            raise UnusableError(f"expected a crest factor from 3 to 40 dB, got '{text[:40]}'")
        return min(average_power_share(crest_db), 1.0)
    return _read(Ratio, text)


def _read(kind: type[Gain | Ratio], text: str) -> float:
    try:
        return kind(text).value
    except UnitError as error:
        raise UnusableError(f"expected {Duty.phrase}, got '{text[:40]}'") from error
