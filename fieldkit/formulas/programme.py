"""How programme spreads over frequency: what part of its power a section carries.

The spectrum is the simulated programme signal of IEC 60268-1, in third octaves from 20 Hz to 20 kHz. Within a
band the power is spread evenly over log frequency, so that a crossover may lie anywhere.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from math import log10

from fieldkit.formulas.conductors import read_table
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Hertz, Part, not_above_zero


@cache
def _above() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """List the edges of the bands, as log₁₀ of hertz, with the part of all power above each of them.

    Edges are 10^1.25 Hz, 10^1.35 Hz, … (IEC 61260-1, base ten), and not the two figures that tables print of them:
    between 1 and 1.25 kHz the edge is 1122 Hz, and not 1.1 kHz.
    """
    levels_db = read_table("iec_60268_1_programme")["level_db"]
    powers = [10.0 ** (level / 10.0) for level in levels_db]
    total = sum(powers)
    edges = tuple(1.25 + 0.1 * place for place in range(len(powers) + 1))
    return edges, tuple(sum(powers[place:]) / total for place in range(len(powers) + 1))


@formula
def programme_share_above(frequency_hz: Hertz) -> Part:
    """Compute the part of a programme's average power above a frequency: what a high section carries.

    frequency_hz: crossover, above zero [Hz]
    Result: the part of the power above it
    Formula: s = table: sum of the bands above f over the sum of all
    Valid: simulated programme, 20 Hz to 20 kHz, crossover without slope
    Raises: ValueError when the frequency is not above zero
    Source: IEC 60268-1 table II
    Example: programme_share_above(891.25) = 0.333
    """
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    where = log10(frequency_hz)
    edges, above = _above()
    right = bisect_right(edges, where)
    if right in {0, len(edges)}:
        return 0.0 if right else 1.0
    inside = (edges[right] - where) / (edges[right] - edges[right - 1])
    return above[right] + inside * (above[right - 1] - above[right])


@formula
def programme_share_below(frequency_hz: Hertz) -> Part:
    """Compute the part of a programme's average power below a frequency: what a low section carries.

    frequency_hz: crossover, above zero [Hz]
    Result: the part of the power below it
    Formula: s = 1 − s_above, from the table
    Valid: simulated programme, 20 Hz to 20 kHz, crossover without slope
    Raises: ValueError when the frequency is not above zero
    Source: IEC 60268-1 table II
    Example: programme_share_below(1778.28) = 0.8214
    """
    return 1.0 - programme_share_above(frequency_hz)


@formula
def programme_share_between(low_hz: Hertz, high_hz: Hertz) -> Part:
    """Compute the part of a programme's average power between two frequencies: what a mid section carries.

    low_hz: lower crossover, above zero [Hz]
    high_hz: upper crossover, above the lower [Hz]
    Result: the part of the power between them
    Formula: s = s_above(f_low) − s_above(f_high), from the table
    Valid: simulated programme, 20 Hz to 20 kHz, crossovers without slope
    Raises: ValueError when a frequency is not above zero, or the upper below the lower
    Source: IEC 60268-1 table II
    Example: programme_share_between(891.25, 1778.28) = 0.1544
    """
    if high_hz < low_hz:
        raise ValueError(f"expected an upper frequency of at least {low_hz:g} Hz, got {high_hz:g} Hz")
    return max(programme_share_above(low_hz) - programme_share_above(high_hz), 0.0)
