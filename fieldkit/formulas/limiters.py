"""Limiter thresholds for a loudspeaker: thermal (slow, rms) and peak (fast), in volts at its terminals."""

from __future__ import annotations

from math import sqrt
from typing import Annotated

from fieldkit.formulas.declaration import In, formula
from fieldkit.formulas.quantities import Hertz, Ohm, Second, Volt, Watt, below_zero, not_above_zero

Margin = Annotated[float, In("dB", -6, 20)]
CrestFactor = Annotated[float, In("", 1, 10)]


@formula
def limiter_voltage(power_w: Watt, load_ohm: Ohm) -> Volt:
    """Compute the rms volts at which a load takes a power.

    power_w: power to limit to [W]
    load_ohm: rated impedance [ohm]
    Result: the threshold, rms [V]
    Formula: V = √(P · Z)
    Valid: at the impedance that the power was rated with
    Raises: ValueError when power or load is below zero
    Source: Ohm's law, by definition
    Example: limiter_voltage(300, 8) = 48.99
    """
    return _rated_volts(power_w, load_ohm)


@formula
def thermal_threshold(power_w: Watt, impedance_ohm: Ohm, margin_db: Margin = 3.0) -> Volt:
    """Set the threshold of a thermal limiter.

    power_w: continuous rating [W]
    impedance_ohm: that the power was rated at [ohm]
    margin_db: below the rating, since ratings last two hours and shows longer [dB]
    Result: the threshold, rms [V]
    Formula: V = √(P · Z) / 10^(m/20)
    Valid: a limiter that works over seconds on rms volts
    Raises: ValueError when power or impedance is below zero
    Source: Ohm's law; a margin of 3 dB is common practice, no source
    Example: thermal_threshold(600, 6) = 42.48
    """
    return float(_rated_volts(power_w, impedance_ohm) / 10.0 ** (margin_db / 20.0))


@formula
def peak_threshold_from_continuous(power_w: Watt, impedance_ohm: Ohm, crest: CrestFactor = 2.0) -> Volt:
    """Set the threshold of a peak limiter where only the continuous rating is known: the peaks of its test noise.

    power_w: continuous rating, with noise [W]
    impedance_ohm: that the power was rated at [ohm]
    crest: crest factor of the noise, peak over rms: 2 for AES2, 1.8 to 2.2 for IEC 60268-5
    Result: the threshold, peak [V]
    Formula: V_peak = k · √(P · Z)
    Valid: ratings made with noise of that crest factor
    Raises: ValueError when power or impedance is below zero
    Source: AES2, test signal of crest factor 2; IEC 60268-5, 1.8 to 2.2 (not checked against print)
    Example: peak_threshold_from_continuous(600, 6) = 120
    """
    return crest * _rated_volts(power_w, impedance_ohm)


@formula
def peak_voltage_from_peak_power(power_w: Watt, impedance_ohm: Ohm) -> Volt:
    """Convert a loudspeaker's peak rating to peak volts.

    power_w: peak rating, V_peak² / Z [W]
    impedance_ohm: that the power was rated at [ohm]
    Result: the threshold, peak [V]
    Formula: V_peak = √(P_peak · Z)
    Valid: a loudspeaker's peak rating; an amplifier's sine watts have V_peak² / Z = 2 · P
    Raises: ValueError when power or impedance is below zero
    Source: by definition of the peak rating; that sheets mean this one is common practice, no source
    Example: peak_voltage_from_peak_power(2400, 6) = 120
    """
    return _rated_volts(power_w, impedance_ohm)


@formula
def attack_time(frequency_hz: Hertz) -> Second:
    """Choose an attack time for a peak limiter: one period of the band's lowest frequency.

    frequency_hz: lowest frequency of the band, above zero [Hz]
    Result: the attack time [s]
    Formula: t = 1 / f
    Valid: a default to start from; published tables differ by an octave
    Raises: ValueError when the frequency is not above zero
    Source: common practice, no source
    Example: attack_time(40) = 0.025
    """
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    return 1.0 / frequency_hz


@formula
def release_time(frequency_hz: Hertz) -> Second:
    """Choose a release time for a peak limiter: sixteen attack times.

    frequency_hz: lowest frequency of the band, above zero [Hz]
    Result: the release time [s]
    Formula: t = 16 / f
    Valid: a default to start from; thermal limiters are slower
    Raises: ValueError when the frequency is not above zero
    Source: common practice, no source
    Example: release_time(40) = 0.4
    """
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    return 16.0 / frequency_hz


def _rated_volts(power_w: float, impedance_ohm: float) -> float:
    if not power_w >= 0.0:
        raise below_zero("a power", power_w, "W")
    if not impedance_ohm >= 0.0:
        raise below_zero("an impedance", impedance_ohm, "ohm")
    return sqrt(power_w * impedance_ohm)
