"""Say what keeping the two sides of a zone on different amplifiers costs, and where it could not be done."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from fieldkit.planning.counting import count
from fieldkit.planning.inquiry import Inquiry
from fieldkit.planning.question import Counts, Question


def sides_notes(inquiry: Inquiry, question: Question, counts: Counts, cancelled: Callable[[], bool]) -> tuple[str, ...]:
    """Name the zones whose sides share an amplifier or may, and the price of those that do not."""
    groups = question.groups
    if not inquiry.wishes.mirrored or not any(group.is_mirrored for group in groups):
        return ()
    sharing = dict.fromkeys(
        groups[option.group].zone.id
        for option, _ in counts.clusters
        if groups[option.group].is_mirrored and not option.apart
    )
    notes = [
        f"both sides of zone '{name}' share an amplifier: no two alike have room for a side each" for name in sharing
    ]
    apart = any(option.apart for option, _ in counts.clusters)
    if apart and question.building and not counts.answer.stopped:
        free = count(msgspec.structs.replace(question, mirrored=False), cancelled=cancelled, until="rack units")
        price = counts.answer.goal("rack units").value - free.answer.goal("rack units").value
        if price > 0 and not free.answer.stopped:
            units = "one rack unit" if price == 1 else f"{price} rack units"
            notes.append(f"keeping both sides apart, so that no one amplifier silences a zone, costs {units}")
    return tuple(notes)
