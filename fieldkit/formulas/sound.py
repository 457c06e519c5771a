"""Sound levels: with distance, of several sources, and from sensitivity and watts or volts."""

from __future__ import annotations

from math import log10, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    Gain,
    Hertz,
    Metre,
    Ohm,
    SoundPressureLevel,
    Volt,
    Watt,
    not_above_zero,
)

SENSITIVITY_V = sqrt(8.0)
"""Volts of a sensitivity that is given at 2.83 V: one watt in 8 ohm."""


@formula
def distance_loss(distance_m: Metre, reference_m: Metre = 1.0) -> Gain:
    """Compute the change of level from one distance to another, of a source that is small.

    distance_m: to the listener, above zero [m]
    reference_m: where the level is known, above zero [m]
    Result: the change, negative farther away [dB]
    Formula: ΔL = −20 · log₁₀(d / d₀)
    Valid: free field; far from the source against its size
    Raises: ValueError when a distance is not above zero
    Source: inverse square law, by definition
    Example: distance_loss(32, 1) = -30.10
    """
    if not distance_m > 0.0:
        raise not_above_zero("a distance", distance_m, "m")
    if not reference_m > 0.0:
        raise not_above_zero("a distance", reference_m, "m")
    return -20.0 * log10(distance_m / reference_m)


@formula
def level_at_distance(level_db: SoundPressureLevel, distance_m: Metre, reference_m: Metre = 1.0) -> SoundPressureLevel:
    """Carry the level of a small source from one distance to another.

    level_db: at the known distance [dB SPL]
    distance_m: to the listener, above zero [m]
    reference_m: where the level is known, above zero [m]
    Result: the level at the listener [dB SPL]
    Formula: L = L₀ − 20 · log₁₀(d / d₀)
    Valid: free field; far from the source against its size; without what the air takes
    Raises: ValueError when a distance is not above zero
    Source: inverse square law, by definition
    Example: level_at_distance(114, 10) = 94.00
    """
    return level_db + distance_loss(distance_m, reference_m)


@formula
def line_source_loss(distance_m: Metre, reference_m: Metre = 1.0) -> Gain:
    """Compute the change of level with distance of an endless line of sources.

    distance_m: to the listener, above zero [m]
    reference_m: where the level is known, above zero [m]
    Result: the change, negative farther away [dB]
    Formula: ΔL = −10 · log₁₀(d / d₀)
    Valid: an ideal line without ends; a real one ripples around this up to its transition distance
    Raises: ValueError when a distance is not above zero
    Source: cylindrical spreading, by definition
    Example: line_source_loss(10, 1) = -10.00
    """
    return distance_loss(distance_m, reference_m) / 2.0


@formula
def add_incoherent(*levels_db: SoundPressureLevel) -> SoundPressureLevel:
    """Add the levels of sources that have nothing to do with each other: their powers add.

    levels_db: each level [dB SPL]
    Result: the level of all [dB SPL]
    Formula: L = 10 · log₁₀ Σ 10^(L_i/10)
    Valid: different signals, or the same ones mixed up by a room
    Raises: ValueError without a level
    Source: addition of powers, by definition
    Example: add_incoherent(90, 96) = 96.97
    """
    if not levels_db:
        raise ValueError("expected one level or more, got none")
    highest = max(levels_db)
    return float(highest + 10.0 * log10(sum(10.0 ** ((level - highest) / 10.0) for level in levels_db)))


@formula
def add_coherent(*levels_db: SoundPressureLevel) -> SoundPressureLevel:
    """Add the levels of sources that play the same in step: their pressures add.

    levels_db: each level [dB SPL]
    Result: the level of all [dB SPL]
    Formula: L = 20 · log₁₀ Σ 10^(L_i/20)
    Valid: the same signal with the same phase at that place
    Raises: ValueError without a level
    Source: addition of pressures, by definition
    Example: add_coherent(80, 80) = 86.02
    """
    if not levels_db:
        raise ValueError("expected one level or more, got none")
    highest = max(levels_db)
    return float(highest + 20.0 * log10(sum(10.0 ** ((level - highest) / 20.0) for level in levels_db)))


@formula
def sensitivity_at_1_watt(
    sensitivity_db: SoundPressureLevel, impedance_ohm: Ohm, voltage_v: Volt = SENSITIVITY_V
) -> SoundPressureLevel:
    """Convert a sensitivity at a voltage to one watt and one metre.

    sensitivity_db: at that voltage and 1 m [dB SPL]
    impedance_ohm: rated impedance, above zero [ohm]
    voltage_v: that it is given at, 2.83 V unless given, above zero [V]
    Result: the level at 1 W and 1 m [dB SPL]
    Formula: L₁ = L − 10 · log₁₀(V² / Z)
    Valid: watts into the rated impedance
    Raises: ValueError when impedance or voltage is not above zero
    Source: Ohm's law; 2.83 V is one watt in 8 ohm
    Example: sensitivity_at_1_watt(100, 4) = 97.0
    """
    if not impedance_ohm > 0.0:
        raise not_above_zero("an impedance", impedance_ohm, "ohm")
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return sensitivity_db - 10.0 * log10(voltage_v * voltage_v / impedance_ohm)


@formula
def sensitivity_at_voltage(
    sensitivity_db: SoundPressureLevel, impedance_ohm: Ohm, voltage_v: Volt = SENSITIVITY_V
) -> SoundPressureLevel:
    """Convert a sensitivity at one watt and one metre to a voltage.

    sensitivity_db: at 1 W and 1 m [dB SPL]
    impedance_ohm: rated impedance, above zero [ohm]
    voltage_v: that it is wanted at, 2.83 V unless given, above zero [V]
    Result: the level at that voltage and 1 m [dB SPL]
    Formula: L = L₁ + 10 · log₁₀(V² / Z)
    Valid: watts into the rated impedance
    Raises: ValueError when impedance or voltage is not above zero
    Source: Ohm's law; 2.83 V is one watt in 8 ohm
    Example: sensitivity_at_voltage(97, 4) = 100.0
    """
    return 2.0 * sensitivity_db - sensitivity_at_1_watt(sensitivity_db, impedance_ohm, voltage_v)


@formula
def level_of_power(sensitivity_db: SoundPressureLevel, power_w: Watt, distance_m: Metre = 1.0) -> SoundPressureLevel:
    """Compute the level that a box makes with so many watts at a distance.

    sensitivity_db: at 1 W and 1 m [dB SPL]
    power_w: into the rated impedance, above zero [W]
    distance_m: to the listener, above zero [m]
    Result: the level [dB SPL]
    Formula: L = L₁ + 10 · log₁₀ P − 20 · log₁₀ d
    Valid: free field, on the axis, without compression by warm voice coils
    Raises: ValueError when power or distance is not above zero
    Source: definitions of sensitivity and decibel; inverse square law
    Example: level_of_power(92, 160) = 114.0
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    return level_at_distance(sensitivity_db + 10.0 * log10(power_w), distance_m)


@formula
def level_of_voltage(
    sensitivity_db: SoundPressureLevel, voltage_v: Volt, distance_m: Metre = 1.0
) -> SoundPressureLevel:
    """Compute the level that a box makes with so many volts, from a sensitivity at 2.83 V.

    sensitivity_db: at 2.83 V and 1 m [dB SPL]
    voltage_v: at the box, rms, above zero [V]
    distance_m: to the listener, above zero [m]
    Result: the level [dB SPL]
    Formula: L = L₀ + 20 · log₁₀(V / √8) − 20 · log₁₀ d
    Valid: free field, on the axis, without compression by warm voice coils
    Raises: ValueError when voltage or distance is not above zero
    Source: definitions of sensitivity and decibel; inverse square law
    Example: level_of_voltage(97, 28.28) = 117.0
    """
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return level_at_distance(sensitivity_db + 20.0 * log10(voltage_v / SENSITIVITY_V), distance_m)


@formula
def power_for_level(sensitivity_db: SoundPressureLevel, level_db: SoundPressureLevel, distance_m: Metre = 1.0) -> Watt:
    """Find the watts that a box needs for a level at a distance.

    sensitivity_db: at 1 W and 1 m [dB SPL]
    level_db: wanted at the listener [dB SPL]
    distance_m: to the listener, above zero [m]
    Result: the power into the rated impedance [W]
    Formula: P = 10^((L − L₁ + 20 · log₁₀ d) / 10)
    Valid: free field, on the axis, without compression by warm voice coils
    Raises: ValueError when the distance is not above zero
    Source: definitions of sensitivity and decibel; inverse square law
    Example: power_for_level(92, 94, 10) = 158.5
    """
    return float(10.0 ** ((level_db - sensitivity_db - distance_loss(distance_m)) / 10.0))


@formula
def line_source_transition(length_m: Metre, frequency_hz: Hertz) -> Metre:
    """Find the distance up to which a line of boxes spreads as a line, at 20 °C.

    length_m: of the line [m]
    frequency_hz: of the tone, above zero [Hz]
    Result: the distance [m]
    Formula: d = L² / (2 · λ), λ = 343.2 m/s / f
    Valid: a straight line without gaps; others define it as L² / λ, twice as far
    Raises: ValueError when the frequency is not above zero
    Source: near field of a straight line by definition, the half-wavelength criterion
    Example: line_source_transition(4, 1000) = 23.31
    """
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    return length_m * length_m * frequency_hz / (2.0 * 343.2)
