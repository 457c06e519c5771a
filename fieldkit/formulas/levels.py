"""Levels and gains: dBu, dBV, dBW and dBm to volts and watts and back, and the gain of an amplifier."""

from __future__ import annotations

from math import log10, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    Gain,
    LevelDbm,
    LevelDbu,
    LevelDbv,
    LevelDbw,
    Ohm,
    Ratio,
    Volt,
    Watt,
    below_zero,
    not_above_zero,
)

ZERO_DBU_V = sqrt(0.6)
"""One milliwatt in 600 ohm: 0.774597 V (IEC 60268-17; by definition)."""

BRIDGED_DB = 20.0 * log10(2.0)
"""Twice the volts: 6.0206 dB."""


@formula
def dbu_from_voltage(voltage_v: Volt) -> LevelDbu:
    """Convert volts to dBu.

    voltage_v: rms volts, above zero [V]
    Result: the level [dBu]
    Formula: L = 20 · log₁₀(V / √0.6)
    Valid: rms volts of any signal
    Raises: ValueError when the voltage is not above zero
    Source: 0 dBu = √(1 mW · 600 ohm), by definition
    Example: dbu_from_voltage(1.2277) = 4.00
    """
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return 20.0 * log10(voltage_v / ZERO_DBU_V)


@formula
def voltage_from_dbu(level_dbu: LevelDbu) -> Volt:
    """Convert dBu to volts.

    level_dbu: the level [dBu]
    Result: the rms voltage [V]
    Formula: V = √0.6 · 10^(L/20)
    Valid: rms volts of any signal
    Raises: nothing within the ranges
    Source: 0 dBu = √(1 mW · 600 ohm), by definition
    Example: voltage_from_dbu(4) = 1.2277
    """
    return float(ZERO_DBU_V * 10.0 ** (level_dbu / 20.0))


@formula
def dbv_from_voltage(voltage_v: Volt) -> LevelDbv:
    """Convert volts to dBV.

    voltage_v: rms volts, above zero [V]
    Result: the level [dBV]
    Formula: L = 20 · log₁₀(V / 1 V)
    Valid: rms volts of any signal
    Raises: ValueError when the voltage is not above zero
    Source: 0 dBV = 1 V, by definition
    Example: dbv_from_voltage(0.3162) = -10.00
    """
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return 20.0 * log10(voltage_v)


@formula
def voltage_from_dbv(level_dbv: LevelDbv) -> Volt:
    """Convert dBV to volts.

    level_dbv: the level [dBV]
    Result: the rms voltage [V]
    Formula: V = 10^(L/20)
    Valid: rms volts of any signal
    Raises: nothing within the ranges
    Source: 0 dBV = 1 V, by definition
    Example: voltage_from_dbv(-10) = 0.3162
    """
    return float(10.0 ** (level_dbv / 20.0))


@formula
def dbw_from_power(power_w: Watt) -> LevelDbw:
    """Convert watts to dBW.

    power_w: average power, above zero [W]
    Result: the level [dBW]
    Formula: L = 10 · log₁₀(P / 1 W)
    Valid: any signal
    Raises: ValueError when the power is not above zero
    Source: 0 dBW = 1 W, by definition
    Example: dbw_from_power(500) = 26.99
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    return 10.0 * log10(power_w)


@formula
def power_from_dbw(level_dbw: LevelDbw) -> Watt:
    """Convert dBW to watts.

    level_dbw: the level [dBW]
    Result: the average power [W]
    Formula: P = 10^(L/10)
    Valid: any signal
    Raises: nothing within the ranges
    Source: 0 dBW = 1 W, by definition
    Example: power_from_dbw(27) = 501.2
    """
    return float(10.0 ** (level_dbw / 10.0))


@formula
def dbm_from_power(power_w: Watt) -> LevelDbm:
    """Convert watts to dBm.

    power_w: average power, above zero [W]
    Result: the level [dBm]
    Formula: L = 10 · log₁₀(P / 1 mW)
    Valid: any signal
    Raises: ValueError when the power is not above zero
    Source: 0 dBm = 1 mW, by definition
    Example: dbm_from_power(0.05) = 16.99
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    return 10.0 * log10(power_w) + 30.0


@formula
def power_from_dbm(level_dbm: LevelDbm) -> Watt:
    """Convert dBm to watts.

    level_dbm: the level [dBm]
    Result: the average power [W]
    Formula: P = 1 mW · 10^(L/10)
    Valid: any signal
    Raises: nothing within the ranges
    Source: 0 dBm = 1 mW, by definition
    Example: power_from_dbm(17) = 0.0501
    """
    return float(10.0 ** (level_dbm / 10.0 - 3.0))


@formula
def dbu_from_power(power_w: Watt, load_ohm: Ohm) -> LevelDbu:
    """Convert watts in a load to dBu: what an output limiter set in dBu means in watts.

    power_w: average power, above zero [W]
    load_ohm: that it goes into, above zero [ohm]
    Result: the level [dBu]
    Formula: L = 10 · log₁₀(P · Z / 0.6)
    Valid: resistive load
    Raises: ValueError when power or load is not above zero
    Source: Ohm's law and 0 dBu = √(1 mW · 600 ohm), by definition
    Example: dbu_from_power(300, 8) = 36.02
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return 10.0 * log10(power_w * load_ohm / 0.6)


@formula
def voltage_gain_db(output_v: Volt, input_v: Volt) -> Gain:
    """Compute the gain between two voltages.

    output_v: rms volts out, above zero [V]
    input_v: rms volts in, above zero [V]
    Result: the gain [dB]
    Formula: G = 20 · log₁₀(V_out / V_in)
    Valid: both as rms, or both as peak
    Raises: ValueError when a voltage is not above zero
    Source: level of a field quantity, by definition (IEC 60027-3)
    Example: voltage_gain_db(63.25, 1.5) = 32.50
    """
    if not output_v > 0.0:
        raise not_above_zero("an output voltage", output_v, "V")
    if not input_v > 0.0:
        raise not_above_zero("an input voltage", input_v, "V")
    return 20.0 * log10(output_v / input_v)


@formula
def power_gain_db(output_w: Watt, input_w: Watt) -> Gain:
    """Compute the difference of level between two powers.

    output_w: the one power, above zero [W]
    input_w: the power that it is compared with, above zero [W]
    Result: the difference [dB]
    Formula: G = 10 · log₁₀(P_out / P_in)
    Valid: any signal
    Raises: ValueError when a power is not above zero
    Source: level of a power quantity, by definition (IEC 60027-3)
    Example: power_gain_db(250, 75) = 5.23
    """
    if not output_w > 0.0:
        raise not_above_zero("an output power", output_w, "W")
    if not input_w > 0.0:
        raise not_above_zero("an input power", input_w, "W")
    return 10.0 * log10(output_w / input_w)


@formula
def voltage_ratio(gain_db: Gain) -> Ratio:
    """Convert a gain to a ratio of voltages.

    gain_db: the gain [dB]
    Result: volts out for each volt in
    Formula: v = 10^(G/20)
    Valid: any gain
    Raises: nothing within the ranges
    Source: by definition
    Example: voltage_ratio(32) = 39.81
    """
    return float(10.0 ** (gain_db / 20.0))


@formula
def power_ratio(gain_db: Gain) -> Ratio:
    """Convert a difference of level to a ratio of powers.

    gain_db: the difference [dB]
    Result: watts for each watt
    Formula: p = 10^(G/10)
    Valid: any difference
    Raises: nothing within the ranges
    Source: by definition
    Example: power_ratio(3) = 1.995
    """
    return float(10.0 ** (gain_db / 10.0))


@formula
def gain_from_sensitivity(power_w: Watt, load_ohm: Ohm, sensitivity_v: Volt) -> Gain:
    """Find an amplifier's voltage gain from its input sensitivity for rated power.

    power_w: rated power, above zero [W]
    load_ohm: the load that it is rated into, above zero [ohm]
    sensitivity_v: rms volts in for rated power, above zero [V]
    Result: the voltage gain [dB]
    Formula: G = 20 · log₁₀(√(P · Z) / V_in)
    Valid: attenuator fully open; holds for one load only where the sensitivity is fixed and the volts sag
    Raises: ValueError when an input is not above zero
    Source: Ohm's law and the definition of gain
    Example: gain_from_sensitivity(500, 8, 1.5) = 32.50
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    if not sensitivity_v > 0.0:
        raise not_above_zero("a sensitivity", sensitivity_v, "V")
    return 20.0 * log10(sqrt(power_w * load_ohm) / sensitivity_v)


@formula
def sensitivity_from_gain(power_w: Watt, load_ohm: Ohm, gain_db: Gain) -> Volt:
    """Find the input volts that drive an amplifier to rated power.

    power_w: rated power [W]
    load_ohm: the load that it is rated into [ohm]
    gain_db: voltage gain [dB]
    Result: the input sensitivity, rms [V]
    Formula: V_in = √(P · Z) / 10^(G/20)
    Valid: at the gain and attenuator position that the gain was given for
    Raises: ValueError when power or load is negative
    Source: Ohm's law and the definition of gain
    Example: sensitivity_from_gain(500, 8, 32) = 1.589
    """
    if not power_w >= 0.0:
        raise below_zero("a power", power_w, "W")
    if not load_ohm >= 0.0:
        raise below_zero("a load", load_ohm, "ohm")
    return float(sqrt(power_w * load_ohm) / 10.0 ** (gain_db / 20.0))


@formula
def bridged_gain(gain_db: Gain) -> Gain:
    """Compute the voltage gain of two channels bridged, from that of one.

    gain_db: of one channel [dB]
    Result: the gain of the pair [dB]
    Formula: G' = G + 20 · log₁₀ 2
    Valid: two equal channels driven in opposite polarity
    Raises: nothing within the ranges
    Source: twice the volts, by definition
    Example: bridged_gain(32) = 38.02
    """
    return gain_db + BRIDGED_DB


@formula
def bridged_leg_voltage(voltage_v: Volt) -> Volt:
    """Compute the volts of one leg of a bridged pair: 6.02 dB less, a quarter of the power in the same load.

    voltage_v: rms volts across the pair [V]
    Result: the volts of one leg to its own ground [V]
    Formula: V₁ = V / 2
    Valid: two equal channels driven in opposite polarity
    Raises: nothing within the ranges
    Source: by definition
    Example: bridged_leg_voltage(28.28) = 14.14
    """
    return voltage_v / 2.0


@formula
def input_for_output(output_v: Volt, gain_db: Gain) -> Volt:
    """Find the volts at an amplifier's input that make volts at its output.

    output_v: at the output [V]
    gain_db: voltage gain, attenuator included [dB]
    Result: the voltage at the input [V]
    Formula: V_in = V_out / 10^(G/20)
    Valid: below clipping
    Raises: nothing within the ranges
    Source: definition of gain
    Example: input_for_output(63.25, 32) = 1.589
    """
    return float(output_v / 10.0 ** (gain_db / 20.0))


@formula
def output_for_input(input_v: Volt, gain_db: Gain) -> Volt:
    """Compute the volts at an amplifier's output that volts at its input make.

    input_v: at the input [V]
    gain_db: voltage gain, attenuator included [dB]
    Result: the voltage at the output [V]
    Formula: V_out = V_in · 10^(G/20)
    Valid: below clipping
    Raises: nothing within the ranges
    Source: definition of gain
    Example: output_for_input(1.589, 32) = 63.26
    """
    return float(input_v * 10.0 ** (gain_db / 20.0))


@formula
def input_level_for_output(output_v: Volt, gain_db: Gain) -> LevelDbu:
    """Find the level at an amplifier's input that makes volts at its output: a threshold set upstream.

    output_v: rms volts at the output, above zero [V]
    gain_db: voltage gain, attenuator included [dB]
    Result: the level at the input [dBu]
    Formula: L = 20 · log₁₀(V_out / √0.6) − G
    Valid: below clipping, and only at the attenuator and gain that were given
    Raises: ValueError when the voltage is not above zero
    Source: definitions of gain and of dBu
    Example: input_level_for_output(48.99, 32.5) = 3.52
    """
    if not output_v > 0.0:
        raise not_above_zero("an output voltage", output_v, "V")
    return 20.0 * log10(output_v / ZERO_DBU_V) - gain_db


@formula
def level_below_full_scale(level_dbu: LevelDbu, full_scale_dbu: LevelDbu) -> Gain:
    """Convert a level to a converter's full scale: what a processor's threshold in dBFS is.

    level_dbu: the level at the converter's analogue side [dBu]
    full_scale_dbu: the level of a full-scale sine there [dBu]
    Result: the level against full scale, negative below it [dB]
    Formula: L_FS = L − L_max
    Valid: where a full-scale sine is 0 dBFS (rms)
    Raises: nothing within the ranges
    Source: AES17, 0 dBFS is the rms level of a full-scale sine (not checked against print)
    Example: level_below_full_scale(4, 22) = -18.0
    """
    return level_dbu - full_scale_dbu
