"""Generators: kVA and kW, and how large one must be."""

from __future__ import annotations

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.mains import circuit_current, va_of_watts, watts_of_va
from fieldkit.formulas.quantities import (
    Ampere,
    Count,
    Part,
    PowerFactor,
    Volt,
    VoltAmpere,
    Watt,
    not_above_zero,
)


@formula
def generator_power(prime_va: VoltAmpere, power_factor: PowerFactor = 0.8) -> Watt:
    """Convert a generator's VA to its watts.

    prime_va: prime rating [VA]
    power_factor: that it is rated at, mostly 0.8
    Result: its prime power [W]
    Formula: P = S · cos φ
    Valid: at sea level and 25 °C; height and heat take some of it
    Raises: nothing within the ranges
    Source: power factor, by definition; ratings of ISO 8528-1
    Example: generator_power(60000) = 48000
    """
    return watts_of_va(prime_va, power_factor)


@formula
def generator_phase_current(prime_va: VoltAmpere, voltage_v: Volt, phases: Count = 3.0) -> Ampere:
    """Compute how much one phase of a generator can carry, however little the others do.

    prime_va: prime rating, of all phases [VA]
    voltage_v: phase to neutral; of a single phase, between its two wires; above zero [V]
    phases: 3, or 1
    Result: the rated current of a phase [A]
    Formula: I = S / (n · U₀)
    Valid: windings rated alike; some generators carry a single phase better than a third, their sheet says so
    Raises: ValueError when the voltage is not above zero
    Source: apparent power of three phases, by definition
    Example: generator_phase_current(21000, 230) = 30.4
    """
    return circuit_current(prime_va / phases, voltage_v)


@formula
def generator_average(prime_w: Watt, share: Part = 0.7) -> Watt:
    """Compute the average load that a generator of a prime rating may carry.

    prime_w: prime power [W]
    share: of it that the average over 24 h may be
    Result: the average load allowed [W]
    Formula: P_avg = 0.7 · P_prime
    Valid: prime power of a varying load, averaged over 24 h
    Raises: nothing within the ranges
    Source: ISO 8528-1, a reproduction
    Example: generator_average(48000) = 33600
    """
    return share * prime_w


@formula
def generator_size(
    power_w: Watt, apparent_va: VoltAmpere, power_factor: PowerFactor = 0.8, share: Part = 0.7
) -> VoltAmpere:
    """Choose the prime rating that a generator must have for a load, by its watts and by its VA.

    power_w: average load [W]
    apparent_va: the same load [VA]
    power_factor: that the generator is rated at, above zero
    share: of its prime power that the average may be, above zero
    Result: the prime rating [VA]
    Formula: S = max(P / cos φ, S_load) / 0.7
    Valid: load spread over the phases; the surge of switching on is looked at apart
    Raises: ValueError when power factor or share is not above zero
    Source: ISO 8528-1, a reproduction; power factor, by definition
    Example: generator_size(12000, 13000) = 21429
    """
    if not share > 0.0:
        raise not_above_zero("a share", share)
    return max(va_of_watts(power_w, power_factor), apparent_va) / share
