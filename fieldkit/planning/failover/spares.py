"""Spares: what of the stock works and is in no plan: models, adaptors, leads."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

import msgspec

from fieldkit.checks.stock import used_cables, used_models
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.processor import Processor
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import RackUnit, Show
from fieldkit.units import Length


def spare_models(rig: Rig) -> Counter[str]:
    """Count what of each model works and is in no plan. What stood in for something that failed is used up."""
    used = used_models(rig)
    units = rig.show_index.units
    for failure in rig.show.failed:
        if failure.swapped:
            box = rig.show_index.boxes.get(failure.id)
            used[units[failure.id].model if failure.id in units else (box.model if box else "") or ""] += 1
    left: Counter[str] = Counter()
    for item in rig.show.stock:
        if item.length is None:
            left[item.model] += item.owned + item.hired - item.out
    return Counter({model: count - used[model] for model, count in left.items() if count > used[model]})


def free_adaptors(rig: Rig) -> list[str]:
    """List the adaptors of which one is free."""
    return [name for name in spare_models(rig) if isinstance(rig.show_index.models[name], Adaptor)]


def with_spares(rig: Rig, most: int, supply: str | None) -> tuple[Show, tuple[str, ...]]:
    """Add the spare amplifiers and processors to the show, each under a label of its own.

    ``most`` of a model at the most; ``supply`` is where they would be plugged in.
    """
    show = rig.show
    taken = {unit.id for unit in all_units(show)} | {
        thing.id for table in ("boxes", "racks", "runs", "supplies") for thing in getattr(show, table)
    }
    added: list[RackUnit] = []
    number = 0
    for name, count in spare_models(rig).items():
        if not isinstance(rig.show_index.models[name], (Amplifier, Processor)):
            continue
        for _ in range(min(count, most)):
            number += 1
            while f"SPARE-{number}" in taken:
                number += 1
            added.append(RackUnit(id=f"SPARE-{number}", model=name, supply=supply))
    show = msgspec.structs.replace(show, rack_units=(*show.rack_units, *added))
    return show, tuple(unit.id for unit in added)


class SpareLead(NamedTuple):
    """A lead in the stock that no run uses."""

    model: str
    length: Length


def spare_leads(rig: Rig) -> Counter[SpareLead]:
    """Count the leads that are left, each length by itself."""
    used = used_cables(rig)
    left: Counter[SpareLead] = Counter()
    for item in rig.show.stock:
        if item.length is not None and isinstance(rig.show_index.models.get(item.model), Cable):
            taken = sum(length == item.length.value for length, _ in used.get(item.model, ()))
            left[SpareLead(item.model, item.length)] += item.owned + item.hired - item.out - taken
    return Counter({lead: count for lead, count in left.items() if count > 0})
