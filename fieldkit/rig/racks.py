"""Racks: units used, what does not fit, weight, and heat at the duty of the programme."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import msgspec

from fieldkit.formulas import consumption
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Rack, RackUnit


class RackFacts(msgspec.Struct, frozen=True, gc=False):
    """What there is to say about one rack."""

    rack: Rack
    units: int | None
    """How many it has; None where nobody said."""
    used: int
    inside: tuple[str, ...]
    overlaps: tuple[tuple[str, str], ...]
    """Units of which two want the same place."""
    outside: tuple[str, ...]
    """Units that stand higher than the rack is."""
    weight_kg: float
    unweighed: tuple[str, ...]
    """What is in it and does not say its weight."""
    heat_w: float
    heat_btu_per_h: float


def racks_of(rig: Rig, draws: Sequence[Draw]) -> tuple[RackFacts, ...]:
    """List the facts of every rack, in the order of the show."""
    heat: dict[str, float] = {}
    for draw in draws:
        if draw.rack is not None:
            heat[draw.rack] = heat.get(draw.rack, 0.0) + draw.heat_w
    inside: dict[str, list[RackUnit]] = {}
    for unit in rig.show_index.units.values():
        if unit.rack is not None:
            inside.setdefault(unit.rack, []).append(unit)
    models = rig.show_index.models

    def rests_on(rack: Rack) -> tuple[object, ...]:
        units = inside.get(rack.id, [])
        return (
            heat.get(rack.id, 0.0),
            models.get(rack.as_built or ""),
            *units,
            *(models[unit.model] for unit in units),
        )

    def facts(rack: Rack) -> RackFacts:
        return _facts(rack, inside.get(rack.id, []), heat.get(rack.id, 0.0), rig)

    return rig.memory.each_of("facts of racks", rig.show.racks, (rig.show_index, draws), rests_on, facts)


def _facts(rack: Rack, inside: list[RackUnit], heat_w: float, rig: Rig) -> RackFacts:
    model = rig.show_index.models.get(rack.as_built or "")
    built = model if isinstance(model, BuiltRack) else None
    height = rack.units or (built.units if built else None)
    sizes = {unit.id: _model(unit, rig).units for unit in inside}
    placed = sorted((unit for unit in inside if unit.unit and sizes[unit.id]), key=lambda unit: unit.unit or 0)
    weight_kg, unweighed = _weight(rack, inside, built, rig)
    return RackFacts(
        rack=rack,
        units=height,
        used=sum(sizes.values()),
        inside=tuple(unit.id for unit in inside),
        overlaps=tuple(
            (low.id, high.id) for low, high in pairwise(placed) if (low.unit or 0) + sizes[low.id] > (high.unit or 0)
        ),
        outside=tuple(
            unit.id for unit in placed if height is not None and (unit.unit or 0) + sizes[unit.id] - 1 > height
        ),
        weight_kg=weight_kg,
        unweighed=unweighed,
        heat_w=heat_w,
        heat_btu_per_h=consumption.heat_in_btu(heat_w),
    )


def _weight(rack: Rack, inside: list[RackUnit], built: BuiltRack | None, rig: Rig) -> tuple[float, tuple[str, ...]]:
    """Weigh a rack: a rack as built whole, with what was put in besides; else the case and each unit [kg]."""
    total = rack.weight.value if rack.weight else 0.0
    left = inside
    if built is not None and built.weight is not None:
        total += built.weight.value
        brought = {f"{rack.id}-{number}" for number in range(1, len(built.contents) + 1)}
        left = [unit for unit in inside if unit.id not in brought]
    unweighed = []
    for unit in left:
        weight = _model(unit, rig).weight
        if weight is None:
            unweighed.append(unit.id)
        else:
            total += weight.value
    return total, tuple(unweighed)


def _model(unit: RackUnit, rig: Rig) -> Amplifier | Processor:
    model = rig.show_index.models[unit.model]
    if not isinstance(model, (Amplifier, Processor)):
        raise TypeError(f"{unit.id}: expected an amplifier or a processor, got '{unit.model}'")
    return model
