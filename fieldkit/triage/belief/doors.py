"""How long it is until the doors, as it is typed: minutes, or a time on the clock."""

from __future__ import annotations

import datetime as dt
import re
from math import inf

from fieldkit.triage.belief.observations import ObservationError
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
