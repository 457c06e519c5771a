"""Delays: of a distance in today's air, in samples, of a tower, of an arc, of an end-fire row."""

from __future__ import annotations

from math import sqrt

from fieldkit.formulas.air import speed_of_sound
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    AirCelsius,
    Coordinate,
    Count,
    Delay,
    Metre,
    SampleRate,
    Samples,
    Second,
    not_above_zero,
)


@formula
def delay_of_distance(distance_m: Metre, temperature_c: AirCelsius = 20.0) -> Second:
    """Compute the time that sound takes over a distance.

    distance_m: that the sound goes [m]
    temperature_c: of the air [°C]
    Result: the time [s]
    Formula: t = d / c
    Valid: still air of one temperature
    Raises: nothing within the ranges
    Source: by definition; c from ISO 9613-1:1993, annex A
    Example: delay_of_distance(100, 20) = 0.291375
    """
    return distance_m / speed_of_sound(temperature_c)


@formula
def distance_of_delay(delay_s: Second, temperature_c: AirCelsius = 20.0) -> Metre:
    """Compute the distance that sound travels in a time.

    delay_s: the time [s]
    temperature_c: of the air [°C]
    Result: the distance [m]
    Formula: d = t · c
    Valid: still air of one temperature
    Raises: nothing within the ranges
    Source: by definition; c from ISO 9613-1:1993, annex A
    Example: distance_of_delay(0.01, 20) = 3.432
    """
    return delay_s * speed_of_sound(temperature_c)


@formula
def delay_in_samples(delay_s: Delay, sample_rate_hz: SampleRate = 48_000.0) -> Samples:
    """Convert a delay to samples; a processor takes the nearest whole number.

    delay_s: the delay [s]
    sample_rate_hz: of the processor, above zero [Hz]
    Result: the number of samples, not rounded
    Formula: n = t · f_s
    Valid: any rate
    Raises: nothing within the ranges
    Source: by definition
    Example: delay_in_samples(0.01, 48000) = 480
    """
    return delay_s * sample_rate_hz


@formula
def delay_of_samples(samples: Samples, sample_rate_hz: SampleRate = 48_000.0) -> Delay:
    """Convert a number of samples to a delay.

    samples: the number of samples
    sample_rate_hz: of the processor, above zero [Hz]
    Result: the delay [s]
    Formula: t = n / f_s
    Valid: any rate
    Raises: ValueError when the rate is not above zero
    Source: by definition
    Example: delay_of_samples(96, 96000) = 0.001
    """
    if not sample_rate_hz > 0.0:
        raise not_above_zero("a sample rate", sample_rate_hz, "Hz")
    return samples / sample_rate_hz


@formula
def alignment_delay(
    reference_m: Metre, own_m: Metre, temperature_c: AirCelsius = 20.0, offset_s: Second = 0.0
) -> Delay:
    """Compute the delay that lets a source arrive with another one at a place, or a little later.

    reference_m: from the other source to the place [m]
    own_m: from this source to the place [m]
    temperature_c: of the air [°C]
    offset_s: how much later it may come, so that the ear takes the other for the source [s]
    Result: the delay; negative where the other source has to wait [s]
    Formula: t = (d_ref − d_own) / c + t_offset
    Valid: at that one place; still air of one temperature
    Raises: nothing within the ranges
    Source: by definition; an offset of 10 to 15 ms is common practice, no source
    Example: alignment_delay(70, 20, 20, 0.015) = 0.160688
    """
    return (reference_m - own_m) / speed_of_sound(temperature_c) + offset_s


@formula
def delay_change(reference_m: Metre, own_m: Metre, before_c: AirCelsius, after_c: AirCelsius) -> Delay:
    """Compute how much longer an alignment delay has to be when the air changes.

    reference_m: from the other source to the place [m]
    own_m: from the delayed source to the place [m]
    before_c: temperature that it was set at [°C]
    after_c: temperature now [°C]
    Result: what to add to the delay; negative when the air has become warmer [s]
    Formula: Δt = (d_ref − d_own) · (1/c₂ − 1/c₁)
    Valid: still air of one temperature
    Raises: nothing within the ranges
    Source: by definition; c from ISO 9613-1:1993, annex A
    Example: delay_change(70, 20, 26, 11) = 0.003758
    """
    return (reference_m - own_m) * (1.0 / speed_of_sound(after_c) - 1.0 / speed_of_sound(before_c))


@formula
def distance_between(
    x1_m: Coordinate, y1_m: Coordinate, z1_m: Coordinate, x2_m: Coordinate, y2_m: Coordinate, z2_m: Coordinate
) -> Metre:
    """Compute the distance between two places from their coordinates.

    x1_m: first place, along [m]
    y1_m: first place, across [m]
    z1_m: first place, up [m]
    x2_m: second place, along [m]
    y2_m: second place, across [m]
    z2_m: second place, up [m]
    Result: the distance [m]
    Formula: d = √(Δx² + Δy² + Δz²)
    Valid: straight lines
    Raises: nothing within the ranges
    Source: Pythagoras, by definition
    Example: distance_between(0, 0, 8, 70, 0, 1.7) = 70.283
    """
    return sqrt((x2_m - x1_m) ** 2 + (y2_m - y1_m) ** 2 + (z2_m - z1_m) ** 2)


@formula
def arc_delay(radius_m: Metre, across_m: Metre, temperature_c: AirCelsius = 20.0) -> Second:
    """Compute the delay that bends a straight row of subs into an arc.

    radius_m: of the wanted arc, above zero [m]
    across_m: of this sub from the middle of the row, at most the radius [m]
    temperature_c: of the air [°C]
    Result: the delay of this sub [s]
    Formula: t = (r − √(r² − x²)) / c
    Valid: a true arc through the middle of the row
    Raises: ValueError when the sub stands farther out than the radius
    Source: geometry of the circle, by definition
    Example: arc_delay(10, 4, 20) = 0.002433
    """
    if not across_m <= radius_m:
        raise ValueError(f"expected a place across of at most the radius of {radius_m:g} m, got {across_m:g} m")
    return (radius_m - sqrt(radius_m * radius_m - across_m * across_m)) / speed_of_sound(temperature_c)


@formula
def end_fire_delay(spacing_m: Metre, element: Count, temperature_c: AirCelsius = 20.0) -> Second:
    """Compute the delay of one sub of an end-fire row.

    spacing_m: from one sub to the next [m]
    element: 1 for the sub at the back, which plays first, and so on to the front
    temperature_c: of the air [°C]
    Result: the delay of this sub [s]
    Formula: t = (n − 1) · d / c
    Valid: all subs in a line towards the audience
    Raises: nothing within the ranges
    Source: by definition: each sub waits for the sound from behind it
    Example: end_fire_delay(1, 4, 20) = 0.008741
    """
    return (element - 1.0) * spacing_m / speed_of_sound(temperature_c)
