"""A place in the room, as typed: along from the stage, across (to the right of the audience), up."""

from __future__ import annotations

from typing import Self

from fieldkit.errors import UnusableError
from fieldkit.units import Length, UnitError

WANTED = "a place of two or three lengths such as '50 m, -3 m, 5 m' (along, across, up)"


class Position(str):
    """Coordinates as typed: ``50 m, -3 m, 5 m``; without the third, up is 0."""

    __slots__ = ("metres",)
    metres: tuple[float, float, float]

    def __new__(cls, text: str) -> Self:
        """Read what was typed. Raises UnusableError for anything else."""
        self = super().__new__(cls, text.strip())
        parts = text.split(",")
        if not 2 <= len(parts) <= 3:
            raise UnusableError(f"expected {WANTED}, got {len(parts)} in '{text.strip()[:40]}'")
        along, across, up = (*(_metres(part.strip(), text) for part in parts), 0.0)[:3]
        self.metres = (along, across, up)
        return self


def _metres(part: str, text: str) -> float:
    sign = -1.0 if part[:1] in {"-", "−"} else 1.0
    try:
        return sign * Length(part[1:].strip() if sign < 0.0 else part).value
    except UnitError as error:
        raise UnusableError(f"expected {WANTED}, got '{text.strip()[:40]}' ({error})") from error
