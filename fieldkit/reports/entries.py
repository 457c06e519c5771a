"""An entry line as it was understood: what it adds, and what was made or copied beside it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fieldkit.planning.entry.line import Entry
from fieldkit.planning.entry.writing import line_of
from fieldkit.reports.models import figures_text
from fieldkit.reports.text import way_text
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Box, RackUnit, Run, Show, Stock
from fieldkit.text.words import counted

_NOUNS = {
    "boxes": "box",
    "rack_units": "unit",
    "racks": "rack",
    "zones": "zone",
    "supplies": "supply",
    "runs": "run",
    "stock": "stock",
}


def entry_text(entry: Entry) -> tuple[str, ...]:
    """Say what a line adds, a text each; what was made beside it is said too."""
    says = [_thing_text(entry)]
    says += [f"{_NOUNS[table]} {thing.id} is new" for table, thing in entry.made.first]
    if entry.models:
        says.append(f"from the gear library: {', '.join(entry.models)}")
    return tuple(says)


def entry_object(entry: Entry) -> dict[str, Any]:
    """Make the same as one object."""
    return {
        "added": [{"table": table, "id": name} for table, name in entry.added],
        "made": [{"table": table, "id": thing.id} for table, thing in entry.made.first],
        "models": list(entry.models),
        "says": list(entry_text(entry)),
    }


def _thing_text(entry: Entry) -> str:
    show, made = entry.show, entry.made
    first = made.things[0]
    if isinstance(first, Box):
        labels = _by_side(made.things)
        reach = first.reach if first.reach != "floor" else ""
        parts = [f"zone {first.zone}", _model_text(show, first), first.drive, reach]
        return f"{counted(len(made.things), 'box')} {labels}: {', '.join(filter(None, parts))}"
    if isinstance(first, RackUnit):
        labels = ", ".join(unit.id for unit in made.things)
        place = f"rack {first.rack}" if first.rack else "in no rack"
        return f"{counted(len(made.things), 'unit')} {labels}: {_model_text(show, first)}, {place}"
    if isinstance(first, Run):
        cables = " ".join(dict.fromkeys(step.cable for step in first.path if step.cable))
        return f"run {first.id}: {way_text(first)}, {cables}"
    if isinstance(first, Stock):
        length = f" {first.length}" if first.length else ""
        whose = f"{first.hired} hired" if first.hired else f"{first.owned} owned"
        return f"stock: {whose}, {first.model}{length}"
    return line_of(entry.before, first)


def _by_side(boxes: Iterable[Any]) -> str:
    """Write labels, with the side behind those that share it."""
    sides: dict[str, list[str]] = {}
    for box in boxes:
        sides.setdefault(box.side, []).append(box.id)
    return "; ".join(f"{' '.join(labels)}{f' {side}' if side else ''}" for side, labels in sides.items())


def _model_text(show: Show, thing: Any) -> str:
    unknown = getattr(thing, "unknown", None)
    if unknown:
        return f"not in the library, {unknown.impedance} {unknown.continuous}: assumed"
    model = models_by_id(show).get(thing.model)
    return f"{thing.model} ({figures_text(model)})" if model else f"{thing.model} (no such model is known)"
