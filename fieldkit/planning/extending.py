"""Put a box onto a run that is there, where its zone's run has room: the plan with the fewest plugs to move."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import msgspec

from fieldkit.checks.loads import CHANNEL_SHARE, TOLERANCE
from fieldkit.checks.powers import NEEDS_LIMITER, WEAK
from fieldkit.formulas import ohms_law
from fieldkit.formulas.figures import direct
from fieldkit.formulas.loads import parallel
from fieldkit.planning.cabling import LINK_M
from fieldkit.planning.groups import way_of
from fieldkit.planning.leads import links_of
from fieldkit.planning.stockroom import Stockroom
from fieldkit.rig.evaluation import Rig, evaluate
from fieldkit.rig.lines import Load
from fieldkit.rig.outputs import can_give_v
from fieldkit.rig.solving import SolvedOutput
from fieldkit.rig.uses import planned_drive
from fieldkit.show.document import Box, Run, Show, Step


def extended(show: Show, wanted: Collection[str], stockroom: Stockroom) -> Show:
    """Give the show in which wanted boxes hang on the runs of their zone that have room for them."""
    rig = evaluate(show)
    for box in show.boxes:
        if box.id not in wanted:
            continue
        run = next((run for run in show.runs if _has_room(run, box, rig)), None)
        if run is None:
            continue
        pairs = way_of(box, rig.ground, planned_drive(box, rig.ground.speakers[box.id])).pairs
        offers = [
            piece
            for lead in links_of(rig.ground.speakers[box.id], pairs, stockroom.fittings)
            for piece in stockroom.pieces(lead.cable, LINK_M)[:1]
        ]
        if not offers:
            continue
        piece = min(offers, key=lambda piece: (piece.cable.cores, piece.length.value))
        stockroom.take(piece)
        step = Step(cable=piece.cable.id, length=piece.length, box=box.id)
        longer = msgspec.structs.replace(run, path=(*run.path, step))
        show = msgspec.structs.replace(show, runs=tuple(longer if item is run else item for item in show.runs))
        rig = evaluate(show)
    return show


def _has_room(run: Run, box: Box, rig: Rig) -> bool:
    """Tell whether a run ends in a box like this one, and its outputs bear one more."""
    last = rig.ground.boxes[run.path[-1].box or ""] if run.path and run.path[-1].box else None
    if last is None or rig.ground.speakers[last.id].connectors < 2:
        return False
    alike = (box.zone, box.side, box.model, box.drive, box.presets, box.unknown)
    if alike != (last.zone, last.side, last.model, last.drive, last.presets, last.unknown) or box.switch != last.switch:
        return False
    way = way_of(box, rig.ground, planned_drive(box, rig.ground.speakers[box.id]))
    lines = {line.pair: line for line in rig.lines if line.run.id == run.id}
    carried: list[SolvedOutput] = []
    for pair in way.pairs:
        line = next((line for line in lines.values() if line.pieces and line.pieces[-1].pair_out == pair), None)
        output = rig.output(line.output.id) if line and line.output and line.broken is None else None
        if output is None:
            return False
        carried.append(output)
    return all(_bears(output, loads, rig) for output, (_, loads) in zip(carried, way.loads, strict=True))


def _bears(output: SolvedOutput, more: Sequence[Load], rig: Rig) -> bool:
    load_ohm = parallel(*(load.judged_ohm for load in (*output.loads, *more)))
    if load_ohm < output.output.least_ohm * TOLERANCE:
        return False
    if load_ohm * CHANNEL_SHARE[output.output.mode] < rig.preferred_ohm * TOLERANCE:
        return False
    given_w = ohms_law.power_from_voltage(
        can_give_v(output.output, load_ohm, direct), max(load.impedance_ohm for load in more)
    )
    return given_w >= WEAK * NEEDS_LIMITER * min(load.continuous_w for load in more)
