"""Say what is short where not everything can be driven: the same question, with slack at a price."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.planning.counting import Question, count
from fieldkit.planning.groups import Group
from fieldkit.planning.proposals import Short
from fieldkit.show.document import Show


def shortages(question: Question, show: Show, undriven: Sequence[str]) -> tuple[Short, ...]:
    """List what would have to be hired in addition, the cheapest first, and what would do without."""
    priced = count(msgspec.structs.replace(question, slack=True, building=True))
    found = [
        Short(name, number, f"{number} × {name} short: hire {_number(number)} more, and every box is driven")
        for name, number in priced.slack
    ]
    left = [
        (group, boxes * group.weight) for group, boxes in zip(question.groups, priced.undriven, strict=True) if boxes
    ]
    found += [_no_way(group, boxes) for group, boxes in left]
    del show, undriven
    return tuple(found)


def _number(number: int) -> str:
    return "one" if number == 1 else str(number)


def _no_way(group: Group, boxes: int) -> Short:
    drive = group.ways[0].drive
    pairs = " and ".join(group.ways[0].pairs)
    return Short(
        group.speaker.id,
        boxes,
        f"{boxes} × {group.speaker.id} of zone '{group.zone.id}', {drive}: nothing here drives it; it needs an "
        f"amplifier that bears its load and hosts its presets, pin pair {pairs} on one plug, and a cable that fits",
    )
