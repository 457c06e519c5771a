"""Volts at which an amplifier's output must be treated as mains.

The figures are thresholds of standards for apparatus. They are lower in wet places, and no figure makes a live
output safe to touch.
"""

from __future__ import annotations

from fieldkit.formulas.conductors import read_table
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.ohms_law import power_from_voltage
from fieldkit.formulas.quantities import Ohm, Volt, Watt


@formula
def touch_threshold(voltage_v: Volt) -> Volt:
    """Find the highest published threshold that a sine voltage has passed; 0 where it has passed none.

    voltage_v: rms volts of a sine at an output [V]
    Result: 0, 30, 50, 71 or 120, the highest threshold below the voltage [V]
    Formula: table: up to 30 V anybody may touch (ES1), up to 50 V instructed people (ES2), above ES3; above 71 V
        an output is hazardous live, of professional apparatus above 120 V
    Valid: dry skin; a sine of mains frequency or of sound
    Raises: nothing within the ranges
    Source: IEC 62368-1 table 4, a reproduction; IEC 60065 clause 9.1.1.1
    Example: touch_threshold(63.2) = 50
    """
    passed = [volts for volts in read_table("touch_voltages")["volts"] if voltage_v > volts]
    return float(max(passed, default=0.0))


@formula
def touch_threshold_power(threshold_v: Volt, load_ohm: Ohm) -> Watt:
    """Find the sine power at which an output reaches a threshold voltage.

    threshold_v: 30, 50, 71 or 120 V, or any other [V]
    load_ohm: rated load of the output, above zero [ohm]
    Result: the sine power into that load [W]
    Formula: P = U² / Z
    Valid: a sine into a resistance
    Raises: ValueError when the load is not above zero
    Source: Ohm's law; thresholds of IEC 62368-1 table 4 and IEC 60065 clause 9.1.1.1
    Example: touch_threshold_power(50, 8) = 312.5
    """
    return power_from_voltage(threshold_v, load_ohm)
