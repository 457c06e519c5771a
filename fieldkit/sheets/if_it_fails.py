"""If it fails: made before the show, for each rack what to do when one of its units goes dark."""

from __future__ import annotations

from fieldkit.planning.failover.fail_over import FailOver, failures_by_rack
from fieldkit.reports.failing_over import silent_boxes
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Items, Page, Words

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
        blocks += [_unit(where, found) for found in plans]
    return Page("if-it-fails", "If it fails", tuple(blocks))


def _unit(where: str, found: FailOver) -> Items:
    title = f"{where}: {', '.join(found.failed)}"
    boxes = ", ".join(item.box for item in silent_boxes(found))
    if not boxes:
        return Items((("nothing falls silent",),), title)
    items: list[tuple[str, ...]] = [(f"falls silent: {boxes}", *(step.says for step in found.first))]
    items += [
        (f"{number}. {move.says}", *(step.says for step in move.steps))
        for number, move in enumerate(found.moves, start=1)
    ]
    whys: dict[str, list[str]] = {}
    for item in found.stays_silent:
        whys.setdefault(item.why, []).append(item.box)
    items += [(f"stays silent: {', '.join(names)}", why) for why, names in whys.items()]
    if not found.stays_silent:
        items.append(("all of it plays again",))
    return Items(tuple(items), title)
