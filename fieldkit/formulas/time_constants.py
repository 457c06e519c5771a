"""Time constants and corner frequencies of resistors with capacitors and coils, and decay."""

from __future__ import annotations

from math import exp, log, pi, sqrt

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import (
    Farad,
    Henry,
    Hertz,
    Joule,
    Loss,
    Ohm,
    Second,
    Volt,
    not_above_zero,
)


@formula
def rc_time_constant(resistance_ohm: Ohm, capacitance_f: Farad) -> Second:
    """Compute the time constant of a resistance and a capacitance.

    resistance_ohm: that the capacitor charges through [ohm]
    capacitance_f: of the capacitor [F]
    Result: the time constant, to 63.2 % of the way [s]
    Formula: τ = R · C
    Valid: linear parts
    Raises: nothing within the ranges
    Source: by definition
    Example: rc_time_constant(1000, 0.000001) = 0.001
    """
    return resistance_ohm * capacitance_f


@formula
def rl_time_constant(resistance_ohm: Ohm, inductance_h: Henry) -> Second:
    """Compute the time constant of a resistance and a coil.

    resistance_ohm: in series with the coil, above zero [ohm]
    inductance_h: of the coil [H]
    Result: the time constant, to 63.2 % of the way [s]
    Formula: τ = L / R
    Valid: linear parts
    Raises: ValueError when the resistance is not above zero
    Source: by definition
    Example: rl_time_constant(5, 0.0005) = 0.0001
    """
    if not resistance_ohm > 0.0:
        raise not_above_zero("a resistance", resistance_ohm, "ohm")
    return inductance_h / resistance_ohm


@formula
def rc_corner_frequency(resistance_ohm: Ohm, capacitance_f: Farad) -> Hertz:
    """Find the corner of a resistance and a capacitance, such as a driver behind its protection capacitor.

    resistance_ohm: of the load, above zero [ohm]
    capacitance_f: of the capacitor, above zero [F]
    Result: the frequency 3.01 dB down [Hz]
    Formula: f = 1 / (2 · π · R · C)
    Valid: resistive load; first order
    Raises: ValueError when resistance or capacitance is not above zero
    Source: by definition
    Example: rc_corner_frequency(8, 0.00001) = 1989
    """
    if not resistance_ohm > 0.0:
        raise not_above_zero("a resistance", resistance_ohm, "ohm")
    if not capacitance_f > 0.0:
        raise not_above_zero("a capacitance", capacitance_f, "F")
    return 1.0 / (2.0 * pi * resistance_ohm * capacitance_f)


@formula
def rl_corner_frequency(resistance_ohm: Ohm, inductance_h: Henry) -> Hertz:
    """Find the corner of a resistance and a coil.

    resistance_ohm: of the load [ohm]
    inductance_h: of the coil, above zero [H]
    Result: the frequency 3.01 dB down [Hz]
    Formula: f = R / (2 · π · L)
    Valid: resistive load; first order
    Raises: ValueError when the inductance is not above zero
    Source: by definition
    Example: rl_corner_frequency(8, 0.001) = 1273
    """
    if not inductance_h > 0.0:
        raise not_above_zero("an inductance", inductance_h, "H")
    return resistance_ohm / (2.0 * pi * inductance_h)


@formula
def lc_resonance(inductance_h: Henry, capacitance_f: Farad) -> Hertz:
    """Find the resonance of a coil and a capacitor.

    inductance_h: of the coil, above zero [H]
    capacitance_f: of the capacitor, above zero [F]
    Result: the resonance [Hz]
    Formula: f = 1 / (2 · π · √(L · C))
    Valid: small losses
    Raises: ValueError when inductance or capacitance is not above zero
    Source: by definition
    Example: lc_resonance(0.001, 0.00001) = 1592
    """
    if not inductance_h > 0.0:
        raise not_above_zero("an inductance", inductance_h, "H")
    if not capacitance_f > 0.0:
        raise not_above_zero("a capacitance", capacitance_f, "F")
    return 1.0 / (2.0 * pi * sqrt(inductance_h * capacitance_f))


@formula
def corner_from_time_constant(time_constant_s: Second) -> Hertz:
    """Convert a time constant to its corner frequency.

    time_constant_s: the time constant, above zero [s]
    Result: the frequency 3.01 dB down [Hz]
    Formula: f = 1 / (2 · π · τ)
    Valid: first order
    Raises: ValueError when the time constant is not above zero
    Source: by definition
    Example: corner_from_time_constant(0.001) = 159.2
    """
    if not time_constant_s > 0.0:
        raise not_above_zero("a time constant", time_constant_s, "s")
    return 1.0 / (2.0 * pi * time_constant_s)


@formula
def decay_voltage(voltage_v: Volt, time_s: Second, time_constant_s: Second) -> Volt:
    """Compute the volts that are left after a time of decay, such as on a supply capacitor.

    voltage_v: at the start [V]
    time_s: since then [s]
    time_constant_s: of the decay, above zero [s]
    Result: the voltage left [V]
    Formula: V = V₀ · e^(−t/τ)
    Valid: one time constant
    Raises: ValueError when the time constant is not above zero
    Source: by definition
    Example: decay_voltage(100, 1, 1) = 36.79
    """
    if not time_constant_s > 0.0:
        raise not_above_zero("a time constant", time_constant_s, "s")
    return voltage_v * exp(-time_s / time_constant_s)


@formula
def rise_voltage(voltage_v: Volt, time_s: Second, time_constant_s: Second) -> Volt:
    """Compute the volts that have been reached after a time of charging.

    voltage_v: that the charging ends at [V]
    time_s: since the start [s]
    time_constant_s: of the rise, above zero [s]
    Result: the voltage reached [V]
    Formula: V = V₀ · (1 − e^(−t/τ))
    Valid: one time constant
    Raises: ValueError when the time constant is not above zero
    Source: by definition
    Example: rise_voltage(100, 1, 1) = 63.21
    """
    if not time_constant_s > 0.0:
        raise not_above_zero("a time constant", time_constant_s, "s")
    return voltage_v * (1.0 - exp(-time_s / time_constant_s))


@formula
def discharge_time(voltage_v: Volt, final_v: Volt, time_constant_s: Second) -> Second:
    """Compute the time that volts take to fall to a safe value.

    voltage_v: at the start [V]
    final_v: at the end, above zero and at most that of the start [V]
    time_constant_s: of the decay [s]
    Result: the time [s]
    Formula: t = τ · ln(V₀ / V)
    Valid: one time constant
    Raises: ValueError when the final voltage is not above zero and within the first
    Source: by definition
    Example: discharge_time(100, 36.79, 1) = 1.000
    """
    if not 0.0 < final_v <= voltage_v:
        raise ValueError(f"expected a final voltage above 0 and up to {voltage_v:g} V, got {final_v:g} V")
    return time_constant_s * log(voltage_v / final_v)


@formula
def decay_time(loss_db: Loss, time_constant_s: Second) -> Second:
    """Compute the time that a level takes to fall by so many decibels.

    loss_db: how far it falls [dB]
    time_constant_s: of the volts' decay [s]
    Result: the time [s]
    Formula: t = τ · a · ln(10) / 20
    Valid: one time constant
    Raises: nothing within the ranges
    Source: by definition
    Example: decay_time(60, 1) = 6.908
    """
    return time_constant_s * loss_db * log(10.0) / 20.0


@formula
def stored_energy(capacitance_f: Farad, voltage_v: Volt) -> Joule:
    """Compute the energy in a charged capacitor.

    capacitance_f: of the capacitor [F]
    voltage_v: across it [V]
    Result: the energy [J]
    Formula: E = C · V² / 2
    Valid: linear parts
    Raises: nothing within the ranges
    Source: by definition
    Example: stored_energy(0.01, 100) = 50
    """
    return capacitance_f * voltage_v * voltage_v / 2.0
