"""Values drawn on a scale of a few cells, always beside their number: never the only way that something is said.

It stands alone, since any list and page may draw one.
"""

from __future__ import annotations

import math

LOAD_TOP_OHM = 16.0
"""Right end of the scale of loads: two boxes of 8 ohm in parallel stand in its middle."""


def load_scale(load_ohm: float, minimum_ohm: float, preferred_ohm: float, width: int = 9) -> str:
    """Draw a load between the minimum of its output, at the left end, and 16 ohm, with the preferred load marked.

    ``├──┊─●──┤``: the dot is the load. Under the minimum it is an arrow that points out at the left. Equal steps are
    equal ratios. All loads in ohm, above 0.
    """
    top = max(LOAD_TOP_OHM, 2.0 * minimum_ohm)
    cells = ["├", *"─" * (width - 2), "┤"]

    def place(ohm: float) -> int:
        share = math.log(ohm / minimum_ohm) / math.log(top / minimum_ohm)
        return max(0, min(width - 1, round(share * (width - 1))))

    if minimum_ohm < preferred_ohm < top:
        cells[place(preferred_ohm)] = "┊"
    cells[place(load_ohm)] = "◄" if load_ohm < minimum_ohm * (1.0 - 1e-9) else "●"
    return "".join(cells)


SCALE_CELLS = 11
"""Cells of a scale for readings."""
_INSIDE = 5
"""Cells of the window, its two ends included."""


def window_scale(low: float, high: float, value: float | None, width: int = SCALE_CELLS) -> str:
    """Draw a reading on a scale on which the window that it should lie in is in the middle: ``  ├──┤   ●``.

    The window always takes the same cells; a step beside it is a ratio. None is an open line, at the right end; a
    short stands at the left end. Values above 0 except for a short, which is 0.
    """
    first = (width - _INSIDE) // 2
    last = first + _INSIDE - 1
    cells = [*" " * first, "├", *"─" * (_INSIDE - 2), "┤", *" " * (width - last - 1)]
    if value is None:
        place = width - 1
    elif low <= value <= high:
        place = first + round((0.5 if high <= low else (value - low) / (high - low)) * (_INSIDE - 1))
    elif value > high:
        place = min(width - 1, last + _steps(value / high, width - 1 - last))
    else:
        place = max(0, first - _steps(low / value if value > 0.0 else math.inf, first))
    cells[place] = "●"
    return "".join(cells).rstrip()


def _steps(ratio: float, room: int) -> int:
    """Count the cells that a value stands beside the window: four times as much, or a quarter, is at the end."""
    return max(1, min(room, math.ceil(min(1.0, math.log(ratio) / math.log(4.0)) * room)))
