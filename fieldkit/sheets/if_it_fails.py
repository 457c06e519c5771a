"""If it fails: made before the show, for each rack what to do when one of its units goes dark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

import msgspec

from fieldkit.planning.failover.fail_over import FailOver, failures_by_rack
from fieldkit.planning.failover.steps import SafeMove
from fieldkit.reports.failing_over import silent_boxes, spare_text
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Items, Page, Words

WORDS = (
    (
        "One unit fails, and nothing else: these are the fewest moves that bring back most, by the priority of the "
        "zones. Make them from top to bottom; what is muted stays muted until its line says unmute. If the plan has "
        "changed since this was printed, or two things have failed, ask the program again."
    ),
)


class UnitPlan(msgspec.Struct, frozen=True):
    """What to do when one unit fails, as an item of a list a step."""

    rack: str
    unit: str
    helps: bool
    """False where no move helps: it is then one line."""
    items: tuple[tuple[str, ...], ...]


def _unit_plans(rig: Rig) -> tuple[UnitPlan, ...]:
    show = rig.show
    return tuple(
        UnitPlan(
            rack,
            ", ".join(found.failed),
            bool(found.moves),
            _moves(found) if found.moves else ((_nothing(found),),),
        )
        for rack, plans in failures_by_rack(show).items()
        for found in plans
    )


unit_plans = Derived[tuple[UnitPlan, ...]](_unit_plans)
"""The plan for each unit of a show, rack by rack: the folder of a rack has it too."""


def if_it_fails_page(material: Material) -> Page:
    """Make the page."""
    by_rack: dict[str, list[UnitPlan]] = {}
    for plan in unit_plans(material.rig):
        by_rack.setdefault(plan.rack, []).append(plan)
    blocks = [block for rack, plans in by_rack.items() for block in plan_blocks(plans, rack or "in no rack")]
    return Page("if-it-fails", "If it fails", (Words(WORDS), *blocks))


def plan_blocks(plans: Sequence[UnitPlan], where: str) -> Iterator[Items]:
    """Make a list for each unit that moves help, and one for the rest."""
    yield from (Items(plan.items, f"{where}: {plan.unit}") for plan in plans if plan.helps)
    rest = [plan for plan in plans if not plan.helps]
    if rest:
        names = ", ".join(plan.unit for plan in rest)
        items = tuple(item for plan in rest for item in plan.items)
        yield Items(items, where if len(rest) == len(plans) else f"{where}: {names}")


def _boxes(found: FailOver) -> str:
    return ", ".join(item.box for item in silent_boxes(found))


def _nothing(found: FailOver) -> str:
    """Say in one line that nothing can be moved, and what would have to be there before the show."""
    name = ", ".join(found.failed)
    boxes = _boxes(found)
    if not boxes:
        return f"{name}: nothing falls silent"
    return f"{name}: no move helps; silent: {boxes}. {spare_text(found)}"


def _price(move: SafeMove) -> tuple[str, ...]:
    return (f"price: {'; '.join(move.price)}",) if move.price else ()


def _moves(found: FailOver) -> tuple[tuple[str, ...], ...]:
    items: list[tuple[str, ...]] = [(f"falls silent: {_boxes(found)}", *(step.says for step in found.first))]
    items += [
        (f"{number}. {move.says} ({ceil(move.minutes)} min)", *(step.says for step in move.steps), *_price(move))
        for number, move in enumerate(found.moves, start=1)
    ]
    whys: dict[str, list[str]] = {}
    for item in found.stays_silent:
        whys.setdefault(item.why, []).append(item.box)
    items += [(f"stays silent: {', '.join(names)}", why) for why, names in whys.items()]
    if not found.stays_silent:
        items.append(("all of it plays again",))
    items.append((f"in all about {found.minutes} minutes for one person: hold that against the doors",))
    if said := spare_text(found):
        items.append((said,))
    return tuple(items)
