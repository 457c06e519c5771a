"""What is left for a fault of a kind that the table does not have, at another place than the likeliest.

Such a fault may read like one that the table has. Nobody knows what it would answer; but where it sits says which
answers are as planned, since a bad lead leaves the box alone well. So the answers are read a second time, only as "as
planned" or "not as planned", and a place gets what its known faults give to that:

    q_f ∝ w_f · Π_t P(as planned, or not | f)
    share of a fix = (1 - d) · P(fix | table),   d = ε · (1 - Σ q_f of all that the fix fixes)

ε is the chance that a fault is of a kind that the table does not have, an estimate. A fix is sure only where the
answers point at what it replaces, whatever is wrong there. Own reasoning; diagnosis by place alone, with no model of
what is broken, is that of de Kleer and Williams 1987 (not checked against print).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from fieldkit.triage.belief.likelihood import COIL_WARMTHS_K, COPPER_PER_K, below
from fieldkit.triage.belief.observations import Ear, Light, Metered, Observation
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.odds import Numbers
from fieldkit.triage.model.predicting import PredictedReading

SIGMAS = 3.0
"""A reading so near to the planned one is as planned."""

CONTRARY = 0.05
"""Chance that a fault shows on a meter where the known ones of its place do not, or the reverse: an estimate."""


def as_planned(case: FaultSearch, item: Observation, chances: Sequence[float]) -> list[float]:
    """Compute the chance under each fault that an answer is as planned, or is not, whichever it was.

    ``chances`` are those of the answer itself: enough where a test has only two answers.
    """
    if isinstance(item, Metered):
        return _of_reading(case, item)
    if isinstance(item, Ear):
        usual = [signature.heard(item.box)["normal"] if signature else 0.5 for signature in case.signatures]
        return usual if item.word == "normal" else [1.0 - chance for chance in usual]
    if isinstance(item, Light):
        usual = [signature.lights(item.output)["signal"] if signature else 0.5 for signature in case.signatures]
        return usual if item.word == "signal" else [1.0 - chance for chance in usual]
    return list(chances)


def _of_reading(case: FaultSearch, item: Metered) -> list[float]:
    run, point, pair = case.point(item.point, item.pair)
    predicted = case.predictions(run, point, pair, dc=item.kind == "dc")
    healthy = predicted.readings[predicted.of_fault[0]]  # the first hypothesis is that nothing is wrong
    low, high = band(healthy, case.table.meter)
    ohm = item.ohm if item.ohm is not None else inf if item.word == "open" else 0.0
    is_well = ohm == inf if healthy.low == inf else low <= ohm <= high
    rows = []
    for reading in predicted.readings:
        if inf in {healthy.low, reading.low}:
            inside = float(healthy.low == reading.low)
        else:
            ends = reading.low, reading.high, reading.spread
            inside = below(*ends, high) - below(*ends, low)
        chance = CONTRARY + (1.0 - 2.0 * CONTRARY) * inside
        rows.append(chance if is_well else 1.0 - chance)
    return [rows[number] if number >= 0 else 0.5 for number in predicted.of_fault]


def band(healthy: PredictedReading, meter: Numbers) -> tuple[float, float]:
    """Return the limits of what counts as planned [ohm], warm coils included."""
    sigma = SIGMAS * (healthy.spread + meter["batch_spread"] * healthy.common)
    return healthy.low - sigma, healthy.high + sigma + max(COIL_WARMTHS_K) * COPPER_PER_K * healthy.common


def chance_of_unknown(
    before: float, by_table: Sequence[float], by_place: Sequence[float], left: Sequence[float]
) -> float:
    """Compute ε, the share of unknown faults, after fixes that did not help.

    ``left`` is what these leave of each fault, ``by_table`` and ``by_place`` are shares in which that is counted. Both
    readings of the other answers count as equally likely, so that only a fix that failed speaks for the unknown.
    """
    table, place = (
        1.0 / sum(share / part for share, part in zip(shares, left, strict=True)) for shares in (by_table, by_place)
    )
    return before * place / (before * place + (1.0 - before) * table)
