"""Stock: what the plan uses against what there is, what is out of service, and what is due back."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator
from functools import partial

from fieldkit.checks.finding import Finding, Where
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.rig.signal.chain import adaptors_on_ways
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Stock

Cables = dict[str, list[tuple[float, str]]]
"""Model -> lengths in metres, each with the text to show."""


def used_models(rig: Rig) -> Counter[str]:
    """Count the models in use: boxes, amplifiers, processors, racks as built, adaptors (signal ones too), panels."""
    of_boxes = rig.memory.once(("models of boxes",), (rig.show.boxes,), partial(_of_boxes, rig))
    used: Counter[str] = Counter(of_boxes)
    brought = _brought(rig)
    used.update(unit.model for unit in rig.show.rack_units if unit.id not in brought)
    used.update(rack.as_built for rack in rig.show.racks if rack.as_built)
    shared: set[tuple[str, str]] = set()
    for run in rig.show.runs:
        for step in run.path:
            name = step.adaptor or step.panel
            if name is None or (step.shared and (step.shared, name) in shared):
                continue
            if step.shared:
                shared.add((step.shared, name))
            used[name] += 1
    used.update(adaptors_on_ways(rig))
    return used


def _of_boxes(rig: Rig) -> Counter[str]:
    return Counter(box.model for box in rig.show.boxes if box.model)


def _brought(rig: Rig) -> set[str]:
    """Name the units that racks as built bring with them: they are in stock as a part of their rack."""
    built = {model.id: model for model in rig.show.built_racks}
    return {
        f"{rack.id}-{number}"
        for rack in rig.show.racks
        if rack.as_built in built
        for number in range(1, len(built[rack.as_built].contents) + 1)
    }


def used_cables(rig: Rig) -> Cables:
    """List the cables in use by model, longest first; a multicore that runs share is counted once."""
    used: Cables = {}
    shared: set[tuple[str, str]] = set()
    for run in rig.show.runs:
        for step in run.path:
            if step.cable is None or step.length is None or (step.shared and (step.shared, step.cable) in shared):
                continue
            if step.shared:
                shared.add((step.shared, step.cable))
            used.setdefault(step.cable, []).append((step.length.value, step.length))
    return {model: sorted(lengths, reverse=True) for model, lengths in used.items()}


@show_rule
def stock_suffices(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find more in use than there is, and more than what works."""
    have: Counter[str] = Counter()
    broken: Counter[str] = Counter()
    hired: Counter[str] = Counter()
    for item in rig.show.stock:
        if item.length is None:
            have[item.model] += item.owned + item.hired
            broken[item.model] += item.out
            hired[item.model] += item.hired
    for model, count in used_models(rig).items():
        if model not in have or count <= have[model] - broken[model]:
            continue
        # As on the pull list: in stock is what is one's own and in order.
        own = sum(max(0, it.owned - it.out) for it in rig.show.stock if it.model == model and it.length is None)
        others = ((hired[model], "hired"), (broken[model], "out of service"))
        told = "".join(f", {number} {what}" for number, what in others if number)
        enough = count <= have[model]
        yield finding(
            "error",
            "out-of-service-in-use" if enough else "more-than-in-stock",
            ("model", model),
            f"{count} in use, {own} in stock{told}",
            why="a plan that needs what does not work falls apart at load-in"
            if enough
            else "what is not in the truck cannot be set up",
            fix=f"hire, repair, or plan without {count - have[model] + broken[model]}",
            used=count,
            stock=have[model],
            out=broken[model],
        )


@show_rule
def cables_suffice(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find cable lengths that the stock does not have; a longer one of the same type may stand in."""
    yield from rig.memory.once(("cables that are missing",), (rig.show.runs, rig.show.stock), partial(_too_few, rig))


def _too_few(rig: Rig) -> list[Finding]:
    found = []
    lengths: dict[str, list[float]] = {}
    for item in rig.show.stock:
        if item.length is not None:
            lengths.setdefault(item.model, []).extend([item.length.value] * (item.owned + item.hired - item.out))
    for model, used in used_cables(rig).items() if lengths else ():
        if model not in lengths:
            continue
        missing = _missing(used, lengths[model])
        if missing:
            listed = ", ".join(f"{count} × {text}" for text, count in Counter(missing).items())
            short = finding(
                "error",
                "cables-missing",
                ("model", model),
                f"not in stock, nor anything longer that is free: {listed}",
                why="a run that cannot be laid leaves its boxes silent",
                fix="hire it, join two with a coupler, or take another type and look at its loss",
                missing=len(missing),
            )
            found.append(short)
    return found


def laid(needed: list[tuple[float, str]], stock: list[float]) -> list[tuple[str, float | None]]:
    """Take for each length the shortest piece that reaches, in the order in which they come; None where none is left.

    needed: metres, and the text to show; longest first, so that the longest pieces go where they must
    """
    free = sorted(stock)
    given: list[tuple[str, float | None]] = []
    for length, text in needed:
        place = bisect_left(free, length * 0.999)
        given.append((text, free.pop(place) if place < len(free) else None))
    return given


def _missing(needed: list[tuple[float, str]], stock: list[float]) -> list[str]:
    """List the lengths that no piece is left for."""
    return [text for text, piece in laid(needed, stock) if piece is None]


@show_rule
def hired_and_due(rig: Rig, choices: Choices) -> Iterator[Finding]:
    """Find hired items that should be back already, and that the plan cannot do without."""
    late = [item for item in rig.show.stock if _is_late(item, choices.today)]
    if not late:
        return
    needed = _needed(rig, {item.model for item in late}, choices.today)
    serials = _serials(rig)
    for item in late:
        if item.due is None or not ((item.model, item.serial) in serials or item.model in needed):
            continue
        yield finding(
            "warning",
            "overdue-in-use",
            ("model", item.model),
            f"due back {item.due.isoformat()}{_to(item)}, and needed on {choices.today.isoformat()}",
            why="the hire company has it promised to somebody else, and charges for it",
            fix="ask for a longer hire and correct 'due', or replace it",
        )


def _is_late(item: Stock, today: dt.date) -> bool:
    return item.due is not None and item.due < today


def _needed(rig: Rig, models: set[str], today: dt.date) -> set[str]:
    """Name the models of which the plan uses more than there are without the late items."""
    used, cables = used_models(rig), used_cables(rig)
    prompt: dict[str, list[Stock]] = {model: [] for model in models}
    for item in rig.show.stock:
        if item.model in models and not _is_late(item, today):
            prompt[item.model].append(item)
    needed = set()
    for model, items in prompt.items():
        lengths = [
            item.length.value
            for item in items
            if item.length is not None
            for _ in range(item.owned + item.hired - item.out)
        ]
        count = sum(item.owned + item.hired - item.out for item in items)
        if used[model] > count or _missing(cables.get(model, []), lengths):
            needed.add(model)
    return needed


def _serials(rig: Rig) -> dict[tuple[str, str], Where]:
    """Find the single items in use, by model and serial."""
    found = {(box.model or "", box.serial): Where("box", box.id) for box in rig.show.boxes if box.serial}
    units = rig.show_index.units.values()
    return found | {(unit.model, unit.serial): Where("unit", unit.id) for unit in units if unit.serial}


@show_rule
def single_items_work(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find single items in use that are out of service."""
    serials = _serials(rig)
    for item in rig.show.stock:
        where = serials.get((item.model, item.serial)) if item.serial and item.out else None
        if where is not None:
            yield finding(
                "error",
                "out-of-service-in-use",
                (where.kind, where.id),
                f"this is the item with serial {item.serial}, which is out of service",
                why="it was taken out of service for a reason",
                fix="use another one, or put it back in service when it is fixed",
            )


def _to(item: Stock) -> str:
    return f" to {item.hired_from}" if item.hired_from else ""
