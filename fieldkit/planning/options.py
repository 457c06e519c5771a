"""The clusters that may be formed: so many boxes of a group, in one drive, on one kind of place of one source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import msgspec

from fieldkit.planning.fitting import Fit, fit
from fieldkit.planning.groups import Group, Way
from fieldkit.planning.leads import can_reach, end_adaptor
from fieldkit.planning.outlets import Kind
from fieldkit.planning.question import Hosting, Option, Question


def options_of(question: Question, index: int, way: Way) -> list[Option]:
    """List the clusters of a group in one drive, on every source that may serve its zone."""
    group = question.groups[index]
    allowed = question.pins.get(group.zone.id)
    found = []
    for number, source in enumerate(question.sources):
        if allowed is not None and not allowed & source.called():
            continue
        if allowed is None and not question.within_reach(group.zone.id, source):
            continue
        for kind in dict.fromkeys(kind for pattern in source.patterns for kind in pattern.counts):
            if kind.pairs != way.pairs or not can_reach(kind, group, question.fittings):
                continue
            found += _sizes(question, index, way, number, kind)
    return [*found, *_unlike_sides(found, group)] if question.unlike else found


def _sizes(question: Question, index: int, way: Way, source: int, kind: Kind) -> list[Option]:
    group = question.groups[index]
    outputs = [
        (loads, question.amplifiers[model], mode)
        for (_, loads), (_, mode, model) in zip(way.loads, kind.feeds, strict=True)
    ]
    adaptor = end_adaptor(kind, group, question.fittings)
    found = []
    for boxes in range(1, group.count + 1 if group.links else 2):
        fits = fit(outputs, boxes, question.limits[group.zone.id])
        if fits is None:
            break
        hostings: list[Hosting] = ["inside"] if fits.is_hosted else ["outside"]
        if not fits.is_hosted and not fits.needs_host:
            hostings.append("nowhere")
        aparts = [True, False] if group.is_mirrored and question.mirrored else [question.keeps_hand(group)]
        found += [
            Option(index, way, source, kind, boxes, fits, hosting, apart, adaptor)
            for hosting in hostings
            for apart in aparts
        ]
    return found


def _unlike_sides(options: Sequence[Option], group: Group) -> Iterator[Option]:
    """Pair places of different sources for the two sides of a group, where they feed alike and fit alike."""
    if not group.is_mirrored:
        return
    apart = [option for option in options if option.apart and not option.kind.passes_on]
    for left, right in product(apart, apart):
        alike = (left.way.drive, left.boxes, left.hosting, left.adaptor) == (
            right.way.drive,
            right.boxes,
            right.hosting,
            right.adaptor,
        )
        feeds = [[(pair, mode) for pair, mode, _ in option.kind.feeds] for option in (left, right)]
        if left.source != right.source and alike and feeds[0] == feeds[1]:
            worse = Fit(
                is_weak=left.fit.is_weak or right.fit.is_weak,
                is_short=left.fit.is_short or right.fit.is_short,
                under_preferred=max(left.fit.under_preferred, right.fit.under_preferred),
                needs_host=left.fit.needs_host or right.fit.needs_host,
                is_hosted=left.fit.is_hosted and right.fit.is_hosted,
            )
            yield msgspec.structs.replace(left, other=(right.source, right.kind), fit=worse)
