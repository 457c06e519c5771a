"""What an amplifier takes from the mains, and what it leaves as heat.

P = idle + out / η: the power of standing by, and what the output stage takes for the watts that it gives.
"""

from __future__ import annotations

from math import pi, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.mains import mains_current
from fieldkit.formulas.quantities import Ampere, BtuPerHour, Count, Part, PowerFactor, Volt, Watt, not_above_zero

BTU_PER_HOUR_A_WATT = 3600.0 / 1055.05585262
"""International table British thermal units (ISO 31-4): 3.41214 a watt."""


@formula
def amplifier_output(rated_w: Watt, duty: Part, channels: Count = 1.0, share: Part = 1.0) -> Watt:
    """Compute the average watts that an amplifier's channels put out under a programme.

    rated_w: sine power of one channel into its load [W]
    duty: average over rated power: 1/8 for ordinary programme, 1/3 for loud and compressed, 0 idle
    channels: how many are driven so
    share: part of the programme that these channels carry, where sections share it
    Result: the average output power [W]
    Formula: P = n · P_rated · d · s
    Valid: peaks just at clipping
    Raises: nothing within the ranges
    Source: by definition; 1/8 is normal operation in IEC 62368-1 and IEC 60065
    Example: amplifier_output(1000, 0.125, 2) = 250
    """
    return rated_w * duty * channels * share


@formula
def amplifier_mains_power(output_w: Watt, idle_w: Watt, efficiency: Part) -> Watt:
    """Compute the power that an amplifier takes from the mains.

    output_w: average power that all its channels put out [W]
    idle_w: taken with no signal [W]
    efficiency: of the output stage and its supply at this output, above zero
    Result: real power taken from the mains [W]
    Formula: P = P_idle + P_out / η
    Valid: switching (class D) stages at one η; of linear stages η falls with the output: linear_efficiency
    Raises: ValueError when the efficiency is not above zero
    Source: energy is kept, by definition; the split into idle and output is common practice
    Example: amplifier_mains_power(250, 60, 0.85) = 354
    """
    if not efficiency > 0.0:
        raise not_above_zero("an efficiency", efficiency)
    return idle_w + output_w / efficiency


@formula
def amplifier_heat(output_w: Watt, idle_w: Watt, efficiency: Part) -> Watt:
    """Compute the heat that an amplifier leaves in its rack.

    output_w: average power that all its channels put out [W]
    idle_w: taken with no signal [W]
    efficiency: of the output stage and its supply at this output, above zero
    Result: the heat [W]
    Formula: Q = P_idle + P_out / η − P_out
    Valid: the loudspeakers stand elsewhere
    Raises: ValueError when the efficiency is not above zero
    Source: energy is kept, by definition
    Example: amplifier_heat(250, 60, 0.85) = 104
    """
    return amplifier_mains_power(output_w, idle_w, efficiency) - output_w


@formula
def amplifier_mains_current(
    output_w: Watt, idle_w: Watt, efficiency: Part, voltage_v: Volt, power_factor: PowerFactor = 1.0
) -> Ampere:
    """Compute the current that an amplifier takes from the mains.

    output_w: average power that all its channels put out [W]
    idle_w: taken with no signal [W]
    efficiency: of the output stage and its supply at this output, above zero
    voltage_v: of the circuit, above zero [V]
    power_factor: of the amplifier's supply, above zero
    Result: the mains current [A]
    Formula: I = (P_idle + P_out / η) / (U · λ)
    Valid: rms values, averaged over the programme
    Raises: ValueError when efficiency, voltage or power factor is not above zero
    Source: power factor and apparent power, by definition
    Example: amplifier_mains_current(250, 60, 0.85, 230) = 1.54
    """
    return mains_current(amplifier_mains_power(output_w, idle_w, efficiency), voltage_v, power_factor)


@formula
def class_b_efficiency(power_share: Part) -> Part:
    """Compute the efficiency of an ideal class B stage at a part of its rated sine power.

    power_share: power over rated power
    Result: the efficiency
    Formula: η = π / 4 · √s
    Valid: a sine into a resistance, fixed supply rails, no idle current; a real class AB stage stays below
    Raises: nothing within the ranges
    Source: mean over peak of a half sine against fixed rails, by definition
    Example: class_b_efficiency(0.125) = 0.278
    """
    return linear_efficiency(pi / 4.0, power_share)


@formula
def linear_efficiency(efficiency: Part, power_share: Part) -> Part:
    """Estimate the efficiency of a linear (class B or AB) stage at a part of its rated power.

    efficiency: at rated sine power
    power_share: power over rated power
    Result: the efficiency there
    Formula: η(s) = η(1) · √s
    Valid: fixed supply rails; what the idle current takes is counted apart
    Raises: nothing within the ranges
    Source: supply current goes with volts, output power with their square, by definition
    Example: linear_efficiency(0.62, 0.125) = 0.219
    """
    return efficiency * sqrt(power_share)


@formula
def heat_in_btu(heat_w: Watt) -> BtuPerHour:
    """Convert heat in watts to the unit that cooling is sold by.

    heat_w: heat [W]
    Result: the same heat [BTU/h]
    Formula: Q = 3.41214 · P
    Valid: International table British thermal units
    Raises: nothing within the ranges
    Source: ISO 31-4, by definition
    Example: heat_in_btu(310) = 1058
    """
    return BTU_PER_HOUR_A_WATT * heat_w


@formula
def heat_in_watts(heat_btu_per_h: BtuPerHour) -> Watt:
    """Convert heat in the unit of cooling to watts.

    heat_btu_per_h: heat [BTU/h]
    Result: the same heat [W]
    Formula: P = Q / 3.41214
    Valid: International table British thermal units
    Raises: nothing within the ranges
    Source: ISO 31-4, by definition
    Example: heat_in_watts(12000) = 3517
    """
    return heat_btu_per_h / BTU_PER_HOUR_A_WATT
