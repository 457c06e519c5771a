"""A model of outboard processor."""

from __future__ import annotations

from fieldkit.gear.amplifier import Hosts
from fieldkit.gear.names import FreeText
from fieldkit.gear.thing import Case, Count, ModelId, Positive, Thing
from fieldkit.units import Current, Level, Mass, Power, Ratio


class Processor(Thing, frozen=True, kw_only=True):
    """A type of processor: inputs, outputs, levels, and the presets that its outputs can hold."""

    id: ModelId
    description: FreeText = ""
    inputs: Positive
    outputs: Positive
    units: Count = 1
    weight: Mass | None = None
    input_clip: Level | None = None
    balanced: bool = True
    hosts: Hosts | None = None
    idle_power: Power | None = None
    power_factor: Ratio | None = None
    third_harmonic: Ratio | None = None
    """Third harmonic of its mains current, as a share of that current: guessed from the power factor unless said."""
    leakage: Current | None = None
    case: Case | None = None
    inrush: Current | None = None
    note: FreeText = ""
