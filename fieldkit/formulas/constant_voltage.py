"""Lines of 70.7 and 100 V with a transformer in each box."""

from __future__ import annotations

from math import sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Ampere, Ohm, Ratio, Volt, Watt, not_above_zero

NOMINAL_70_V = 100.0 / sqrt(2.0)
"""What "70.7 V" stands for: 100 V peak (EIA practice); 5000 ohm take 1 W."""


@formula
def line_load(line_v: Volt, power_w: Watt) -> Ohm:
    """Compute the load of a constant-voltage line, or of one tap.

    line_v: rated volts of the line: 70.7 or 100 [V]
    power_w: of all taps together, above zero [W]
    Result: the load [ohm]
    Formula: Z = V² / P
    Valid: middle frequencies; transformers saturate at low ones; a DC meter reads only the windings
    Raises: ValueError when the power is not above zero
    Source: Ohm's law, by definition; EIA practice for 70.7 V
    Example: line_load(70.7, 10) = 500
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    return line_v * line_v / power_w


@formula
def taps_load(line_v: Volt, *taps_w: Watt) -> Ohm:
    """Add the taps of one constant-voltage line to its load.

    line_v: rated volts of the line [V]
    taps_w: power of each tap [W]
    Result: the load [ohm]
    Formula: Z = V² / (P₁ + P₂ + …)
    Valid: middle frequencies
    Raises: ValueError when the taps add up to nothing
    Source: Ohm's law, by definition
    Example: taps_load(100, 6, 10, 10) = 384.6
    """
    return line_load(line_v, sum(taps_w))


@formula
def line_power(line_v: Volt, load_ohm: Ohm) -> Watt:
    """Find the power that a line takes from its measured impedance: are the taps set as planned?

    line_v: rated volts of the line [V]
    load_ohm: measured with an impedance meter, above zero [ohm]
    Result: the power of all taps together [W]
    Formula: P = V² / Z
    Valid: middle frequencies
    Raises: ValueError when the load is not above zero
    Source: Ohm's law, by definition
    Example: line_power(100, 100) = 100
    """
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return line_v * line_v / load_ohm


@formula
def line_current(line_v: Volt, power_w: Watt) -> Ampere:
    """Compute the current of a constant-voltage line at full power.

    line_v: rated volts of the line, above zero [V]
    power_w: of all taps together [W]
    Result: the current [A]
    Formula: I = P / V
    Valid: middle frequencies
    Raises: ValueError when the voltage is not above zero
    Source: by definition
    Example: line_current(100, 250) = 2.50
    """
    if not line_v > 0.0:
        raise not_above_zero("a line voltage", line_v, "V")
    return power_w / line_v


@formula
def tap_power(tap_w: Watt, printed_v: Volt, line_v: Volt) -> Watt:
    """Scale the power of a transformer tap to a line of other volts.

    tap_w: power printed at the tap [W]
    printed_v: line volts that it is printed for, above zero [V]
    line_v: volts of the line that it is used on [V]
    Result: the power there [W]
    Formula: P = P_tap · (V / V_printed)²
    Valid: while the transformer does not saturate
    Raises: ValueError when the printed voltage is not above zero
    Source: power goes with the square of the volts, by definition
    Example: tap_power(10, 100, 70.7) = 5.00
    """
    if not printed_v > 0.0:
        raise not_above_zero("a printed voltage", printed_v, "V")
    return tap_w * (line_v / printed_v) ** 2


@formula
def turns_ratio(line_v: Volt, power_w: Watt, load_ohm: Ohm) -> Ratio:
    """Compute the turns ratio of a transformer that taps a power for a loudspeaker.

    line_v: rated volts of the line [V]
    power_w: for the loudspeaker, above zero [W]
    load_ohm: of the loudspeaker, above zero [ohm]
    Result: turns on the line side for each on the loudspeaker side
    Formula: n = V / √(P · Z)
    Valid: a transformer without losses
    Raises: ValueError when power or load is not above zero
    Source: by definition
    Example: turns_ratio(100, 12.5, 8) = 10.0
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    if not load_ohm > 0.0:
        raise not_above_zero("a load", load_ohm, "ohm")
    return line_v / sqrt(power_w * load_ohm)
