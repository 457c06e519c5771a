"""How many boxes of a group fit on an output, and how well: the limits are those that the checks go by."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.checks.loads import CHANNEL_SHARE, TOLERANCE
from fieldkit.checks.powers import DANGEROUS, WEAK
from fieldkit.formulas import levels, limiters, loads, ohms_law, outputs
from fieldkit.formulas.figures import direct
from fieldkit.gear.amplifier import Amplifier
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import Mode, Output, can_give_v
from fieldkit.show.document import RackUnit

MOST_BOXES = 12
"""Boxes on one output, however light a load they are: more connectors in a row than anybody trusts."""


CLEARLY_LESS = 0.8
"""1 dB under the continuous rating: more than that is worth another channel. Our own choice."""


class Fit(msgspec.Struct, frozen=True, gc=False):
    """What it means to put so many boxes on outputs of one kind."""

    is_weak: bool
    """A section gets less than half of its continuous rating (3 dB short), which the checks remark on."""
    is_short: bool
    """A section gets clearly less than its continuous rating."""
    under_preferred: int
    """Outputs whose load is under the preferred one."""
    needs_host: bool
    """Without a place for its presets it must not be driven: bi-amp, or power that burns it."""
    is_hosted: bool
    """The amplifier itself runs the presets."""
    held_a: float = 0.0
    """What the worst pin pair carries at the limiter's threshold, or at full output where that is less."""
    full_a: float = 0.0
    """What it carries at full output."""


class Limits(msgspec.Struct, frozen=True, gc=False):
    """What the show asks of every output."""

    preferred_ohm: float
    loss_db: float
    """Taken off the power, since the cable takes it."""
    margin_db: float = 0.0
    """Of a limiter below the rating, where no preset brings one."""


def fit(
    pairs: Sequence[tuple[Sequence[Load], Amplifier, Mode]], count: int, limits: Limits, lead_ohm: float = 0.0
) -> Fit | None:
    """Judge ``count`` boxes in parallel, each pin pair on an output of its own; None where a load is under its minimum.

    pairs: for each pin pair the sections of one box on it, the amplifier that feeds it, and its mode
    lead_ohm: loop of the lead to them, which holds the current down [ohm]
    """
    weak = short = burns = False
    low = 0
    held_a = full_a = 0.0
    for sections, model, mode in pairs:
        load_ohm = loads.parallel(*(load.judged_ohm for load in sections for _ in range(count)))
        output = _output(model, mode)
        if count > MOST_BOXES or load_ohm < output.minimum_ohm * TOLERANCE:
            return None
        if load_ohm * CHANNEL_SHARE[mode] < limits.preferred_ohm * TOLERANCE:
            low += 1
        alone_v = can_give_v(output, load_ohm, direct)
        shared_v = alone_v * _supply_scale(model, mode, alone_v, load_ohm) / levels.voltage_ratio(limits.loss_db)
        rated = [load for load in sections if load.continuous_w > 0.0]
        thermal_v = min((threshold_v(load, limits.margin_db) for load in rated), default=alone_v)
        around_ohm = lead_ohm + loads.parallel(*(load.impedance_ohm for load in sections for _ in range(count)))
        full_a, held_a = max(full_a, alone_v / around_ohm), max(held_a, min(alone_v, thermal_v) / around_ohm)
        for load in rated:
            given = ohms_law.power_from_voltage(shared_v, load.rated_ohm) / load.continuous_w
            most = ohms_law.power_from_voltage(alone_v, load.rated_ohm) / load.continuous_w
            weak, short, burns = weak or given < WEAK, short or given < CLEARLY_LESS, burns or most > DANGEROUS
    everything = [load for sections, _, _ in pairs for load in sections]
    return Fit(
        is_weak=weak,
        is_short=short,
        under_preferred=low,
        needs_host=burns or any(load.drive == "bi-amp" for load in everything),
        is_hosted=all(
            model.hosts is not None and model.hosts.takes(load.speaker.id)
            for sections, model, _ in pairs
            for load in sections
        ),
        held_a=held_a,
        full_a=full_a,
    )


def threshold_v(load: Load, margin_db: float) -> float:
    """Compute where a limiter holds a section that has a place for its preset [V rms]."""
    if load.limiter_w is not None:
        return ohms_law.voltage_from_power(min(load.limiter_w, load.continuous_w), load.rated_ohm)
    return limiters.thermal_threshold(load.continuous_w, load.rated_ohm, margin_db)


def _output(model: Amplifier, mode: Mode) -> Output:
    unit = RackUnit(id="-", model=model.id)
    return Output("-", unit, model, (1,) if mode == "single" else (1, 2), mode)


def _supply_scale(model: Amplifier, mode: Mode, volts: float, load_ohm: float) -> float:
    """Compute the share of the volts that a common supply leaves when all outputs have this load."""
    if model.supply_limit is None:
        return 1.0
    number = model.channels if mode == "single" else model.channels // 2
    demand_w = number * ohms_law.power_from_voltage(volts, load_ohm)
    return outputs.shared_supply_scale(demand_w, model.supply_limit.value)
