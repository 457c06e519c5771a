"""Say what a choice costs: the two sides of a zone on different amplifiers, loads under the preferred one."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from fieldkit.planning.counting import count
from fieldkit.planning.inquiry import Inquiry
from fieldkit.planning.question import Counts, Question
from fieldkit.units import format_value


def prices(inquiry: Inquiry, question: Question, counts: Counts, cancelled: Callable[[], bool]) -> tuple[str, ...]:
    """Give the notes about sides and loads, each with its price in rack units where racks are being built."""
    return (
        *_sides(inquiry, question, counts, cancelled),
        *_preferred(inquiry, question, counts, cancelled),
    )


def _sides(inquiry: Inquiry, question: Question, counts: Counts, cancelled: Callable[[], bool]) -> Iterator[str]:
    """Name the zones whose sides share an amplifier or may, and the price of those that do not."""
    groups = question.groups
    if not inquiry.wishes.mirrored or not any(group.is_mirrored for group in groups):
        return
    sharing = dict.fromkeys(
        groups[option.group].zone.id
        for option, _ in counts.clusters
        if groups[option.group].is_mirrored and not option.apart
    )
    for name in sharing:
        yield f"both sides of zone '{name}' share an amplifier: no two alike have room for a side each"
    if question.building and any(option.apart for option, _ in counts.clusters):
        more = -_more_units(msgspec.structs.replace(question, mirrored=False), counts, cancelled)
        if more > 0:
            yield f"keeping both sides apart, so that no one amplifier silences a zone, costs {_units(more)}"


def _preferred(inquiry: Inquiry, question: Question, counts: Counts, cancelled: Callable[[], bool]) -> Iterator[str]:
    """Say how many outputs are under the preferred load, and what it would take to have fewer."""
    low = counts.answer.goal("preferred load").value
    if not low or not question.building or question.preferred_first:
        return
    preferred = format_value(inquiry.rig.preferred_ohm, "ohm")
    outputs = f"{low} output{' is' if low == 1 else 's are'} under the preferred {preferred}"
    more = _more_units(msgspec.structs.replace(question, preferred_first=True), counts, cancelled)
    if more > 0:
        yield f"{outputs}, which saves {_units(more)}"


def _more_units(question: Question, counts: Counts, cancelled: Callable[[], bool]) -> int:
    """Give how many rack units more another question takes; 0 where that was not found out."""
    if counts.answer.stopped:
        return 0
    other = count(question, cancelled=cancelled, until="rack units").answer
    return 0 if other.stopped else other.goal("rack units").value - counts.answer.goal("rack units").value


def _units(number: int) -> str:
    return "one rack unit" if number == 1 else f"{number} rack units"
