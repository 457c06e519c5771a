"""One thing of a settings account, typed, and the one way in which every page writes it."""

from __future__ import annotations

import msgspec

from fieldkit.units import format_number, format_value

Value = float | str

RANGE_DB = 0.05
"""A threshold this near to an end of its host's range is in it [dB, and as a share of other units]."""


class AccountEntry(msgspec.Struct, frozen=True, gc=False):
    """One thing of an account."""

    quantity: str
    value: Value
    unit: str
    """``dB``, ``dBu``, ``dBFS``, ``V rms``, ``V peak``, ``V``, ``ms``, ``Hz``; empty for a word."""
    where: str
    """Device, output or connector: ``SR-1.3``, ``SR-1 input 3``, ``SR-1.3 posts``, ``A1 knob 2``."""
    basis: str = ""
    """What it comes from."""
    also: tuple[tuple[float, str], ...] = ()
    """The same in other units that the host may ask for."""
    low: float | None = None
    """Least that the host can be set to, in ``unit``."""
    high: float | None = None
    output: str = ""
    """The amplifier output that it is about; empty where it is true of the whole host."""

    @property
    def text(self) -> str:
        """The value with its unit, in every unit, and a word where the host cannot be set to it."""
        values = [written(self.value, self.unit), *(written(value, unit) for value, unit in self.also)]
        return " = ".join(values) + self._range()

    def in_unit(self, unit: str) -> float | None:
        """Look up the value in one of its units; None where it has none in that."""
        known = (*((self.value, self.unit),), *self.also)
        return next((value for value, its in known if its == unit and isinstance(value, float)), None)

    def _range(self) -> str:
        if not isinstance(self.value, float):
            return ""
        if self.low is not None and self.value < self.low - RANGE_DB:
            return f", under the {written(self.low, self.unit)} that it goes down to"
        if self.high is not None and self.value > self.high + RANGE_DB:
            return f", over the {written(self.high, self.unit)} that it clips at"
        return ""


def written(value: Value, unit: str) -> str:
    """Write a value of an account the way every page has it."""
    if isinstance(value, str):
        return value
    if unit in ("dB", "dBu", "dBV", "dBFS"):
        return f"{value:+.1f} {unit}"
    if unit in ("ms", "m"):
        return f"{value:.2f} {unit}"
    if unit.startswith("samples"):
        return f"{value:.0f} {unit}"
    if unit.startswith("V"):
        return f"{format_number(value, 3)} {unit}"
    return format_value(value, unit, 4)
