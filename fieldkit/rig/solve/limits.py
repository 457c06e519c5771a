"""Limiter thresholds of an output: what its boxes bear, what the amplifier gives, and the level at its input."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from fieldkit.formulas import crest, levels, limiters
from fieldkit.formulas.figures import Apply
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.lines import Load
from fieldkit.units import format_value


class Limiter(msgspec.Struct, frozen=True, gc=False):
    """Thresholds at the output's terminals, and as levels where a processor needs them.

    Not raised for cable loss, since cables get shorter; of several boxes, the one that bears least rules.
    """

    thermal_v: float
    """Slow (rms) limiter [V rms]."""
    peak_v: float
    """Fast limiter [V peak], never above the amplifier's own clip; a supply that sags under long notes is no bound."""
    holding_v: float | None
    """Where a limiter that a preset brings and that runs really holds [V rms]; None where none runs.

    One that is written above the rating holds there all the same, and a rule speaks of it.
    """
    clips_first: bool
    """True where noise of 6 dB crest clips before it averages the thermal threshold."""
    thermal_dbu: float
    """The thermal threshold at the output [dBu]."""
    input_dbu: float | None
    """The same at the amplifier's input, valid only at the present gain and knob [dBu]."""
    input_dbfs: float | None
    """The same as a level in the host [dBFS]."""
    ruled_by: str
    """The box that bears least."""
    rating: str
    """How that box's watts were rated, in words."""
    held: bool
    """True where that box's preset brings the limiter and something runs it; else it is a recommendation to set."""


class Posts(NamedTuple):
    """What is true at the posts of an output, whatever hangs on them."""

    clip_v: float
    """Where it clips [V rms]."""
    gain_db: float | None
    host: Host | None
    margin_db: float
    """Below what a box bears for long."""


def limiter_for(loads: Sequence[Load], posts: Posts, apply: Apply) -> Limiter | None:
    """Work out the thresholds of one output; None for an output without boxes."""
    clip_v, gain_db, host, margin_db = posts
    rated = [load for load in loads if load.continuous_w > 0.0]
    if not rated:
        return None
    thermal = [thermal_v(load, host, margin_db, apply) for load in rated]
    ruling = min(range(len(rated)), key=thermal.__getitem__)
    peak_v = min(*(peak_v_of(load, apply) for load in rated), apply(crest.sine_peak, clip_v))
    thermal_dbu = apply(levels.dbu_from_voltage, thermal[ruling])
    input_dbu = input_dbfs = None
    if gain_db is not None:
        input_dbu = apply(levels.input_level_for_output, thermal[ruling], gain_db)
        if host is not None and host.full_scale_dbu is not None:
            input_dbfs = apply(levels.level_below_full_scale, input_dbu, host.full_scale_dbu)
    running = [load for load in rated if holds_limiter(load, host)]
    holding = [apply(limiters.limiter_voltage, load.limiter_w or 0.0, load.rated_ohm) for load in running]
    # One preset runs at a time: where a box here has another one without a limiter, it may be that.
    holding_v = min(holding) if len(holding) == len(rated) else None
    return Limiter(
        thermal_v=thermal[ruling],
        peak_v=peak_v,
        holding_v=holding_v,
        clips_first=thermal[ruling] ** 2 > crest.clean_power(clip_v * clip_v),
        thermal_dbu=thermal_dbu,
        input_dbu=input_dbu,
        input_dbfs=input_dbfs,
        ruled_by=rated[ruling].box.id,
        rating=rated[ruling].rating_text,
        held=holding_v is not None and is_held(rated[ruling], host),
    )


CLIPS_FIRST = "the amplifier clips first; this limiter guards against clipped programme only"
"""What is said where ``Limiter.clips_first``."""


def runs_limiter(load: Load, host: Host | None) -> bool:
    """Tell whether the preset of a section brings a limiter and has a place to run. One that runs nowhere is none."""
    return load.limiter_w is not None and host is not None and host.takes(load.speaker.id)


def holds_limiter(load: Load, host: Host | None) -> bool:
    """Tell whether a preset's limiter works as soon as the preset is loaded.

    Only in the amplifier: watts say nothing to a processor ahead of it, where the threshold is a level to be set.
    """
    return runs_limiter(load, host) and host is not None and host.kind == "amplifier"


def is_held(load: Load, host: Host | None) -> bool:
    """Tell whether a limiter that runs holds a section within its continuous rating."""
    return load.limiter_w is not None and holds_limiter(load, host) and load.limiter_w <= load.continuous_w


def thermal_v(load: Load, host: Host | None, margin_db: float, apply: Apply) -> float:
    """Compute the rms volts that a section bears for long [V].

    The preset's own limiter where it has one and a host to run it, but never above the continuous rating; else the
    rating less the margin. Both go through the impedance that the section was rated at.
    """
    if load.limiter_w is not None and runs_limiter(load, host):
        return apply(limiters.limiter_voltage, min(load.limiter_w, load.continuous_w), load.rated_ohm)
    return apply(limiters.thermal_threshold, load.continuous_w, load.rated_ohm, margin_db)


def peak_v_of(load: Load, apply: Apply) -> float:
    """Compute the peak volts that a section bears [V].

    Published peak volts, else its peak rating, else the peaks of the noise that it bore for a second, else those of
    the noise that it was rated with.
    """
    if load.peak_v is not None:
        return load.peak_v
    if load.peak_w is not None:
        return apply(limiters.peak_voltage_from_peak_power, load.peak_w, load.rated_ohm)
    if load.short_w is not None:
        return apply(limiters.peak_threshold_from_continuous, load.short_w, load.impedance_ohm, load.crest)
    return apply(limiters.peak_threshold_from_continuous, load.continuous_w, load.rated_ohm, load.crest)


def limiter_basis(load: Load, host: Host | None, margin_db: float) -> str:
    """Say what the slow threshold of a section stands on, and why it keeps a margin or none."""
    through = f"through {format_value(load.rated_ohm, 'ohm')}"
    rated = f"{format_value(load.continuous_w, 'W')} {through}"
    if load.limiter_w is None or not runs_limiter(load, host):
        return f"the rating, {rated}, less {margin_db:g} dB: no preset stands behind it, and ratings are tests of hours"
    own = f"the preset's own {format_value(load.limiter_w, 'W')} {through}"
    if load.limiter_w > load.continuous_w:
        return f"{own}, above the rating of {format_value(load.continuous_w, 'W')}, which rules"
    return f"{own}, no margin: it was made for this box"
