"""What may fail, and what the record of a loss points to."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.show.contents import channels_of
from fieldkit.show.document import Model, RackUnit, Show
from fieldkit.show.patch_references import Problem
from fieldkit.text.words import Path, nearest


def failed_problems(show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> Iterator[Problem]:
    """Find failures of what does not exist, and records of runs and units that do not."""
    seen: set[str] = set()
    for index, failure in enumerate(show.failed):
        where: Path = ("failed", index)
        wrong = failure_problem(failure.id, show, units, models)
        if wrong:
            yield (*where, "id"), failure.id, wrong
        if failure.id in seen:
            yield (*where, "id"), failure.id, f"'{failure.id}' has failed twice"
        seen.add(failure.id)


def failure_problem(name: str, show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> str:
    """Say why nothing of this name can fail; empty where it can."""
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
