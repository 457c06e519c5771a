"""Volts, amperes, ohms and watts of a resistive load, as rms values."""

from __future__ import annotations

from math import sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Ampere, Ohm, Volt, Watt, below_zero, not_above_zero


@formula
def voltage_from_power(power_w: Watt, impedance_ohm: Ohm) -> Volt:
    """Compute the rms volts that put a power into an impedance.

    power_w: average power into the impedance [W]
    impedance_ohm: of the load, taken as a resistance [ohm]
    Result: the rms voltage [V]
    Formula: V = √(P · Z)
    Valid: a sine or any signal, with V as its rms value; resistive load
    Raises: ValueError when power or impedance is negative
    Source: Ohm's law with P = V · I, by definition
    Example: voltage_from_power(500, 8) = 63.25
    """
    square = power_w * impedance_ohm
    if not (square >= 0.0 and impedance_ohm >= 0.0):
        if not power_w >= 0.0:
            raise below_zero("a power", power_w, "W")
        raise below_zero("an impedance", impedance_ohm, "ohm")
    return sqrt(square)


@formula
def power_from_voltage(voltage_v: Volt, impedance_ohm: Ohm) -> Watt:
    """Compute the power that rms volts put into an impedance.

    voltage_v: rms volts across the impedance [V]
    impedance_ohm: of the load, taken as a resistance [ohm]
    Result: the average power [W]
    Formula: P = V² / Z
    Valid: a sine or any signal, with V as its rms value; resistive load
    Raises: ValueError when the impedance is not above zero
    Source: Ohm's law with P = V · I, by definition
    Example: power_from_voltage(2.83, 8) = 1.001
    """
    if not impedance_ohm > 0.0:
        raise not_above_zero("an impedance", impedance_ohm, "ohm")
    return voltage_v * voltage_v / impedance_ohm


@formula
def current_from_voltage(voltage_v: Volt, impedance_ohm: Ohm) -> Ampere:
    """Compute the rms current that rms volts drive through an impedance.

    voltage_v: rms volts across the impedance [V]
    impedance_ohm: of the load [ohm]
    Result: the rms current [A]
    Formula: I = V / Z
    Valid: a sine of one frequency, or any signal into a resistance
    Raises: ValueError when the impedance is not above zero
    Source: Ohm's law, by definition
    Example: current_from_voltage(60, 6) = 10.00
    """
    if not impedance_ohm > 0.0:
        raise not_above_zero("an impedance", impedance_ohm, "ohm")
    return voltage_v / impedance_ohm


@formula
def current_from_power(power_w: Watt, impedance_ohm: Ohm) -> Ampere:
    """Compute the rms current that goes with a power in an impedance.

    power_w: average power into the impedance [W]
    impedance_ohm: of the load, taken as a resistance [ohm]
    Result: the rms current [A]
    Formula: I = √(P / Z)
    Valid: a sine or any signal, with I as its rms value; resistive load
    Raises: ValueError when the impedance is not above zero or the power negative
    Source: Ohm's law with P = V · I, by definition
    Example: current_from_power(600, 6) = 10.00
    """
    if not impedance_ohm > 0.0:
        raise not_above_zero("an impedance", impedance_ohm, "ohm")
    if not power_w >= 0.0:
        raise below_zero("a power", power_w, "W")
    return sqrt(power_w / impedance_ohm)


@formula
def impedance_from_power(voltage_v: Volt, power_w: Watt) -> Ohm:
    """Find the impedance that takes a power at rms volts: which load a rating in volts and watts means.

    voltage_v: rms volts across the impedance [V]
    power_w: average power into it [W]
    Result: the impedance [ohm]
    Formula: Z = V² / P
    Valid: resistive load
    Raises: ValueError when the power is not above zero
    Source: Ohm's law with P = V · I, by definition
    Example: impedance_from_power(60, 600) = 6.00
    """
    if not power_w > 0.0:
        raise not_above_zero("a power", power_w, "W")
    return voltage_v * voltage_v / power_w


@formula
def impedance_from_current(voltage_v: Volt, current_a: Ampere) -> Ohm:
    """Find the impedance that lets a current through at rms volts.

    voltage_v: rms volts across the impedance [V]
    current_a: rms current through it [A]
    Result: the impedance [ohm]
    Formula: Z = V / I
    Valid: a sine of one frequency, or any signal into a resistance
    Raises: ValueError when the current is not above zero
    Source: Ohm's law, by definition
    Example: impedance_from_current(60, 10) = 6.00
    """
    if not current_a > 0.0:
        raise not_above_zero("a current", current_a, "A")
    return voltage_v / current_a


@formula
def voltage_from_current(current_a: Ampere, impedance_ohm: Ohm) -> Volt:
    """Compute the rms volts that a current drops across an impedance.

    current_a: rms current [A]
    impedance_ohm: of the load or the cable [ohm]
    Result: the rms voltage [V]
    Formula: V = I · Z
    Valid: a sine of one frequency, or any signal into a resistance
    Raises: nothing within the ranges
    Source: Ohm's law, by definition
    Example: voltage_from_current(10, 6) = 60.0
    """
    return current_a * impedance_ohm


@formula
def power_from_current(current_a: Ampere, resistance_ohm: Ohm) -> Watt:
    """Compute the power that a current turns into heat in a resistance, such as a cable.

    current_a: rms current [A]
    resistance_ohm: what it flows through [ohm]
    Result: the average power [W]
    Formula: P = I² · R
    Valid: any signal, with I as its rms value
    Raises: nothing within the ranges
    Source: Ohm's law with P = V · I, by definition
    Example: power_from_current(10, 6) = 600
    """
    return current_a * current_a * resistance_ohm


@formula
def power_from_voltage_and_current(voltage_v: Volt, current_a: Ampere) -> Watt:
    """Compute the power of rms volts and amperes in step with each other.

    voltage_v: rms volts [V]
    current_a: rms current [A]
    Result: the average power [W]
    Formula: P = V · I
    Valid: resistive load; with a phase angle between them it is the apparent power
    Raises: nothing within the ranges
    Source: by definition
    Example: power_from_voltage_and_current(60, 10) = 600
    """
    return voltage_v * current_a
