"""Mains supplies: volts, amperes, VA and watts of one phase and of three.

VA and W are two things here. A power factor leads from one to the other, and nothing else does.
"""

from __future__ import annotations

from math import sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Ampere, Part, PowerFactor, Volt, VoltAmpere, Watt, not_above_zero


@formula
def circuit_va(voltage_v: Volt, current_a: Ampere) -> VoltAmpere:
    """Compute the VA of a circuit of one phase.

    voltage_v: between the two wires of the circuit [V]
    current_a: in the conductor, rms [A]
    Result: the apparent power [VA]
    Formula: S = U · I
    Valid: rms values, any wave form
    Raises: nothing within the ranges
    Source: apparent power, by definition
    Example: circuit_va(230, 16) = 3680
    """
    return voltage_v * current_a


@formula
def three_phase_va(line_voltage_v: Volt, current_a: Ampere) -> VoltAmpere:
    """Compute the VA of a three-phase circuit.

    line_voltage_v: between two phase conductors, 400 V where one has 230 V to neutral [V]
    current_a: in each phase conductor, rms [A]
    Result: the apparent power of all three phases [VA]
    Formula: S = √3 · U · I
    Valid: balanced load
    Raises: nothing within the ranges
    Source: apparent power of three phases, by definition
    Example: three_phase_va(400, 32) = 22170
    """
    return sqrt(3.0) * line_voltage_v * current_a


@formula
def circuit_current(apparent_va: VoltAmpere, voltage_v: Volt) -> Ampere:
    """Compute the current of a circuit of one phase.

    apparent_va: apparent power [VA]
    voltage_v: between the two wires of the circuit, above zero [V]
    Result: the current [A]
    Formula: I = S / U
    Valid: rms values, any wave form
    Raises: ValueError when the voltage is not above zero
    Source: apparent power, by definition
    Example: circuit_current(3680, 230) = 16.0
    """
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return apparent_va / voltage_v


@formula
def three_phase_current(apparent_va: VoltAmpere, line_voltage_v: Volt) -> Ampere:
    """Compute the current in each phase conductor of a balanced three-phase circuit.

    apparent_va: apparent power of all three phases [VA]
    line_voltage_v: between two phase conductors, above zero [V]
    Result: the current of a phase conductor [A]
    Formula: I = S / (√3 · U)
    Valid: balanced load
    Raises: ValueError when the voltage is not above zero
    Source: apparent power of three phases, by definition
    Example: three_phase_current(22170, 400) = 32.0
    """
    if not line_voltage_v > 0.0:
        raise not_above_zero("a voltage", line_voltage_v, "V")
    return apparent_va / (sqrt(3.0) * line_voltage_v)


@formula
def line_to_line_voltage(voltage_v: Volt) -> Volt:
    """Convert the volts from phase to neutral of a three-phase supply to those between two phase conductors.

    voltage_v: phase to neutral [V]
    Result: between two phase conductors [V]
    Formula: U = √3 · U₀
    Valid: three phases, 120° apart; the two legs of a split-phase supply have 2 · U₀
    Raises: nothing within the ranges
    Source: two phasors 120° apart, by definition
    Example: line_to_line_voltage(120) = 207.8
    """
    return sqrt(3.0) * voltage_v


@formula
def line_to_neutral_voltage(line_voltage_v: Volt) -> Volt:
    """Convert the volts between two phase conductors of a three-phase supply to those from phase to neutral.

    line_voltage_v: between two phase conductors [V]
    Result: phase to neutral [V]
    Formula: U₀ = U / √3
    Valid: three phases, 120° apart
    Raises: nothing within the ranges
    Source: two phasors 120° apart, by definition
    Example: line_to_neutral_voltage(400) = 230.9
    """
    return line_voltage_v / sqrt(3.0)


@formula
def va_of_watts(power_w: Watt, power_factor: PowerFactor) -> VoltAmpere:
    """Convert the watts of a load to VA by its power factor.

    power_w: real power [W]
    power_factor: of the load, above zero
    Result: the apparent power [VA]
    Formula: S = P / λ
    Valid: rms values, any wave form: λ has the harmonics in it, cos φ has not
    Raises: ValueError when the power factor is not above zero
    Source: power factor, by definition
    Example: va_of_watts(354, 0.65) = 544.6
    """
    if not power_factor > 0.0:
        raise not_above_zero("a power factor", power_factor)
    return power_w / power_factor


@formula
def watts_of_va(apparent_va: VoltAmpere, power_factor: PowerFactor) -> Watt:
    """Convert the VA of a load, or of a generator, to watts by its power factor.

    apparent_va: apparent power [VA]
    power_factor: of the load, or rated, of the generator
    Result: the real power [W]
    Formula: P = S · λ
    Valid: rms values, any wave form
    Raises: nothing within the ranges
    Source: power factor, by definition
    Example: watts_of_va(60000, 0.8) = 48000
    """
    return apparent_va * power_factor


@formula
def power_factor(power_w: Watt, apparent_va: VoltAmpere) -> PowerFactor:
    """Compute the power factor of a load.

    power_w: real power [W]
    apparent_va: apparent power, above zero [VA]
    Result: the power factor
    Formula: λ = P / S
    Valid: real power not above the apparent
    Raises: ValueError when the apparent power is not above zero, or the real power above it
    Source: power factor, by definition
    Example: power_factor(354, 544.6) = 0.65
    """
    if not apparent_va > 0.0:
        raise not_above_zero("an apparent power", apparent_va, "VA")
    if power_w > apparent_va:
        raise ValueError(f"expected a power of at most {apparent_va:g} W, got {power_w:g} W")
    return power_w / apparent_va


@formula
def mains_current(power_w: Watt, voltage_v: Volt, power_factor: PowerFactor = 1.0) -> Ampere:
    """Compute the mains current of a load of so many watts on one phase.

    power_w: real power taken from the mains [W]
    voltage_v: between the two wires of the circuit, above zero [V]
    power_factor: of the load, above zero
    Result: the mains current [A]
    Formula: I = P / (U · λ)
    Valid: rms values, any wave form
    Raises: ValueError when voltage or power factor is not above zero
    Source: power factor and apparent power, by definition
    Example: mains_current(354, 230) = 1.54
    """
    return circuit_current(va_of_watts(power_w, power_factor), voltage_v)


@formula
def three_phase_mains_current(power_w: Watt, line_voltage_v: Volt, power_factor: PowerFactor = 1.0) -> Ampere:
    """Compute the current in each phase conductor of a balanced three-phase load of so many watts.

    power_w: real power of all three phases [W]
    line_voltage_v: between two phase conductors, above zero [V]
    power_factor: of the load, above zero
    Result: the current of a phase conductor [A]
    Formula: I = P / (√3 · U · λ)
    Valid: balanced load
    Raises: ValueError when voltage or power factor is not above zero
    Source: power factor and apparent power of three phases, by definition
    Example: three_phase_mains_current(17736, 400, 0.8) = 32.0
    """
    return three_phase_current(va_of_watts(power_w, power_factor), line_voltage_v)


@formula
def neutral_current(line_1_a: Ampere, line_2_a: Ampere, line_3_a: Ampere) -> Ampere:
    """Compute the neutral current of three unequal phases.

    line_1_a: in the first phase conductor [A]
    line_2_a: in the second phase conductor [A]
    line_3_a: in the third phase conductor [A]
    Result: the current of the neutral [A]
    Formula: I_N = √(a² + b² + c² − a·b − b·c − c·a)
    Valid: sine currents of one power factor, loads from phase to neutral; third harmonics come on top
    Raises: nothing within the ranges
    Source: sum of three phasors 120° apart, by definition
    Example: neutral_current(10, 10, 5) = 5.0
    """
    squares = line_1_a**2 + line_2_a**2 + line_3_a**2
    products = line_1_a * line_2_a + line_2_a * line_3_a + line_3_a * line_1_a
    return sqrt(max(squares - products, 0.0))


@formula
def minimum_supply_voltage(voltage_v: Volt, tolerance: Part = 0.1) -> Volt:
    """Find the lowest volts that a meter should read on a supply in order.

    voltage_v: nominal volts [V]
    tolerance: of the supply, as a share
    Result: the minimum volts [V]
    Formula: U_min = U · (1 − t)
    Valid: where the supply is taken over, before one's own feeders
    Raises: nothing within the ranges
    Source: IEC 60038, ±10 % (not checked against print)
    Example: minimum_supply_voltage(230) = 207
    """
    return voltage_v * (1.0 - tolerance)


@formula
def maximum_supply_voltage(voltage_v: Volt, tolerance: Part = 0.1) -> Volt:
    """Find the highest volts that a meter should read on a supply in order.

    voltage_v: nominal volts [V]
    tolerance: of the supply, as a share
    Result: the most volts [V]
    Formula: U_max = U · (1 + t)
    Valid: where the supply is taken over; 400 V on a 230 V socket is a lost or crossed neutral
    Raises: nothing within the ranges
    Source: IEC 60038, ±10 % (not checked against print)
    Example: maximum_supply_voltage(230) = 253
    """
    return voltage_v * (1.0 + tolerance)
