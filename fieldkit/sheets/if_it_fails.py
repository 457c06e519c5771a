"""If it fails: made before the show, for each rack what to do when one of its units goes dark."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from fieldkit.planning.failover.fail_over import FailOver, failures_by_rack, saved_by_a_spare
from fieldkit.reports.failing_over import silent_boxes
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Items, Page, Words
from fieldkit.show.contents import all_units
from fieldkit.show.document import Show

WORDS = (
    (
        "One unit fails, and nothing else: these are the fewest moves that bring back most, by the priority of the "
        "zones. Make them from top to bottom; what is muted stays muted until its line says unmute. If the plan has "
        "changed since this was printed, or two things have failed, ask the program again."
    ),
)


def if_it_fails_page(material: Material) -> Page:
    """Make the page."""
    blocks: list[Block] = [Words(WORDS)]
    for rack, plans in failures_by_rack(material.show).items():
        where = rack or "in no rack"
        blocks += [_unit(where, found, material.show) for found in plans if found.moves]
        rest = [found for found in plans if not found.moves]
        if rest:
            nothing = tuple((_nothing(found, material.show),) for found in rest)
            blocks.append(Items(nothing, where if len(rest) == len(plans) else f"{where}: {_names(rest)}"))
    return Page("if-it-fails", "If it fails", tuple(blocks))


def _names(plans: Sequence[FailOver]) -> str:
    return ", ".join(name for found in plans for name in found.failed)


def _boxes(found: FailOver) -> str:
    return ", ".join(item.box for item in silent_boxes(found))


def _nothing(found: FailOver, show: Show) -> str:
    """Say in one line that nothing can be moved, and what would have to be there before the show."""
    name = ", ".join(found.failed)
    boxes = _boxes(found)
    if not boxes:
        return f"{name}: nothing falls silent"
    return f"{name}: no move helps; silent: {boxes}. {_advice(found, show) or 'A spare would not help either.'}"


def _advice(found: FailOver, show: Show) -> str:
    """Say what to have ready before the show, and what it would save; empty where it would save nothing."""
    if not found.stays_silent:
        return ""
    saved = saved_by_a_spare(show, found.failed[0], found)
    if not saved:
        return ""
    model = next(unit.model for unit in all_units(show) if unit.id == found.failed[0])
    return f"Before the show: a spare {model} at hand, better patched and loaded, would save {', '.join(saved)}."


def _unit(where: str, found: FailOver, show: Show) -> Items:
    title = f"{where}: {', '.join(found.failed)}"
    items: list[tuple[str, ...]] = [(f"falls silent: {_boxes(found)}", *(step.says for step in found.first))]
    items += [
        (f"{number}. {move.says} ({ceil(move.minutes)} min)", *(step.says for step in move.steps))
        for number, move in enumerate(found.moves, start=1)
    ]
    whys: dict[str, list[str]] = {}
    for item in found.stays_silent:
        whys.setdefault(item.why, []).append(item.box)
    items += [(f"stays silent: {', '.join(names)}", why) for why, names in whys.items()]
    if not found.stays_silent:
        items.append(("all of it plays again",))
    items.append((f"in all about {found.minutes} minutes for one person",))
    if advice := _advice(found, show):
        items.append((advice,))
    return Items(tuple(items), title)
