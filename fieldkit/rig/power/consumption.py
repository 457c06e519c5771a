"""What each amplifier, processor and self-powered box takes from the mains under the programme of its zones.

How it flows: the rated output of each amplifier output into its load → the part of it that each box calls for
(duty: one for all sections of a box) → watts from the mains, VA, amperes, heat.

Where the sections of a box are fed apart, each carries a share of the programme's spectrum, and together they may
take much less than the duty of each by itself. Which of the two a show comes to depends on how the sections are
levelled, so supplies are sized by the larger, and both are said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

import msgspec

from fieldkit.formulas import consumption, mains, ohms_law, programme
from fieldkit.formulas.figures import Apply, given
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker, Section, SectionName
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import About, Box, RackUnit, Supply, Zone
from fieldkit.units import Measure

DUTY = 1.0 / 8.0
"""Normal operation of an amplifier in IEC 62368-1 and IEC 60065: an eighth of its unclipped power.

Amplifiers are tested so; that a show plays so is common practice, no source. A show or a zone says otherwise."""
SUB_DUTY = 1.0 / 3.0
"""Compressed bass has 3 to 10 dB of crest (published measurements), so an eighth is not enough; that it be a third is
common practice, no source. A show or a zone says otherwise."""

ASSUMED_IDLE_W = 15.0
"""Of each channel, where a model does not say: common practice, no source, as the next three."""
ASSUMED_PROCESSOR_W = 20.0
ASSUMED_EFFICIENCY = 0.65
ASSUMED_POWER_FACTOR = 0.7
CORRECTED = 0.9
"""From this power factor on a supply is taken to shape its current: a guess, as the next two, for models that do not
say their third harmonic (common practice, no source)."""
THIRD_CORRECTED, THIRD_PULSES = 0.1, 3.0**-0.5
"""Third harmonic over line current: 10 % where corrected (common practice, no source); else the most that balanced
pulses can have, 1/√3, since they give √3 on the neutral."""

Kind = Literal["processor", "amplifier", "self-powered box"]


class Draw(msgspec.Struct, frozen=True, gc=False):
    """What one unit or self-powered box takes."""

    id: str
    kind: Kind
    model: str
    supply: str | None
    phase: int | None
    rack: str | None
    rated_w: float
    """Output of all its channels at their limit, into their loads."""
    output_w: float
    """Average output at the duty of its zones."""
    power_w: float
    shares_power_w: float
    """The same if sections that are fed apart take their shares of the programme only; never more."""
    idle_w: float
    heat_w: float
    apparent_va: float
    current_a: float | None
    """At the volts of its supply; None without one."""
    idle_a: float | None
    third_share: float
    """Third harmonic over its mains current, at most 1."""
    third_guessed: bool
    """True where the model does not say it, and the power factor had to."""
    leakage_a: float | None
    inrush_a: float | None
    assumed: tuple[str, ...]
    """What the model does not say and was assumed."""


class Parts(msgspec.Struct, frozen=True):
    """What draws are worked out from, and how."""

    about: About
    zones: Mapping[str, Zone]
    supplies: Mapping[str, Supply]
    apply: Apply
    trace: bool = False


def duty_of(sections: Iterable[Section], zone: Zone, about: About) -> tuple[float, str]:
    """Find the duty of a box with these sections, and where it is from: the zone, else the show, else common practice.

    All sections of a box have one: where a sub is among others, the larger of the two that they call for.
    """
    if zone.duty is not None:
        return zone.duty.share, f"zone {zone.id}, duty '{zone.duty}'"
    return max(_duty_of_kind(section.section, about) for section in sections)


def _duty_of_kind(section: SectionName, about: About) -> tuple[float, str]:
    if section == "sub":
        if about.sub_duty is not None:
            return about.sub_duty.share, f"show, sub_duty '{about.sub_duty}'"
        return SUB_DUTY, "1/3 for subs, common practice, no source; show or zone says otherwise"
    if about.duty is not None:
        return about.duty.share, f"show, duty '{about.duty}'"
    return DUTY, "1/8, normal operation in IEC 62368-1; show or zone says otherwise"


def crossover_of(load: Load) -> tuple[float | None, float | None]:
    """Find the frequencies between which a section of a bi-amped box plays; None where nothing divides it there.

    Of a box whose sections are fed together, and of a sub, neither: its programme is all its own.
    """
    if load.drive != "bi-amp" or load.section.section in {"sub", "full"}:
        return None, None
    order = ("low", "mid", "high")
    names = {section.section for section in load.speaker.sections_in(load.drive)}
    ways = [name for name in order if name in names]
    place = ways.index(load.section.section)
    preset = load.choice.preset
    low = high = None
    if place > 0:
        low = (preset.high_pass if preset else None) or load.section.low
    if place < len(ways) - 1:
        high = (preset.low_pass if preset else None) or load.section.high
    return (low.value if low else None), (high.value if high else None)


def programme_share(load: Load, parts: Parts) -> float:
    """Compute the part of the programme that a section carries."""
    low, high = crossover_of(load)
    where = f"box {load.box.id}, preset {load.choice.id or 'none'}"
    if parts.trace:
        low = given(low, "crossover", "Hz", where) if low is not None else None
        high = given(high, "crossover", "Hz", where) if high is not None else None
    if low is not None and high is not None:
        return parts.apply(programme.programme_share_between, min(low, high), max(low, high))
    if low is not None:
        return parts.apply(programme.programme_share_above, low)
    if high is not None:
        return parts.apply(programme.programme_share_below, high)
    return given(1.0, "share of the programme", "", "all of it") if parts.trace else 1.0


class OutputPower(NamedTuple):
    """What an amplifier output puts into its load [W]."""

    rated_w: float
    average_w: float
    shares_w: float
    """The average if each section takes its share of the programme only."""


def output_powers(output: SolvedOutput, parts: Parts) -> OutputPower:
    """Compute the rated and the average output of an amplifier output into its load [W]."""
    if output.load_ohm is None:
        return OutputPower(0.0, 0.0, 0.0)
    volts, load_ohm = output.can_give_v, output.load_ohm
    if parts.trace:
        volts = given(volts, "volts that the output can give", "V", f"output {output.output.id}")
        load_ohm = given(load_ohm, "load", "ohm", f"output {output.output.id}")
    rated_w = parts.apply(ohms_law.power_from_voltage, volts, load_ohm)
    boxes = [box for line in output.lines for box in line.boxes]
    total_w = sum(float(box.full_w) for box in boxes)
    average_w = shares_w = 0.0
    for box in boxes:
        sections = box.load.speaker.sections_in(box.load.drive)
        duty, where = duty_of(sections, parts.zones[box.load.box.zone], parts.about)
        part = float(box.full_w) / total_w if total_w > 0.0 else 0.0
        if parts.trace:
            duty = given(duty, "duty", "", where)
            part = given(part, "part of the output", "", f"box {box.load.box.id} of {len(boxes)} on the output")
        share = programme_share(box.load, parts)
        average_w = average_w + parts.apply(consumption.amplifier_output, rated_w * part, duty)
        shares_w = shares_w + parts.apply(consumption.amplifier_output, rated_w * part, duty, 1.0, share)
    return OutputPower(rated_w, average_w, shares_w)


def amplifier_draw(unit: RackUnit, model: Amplifier, outputs: Sequence[SolvedOutput], parts: Parts) -> Draw:
    """Work out what an amplifier takes."""
    known = _Known(f"model {model.id}", parts)
    powers = [output_powers(output, parts) for output in outputs]
    rated_w, output_w, shares_w = (sum(column) for column in zip(*powers, strict=True)) if powers else (0.0, 0.0, 0.0)
    idle_w = known("idle power", model.idle_power, ASSUMED_IDLE_W * model.channels)
    efficiency = known("efficiency", model.efficiency, ASSUMED_EFFICIENCY)
    factor = known("power factor", model.power_factor, ASSUMED_POWER_FACTOR)

    def taken_w(average_w: float) -> float:
        there = efficiency
        if model.linear and average_w > 0.0:
            there = parts.apply(consumption.linear_efficiency, efficiency, min(average_w / rated_w, 1.0))
        return _power_w(average_w, idle_w, there, parts)

    taken = TakenPower(rated_w, output_w, idle_w, taken_w(output_w), taken_w(shares_w), factor)
    return _draw(unit, model, taken, known)


def processor_draw(unit: RackUnit, model: Processor, parts: Parts) -> Draw:
    """Work out what a processor takes."""
    known = _Known(f"model {model.id}", parts)
    idle_w = known("idle power", model.idle_power, ASSUMED_PROCESSOR_W)
    factor = known("power factor", model.power_factor, ASSUMED_POWER_FACTOR)
    return _draw(unit, model, TakenPower(0.0, 0.0, idle_w, idle_w, idle_w, factor), known)


def box_draw(box: Box, model: Loudspeaker, parts: Parts) -> Draw:
    """Work out what a self-powered box takes."""
    known = _Known(f"model {model.id}", parts)
    sections = model.sections_in("self-powered")
    rated_w = output_w = 0.0
    duty, where = duty_of(sections, parts.zones[box.zone], parts.about)
    if parts.trace:
        duty = given(duty, "duty", "", where)
    for section in sections:
        watts = section.continuous.value if section.continuous else 0.0
        if parts.trace:
            watts = given(watts, "continuous rating", "W", f"model {model.id}, {section.section}")
        rated_w = rated_w + watts
        output_w = output_w + parts.apply(consumption.amplifier_output, watts, duty)
    if not any(section.continuous for section in sections):
        known.assumed.append("output")
    idle_w = known("idle power", model.idle_power, ASSUMED_IDLE_W * max(len(sections), 1))
    efficiency = known("efficiency", model.efficiency, ASSUMED_EFFICIENCY)
    factor = known("power factor", model.power_factor, ASSUMED_POWER_FACTOR)
    power_w = _power_w(output_w, idle_w, efficiency, parts)
    return _draw(box, model, TakenPower(rated_w, output_w, idle_w, power_w, power_w, factor), known)


class TakenPower(NamedTuple):
    """What a unit puts out and takes [W], and its power factor."""

    rated_w: float
    output_w: float
    idle_w: float
    power_w: float
    shares_power_w: float
    factor: float


def _power_w(output_w: float, idle_w: float, efficiency: float, parts: Parts) -> float:
    if output_w <= 0.0:
        return idle_w
    return parts.apply(consumption.amplifier_mains_power, output_w, idle_w, efficiency)


class _Known:
    """Takes values of a model, and notes which of them had to be assumed."""

    def __init__(self, where: str, parts: Parts) -> None:
        self.where, self.parts = where, parts
        self.assumed: list[str] = []

    def __call__(self, label: str, typed: Measure | None, assumed: float) -> float:
        """Take what the model says, else what is assumed; an efficiency or power factor under 1 % counts as unsaid."""
        said = typed is not None and (typed.value >= 0.01 or label == "idle power")
        if not said:
            self.assumed.append(label)
        value = typed.value if said and typed is not None else assumed
        if not self.parts.trace:
            return value
        unit = "W" if label == "idle power" else ""
        where = f"{self.where}, '{typed}'" if said else f"{self.where} does not say; common practice, no source"
        return given(value, label, unit, where, assumed=not said)


KINDS: dict[type, Kind] = {Amplifier: "amplifier", Processor: "processor", Loudspeaker: "self-powered box"}


def _draw(thing: RackUnit | Box, model: Amplifier | Processor | Loudspeaker, taken: TakenPower, known: _Known) -> Draw:
    rated_w, output_w, idle_w, power_w, shares_power_w, factor = taken
    apply, supply = known.parts.apply, known.parts.supplies.get(thing.supply or "")
    current_a = idle_a = None
    if supply is not None:
        volts: float = supply.volts.value
        if supply.phases == 3 and supply.across == "phases":
            volts = mains.line_to_neutral_voltage(volts)
        if known.parts.trace:
            volts = given(volts, "volts of the supply", "V", f"supply {supply.id}, '{supply.volts}'")
        current_a = apply(mains.mains_current, power_w, volts, factor)
        idle_a = apply(mains.mains_current, idle_w, volts, factor)
    return Draw(
        id=thing.id,
        kind=KINDS[type(model)],
        model=model.id,
        supply=thing.supply,
        phase=thing.phase if isinstance(thing, RackUnit) else None,
        rack=thing.rack if isinstance(thing, RackUnit) else None,
        rated_w=rated_w,
        output_w=output_w,
        power_w=power_w,
        shares_power_w=shares_power_w,
        idle_w=idle_w,
        heat_w=power_w - output_w,
        apparent_va=apply(mains.va_of_watts, power_w, factor),
        current_a=current_a,
        idle_a=idle_a,
        third_share=min(model.third_harmonic.value, 1.0) if model.third_harmonic else guessed_third(factor),
        third_guessed=model.third_harmonic is None,
        leakage_a=model.leakage.value if model.leakage else None,
        inrush_a=model.inrush.value if model.inrush else None,
        assumed=tuple(known.assumed),
    )


def guessed_third(power_factor: float) -> float:
    """Guess the third harmonic over the mains current of a model that does not say it: common practice, no source."""
    return THIRD_CORRECTED if power_factor >= CORRECTED else THIRD_PULSES


def draw_of(
    taker: RackUnit | Box,
    model: Amplifier | Processor | Loudspeaker,
    outputs: Sequence[SolvedOutput],
    parts: Parts,
) -> Draw:
    """Work out what a unit or a self-powered box takes; ``outputs`` are those of an amplifier."""
    if isinstance(taker, RackUnit) and isinstance(model, Amplifier):
        return amplifier_draw(taker, model, outputs, parts)
    if isinstance(taker, RackUnit) and isinstance(model, Processor):
        return processor_draw(taker, model, parts)
    if isinstance(taker, Box) and isinstance(model, Loudspeaker):
        return box_draw(taker, model, parts)
    raise TypeError(f"{taker.id}: expected what takes mains, got '{model.id}'")
