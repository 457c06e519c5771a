"""The impedance of a section: rated, at direct current, and at any frequency, as far as its model tells."""

from __future__ import annotations

from math import inf

from fieldkit.formulas.impedance import dc_resistance_estimate, motional_resistance, section_impedance
from fieldkit.gear.loudspeaker import Section
from fieldkit.rig.connect.lines import Load


def is_known(section: Section) -> bool:
    """Tell whether the model says enough to predict an impedance above direct current."""
    return section.dc_resistance is not None and section.inductance is not None


def at_frequency(load: Load, frequency_hz: float) -> complex:
    """Compute the complex impedance of a section [ohm]; the rated one where the model knows no more.

    The frequency is in Hz, above zero. The resonance counts where its peak and mechanical Q are both known.
    """
    return section_at(load.section, load.impedance_ohm, frequency_hz)


def section_at(section: Section, rated_ohm: float, frequency_hz: float) -> complex:
    """The same for a section that is on no line, by its rated impedance [ohm]."""
    if section.dc_resistance is None or section.inductance is None:
        return complex(rated_ohm)
    resistance = section.dc_resistance.value
    peak, quality = section.resonance_peak, section.mechanical_q
    moving = section.resonance is not None and peak is not None and quality is not None
    return section_impedance(
        frequency_hz,
        resistance,
        inductance_h=section.inductance.value,
        resonance_hz=section.resonance.value if section.resonance and moving else 0.0,
        qms=quality if quality and moving else 0.0,
        motional_ohm=motional_resistance(resistance, peak.value) if peak and moving else 0.0,
        capacitance_f=section.series_capacitor.value if section.series_capacitor else 0.0,
    )


def at_dc(load: Load) -> float:
    """Find what a DC meter sees of a section [ohm]: infinite behind a capacitor, estimated where unknown."""
    section = load.section
    if section.series_capacitor is not None:
        return inf
    if section.dc_resistance is not None:
        return section.dc_resistance.value
    return dc_resistance_estimate(load.impedance_ohm)
