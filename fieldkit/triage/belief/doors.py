"""The doors: how long it is until they open, as it is typed and as it is told."""

from __future__ import annotations

import datetime as dt
import re
from math import inf

from fieldkit.triage.errors import ObservationError
from fieldkit.units import Duration, UnitError

WANTED = "minutes until the doors such as 20 or 20 min, or the time such as 19:45"
MOST_S = 24 * 3600.0
EARLIER = dt.timedelta(hours=12)
"""A time on the clock this long ago is meant for tomorrow; a nearer one is past, and the doors are open."""

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})")


def clock() -> dt.datetime:
    """Return the local time."""
    return dt.datetime.now(dt.UTC).astimezone()


def doors_at(text: str, now: dt.datetime) -> dt.datetime:
    """Read the time at which the doors open: a time of day or a duration. Raises ObservationError, one line."""
    plain = text.strip().casefold()
    clock = _CLOCK.fullmatch(plain)
    if clock and int(clock[1]) < 24 and int(clock[2]) < 60:
        at = now.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
        return at + dt.timedelta(days=1) if now - at > EARLIER else at
    try:
        seconds = Duration(f"{plain} min" if plain.isdecimal() else plain).value
    except UnitError:
        seconds = inf
    if seconds > MOST_S:
        raise ObservationError(f"expected {WANTED}, got '{text.strip()[:40]}'")
    return now + dt.timedelta(seconds=seconds)


def left_min(at: dt.datetime, now: dt.datetime) -> float:
    """Compute the whole minutes left; 0 where the doors are open."""
    return float(max(0, (at - now) // dt.timedelta(minutes=1)))


class Doors:
    """When the doors open, or that the show is on: asked once, and told as often as it changes."""

    def __init__(self) -> None:
        self.at: dt.datetime | None = None
        self.show_is_on = False
        self.asked = False

    def left_min(self) -> float:
        """Return the whole minutes until the doors; infinite where no time is set."""
        return inf if self.at is None else left_min(self.at, clock())

    @property
    def running(self) -> bool:
        """Whether there is an audience: the show is on, or the doors have opened."""
        return self.show_is_on or self.left_min() <= 0.0

    @property
    def says(self) -> str:
        """The state in words; empty while nobody has said anything."""
        if self.show_is_on:
            return "show is on"
        if self.at is None:
            return ""
        left = self.left_min()
        return f"doors in {left:g} min" if left > 0.0 else "doors are open"
