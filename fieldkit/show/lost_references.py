"""What may be lost, and what the record of a loss points to."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.show.contents import channels_of
from fieldkit.show.document import Model, RackUnit, Show
from fieldkit.show.patch_references import Problem
from fieldkit.text.words import Path, nearest


def lost_problems(show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> Iterator[Problem]:
    """Find losses of what does not exist, and records of runs and units that do not."""
    seen: set[str] = set()
    for index, lost in enumerate(show.lost):
        where: Path = ("lost", index)
        wrong = loss_problem(lost.id, show, units, models)
        if wrong:
            yield (*where, "id"), lost.id, wrong
        if lost.id in seen:
            yield (*where, "id"), lost.id, f"'{lost.id}' is lost twice"
        seen.add(lost.id)


def loss_problem(name: str, show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> str:
    """Say why nothing of this name can be lost; empty where it can."""
    unit, dot, channels = name.partition(".")
    labels = {*units, *(box.id for box in show.boxes), *(supply.id for supply in show.supplies)}
    if not dot:
        if name in labels:
            return ""
        return f"no amplifier, processor, supply or box '{name}'{nearest(name, labels)}"
    if unit not in units:
        return f"no amplifier or processor '{unit}'{nearest(unit, units)}"
    model = models.get(units[unit].model)
    count = 0
    if isinstance(model, Amplifier):
        count = model.channels
    elif isinstance(model, Processor):
        count = model.outputs
    if channels_of(channels, count) is None:
        return f"'{unit}' has outputs 1 to {count}, got '{name}'"
    return ""
