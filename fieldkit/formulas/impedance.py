"""A loudspeaker's impedance: its coil, its resonance, its protection capacitor, and what "8 ohm" promises."""

from __future__ import annotations

from math import hypot, inf, pi

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Farad, Henry, Hertz, Ohm, Quality, below_zero, not_above_zero

MINIMUM_SHARE = 0.8
"""Of the rated impedance, anywhere in the rated band (IEC 60268-5:2003 16.1)."""
DC_SHARE = 0.75
"""Direct-current resistance over rated impedance; 0.7 to 0.85 (common practice, no source)."""


@formula
def inductor_reactance(inductance_h: Henry, frequency_hz: Hertz) -> Ohm:
    """Compute the reactance of a coil.

    inductance_h: of the coil [H]
    frequency_hz: of the signal [Hz]
    Result: the reactance [ohm]
    Formula: X = 2 · π · f · L
    Valid: a coil without losses
    Raises: nothing within the ranges
    Source: by definition
    Example: inductor_reactance(0.0005, 1000) = 3.142
    """
    return 2.0 * pi * frequency_hz * inductance_h


@formula
def capacitor_reactance(capacitance_f: Farad, frequency_hz: Hertz) -> Ohm:
    """Compute the reactance of a capacitor.

    capacitance_f: of the capacitor, above zero [F]
    frequency_hz: of the signal, above zero [Hz]
    Result: the reactance, as a magnitude [ohm]
    Formula: X = 1 / (2 · π · f · C)
    Valid: a capacitor without losses; open for direct current
    Raises: ValueError when capacitance or frequency is not above zero
    Source: by definition
    Example: capacitor_reactance(0.00001, 1000) = 15.92
    """
    if not capacitance_f > 0.0:
        raise not_above_zero("a capacitance", capacitance_f, "F")
    if not frequency_hz > 0.0:
        raise not_above_zero("a frequency", frequency_hz, "Hz")
    return 1.0 / (2.0 * pi * frequency_hz * capacitance_f)


@formula
def coil_impedance(resistance_ohm: Ohm, inductance_h: Henry, frequency_hz: Hertz) -> Ohm:
    """Compute the impedance of a voice coil above resonance, as a magnitude.

    resistance_ohm: of the coil for direct current [ohm]
    inductance_h: of the coil [H]
    frequency_hz: of the signal; 0 for direct current [Hz]
    Result: the impedance [ohm]
    Formula: Z = √(Re² + (2 · π · f · Le)²)
    Valid: well above resonance; a real coil rises more slowly than its Le at high frequencies
    Raises: nothing within the ranges
    Source: by definition
    Example: coil_impedance(5.6, 0.0005, 1000) = 6.42
    """
    return hypot(resistance_ohm, 2.0 * pi * frequency_hz * inductance_h)


@formula
def impedance_at_resonance(resistance_ohm: Ohm, qms: Quality, qes: Quality) -> Ohm:
    """Compute the peak of a driver's impedance at its resonance.

    resistance_ohm: of the coil for direct current [ohm]
    qms: mechanical Q
    qes: electrical Q, above zero
    Result: the impedance at resonance [ohm]
    Formula: Z = Re · (1 + Qms / Qes)
    Valid: one driver in free air or a closed box; coil inductance left out
    Raises: ValueError when the electrical Q is not above zero
    Source: R. H. Small, Direct-Radiator Loudspeaker System Analysis, JAES 20(5), 1972 (not checked against print)
    Example: impedance_at_resonance(5.5, 5, 0.4) = 74.25
    """
    if not qes > 0.0:
        raise not_above_zero("an electrical Q", qes)
    return resistance_ohm * (1.0 + qms / qes)


@formula
def motional_resistance(resistance_ohm: Ohm, peak_ohm: Ohm) -> Ohm:
    """Find how much a driver's motion adds to its impedance at resonance.

    resistance_ohm: of the coil for direct current [ohm]
    peak_ohm: impedance at resonance, not below the coil's resistance [ohm]
    Result: the motional resistance [ohm]
    Formula: Res = Z_peak − Re
    Valid: coil inductance left out
    Raises: ValueError when the peak is below the coil's resistance
    Source: R. H. Small, Direct-Radiator Loudspeaker System Analysis, JAES 20(5), 1972 (not checked against print)
    Example: motional_resistance(5.5, 74.25) = 68.75
    """
    if not peak_ohm >= resistance_ohm:
        raise ValueError(f"expected a peak of at least the coil's {resistance_ohm:g} ohm, got {peak_ohm:g} ohm")
    return peak_ohm - resistance_ohm


@formula
def total_q(qms: Quality, qes: Quality) -> Quality:
    """Combine a driver's mechanical and electrical Q to its total Q.

    qms: mechanical Q, above zero
    qes: electrical Q, above zero
    Result: the total Q
    Formula: Qts = Qms · Qes / (Qms + Qes)
    Valid: on a source without resistance
    Raises: ValueError when a Q is not above zero
    Source: R. H. Small, Direct-Radiator Loudspeaker System Analysis, JAES 20(5), 1972 (not checked against print)
    Example: total_q(5, 0.4) = 0.370
    """
    if not qms > 0.0:
        raise not_above_zero("a mechanical Q", qms)
    if not qes > 0.0:
        raise not_above_zero("an electrical Q", qes)
    return qms * qes / (qms + qes)


@formula
def minimum_rated_impedance(rated_ohm: Ohm) -> Ohm:
    """Find the lowest impedance that a loudspeaker with a rated impedance may have in its rated band.

    rated_ohm: rated impedance [ohm]
    Result: the lowest impedance allowed [ohm]
    Formula: Z_min = 0.8 · Z
    Valid: within the rated frequency range
    Raises: nothing within the ranges
    Source: IEC 60268-5:2003 clause 16.1
    Example: minimum_rated_impedance(8) = 6.40
    """
    return MINIMUM_SHARE * rated_ohm


@formula
def judged_impedance(rated_ohm: Ohm, minimum_ohm: Ohm) -> Ohm:
    """Find the rated impedance that a section deserves, from the lowest modulus that its sheet admits.

    rated_ohm: rated impedance on the sheet [ohm]
    minimum_ohm: lowest modulus within the rated band [ohm]
    Result: the rated impedance where the modulus holds 80 % of it, else the one of which the modulus is 80 % [ohm]
    Formula: Z = min(Z_rated, Z_min / 0.8)
    Valid: wherever loads are held against an amplifier's rated loads
    Raises: nothing within the ranges
    Source: IEC 60268-5:2003 16.1, turned round
    Example: judged_impedance(8, 4.8) = 6.00
    """
    return min(rated_ohm, minimum_ohm / MINIMUM_SHARE)


@formula
def dc_resistance_estimate(impedance_ohm: Ohm) -> Ohm:
    """Estimate the direct-current resistance of a driver from its rated impedance.

    impedance_ohm: rated impedance [ohm]
    Result: the resistance that a meter should read, 0.7 to 0.85 of the rated impedance [ohm]
    Formula: Re = 0.75 · Z
    Valid: one driver without a capacitor or transformer in series
    Raises: nothing within the ranges
    Source: common practice, no source
    Example: dc_resistance_estimate(8) = 6.00
    """
    return DC_SHARE * impedance_ohm


def section_impedance(
    frequency_hz: float,
    resistance_ohm: float,
    *,
    inductance_h: float = 0.0,
    resonance_hz: float = 0.0,
    qms: float = 0.0,
    motional_ohm: float = 0.0,
    capacitance_f: float = 0.0,
) -> complex:
    """Compute the complex impedance of one section, in ohm, at a frequency from 0 Hz.

    Re + jωLe + Res / (1 + j·Qms·(f/fs − fs/f)) + 1/(jωC), after Small, JAES 20(5), 1972 (not checked against print).
    ``motional_ohm`` is Res: Re · Qms / Qes, or the peak less Re (``motional_resistance``). Zero leaves a part
    out. A section with a capacitor is open, complex(inf, 0), for direct current. Raises ValueError when
    frequency or resistance is below zero, or when a resonance lacks its Q.
    """
    if not frequency_hz >= 0.0:
        raise below_zero("a frequency", frequency_hz, "Hz")
    if not resistance_ohm >= 0.0:
        raise below_zero("a resistance", resistance_ohm, "ohm")
    if not frequency_hz:
        return complex(inf if capacitance_f else resistance_ohm, 0.0)
    omega = 2.0 * pi * frequency_hz
    reactance_ohm = omega * inductance_h
    if capacitance_f:
        reactance_ohm -= 1.0 / (omega * capacitance_f)
    total = complex(resistance_ohm, reactance_ohm)
    if resonance_hz and motional_ohm:
        if not qms > 0.0:
            raise not_above_zero("a mechanical Q", qms)
        detuning = frequency_hz / resonance_hz - resonance_hz / frequency_hz
        total += motional_ohm / complex(1.0, qms * detuning)
    return total
