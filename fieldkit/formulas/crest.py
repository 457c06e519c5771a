"""Crest factor: how far peaks stand above the rms value, and what that does to power."""

from __future__ import annotations

from math import log10, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Crest, Gain, Ohm, Share, Volt, Watt, below_zero, not_above_zero


@formula
def crest_factor_db(peak_v: Volt, rms_v: Volt) -> Crest:
    """Compute the crest factor of a signal.

    peak_v: highest volts, above zero [V]
    rms_v: rms volts, above zero [V]
    Result: the crest factor [dB]
    Formula: c = 20 · log₁₀(V_peak / V_rms)
    Valid: any signal; a sine has 3.01 dB
    Raises: ValueError when a voltage is not above zero
    Source: by definition
    Example: crest_factor_db(120, 60) = 6.02
    """
    if not peak_v > 0.0:
        raise not_above_zero("a peak voltage", peak_v, "V")
    if not rms_v > 0.0:
        raise not_above_zero("an rms voltage", rms_v, "V")
    return 20.0 * log10(peak_v / rms_v)


@formula
def peak_voltage(rms_v: Volt, crest_db: Crest) -> Volt:
    """Convert a signal's rms volts to peak volts by its crest factor.

    rms_v: rms volts [V]
    crest_db: crest factor [dB]
    Result: the peak voltage [V]
    Formula: V_peak = V_rms · 10^(c/20)
    Valid: any signal
    Raises: nothing within the ranges
    Source: by definition
    Example: peak_voltage(60, 6.0206) = 120.0
    """
    return float(rms_v * 10.0 ** (crest_db / 20.0))


@formula
def sine_of_peak(peak_v: Volt) -> Volt:
    """Convert peak volts to the rms volts of a sine with that peak: a peak threshold on a scale of rms levels.

    peak_v: peak volts [V]
    Result: the rms voltage of the sine [V]
    Formula: V = V_peak / √2
    Valid: a sine
    Raises: nothing within the ranges
    Source: the peak of a sine is √2 times its rms value, by definition
    Example: sine_of_peak(56.57) = 40.00
    """
    return peak_v / sqrt(2.0)


@formula
def sine_peak(voltage_v: Volt) -> Volt:
    """Convert a sine's rms volts to peak volts: where an output of these rms volts clips.

    voltage_v: rms volts of the sine [V]
    Result: the peak voltage of the sine [V]
    Formula: V_peak = √2 · V
    Valid: a sine
    Raises: nothing within the ranges
    Source: the peak of a sine is √2 times its rms value, by definition
    Example: sine_peak(40) = 56.57
    """
    return sqrt(2.0) * voltage_v


@formula
def sine_peak_voltage(power_w: Watt, load_ohm: Ohm) -> Volt:
    """Compute the peak volts of a sine at rated power: where an amplifier clips.

    power_w: rated sine power [W]
    load_ohm: the load that it is rated into [ohm]
    Result: the peak voltage [V]
    Formula: V_peak = √(2 · P · Z)
    Valid: resistive load
    Raises: ValueError when power or load is below zero
    Source: the peak of a sine is √2 times its rms value
    Example: sine_peak_voltage(500, 8) = 89.44
    """
    if not power_w >= 0.0:
        raise below_zero("a power", power_w, "W")
    if not load_ohm >= 0.0:
        raise below_zero("a load", load_ohm, "ohm")
    return sqrt(2.0 * power_w * load_ohm)


@formula
def average_power_share(crest_db: Crest) -> Share:
    """Compute the average power of a programme that just reaches clipping, as a share of rated sine power.

    crest_db: crest factor of the programme, 3.01 dB or more [dB]
    Result: average over rated sine power
    Formula: s = (√2 / 10^(c/20))²
    Valid: peaks just at those of the rated sine; 12 dB is "1/8 power"
    Raises: nothing within the ranges
    Source: by definition; 1/8 of the unclipped power is normal operation in IEC 62368-1
    Example: average_power_share(12) = 0.1262
    """
    return float(2.0 / 10.0 ** (crest_db / 10.0))


@formula
def average_power(power_w: Watt, crest_db: Crest) -> Watt:
    """Compute the average power of a programme whose peaks just reach those of the rated sine.

    power_w: rated sine power [W]
    crest_db: crest factor of the programme [dB]
    Result: the average power [W]
    Formula: P_avg = P · (√2 / 10^(c/20))²
    Valid: peaks just at clipping; compressed bass has 3 to 10 dB crest, speech and wide music 12 dB or more
    Raises: nothing within the ranges
    Source: by definition
    Example: average_power(1000, 12) = 126.2
    """
    return float(power_w * 2.0 / 10.0 ** (crest_db / 10.0))


@formula
def clean_power(sine_w: Watt) -> Watt:
    """Compute the average power of noise with a crest factor of 2 (6 dB) just before it clips.

    sine_w: sine watts where the amplifier clips [W]
    Result: the average power of the noise [W]
    Formula: P = V_peak² / (k² · Z) = P_peak / 4 = P_sine / 2
    Valid: noise of crest factor k = 2, the test signal of loudspeaker ratings; music mostly has more
    Raises: nothing within the ranges
    Source: by definition; P_peak = V_peak² / Z is twice the power of the sine
    Example: clean_power(377) = 188.5
    """
    return sine_w / 2.0


@formula
def rating_gap_db(continuous_w: Watt, peak_w: Watt) -> Gain:
    """Compare a peak power rating with the continuous one, in decibels.

    continuous_w: continuous rating, above zero [W]
    peak_w: peak rating, V_peak² / Z, above zero [W]
    Result: the gap, the crest factor that both ratings allow together [dB]
    Formula: c = 10 · log₁₀(P_peak / P_continuous)
    Valid: both at one impedance
    Raises: ValueError when a power is not above zero
    Source: by definition
    Example: rating_gap_db(150, 2400) = 12.04
    """
    if not continuous_w > 0.0:
        raise not_above_zero("a continuous power", continuous_w, "W")
    if not peak_w > 0.0:
        raise not_above_zero("a peak power", peak_w, "W")
    return 10.0 * log10(peak_w / continuous_w)


@formula
def programme_power(continuous_w: Watt) -> Watt:
    """Convert a continuous rating to the "programme" rating that the trade puts beside it.

    continuous_w: continuous rating [W]
    Result: the programme rating [W]
    Formula: P_programme = 2 · P
    Valid: as a reading of spec sheets, never as a limiter setting
    Raises: nothing within the ranges
    Source: common practice, no source
    Example: programme_power(300) = 600
    """
    return 2.0 * continuous_w


@formula
def peak_power(continuous_w: Watt) -> Watt:
    """Convert a continuous rating to the "peak" rating that the trade puts beside it.

    continuous_w: continuous rating, of noise with a crest factor of 2 [W]
    Result: the peak rating, V_peak² / Z [W]
    Formula: P_peak = 4 · P
    Valid: rated with noise of 6 dB crest
    Raises: nothing within the ranges
    Source: crest factor 2 squared (AES2); as a rule for spec sheets common practice, no source
    Example: peak_power(300) = 1200
    """
    return 4.0 * continuous_w
