"""Two or more sources of the same signal: wavelength, comb filter, gradient pair, end-fire row."""

from __future__ import annotations

from math import cos, log10, pi, sin, sqrt

from fieldkit.formulas.air import speed_of_sound
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import AirCelsius, Count, Gain, Hertz, Metre, Second, not_above_zero

SILENT = 1e-9
"""A sum below this part of one source is called a null: −180 dB."""


@formula
def wavelength(frequency_hz: Hertz, temperature_c: AirCelsius = 20.0) -> Metre:
    """Compute the wavelength of a tone in air.

    frequency_hz: of the tone, above zero [Hz]
    temperature_c: of the air [°C]
    Result: the wavelength [m]
    Formula: λ = c / f
    Valid: audio frequencies
    Raises: ValueError when the frequency is not above zero
    Source: by definition; c from ISO 9613-1:1993, annex A
    Example: wavelength(60, 20) = 5.720
    """
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    return speed_of_sound(temperature_c) / frequency_hz


@formula
def half_wavelength(frequency_hz: Hertz, temperature_c: AirCelsius = 20.0) -> Metre:
    """Compute half a wavelength: the widest spacing of subs that still work as one up to a frequency.

    frequency_hz: highest frequency that they play, above zero [Hz]
    temperature_c: of the air [°C]
    Result: half the wavelength [m]
    Formula: λ/2 = c / (2 · f)
    Valid: wider rows send lobes to the sides
    Raises: ValueError when the frequency is not above zero
    Source: by definition; the limit for a row of sources is textbook array theory
    Example: half_wavelength(60, 20) = 2.860
    """
    return wavelength(frequency_hz, temperature_c) / 2.0


@formula
def quarter_wavelength(frequency_hz: Hertz, temperature_c: AirCelsius = 20.0) -> Metre:
    """Compute a quarter of a wavelength: the spacing of a gradient pair that adds 6 dB in front at a frequency.

    frequency_hz: of the tone, above zero [Hz]
    temperature_c: of the air [°C]
    Result: a quarter of the wavelength [m]
    Formula: λ/4 = c / (4 · f)
    Valid: audio frequencies
    Raises: ValueError when the frequency is not above zero
    Source: by definition
    Example: quarter_wavelength(60, 20) = 1.430
    """
    return wavelength(frequency_hz, temperature_c) / 4.0


@formula
def comb_null(delay_s: Second, number: Count = 1.0) -> Hertz:
    """Find a null of two equal arrivals of one signal.

    delay_s: from the first arrival to the second, above zero [s]
    number: 1 for the lowest null, and so on
    Result: the frequency of the null [Hz]
    Formula: f = (2 · n − 1) / (2 · τ)
    Valid: equal levels; nulls lie at odd multiples of the lowest one
    Raises: ValueError when the delay is not above zero
    Source: two vectors in opposition, by definition; *Master Handbook of Acoustics*, comb filters
    Example: comb_null(0.001, 2) = 1500
    """
    if not delay_s > 0.0:
        raise not_above_zero("a delay", delay_s, "s")
    return (2.0 * number - 1.0) / (2.0 * delay_s)


@formula
def comb_peak(delay_s: Second, number: Count = 1.0) -> Hertz:
    """Find a peak of two equal arrivals of one signal.

    delay_s: from the first arrival to the second, above zero [s]
    number: 1 for the lowest peak above zero, and so on
    Result: the frequency of the peak [Hz]
    Formula: f = n / τ
    Valid: equal levels
    Raises: ValueError when the delay is not above zero
    Source: two vectors in step, by definition
    Example: comb_peak(0.001, 1) = 1000
    """
    if not delay_s > 0.0:
        raise not_above_zero("a delay", delay_s, "s")
    return number / delay_s


@formula
def delayed_sum(frequency_hz: Hertz, delay_s: Second, difference_db: Gain = 0.0) -> Gain:
    """Add a tone that arrives twice, against the first arrival alone.

    frequency_hz: of the tone [Hz]
    delay_s: from the first arrival to the second [s]
    difference_db: level of the second against the first [dB]
    Result: the level of both [dB]
    Formula: L = 20 · log₁₀ |1 + g · e^(−j·2π·f·τ)|, g = 10^(D/20)
    Valid: the same signal twice
    Raises: ValueError where the two cancel
    Source: addition of vectors, by definition
    Example: delayed_sum(100, 0.0025) = 3.01
    """
    ratio = 10.0 ** (difference_db / 20.0)
    angle = 2.0 * pi * frequency_hz * delay_s
    return _level(sqrt(max(0.0, 1.0 + ratio * ratio + 2.0 * ratio * cos(angle))))


@formula
def gradient_front(frequency_hz: Hertz, spacing_m: Metre, temperature_c: AirCelsius = 20.0) -> Gain:
    """Compute the level in front of a gradient pair of subs, against one of them alone.

    frequency_hz: of the tone [Hz]
    spacing_m: from the front sub to the rear one, which is inverted and delayed by the spacing [m]
    temperature_c: of the air [°C]
    Result: the level in front of the pair [dB]
    Formula: L = 20 · log₁₀ (2 · |sin(2π · f · d / c)|)
    Valid: equal subs; behind the pair they cancel
    Raises: ValueError where the two cancel in front as well
    Source: addition of vectors, by definition
    Example: gradient_front(85.8, 1, 20) = 6.02
    """
    return _level(2.0 * abs(sin(2.0 * pi * frequency_hz * spacing_m / speed_of_sound(temperature_c))))


@formula
def end_fire_null(spacing_m: Metre, elements: Count, number: Count = 1.0, temperature_c: AirCelsius = 20.0) -> Hertz:
    """Find a frequency at which an end-fire row is silent behind.

    spacing_m: from one sub to the next, above zero [m]
    elements: subs in the row, two or more
    number: 1 for the lowest null, up to one less than the subs
    temperature_c: of the air [°C]
    Result: the frequency of the null [Hz]
    Formula: f = n · c / (2 · N · d)
    Valid: each sub delayed by its distance from the last one
    Raises: ValueError for fewer than two subs, no spacing, or a number that is no null
    Source: sum of N vectors at equal angles, by definition
    Example: end_fire_null(1, 4, 1, 20) = 42.9
    """
    if not spacing_m > 0.0:
        raise not_above_zero("a spacing", spacing_m, "m")
    if not 1.0 <= number < elements:
        raise ValueError(f"expected a null from 1 to {elements - 1:g} for {elements:g} subs, got {number:g}")
    return number * speed_of_sound(temperature_c) / (2.0 * elements * spacing_m)


def _level(ratio: float) -> float:
    """Convert a sum of arrivals to its level against one source. Raises ValueError for a null."""
    if ratio < SILENT:
        raise ValueError("expected a sum that leaves something, got two arrivals that cancel")
    return 20.0 * log10(ratio)
