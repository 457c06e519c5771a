"""Say what a choice costs: the two sides of a zone on different amplifiers, loads under the preferred one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import msgspec

from fieldkit.planning.counting import count
from fieldkit.planning.inquiry import Inquiry
from fieldkit.planning.laying import Cluster, serving
from fieldkit.planning.question import Counts, Question
from fieldkit.units import format_value


def prices(
    inquiry: Inquiry, question: Question, counts: Counts, clusters: Sequence[Cluster], cancelled: Callable[[], bool]
) -> tuple[str, ...]:
    """Give the notes about sides, loads and spares, with the price in rack units where racks are being built."""
    return (
        *_sides(inquiry, question, counts, clusters, cancelled),
        *_spares(question, counts),
        *_preferred(inquiry, question, counts, cancelled),
    )


def _sides(
    inquiry: Inquiry, question: Question, counts: Counts, clusters: Sequence[Cluster], cancelled: Callable[[], bool]
) -> Iterator[str]:
    """Name the zones whose sides share an amplifier, those on unlike ones, and the price of keeping them apart."""
    groups = question.groups
    if not inquiry.wishes.mirrored or not any(group.is_sided for group in groups):
        return
    unlike = {groups[option.group].zone.id for option, _ in counts.clusters if option.other}
    for name, (left, right) in serving(clusters, question).items():
        if left & right:
            shared = ", ".join(sorted(left & right))
            yield f"both sides of zone '{name}' share an amplifier ({shared}): no two have room for a side each"
        elif name in unlike:
            yield f"the sides of zone '{name}' hang on unlike amplifiers, since no two alike have room for a side each"
    if question.building and any(option.apart for option, _ in counts.clusters):
        more = -_more_units(msgspec.structs.replace(question, mirrored=False), counts, cancelled)
        if more > 0:
            yield f"keeping both sides apart, so that no one amplifier silences a zone, costs {_units(more)}"


def _spares(question: Question, counts: Counts) -> Iterator[str]:
    """Say so where no output is left to go to when one dies."""
    lacking = counts.answer.goal("sides without a spare output").value
    if lacking and counts.clusters:
        sided = question.two_sides
        where = "" if not sided else " on either side" if lacking == 2 else " on one of the sides"
        yield f"no output is left{where} to go to when one dies"


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
