"""Volts lost in a mains cable, how long it may be, and how thick it must be.

The method is that of IEC 60364-5-52 annex G: copper at its working temperature, and a reactance for any size. A
feeder by gauge has its ohms from the table of gauges, which prints them at 75 °C.
"""

from __future__ import annotations

from math import sqrt

from fieldkit.formulas.conductors import metric_table, resistance_at_temperature, stranded_awg_resistance
from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    Ampere,
    Celsius,
    Metre,
    Ohm,
    OhmPerMetre,
    Part,
    PowerFactor,
    Ratio,
    SquareMillimetre,
    StrandedGauge,
    Volt,
    not_above_zero,
)

COPPER_OHM_MM2_PER_M = 0.0225
"""Resistivity of copper in normal service, 1.25 times that at 20 °C (IEC 60364-5-52 annex G) [ohm·mm²/m]."""
REACTANCE_OHM_PER_M = 0.08e-3
"""Reactance of a conductor, where nothing better is known (the same annex) [ohm/m]."""
GAUGES_AT_C = 75.0
"""Temperature of the copper in the table of gauges (NFPA 70 chapter 9 table 8): in full service [°C]."""


@formula
def feeder_ohm_per_metre(area_mm2: SquareMillimetre, power_factor: PowerFactor = 1.0) -> OhmPerMetre:
    """Compute the volts that a metre of one mains conductor takes off, for each ampere of a load.

    area_mm2: cross-section of a conductor [mm²]
    power_factor: cos φ of the load, lagging
    Result: volts lost, for each ampere and metre of one conductor [ohm/m]
    Formula: z = ρ / S · cos φ + λ · sin φ, with ρ = 0.0225 Ω·mm²/m and λ = 0.08 mΩ/m
    Valid: copper at its temperature in normal service, up to 70 °C; 50 and 60 Hz
    Raises: ValueError when the area is not above zero
    Source: IEC 60364-5-52:2009 annex G
    Example: feeder_ohm_per_metre(2.5, 0.8) = 0.007248
    """
    if not area_mm2 > 0.0:
        raise not_above_zero("an area", area_mm2, "mm²")
    sine = sqrt(max(1.0 - power_factor * power_factor, 0.0))
    return COPPER_OHM_MM2_PER_M / area_mm2 * power_factor + REACTANCE_OHM_PER_M * sine


@formula
def mains_voltage_drop(
    length_m: Metre, area_mm2: SquareMillimetre, current_a: Ampere, power_factor: PowerFactor = 1.0
) -> Volt:
    """Compute the volts lost in a mains cable of one phase.

    length_m: one way along the cable [m]
    area_mm2: cross-section of a conductor [mm²]
    current_a: in the conductor [A]
    power_factor: cos φ of the load, lagging
    Result: the voltage drop, out and back [V]
    Formula: u = 2 · (ρ · L / S · cos φ + λ · L · sin φ) · I
    Valid: copper in normal service (ρ 0.0225 Ω·mm²/m), λ 0.08 mΩ/m; 50 and 60 Hz
    Raises: ValueError when the area is not above zero
    Source: IEC 60364-5-52:2009 annex G, b = 2
    Example: mains_voltage_drop(50, 2.5, 16) = 14.40
    """
    return 2.0 * length_m * feeder_ohm_per_metre(area_mm2, power_factor) * current_a


@formula
def three_phase_voltage_drop(
    length_m: Metre, area_mm2: SquareMillimetre, current_a: Ampere, power_factor: PowerFactor = 1.0
) -> Volt:
    """Compute the volts from phase to neutral that are lost in a three-phase cable.

    length_m: one way along the cable [m]
    area_mm2: cross-section of a conductor [mm²]
    current_a: in each phase conductor [A]
    power_factor: cos φ of the load, lagging
    Result: the voltage drop from phase to neutral [V]
    Formula: u = (ρ · L / S · cos φ + λ · L · sin φ) · I
    Valid: balanced load; times √3 it is the drop between phase conductors; a phase loaded alone loses twice as much
    Raises: ValueError when the area is not above zero
    Source: IEC 60364-5-52:2009 annex G, b = 1
    Example: three_phase_voltage_drop(50, 2.5, 16) = 7.20
    """
    return length_m * feeder_ohm_per_metre(area_mm2, power_factor) * current_a


@formula
def unbalanced_voltage_drop(
    length_m: Metre, area_mm2: SquareMillimetre, line_a: Ampere, neutral_a: Ampere, power_factor: PowerFactor = 1.0
) -> Volt:
    """Compute the most volts from phase to neutral that a phase loses in a three-phase cable with unequal loads.

    length_m: one way along the cable [m]
    area_mm2: cross-section of a conductor, the neutral's too [mm²]
    line_a: in the most loaded line [A]
    neutral_a: in the neutral [A]
    power_factor: cos φ of the load, lagging
    Result: the most that the voltage drops from phase to neutral [V]
    Formula: u ≤ (ρ · L / S · cos φ + λ · L · sin φ) · (I + I_N)
    Valid: balanced it is the drop with b = 1, one phase alone it is that with b = 2; between them an upper limit
    Raises: ValueError when the area is not above zero
    Source: IEC 60364-5-52:2009 annex G; the sum of two phasors is at most that of their lengths, by definition
    Example: unbalanced_voltage_drop(50, 2.5, 16, 16) = 14.40
    """
    return length_m * feeder_ohm_per_metre(area_mm2, power_factor) * (line_a + neutral_a)


@formula
def gauge_feeder_resistance(gauge: StrandedGauge, temperature_c: Celsius = GAUGES_AT_C) -> OhmPerMetre:
    """Look up the resistance of one mains conductor by its gauge, at the temperature of its copper.

    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    temperature_c: of the copper; the table prints 75 °C [°C]
    Result: ohms a metre of one conductor [ohm/m]
    Formula: r = r₂₀ · (1 + 0.00393 · (T − 20 °C)), from the table
    Valid: stranded, uncoated copper; direct current, and 50 and 60 Hz up to about 1/0
    Raises: nothing within the ranges
    Source: NFPA 70 chapter 9 table 8; IEC 60028 for the temperature
    Example: gauge_feeder_resistance(10) = 0.004068
    """
    return resistance_at_temperature(stranded_awg_resistance(gauge), temperature_c)


@formula
def gauge_voltage_drop(
    length_m: Metre, gauge: StrandedGauge, current_a: Ampere, temperature_c: Celsius = GAUGES_AT_C
) -> Volt:
    """Compute the volts lost in a mains cable of one phase by its gauge.

    length_m: one way along the cable [m]
    gauge: American wire gauge; 1/0 is 0, 2/0 is −1
    current_a: in the conductor [A]
    temperature_c: of the copper; the table prints 75 °C [°C]
    Result: the voltage drop, out and back [V]
    Formula: u = 2 · L · r · I
    Valid: stranded, uncoated copper; a load of power factor 1, where the drop is most
    Raises: nothing within the ranges
    Source: NFPA 70 chapter 9 table 8; Ohm's law
    Example: gauge_voltage_drop(30.48, 10, 24) = 5.952
    """
    return 2.0 * length_m * gauge_feeder_resistance(gauge, temperature_c) * current_a


@formula
def unbalanced_gauge_voltage_drop(
    length_m: Metre,
    gauge: StrandedGauge,
    line_a: Ampere,
    neutral_a: Ampere,
    temperature_c: Celsius = GAUGES_AT_C,
) -> Volt:
    """Compute the most volts from phase to neutral that a phase loses in a three-phase cable by its gauge.

    length_m: one way along the cable [m]
    gauge: American wire gauge, the neutral's too; 1/0 is 0, 2/0 is −1
    line_a: in the most loaded line [A]
    neutral_a: in the neutral [A]
    temperature_c: of the copper; the table prints 75 °C [°C]
    Result: the most that the voltage drops from phase to neutral [V]
    Formula: u ≤ L · r · (I + I_N)
    Valid: as unbalanced_voltage_drop; a load of power factor 1, where the drop is most
    Raises: nothing within the ranges
    Source: NFPA 70 chapter 9 table 8; Ohm's law
    Example: unbalanced_gauge_voltage_drop(30.48, 10, 24, 0) = 2.976
    """
    return length_m * gauge_feeder_resistance(gauge, temperature_c) * (line_a + neutral_a)


@formula
def voltage_drop_share(drop_v: Volt, voltage_v: Volt) -> Ratio:
    """Convert a voltage drop to a share of the supply's volts.

    drop_v: volts lost [V]
    voltage_v: nominal volts between the same two wires, above zero [V]
    Result: the drop as a share
    Formula: Δu = u / U
    Valid: both from phase to neutral, or both between phase conductors
    Raises: ValueError when the voltage is not above zero
    Source: IEC 60364-5-52:2009 annex G
    Example: voltage_drop_share(14.4, 230) = 0.0626
    """
    if not voltage_v > 0.0:
        raise not_above_zero("a voltage", voltage_v, "V")
    return drop_v / voltage_v


@formula
def longest_feeder(
    drop_share: Part,
    area_mm2: SquareMillimetre,
    current_a: Ampere,
    voltage_v: Volt,
    power_factor: PowerFactor = 1.0,
) -> Metre:
    """Find the longest mains cable of one phase that stays within a voltage drop.

    drop_share: drop allowed, as a share of the volts: 3 %, 5 %
    area_mm2: cross-section of a conductor [mm²]
    current_a: in the conductor, above zero [A]
    voltage_v: between the two wires of the circuit [V]
    power_factor: cos φ of the load, lagging
    Result: the length, one way [m]
    Formula: L = Δu · U / (2 · (ρ / S · cos φ + λ · sin φ) · I)
    Valid: copper in normal service (ρ 0.0225 Ω·mm²/m), λ 0.08 mΩ/m; 50 and 60 Hz
    Raises: ValueError when area or current is not above zero
    Source: IEC 60364-5-52:2009 annex G, b = 2
    Example: longest_feeder(0.03, 2.5, 16, 230) = 23.96
    """
    return longest_three_phase_feeder(drop_share, area_mm2, current_a, voltage_v, power_factor) / 2.0


@formula
def longest_three_phase_feeder(
    drop_share: Part,
    area_mm2: SquareMillimetre,
    current_a: Ampere,
    voltage_v: Volt,
    power_factor: PowerFactor = 1.0,
) -> Metre:
    """Find the longest three-phase cable that stays within a voltage drop from phase to neutral.

    drop_share: drop allowed, as a share of the volts: 3 %, 5 %
    area_mm2: cross-section of a conductor [mm²]
    current_a: in each phase conductor, above zero [A]
    voltage_v: phase to neutral [V]
    power_factor: cos φ of the load, lagging
    Result: the length, one way [m]
    Formula: L = Δu · U₀ / ((ρ / S · cos φ + λ · sin φ) · I)
    Valid: balanced load; copper in normal service
    Raises: ValueError when area or current is not above zero
    Source: IEC 60364-5-52:2009 annex G, b = 1
    Example: longest_three_phase_feeder(0.03, 2.5, 16, 230) = 47.92
    """
    if not current_a > 0.0:
        raise not_above_zero("a current", current_a, "A")
    per_metre_v = feeder_ohm_per_metre(area_mm2, power_factor) * current_a
    return drop_share * voltage_v / per_metre_v


@formula
def smallest_feeder(
    drop_share: Part, length_m: Metre, current_a: Ampere, voltage_v: Volt, power_factor: PowerFactor = 1.0
) -> SquareMillimetre:
    """Choose the smallest size of a mains cable of one phase that stays within a voltage drop.

    drop_share: drop allowed, as a share of the volts: 3 %, 5 %
    length_m: one way along the cable [m]
    current_a: in the conductor [A]
    voltage_v: between the two wires of the circuit [V]
    power_factor: cos φ of the load, lagging
    Result: the cross-section of a conductor, a printed size of IEC 60228 [mm²]
    Formula: the smallest printed S with 2 · L · (ρ / S · cos φ + λ · sin φ) · I ≤ Δu · U
    Valid: by the drop alone; what the cable may carry, and what protects it, is for the electrician
    Raises: ValueError when no printed size up to 120 mm² stays within the drop
    Source: IEC 60364-5-52:2009 annex G; sizes of IEC 60228:2004
    Example: smallest_feeder(0.03, 40, 16, 230) = 6
    """
    allowed_v = drop_share * voltage_v
    sizes_mm2 = metric_table("class_5").areas_mm2
    for area_mm2 in sizes_mm2:
        if mains_voltage_drop(length_m, area_mm2, current_a, power_factor) <= allowed_v:
            return area_mm2
    got = f"{allowed_v:g} V over {length_m:g} m at {current_a:g} A"
    raise ValueError(f"expected a drop that {sizes_mm2[-1]:g} mm² can keep, got {got}")


@formula
def feeder_loop_resistance(length_m: Metre, area_mm2: SquareMillimetre) -> Ohm:
    """Compute the resistance of a mains cable, out and back, warm.

    length_m: one way along the cable [m]
    area_mm2: cross-section of a conductor [mm²]
    Result: the loop resistance [ohm]
    Formula: R = 2 · ρ · L / S, with ρ = 0.0225 Ω·mm²/m
    Valid: copper in normal service; a part of the loop that a fault sees, and not all of it
    Raises: ValueError when the area is not above zero
    Source: IEC 60364-5-52:2009 annex G
    Example: feeder_loop_resistance(50, 2.5) = 0.90
    """
    return 2.0 * length_m * feeder_ohm_per_metre(area_mm2)
