"""Solve an amplifier: for each output the load and what it can give, for each box volts, watts, loss, damping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from fieldkit.formulas import cables, crest, damping, levels, ohms_law, outputs
from fieldkit.formulas.figures import Apply, direct
from fieldkit.formulas.loads import parallel, series
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.lines import Line, Load, loop_ohm
from fieldkit.rig.connect.outputs import Output, can_give_v, gain_db, source_ohm
from fieldkit.rig.solve.ladder import Rung, looking_in, node_volts
from fieldkit.rig.solve.limits import Limiter, Posts, limiter_for


class SolvedBox(msgspec.Struct, frozen=True, gc=False):
    """What one section of one box gets."""

    load: Load
    load_ohm: float
    """Of this section by itself, as rated."""
    full_v: float
    """With the amplifier at its rated limit [V rms]."""
    full_w: float
    """Sine watts at that limit."""
    clean_w: float
    """What noise of 6 dB crest averages before it clips; never more than a common supply carries for long."""
    limited_w: float | None
    """With the limiter that holds at its threshold, or the amplifier at its limit where that is less.

    None where nothing limits.
    """
    threshold_w: float
    """The same with the slow limiter at its threshold, whether something holds it or it is still to be set."""
    loss_db: float
    """Volts lost between the output's terminals and this box [dB]."""
    damping_factor: float | None
    """Of this section by itself; None where neither the output nor the cable has any resistance."""
    damping_together: float | None
    """The same while all that share its cable and output move with it, as they do: what they carry adds up there."""


class SolvedLine(msgspec.Struct, frozen=True, gc=False):
    """One line of an output."""

    line: Line
    load_ohm: float | None
    """Seen from the output, cable included; None where no box is on it."""
    boxes: tuple[SolvedBox, ...]
    piece_ohm: tuple[float, ...]
    piece_a: tuple[float, ...]
    """Current through each piece at full output [A rms]."""


class SolvedOutput(msgspec.Struct, frozen=True, gc=False):
    """An output with all its lines."""

    output: Output
    lines: tuple[SolvedLine, ...]
    loads: tuple[Load, ...]
    """All sections on this output."""
    load_ohm: float | None
    can_give_v: float
    """Into this load, after the share of a common supply; without a load, into the highest rated one."""
    clip_v: float
    """Where a short peak clips, as the rms of its sine: a common supply holds down only what lasts [V rms]."""
    supply_scale: float
    """1, or how far the amplifier's common supply holds the volts down."""
    gain_db: float | None
    host: Host | None
    source: str
    limiter: Limiter | None

    @property
    def assumed(self) -> bool:
        """True where every figure of the output is assumed.

        A box on it has no data sheet, or nobody says that its channels may be bridged or paralleled.
        """
        return self.output.permission != "allowed" or any(load.speaker.assumed for load in self.loads)

    @property
    def judged_ohm(self) -> float | None:
        """The load of the boxes alone, as an amplifier has to bear it [ohm]: what is left when cables are short."""
        return parallel(*(load.judged_ohm for load in self.loads)) if self.loads else None

    @property
    def counts_for_less(self) -> bool:
        """Tell whether a section's minimum is so low that its load is judged below its rated impedance."""
        return any(load.judged_ohm < load.impedance_ohm for load in self.loads)

    def is_assumed(self, load: Load) -> bool:
        """Tell whether the figures of one section on this output are assumed."""
        return load.speaker.assumed or self.output.permission != "allowed"

    @property
    def clip_input_v(self) -> float | None:
        """Input at which the output clips [V rms]; None where the gain is unknown, or nothing comes out."""
        if self.gain_db is None or self.clip_v <= 0.0:
            return None
        return levels.input_for_output(self.clip_v, self.gain_db)


class _Drive(msgspec.Struct, frozen=True, gc=False):
    """Volts at one place in the ways that count, and the resistance before it [V rms, ohm]."""

    full_v: float
    clip_v: float
    limited_v: float | None
    threshold_v: float
    source_ohm: float
    """Of the output itself at its terminals; of the cables from there on at a box."""
    together_ohm: float
    """Output and cables, each times the conductance of all that hangs behind it: a bare number, 1 over the damping."""


class _Ladder(NamedTuple):
    """A line as the solver sees it, piece by piece."""

    line: Line
    resistance: list[float]
    """Of each piece, out and back [ohm]."""
    rungs: list[Rung[float]]
    seen: list[float | None]
    """Looking into each piece [ohm]; None where nothing hangs behind it."""


class Wired(msgspec.Struct, frozen=True, gc=False):
    """An output with what was found out about it before solving."""

    output: Output
    lines: tuple[Line, ...]
    host: Host | None
    source: str


class Conditions(msgspec.Struct, frozen=True):
    """What is true of the whole show and enters every line."""

    temperature_c: float = 20.0
    margin_db: float = 3.0


def solve_amplifier(
    wired: Sequence[Wired], conditions: Conditions, apply: Apply = direct, *, trace: bool = False
) -> tuple[SolvedOutput, ...]:
    """Solve all outputs of one amplifier, which may share a supply."""
    first = [solve_output(item, conditions, 1.0, apply, trace=trace) for item in wired]
    limit = wired[0].output.model.supply_limit if wired else None
    if limit is None:
        return tuple(first)
    demand_w = sum(
        ohms_law.power_from_voltage(float(item.can_give_v), float(item.load_ohm)) for item in first if item.load_ohm
    )
    if demand_w <= limit.value:
        return tuple(first)
    scale = outputs.shared_supply_scale(demand_w, limit.value)
    return tuple(
        solve_output(item, conditions, scale, apply, trace=trace) if solved.load_ohm else solved
        for item, solved in zip(wired, first, strict=True)
    )


def solve_output(
    wired: Wired, conditions: Conditions, supply_scale: float, apply: Apply = direct, *, trace: bool = False
) -> SolvedOutput:
    """Solve one output with all its lines, at rated impedance."""
    output = wired.output
    ladders: list[_Ladder] = []
    siemens = sum(1.0 / float(load.impedance_ohm) for line in wired.lines for load in line.loads)
    for line in wired.lines:
        resistance = [loop_ohm(piece, conditions.temperature_c, apply) for piece in line.pieces]
        rungs = [
            Rung(ohm, tuple(load.impedance_ohm for load in piece.loads))
            for ohm, piece in zip(resistance, line.pieces, strict=True)
        ]
        ladders.append(_Ladder(line, resistance, rungs, looking_in(rungs, apply)))
    line_loads = [ladder.seen[0] for ladder in ladders if ladder.seen and ladder.seen[0] is not None]
    load = None
    if line_loads:
        load = line_loads[0] if len(line_loads) == 1 else apply(parallel, *line_loads)
    clip_v = can_give_v(output, load if load is not None else 1e9, apply, trace=trace)
    volts = clip_v * supply_scale if supply_scale < 1.0 else clip_v
    gain = gain_db(output, apply, trace=trace)
    loads = tuple(load for line in wired.lines for load in line.loads)
    limiter = limiter_for(loads, Posts(clip_v, gain, wired.host, conditions.margin_db), apply)
    source = source_ohm(output, trace=trace)
    holding_v = limiter.holding_v if limiter is not None else None
    drive = _Drive(
        full_v=volts,
        clip_v=clip_v,
        limited_v=None if holding_v is None else min(holding_v, volts),
        threshold_v=volts if limiter is None else min(limiter.thermal_v, volts),
        source_ohm=source,
        together_ohm=source * siemens,
    )
    solved_lines = [_solve_line(ladder, drive, apply) for ladder in ladders]
    return SolvedOutput(
        output=output,
        lines=tuple(solved_lines),
        loads=loads,
        load_ohm=load,
        can_give_v=volts,
        clip_v=clip_v,
        supply_scale=supply_scale,
        gain_db=gain,
        host=wired.host,
        source=wired.source,
        limiter=limiter,
    )


def _solve_line(ladder: _Ladder, drive: _Drive, apply: Apply) -> SolvedLine:
    line, resistance, rungs, seen = ladder
    full = node_volts(rungs, drive.full_v, seen, apply)
    clip = full if drive.clip_v == drive.full_v else node_volts(rungs, drive.clip_v, seen, apply)
    threshold = node_volts(rungs, drive.threshold_v, seen, apply)
    limited = None if drive.limited_v is None else node_volts(rungs, drive.limited_v, seen, apply)
    boxes: list[SolvedBox] = []
    along: float = 0.0
    together: float = drive.together_ohm
    own = [sum(1.0 / float(load.impedance_ohm) for load in piece.loads) for piece in line.pieces]
    for index, piece in enumerate(line.pieces):
        along = apply(series, along, resistance[index]) if index else resistance[index]
        together = together + resistance[index] * sum(own[index:])
        here = _Drive(full[index], clip[index], limited[index] if limited else None, threshold[index], along, together)
        boxes.extend(_solve_box(load, here, drive, apply) for load in piece.loads)
    # Each piece carries what the volts at its near end drive into all that follows.
    amps = [
        0.0 if ohm is None else float(volts) / float(ohm)
        for ohm, volts in zip(seen, [drive.full_v, *full], strict=False)
    ]
    return SolvedLine(
        line=line,
        load_ohm=seen[0] if seen else None,
        boxes=tuple(boxes),
        piece_ohm=tuple(resistance),
        piece_a=tuple(amps),
    )


def _solve_box(load: Load, here: _Drive, start: _Drive, apply: Apply) -> SolvedBox:
    """Solve one section; ``here`` has the volts at it, and the resistance along the line to it."""
    ohm, along_ohm, source = load.impedance_ohm, here.source_ohm, start.source_ohm
    full_w = apply(ohms_law.power_from_voltage, here.full_v, ohm)
    clip_w = full_w if here.clip_v == here.full_v else apply(ohms_law.power_from_voltage, here.clip_v, ohm)
    clean_w = apply(crest.clean_power, clip_w)
    return SolvedBox(
        load=load,
        load_ohm=ohm,
        full_v=here.full_v,
        full_w=full_w,
        clean_w=min(clean_w, full_w),
        limited_w=None if here.limited_v is None else apply(ohms_law.power_from_voltage, here.limited_v, ohm),
        threshold_w=apply(ohms_law.power_from_voltage, here.threshold_v, ohm),
        loss_db=apply(cables.voltage_drop_db, start.full_v, here.full_v),
        damping_together=1.0 / here.together_ohm if here.together_ohm > 0.0 else None,
        damping_factor=apply(damping.damping_factor, ohm, source, along_ohm) if source + along_ohm > 0.0 else None,
    )
