"""How likely an observation is under a fault.

Ears, lights, swaps and looks are answers of a few words, and a wrong answer is never impossible. A meter has two
kinds of spread. What all drivers share (the batch, the temperature of the coils, leads that were not nulled) is the
same in all readings of a case: it is a row of shared circumstances, and each fault carries its likelihood under each
of them. What each driver has of its own, and the contacts, are a Gaussian around the prediction.
"""

from __future__ import annotations

from math import erf, exp, inf, log, pi, sqrt

import msgspec

from fieldkit.triage.belief.observations import (
    POLARITIES,
    Ear,
    Inverted,
    Light,
    Look,
    Observation,
    Played,
    Polarity,
    SwapSeen,
)
from fieldkit.triage.model.hearing import HEARD, LIGHTS
from fieldkit.triage.model.odds import Numbers
from fieldkit.triage.model.predicting import PredictedReading
from fieldkit.triage.model.signature import Signature

COPPER_PER_K = 0.00393
"""Of copper (IEC 60028), here for voice coils."""

COIL_WARMTHS_K = (15.0, 30.0, 50.0, 80.0)
"""Rises of a coil's temperature that count as warm. Common practice, no source."""

CALLED_COLD_K = (15.0, 30.0)
"""Rises of a coil that somebody may still call cold. Common practice, no source."""

BROAD_OHM = 2000.0
"""Readings of something else altogether go up to here: even in the logarithm of 1 ohm and the reading."""

SHORT_BELOW_OHM = 0.8
"""What a person calls a short: common practice, no source."""


class Circumstance(msgspec.Struct, frozen=True, gc=False):
    """What all readings of a case share."""

    weight: float
    rise: float
    """Relative rise of what is common to all drivers."""
    leads_ohm: float


def circumstances(meter: Numbers, *, warm: bool | None) -> tuple[Circumstance, ...]:
    """List what may be shared: batches, warm coils, leads not nulled; ``warm`` where somebody says."""
    batch = meter["batch_spread"]
    warm_chance = meter["warm_chance"] if warm is None else 0.95 if warm else 0.03
    # Five points of a Gaussian at 0, ±1 and ±2 sigma, with weights of its density there.
    cold = [(step * batch, exp(-step * step / 2.0)) for step in (-2.0, -1.0, 0.0, 1.0, 2.0)]
    rises = [(rise, (1.0 - warm_chance) * weight / sum(part for _, part in cold)) for rise, weight in cold]
    warmths = CALLED_COLD_K if warm is False else COIL_WARMTHS_K
    rises += [(kelvin * COPPER_PER_K, warm_chance / len(warmths)) for kelvin in warmths]
    leads = ((0.0, 1.0 - meter["leads_chance"]), (meter["leads_ohm"], meter["leads_chance"]))
    return tuple(Circumstance(weight * share, rise, ohm) for rise, weight in rises for ohm, share in leads)


def gaussian_cdf(x: float) -> float:
    """Compute the share of a unit Gaussian below x."""
    return 0.5 * (1.0 + erf(x / sqrt(2.0)))


def broad_density(ohm: float) -> float:
    """Compute the density of a reading that can be anything [1/ohm]."""
    return 1.0 / ((1.0 + min(ohm, BROAD_OHM)) * log(1.0 + BROAD_OHM))


def spread_of(reading: PredictedReading, rise: float) -> tuple[float, float, float]:
    """Compute the limits of a prediction and its sigma under a common rise [ohm]."""
    shift = rise * reading.common
    return reading.low + shift, reading.high + shift, reading.spread


def density(low: float, high: float, sigma: float, ohm: float) -> float:
    """Compute the density of a Gaussian spread evenly from ``low`` to ``high`` [1/ohm]."""
    width = high - low
    if width < 0.5 * sigma:
        away = (ohm - 0.5 * (low + high)) / sigma
        return exp(-0.5 * away * away) / (sigma * sqrt(2.0 * pi)) if abs(away) < 30.0 else 0.0
    return (gaussian_cdf((ohm - low) / sigma) - gaussian_cdf((ohm - high) / sigma)) / width


def below(low: float, high: float, sigma: float, ohm: float) -> float:
    """Compute the share of a Gaussian spread evenly from ``low`` to ``high`` that is below a value."""
    if high - low < 0.5 * sigma:
        return gaussian_cdf((ohm - 0.5 * (low + high)) / sigma)
    steps = 5
    points = (low + (high - low) * (step + 0.5) / steps for step in range(steps))
    return sum(gaussian_cdf((ohm - point) / sigma) for point in points) / steps


def of_reading(
    reading: PredictedReading | None, ohm: float | None, word: str, shared: tuple[Circumstance, ...], meter: Numbers
) -> list[float]:
    """Compute the likelihood of a reading under each circumstance; None is a fault that predicts no reading."""
    if reading is None:
        value = {"open": 0.15, "short": 0.1}.get(word) or 0.75 * broad_density(ohm or 0.0)
        return [value] * len(shared)
    slip, floor = meter["slip"], meter["floor"]
    is_open = reading.low == inf
    if word == "open":
        return [1.0 - slip if is_open else floor] * len(shared)
    if word == "short":
        if is_open:
            return [floor] * len(shared)
        return [max(floor, below(*spread_of(reading, item.rise), SHORT_BELOW_OHM - item.leads_ohm)) for item in shared]
    value = ohm or 0.0
    other = slip * broad_density(value)
    if is_open:
        return [other] * len(shared)
    found = []
    for item in shared:
        low, high, sigma = spread_of(reading, item.rise)
        found.append((1.0 - slip) * density(low + item.leads_ohm, high + item.leads_ohm, sigma, value) + other)
    return found


def answer_chance(signature: Signature | None, item: Observation, focus: str) -> float:
    """Compute the chance of an answer in words under a fault; signature None is an unknown fault."""
    if isinstance(item, Ear):
        return signature.heard(item.box)[item.word] if signature else 1.0 / len(HEARD)
    if isinstance(item, Light):
        return signature.lights(item.output)[item.word] if signature else 1.0 / len(LIGHTS)
    if isinstance(item, Polarity):
        return signature.tested(item.box, item.word) if signature else 1.0 / len(POLARITIES)
    if isinstance(item, Look):
        return signature.looks(item.place, item.word) if signature else 0.5 if item.word in {"right", "wrong"} else 0.03
    if isinstance(item, Inverted):
        return signature.together(item.box, item.beside, item.word) if signature else 1.0 / 3.0
    if isinstance(item, Played):
        return signature.played(item.output, item.boxes) if signature else 1.0 / 3.0
    chance = 0.5
    yes = False
    if isinstance(item, SwapSeen):
        chance, yes = (signature.moved(item.what, item.at or focus) if signature else 0.5), item.moved
    return chance if yes else 1.0 - chance
