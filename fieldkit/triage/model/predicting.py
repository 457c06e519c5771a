"""What a meter would say: a prediction with the spread of drivers, batch, contacts and meter."""

from __future__ import annotations

from math import inf, sqrt

import msgspec

from fieldkit.triage.model.circuit import is_open
from fieldkit.triage.model.odds import Numbers
from fieldkit.triage.model.seeing import Seen


class PredictedReading(msgspec.Struct, frozen=True, gc=False):
    """What a meter would say: an even spread from ``low`` to ``high`` with the uncertainties of both."""

    low: float
    high: float
    """Both inf where it reads open."""
    common: float
    spread: float
    """One sigma of the rest [ohm], contacts and meter included."""
    known: bool


KNOWN_SHARE = 0.3
"""What is left of the drivers' own spread where this very place was read before: common practice, no source."""


def reading_of(
    ends: tuple[Seen, ...], meter: Numbers, *, dc: bool, read_before: float | None = None
) -> PredictedReading:
    """Predict the reading of a meter for what it sees; several ends are an even spread between them.

    ``read_before`` is the relative rise of the drivers that an earlier reading of the healthy place showed.
    """
    known = all(end.known for end in ends)
    if any(is_open(end.ohm) for end in ends):
        return PredictedReading(inf, inf, 0.0, 0.0, known)
    sizes = [abs(end.ohm) for end in ends]
    end = ends[sizes.index(max(sizes))]
    own = meter["own_spread"] * (1.0 if dc else 2.0)
    guess, shift = end.guess, 0.0
    if read_before is not None:
        own, guess, shift, known = own * KNOWN_SHARE, 0.0, read_before * end.common, True
    spread = sqrt(end.own * own**2 + guess**2 + meter["contact_ohm"] ** 2)
    return PredictedReading(min(sizes) + shift, max(sizes) + shift, end.common, spread, known)
