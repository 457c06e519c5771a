"""Damping factor: how firmly an amplifier, through its cable, holds a loudspeaker."""

from __future__ import annotations

from fieldkit.formulas.declaration import formula
from fieldkit.formulas.quantities import Ohm, Quality, Ratio, below_zero, not_above_zero


@formula
def damping_factor(load_ohm: Ohm, output_ohm: Ohm, cable_ohm: Ohm) -> Ratio:
    """Compute the damping factor at the box.

    load_ohm: of the box [ohm]
    output_ohm: the amplifier's output resistance [ohm]
    cable_ohm: of the cable to it, out and back [ohm]
    Result: the damping factor
    Formula: D = Z / (R_out + R)
    Valid: low frequencies
    Raises: ValueError when output and cable resistance are zero together
    Source: by definition
    Example: damping_factor(4, 0.008, 0.0964) = 38.3
    """
    source_ohm = output_ohm + cable_ohm
    if not source_ohm > 0.0:
        raise not_above_zero("an output and cable resistance", source_ohm, "ohm")
    return load_ohm / source_ohm


@formula
def output_resistance(load_ohm: Ohm, factor: Ratio) -> Ohm:
    """Convert an amplifier's published damping factor to its output resistance.

    load_ohm: that the damping factor was given for [ohm]
    factor: the damping factor at the amplifier's posts, above zero
    Result: the output resistance [ohm]
    Formula: R_out = Z / D
    Valid: low frequencies, at the load and frequency that the factor was published for
    Raises: ValueError when the factor is not above zero
    Source: by definition
    Example: output_resistance(8, 400) = 0.02
    """
    if not factor > 0.0:
        raise not_above_zero("a damping factor", factor)
    return load_ohm / factor


@formula
def electrical_q_with_cable(qes: Quality, coil_ohm: Ohm, source_ohm: Ohm) -> Quality:
    """Compute how output and cable resistance raise a driver's electrical Q.

    qes: the driver's electrical Q on a source without resistance
    coil_ohm: the coil's resistance, above zero [ohm]
    source_ohm: output and cable resistance together [ohm]
    Result: the electrical Q as wired
    Formula: Qes' = Qes · (Re + R) / Re
    Valid: around the driver's resonance
    Raises: ValueError when the coil's resistance is not above zero or the source's is below zero
    Source: R. H. Small, Direct-Radiator Loudspeaker System Analysis, JAES 20(5), 1972 (not checked against print)
    Example: electrical_q_with_cable(0.4, 5.5, 0.55) = 0.44
    """
    if not coil_ohm > 0.0:
        raise not_above_zero("a coil resistance", coil_ohm, "ohm")
    if not source_ohm >= 0.0:
        raise below_zero("a source resistance", source_ohm, "ohm")
    return qes * (coil_ohm + source_ohm) / coil_ohm
