"""Say what is short where not everything can be driven: the same question, with slack at a price."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from fieldkit.planning.counting import PROCESSOR_OUTPUT, count
from fieldkit.planning.groups import Group
from fieldkit.planning.inquiry import Inquiry
from fieldkit.planning.proposals import Short

MOST_ZONES = 6
"""Zones for which a way out by another drive is looked for."""


def shortages(inquiry: Inquiry, cancelled: Callable[[], bool]) -> tuple[Short, ...]:
    """List what would have to be hired in addition, at the least price, and what else would drive every box."""
    question = msgspec.structs.replace(inquiry.building(hire=True), slack=True)
    priced = count(question, cancelled=cancelled)
    left = [
        (group, boxes * group.weight) for group, boxes in zip(question.groups, priced.undriven, strict=True) if boxes
    ]
    then = "every box is driven" if not left else "all others are driven"
    together = " and ".join(_named(name, number) for name, number in priced.slack)
    found = [
        Short(name, number, f"{_named(name, number)}; hire {'it' if len(priced.slack) == 1 else together}, and {then}")
        for name, number in priced.slack
    ]
    found += [_no_way(group, boxes) for group, boxes in left]
    return (*found, *_passive(inquiry, cancelled))


def _named(name: str, number: int) -> str:
    """Say how many of what; a processor output is one for presets that no amplifier here runs."""
    if name != PROCESSOR_OUTPUT:
        return f"{number} × {name}"
    return f"{number} processor output{'' if number == 1 else 's'} with crossover and limiter"


def _passive(inquiry: Inquiry, cancelled: Callable[[], bool]) -> Iterator[Short]:
    """Look for zones that would let every box be driven if theirs were driven passive."""
    show, speakers = inquiry.rig.show, inquiry.rig.ground.speakers
    zones = dict.fromkeys(
        box.zone
        for box in show.boxes
        if box.id in inquiry.wanted and box.drive == "bi-amp" and "passive" in speakers[box.id].drives()
    )
    for zone in list(zones)[:MOST_ZONES]:
        changed = [box.id for box in show.boxes if box.zone == zone and box.drive == "bi-amp"]
        boxes = tuple(msgspec.structs.replace(box, drive="passive") if box.id in changed else box for box in show.boxes)
        other = inquiry.with_show(msgspec.structs.replace(show, boxes=boxes)).building()
        if not cancelled() and not any(count(other, cancelled=cancelled, until="boxes driven").undriven):
            yield Short(zone, 0, f"or drive zone '{zone}' passive: then every box is driven with what there is")


def _no_way(group: Group, boxes: int) -> Short:
    drive = group.ways[0].drive
    pairs = " and ".join(group.ways[0].pairs)
    return Short(
        group.speaker.id,
        boxes,
        f"{boxes} × {group.speaker.id} of zone '{group.zone.id}', {drive}: nothing here drives it; it needs an "
        f"amplifier that bears its load and hosts its presets, pin pair {pairs} on one plug, and a cable that fits",
    )
