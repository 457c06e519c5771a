"""Crossover filters as analogue ones: what each side passes at a frequency, and what both sum to."""

from __future__ import annotations

from cmath import exp
from math import log10, pi

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Gain, Hertz, Order, Second, not_above_zero

SILENT = 1e-9
"""A sum below this part of one side is called a null: −180 dB."""


@formula
def butterworth_low_pass(frequency_hz: Hertz, corner_hz: Hertz, order: Order) -> Gain:
    """Compute the gain of a Butterworth low-pass.

    frequency_hz: of the tone [Hz]
    corner_hz: where it is 3.01 dB down, above zero [Hz]
    order: of the filter; 6 dB an octave each
    Result: the gain, negative above the corner [dB]
    Formula: L = −10 · log₁₀(1 + (f/f_c)^(2n))
    Valid: analogue filters; digital ones droop near half the sample rate
    Raises: ValueError when the corner is not above zero
    Source: definition of the Butterworth response
    Example: butterworth_low_pass(100, 100, 3) = -3.0103
    """
    return -10.0 * log10(1.0 + _ratio(frequency_hz, corner_hz) ** (2.0 * order))


@formula
def butterworth_high_pass(frequency_hz: Hertz, corner_hz: Hertz, order: Order) -> Gain:
    """Compute the gain of a Butterworth high-pass.

    frequency_hz: of the tone, above zero [Hz]
    corner_hz: where it is 3.01 dB down, above zero [Hz]
    order: of the filter; 6 dB an octave each
    Result: the gain, negative below the corner [dB]
    Formula: L = −10 · log₁₀(1 + (f_c/f)^(2n))
    Valid: analogue filters; digital ones droop near half the sample rate
    Raises: ValueError when frequency or corner is not above zero
    Source: definition of the Butterworth response
    Example: butterworth_high_pass(50, 100, 4) = -24.10
    """
    return -10.0 * log10(1.0 + _ratio(corner_hz, frequency_hz) ** (2.0 * order))


@formula
def linkwitz_riley_low_pass(frequency_hz: Hertz, corner_hz: Hertz, order: Order = 4.0) -> Gain:
    """Compute the gain of a Linkwitz-Riley low-pass: two Butterworth filters of half the order in a row.

    frequency_hz: of the tone [Hz]
    corner_hz: where it is 6.02 dB down, above zero [Hz]
    order: of the filter, even; 4 is 24 dB an octave
    Result: the gain, negative above the corner [dB]
    Formula: L = −20 · log₁₀(1 + (f/f_c)^n)
    Valid: analogue filters; even orders
    Raises: ValueError when the corner is not above zero or the order is odd
    Source: S. Linkwitz, JAES 24(1), 1976
    Example: linkwitz_riley_low_pass(100, 100, 4) = -6.0206
    """
    return 2.0 * butterworth_low_pass(frequency_hz, corner_hz, _half(order))


@formula
def linkwitz_riley_high_pass(frequency_hz: Hertz, corner_hz: Hertz, order: Order = 4.0) -> Gain:
    """Compute the gain of a Linkwitz-Riley high-pass: two Butterworth filters of half the order in a row.

    frequency_hz: of the tone, above zero [Hz]
    corner_hz: where it is 6.02 dB down, above zero [Hz]
    order: of the filter, even; 4 is 24 dB an octave
    Result: the gain, negative below the corner [dB]
    Formula: L = −20 · log₁₀(1 + (f_c/f)^n)
    Valid: analogue filters; even orders
    Raises: ValueError when frequency or corner is not above zero or the order is odd
    Source: S. Linkwitz, JAES 24(1), 1976
    Example: linkwitz_riley_high_pass(50, 100, 4) = -24.61
    """
    return 2.0 * butterworth_high_pass(frequency_hz, corner_hz, _half(order))


@formula
def linkwitz_riley_sum(frequency_hz: Hertz, corner_hz: Hertz, order: Order = 4.0, delay_s: Second = 0.0) -> Gain:
    """Add both sides of a Linkwitz-Riley crossover, one of them late.

    frequency_hz: of the tone, above zero [Hz]
    corner_hz: of both sides, above zero [Hz]
    order: of the filters, even; both sides with the same polarity
    delay_s: how much later one side arrives [s]
    Result: the level of the sum [dB]
    Formula: L = 20 · log₁₀ (|1 + (j·f/f_c)^n · e^(−j·2π·f·τ)| / (1 + (f/f_c)^n))
    Valid: analogue filters; both sides equally loud by themselves
    Raises: ValueError where the two cancel, when frequency or corner is not above zero, and for an odd order
    Source: S. Linkwitz, JAES 24(1), 1976
    Example: linkwitz_riley_sum(100, 100, 4, 0.0025) = -3.01
    """
    return _sum(frequency_hz, corner_hz, order, delay_s, 1.0)


@formula
def linkwitz_riley_inverted_sum(
    frequency_hz: Hertz, corner_hz: Hertz, order: Order = 2.0, delay_s: Second = 0.0
) -> Gain:
    """Add both sides of a Linkwitz-Riley crossover, one of them inverted.

    frequency_hz: of the tone, above zero [Hz]
    corner_hz: of both sides, above zero [Hz]
    order: of the filters, even; those of 12 and 36 dB an octave need one side inverted
    delay_s: how much later one side arrives [s]
    Result: the level of the sum [dB]
    Formula: L = 20 · log₁₀ (|1 − (j·f/f_c)^n · e^(−j·2π·f·τ)| / (1 + (f/f_c)^n))
    Valid: analogue filters; both sides equally loud by themselves
    Raises: ValueError where the two cancel, when frequency or corner is not above zero, and for an odd order
    Source: S. Linkwitz, JAES 24(1), 1976
    Example: linkwitz_riley_inverted_sum(50, 100, 2) = 0.000
    """
    return _sum(frequency_hz, corner_hz, order, delay_s, -1.0)


def _sum(frequency_hz: float, corner_hz: float, order: float, delay_s: float, polarity: float) -> float:
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    # Low-pass and high-pass share their denominator, so the sum of both is that of 1 and s^n over it.
    turned = 1.0 if _half(order) % 2.0 == 0.0 else -1.0  # (j)^n for an even n
    high = (frequency_hz / corner_hz) ** order if _ratio(frequency_hz, corner_hz) else 0.0
    late = exp(-2j * pi * frequency_hz * delay_s)
    both = abs(1.0 + polarity * turned * high * late) / (1.0 + high)
    if both < SILENT:
        raise ValueError("expected a sum that leaves something, got two sides that cancel")
    return 20.0 * log10(both)


def _half(order: float) -> float:
    if order % 2.0:
        raise ValueError(f"expected an even order, got {order:g}")
    return order / 2.0


def _ratio(over_hz: float, under_hz: float) -> float:
    if not under_hz > 0.0:
        raise not_above_zero("a frequency", under_hz, "Hz")
    return over_hz / under_hz
