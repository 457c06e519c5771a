"""A model of loudspeaker: its drives, sections, ratings and presets."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from fieldkit.formulas.ratings import Standard
from fieldkit.gear.names import FreeText, Word
from fieldkit.gear.thing import Case, ModelId, Positive, Quality, Thing
from fieldkit.units import (
    Angle,
    Capacitance,
    Current,
    Duration,
    Frequency,
    Gain,
    Impedance,
    Inductance,
    Mass,
    Power,
    Ratio,
    Resistance,
    SoundLevel,
    Voltage,
)

Drive = Literal["passive", "bi-amp", "self-powered"]
SectionName = Literal["full", "low", "mid", "high", "sub"]
FRAGILE: frozenset[SectionName] = frozenset({"high", "mid"})
"""Sections that the band below them destroys."""
Use = Literal["full range", "with sub", "wedge", "wedge with sub", "any"]
USES: tuple[Use, ...] = ("full range", "with sub", "wedge", "wedge with sub")
"""The uses that a box can be put to; ``any`` is what a preset may say of all of them."""
FilterType = Literal["butterworth", "linkwitz-riley", "bessel", "other"]
Slope = Annotated[int, msgspec.Meta(ge=6, le=96, multiple_of=6)]
"""Of a filter, beyond its corner [dB per octave]."""


class Preset(Thing, frozen=True, kw_only=True):
    """The processing meant for a section: what it is for, and what a check needs to know of it."""

    id: ModelId
    uses: tuple[Use, ...] = ("any",)
    """Several are ordinary: the high section's preset is often the same with and without a sub."""
    high_pass: Frequency | None = None
    high_pass_type: FilterType | None = None
    high_pass_slope: Slope | None = None
    low_pass: Frequency | None = None
    low_pass_type: FilterType | None = None
    low_pass_slope: Slope | None = None
    gain: Gain | None = None
    delay: Duration | None = None
    polarity: Literal["normal", "inverted"] = "normal"
    limiter: Power | None = None
    """Continuous power that the preset's own limiter holds, through the impedance the section was rated at."""
    attack: Duration | None = None
    """Of the peak limiter; one period of the high-pass unless given."""
    release: Duration | None = None
    slow_attack: Duration | None = None
    """Of the slow (thermal) limiter; by the kind of voice coil unless given."""
    slow_release: Duration | None = None
    note: FreeText = ""


class Section(Thing, frozen=True, kw_only=True):
    """One way of a box that has a pin pair of its own in a drive."""

    drive: Drive
    section: SectionName
    pair: Positive = 1
    impedance: Impedance | None = None
    """Rated impedance. None only for a self-powered box."""
    rated_at: Impedance | None = None
    """The impedance through which the power was rated, where it is another one."""
    minimum: Impedance | None = None
    dc_resistance: Resistance | None = None
    inductance: Inductance | None = None
    resonance: Frequency | None = None
    resonance_peak: Impedance | None = None
    mechanical_q: Quality | None = None
    """Q of the resonance without the amplifier's brake (Qms)."""
    series_capacitor: Capacitance | None = None
    continuous: Power | None = None
    peak: Power | None = None
    """V_peak² / Z, as loudspeaker peak ratings are."""
    peak_volts: Voltage | None = None
    short_term: Power | None = None
    """IEC short-term maximum input: noise that it bears for one second, through the rated impedance.

    Not checked against print."""
    long_term: Power | None = None
    """IEC long-term maximum input: the same for one minute. Neither is a continuous rating."""
    rating: Standard = "unknown"
    """By which standard: it decides through which impedance watts become volts, and how far the noise peaked."""
    sensitivity: SoundLevel | None = None
    low: Frequency | None = None
    high: Frequency | None = None
    vented: bool = False
    """A vented sub moves without bound below its tuning: it needs its high-pass."""
    presets: tuple[ModelId, ...] = ()


class Loudspeaker(Thing, frozen=True, kw_only=True):
    """A type of box."""

    id: ModelId
    description: FreeText = ""
    weight: Mass | None = None
    connector: Word = "4-pole"
    connectors: Positive = 2
    """How many connectors in parallel; one means that it cannot be linked onward."""
    switch: bool = True
    """Whether a switch on the box selects the drive, where it has more than one."""
    horizontal: Angle | None = None
    vertical: Angle | None = None
    assumed: bool = False
    """No data sheet: every figure that rests on this model says so."""
    sections: tuple[Section, ...]
    presets: tuple[Preset, ...] = ()
    case: Case | None = None
    idle_power: Power | None = None
    """Of a self-powered box, as the next five: taken from the mains with no signal."""
    efficiency: Ratio | None = None
    power_factor: Ratio | None = None
    third_harmonic: Ratio | None = None
    """Third harmonic of its mains current, as a share of that current: guessed from the power factor unless said."""
    leakage: Current | None = None
    inrush: Current | None = None
    note: FreeText = ""

    def drives(self) -> tuple[Drive, ...]:
        """List the drives that this model has, in the order of its sections."""
        return tuple(dict.fromkeys(section.drive for section in self.sections))

    def sections_in(self, drive: Drive) -> tuple[Section, ...]:
        """List the sections that are fed in a drive."""
        return tuple(section for section in self.sections if section.drive == drive)

    def preset(self, name: str) -> Preset | None:
        """Find a preset of this model by its id."""
        return next((preset for preset in self.presets if preset.id == name), None)


def unknown_box(impedance: Impedance, continuous: Power) -> Loudspeaker:
    """Describe a box that nobody has a data sheet for, by ohms and watts: passive, full range, on pair 1."""
    section = Section(drive="passive", section="full", impedance=impedance, continuous=continuous)
    return Loudspeaker(id="unknown", description="no data sheet", assumed=True, sections=(section,))
