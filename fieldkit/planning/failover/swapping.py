"""Swaps: a spare of the same model in the very place of what failed, for what cannot be plugged round."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.planning.failover.rig_in_hand import setting_of
from fieldkit.planning.failover.spares import spare_models
from fieldkit.planning.failover.steps import MoveStep, SafeMove, spoken
from fieldkit.rig.failures import failed_now
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.units import format_value


class SpareSwap(msgspec.Struct, frozen=True):
    """A failed thing that a spare can stand in for."""

    id: str
    model: str
    kind: Literal["unit", "box"]
    moves: int
    """To bring it, and one for each plug that goes over to it."""


def swaps_of(rig: Rig) -> tuple[SpareSwap, ...]:
    """List what could be swapped: boxes, processors, and amplifiers inside a rack as built.

    A loose amplifier's lines can be plugged into a spare that stands beside it, which is found by the search.
    """
    left = Counter(spare_models(rig))
    found = []
    for name in failed_now(rig.show):
        swap = _swap(name, rig)
        if swap is not None and left[swap.model] > 0:
            left[swap.model] -= 1
            found.append(swap)
    return tuple(found)


def _swap(name: str, rig: Rig) -> SpareSwap | None:
    box = rig.show_index.boxes.get(name)
    if box is not None:
        return SpareSwap(name, box.model, "box", 1) if box.model else None
    unit = rig.show_index.units.get(name)
    if unit is None:
        return None
    model = rig.show_index.models[unit.model]
    if isinstance(model, Processor):
        fed = {source for other in rig.show_index.units.values() for source in other.inputs.values()}
        return SpareSwap(name, unit.model, "unit", 1 + sum(source.partition(".")[0] == name for source in fed))
    rack = rig.show_index.racks.get(unit.rack or "")
    built = rig.show_index.models.get(rack.as_built or "") if rack else None
    if isinstance(model, Amplifier) and rack is not None and isinstance(built, BuiltRack):
        inside = {f"{rack.id}-{number}" for number in range(1, len(built.contents) + 1)}
        plugs = {
            solved.line.run.start for output in rig.outputs if output.output.unit.id == name for solved in output.lines
        }
        return SpareSwap(name, unit.model, "unit", 1 + len(plugs)) if name in inside else None
    return None


def swap_moves(rig: Rig, swaps: Sequence[SpareSwap]) -> list[SafeMove]:
    """Say how each swap is done."""
    return [_box_swap(rig, swap) if swap.kind == "box" else _unit_swap(rig, swap) for swap in swaps]


def _box_swap(rig: Rig, swap: SpareSwap) -> SafeMove:
    feeding = [output for output in rig.outputs if any(load.box.id == swap.id for load in output.loads)]
    runs = tuple(run.id for run in rig.show.runs if any(step.box == swap.id for step in run.path))
    steps = [
        *(_mute(output.output.id) for output in feeding),
        MoveStep(
            "bring", swap.id, f"put the spare {swap.model} in the place of {swap.id}; its switch as on the old one"
        ),
        MoveStep(
            "plug", swap.id, f"plug {', '.join(runs)} over to it, link and all, in the same order", value="+".join(runs)
        ),
        *(_unmute(output) for output in feeding),
    ]
    return SafeMove(f"{swap.id} → a spare {swap.model} in its place", runs, ("", ""), (), tuple(steps))


def _unit_swap(rig: Rig, swap: SpareSwap) -> SafeMove:
    hosted = [
        output
        for output in rig.outputs
        if output.loads
        and (output.output.unit.id == swap.id or (output.host is not None and output.host.id.startswith(f"{swap.id}.")))
    ]
    runs = tuple(dict.fromkeys(solved.line.run.id for output in hosted for solved in output.lines))
    behind = [output.output.id for output in hosted if output.output.unit.id != swap.id]
    unit = rig.show_index.units[swap.id]
    steps = [
        *(_mute(name) for name in behind),
        MoveStep("bring", swap.id, f"put the spare {swap.model} in the place of {swap.id}, outputs muted; mains last"),
        *(
            MoveStep("set", f"{swap.id}.{pair}", f"set its channels {pair} to bridged", value="bridged")
            for pair in unit.bridged
        ),
        *dict.fromkeys(_load(rig, output) for output in hosted),
        MoveStep("patch", swap.id, "move its input and output cables over, each to the same number"),
        *(
            MoveStep("verify", name, f"look: {spoken(name)} reads its preset and limiter, and is still muted")
            for name in dict.fromkeys(output.host.id if output.host else output.output.id for output in hosted)
        ),
        *(_unmute(output) for output in hosted),
    ]
    return SafeMove(f"{swap.id} → a spare {swap.model} in its place, set as it was", runs, ("", ""), (), tuple(steps))


def _mute(name: str) -> MoveStep:
    return MoveStep("mute", name, f"mute {spoken(name)}")


def _unmute(output: SolvedOutput) -> MoveStep:
    name = output.output.id
    boxes = ", ".join(dict.fromkeys(load.box.id for load in output.loads))
    return MoveStep("unmute", name, f"unmute {spoken(name)} quietly, its level right down; listen at {boxes}")


def _load(rig: Rig, output: SolvedOutput) -> MoveStep:
    where = output.host.id if output.host else output.output.id
    preset, thermal, level = setting_of(rig, where)
    limiter = f", limiter {format_value(thermal, 'V')} rms" if thermal is not None else ""
    dbu = f" ({level:+.1f} dBu at the amplifier)" if level is not None else ""
    said = " and ".join(dict.fromkeys(f"{load.choice.id or 'no preset'} of {load.speaker.id}" for load in output.loads))
    says = f"load {said} into {spoken(where)}{limiter}{dbu}, with its level, delay and polarity"
    return MoveStep("load", where, says, value=preset, thermal_v=thermal, input_dbu=level)
