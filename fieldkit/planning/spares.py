"""Spares: what the stock has that the plan does not use."""

from __future__ import annotations

from collections import Counter

import msgspec

from fieldkit.checks.stock import used_models
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor
from fieldkit.gear.processor import Processor
from fieldkit.rig.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import RackUnit, Show


def spare_models(rig: Rig) -> Counter[str]:
    """Count what of each model works and is in no plan. What stood in for something lost is used up."""
    used = used_models(rig)
    units = rig.ground.units
    for lost in rig.show.lost:
        if lost.swapped:
            box = rig.ground.boxes.get(lost.id)
            used[units[lost.id].model if lost.id in units else (box.model if box else "") or ""] += 1
    left: Counter[str] = Counter()
    for item in rig.show.stock:
        if item.length is None:
            left[item.model] += item.owned + item.hired - item.out
    return Counter({model: count - used[model] for model, count in left.items() if count > used[model]})


def free_adaptors(rig: Rig) -> list[str]:
    """List the adaptors of which one is free."""
    return [name for name in spare_models(rig) if isinstance(rig.ground.models[name], Adaptor)]


def with_spares(rig: Rig, most: int, supply: str | None) -> tuple[Show, tuple[str, ...]]:
    """Give the show with its spare amplifiers and processors standing ready, each under a label of its own.

    ``most`` of a model at the most; ``supply`` is where they would be plugged in.
    """
    show = rig.show
    taken = {unit.id for unit in all_units(show)} | {
        thing.id for table in ("boxes", "racks", "runs", "supplies") for thing in getattr(show, table)
    }
    added: list[RackUnit] = []
    number = 0
    for name, count in spare_models(rig).items():
        if not isinstance(rig.ground.models[name], (Amplifier, Processor)):
            continue
        for _ in range(min(count, most)):
            number += 1
            while f"SPARE-{number}" in taken:
                number += 1
            added.append(RackUnit(id=f"SPARE-{number}", model=name, supply=supply))
    show = msgspec.structs.replace(show, rack_units=(*show.rack_units, *added))
    return show, tuple(unit.id for unit in added)
