"""Mixed sets: what fills one amplifier with several models at the same time, no set inside another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.planning.chart.cells import Cell, OutputTrials
from fieldkit.planning.chart.filling import (
    EMPTY,
    BoxCluster,
    Fill,
    Fills,
    Room,
    cluster_of,
    fills_of,
    joined_fills,
    room_of,
)
from fieldkit.planning.chart.question import Candidate, Terms

Counts = tuple[int, ...]
"""How many of each kind of box, in an order that is agreed."""


class BoxSet(msgspec.Struct, frozen=True):
    """Boxes of several kinds that one amplifier carries at the same time, and the way to do it with fewest channels."""

    amplifier: Amplifier
    boxes: tuple[tuple[Candidate, int], ...]
    fill: Fill

    @property
    def free(self) -> int:
        """Channels that stay free."""
        return self.amplifier.channels - self.fill.channels


class Sets(msgspec.Struct, frozen=True):
    """The sets of a chart, and how many were left out by which rule."""

    sets: tuple[BoxSet, ...]
    left_out: tuple[tuple[str, int], ...]


class BoxOffer(msgspec.Struct, frozen=True):
    """One kind of box on one amplifier: the clusters that the checks have no word against, in every mode."""

    candidate: Candidate
    clusters: tuple[BoxCluster, ...]


def offer_of(cells: Sequence[Cell], terms: Terms, *, preferred: bool = False) -> BoxOffer:
    """Gather what an amplifier can do with one kind of box, from its cells in all modes.

    With ``preferred`` no output is loaded under the preferred load.
    """
    clusters = []
    for cell in cells:
        most = (cell.preferred_per_output if preferred else cell.per_output) if cell.places else 0
        trials = OutputTrials(cell.amplifier, cell.mode, cell.candidate, terms, cell.processor)
        counts = [count for count in range(1, most + 1) if count not in cell.not_with]
        clusters += [cluster_of(cell.amplifier, trials.trial(count)) for count in counts]
    return BoxOffer(cells[0].candidate, tuple(clusters))


def offers_of(cells: Sequence[Cell], terms: Terms, *, preferred: bool = False) -> list[BoxOffer]:
    """Gather the offers of one amplifier, leaving out boxes that it does not carry."""
    by_box: dict[str, list[Cell]] = {}
    for cell in cells:
        by_box.setdefault(cell.candidate.title, []).append(cell)
    offers = [offer_of(its, terms, preferred=preferred) for its in by_box.values()]
    return [offer for offer in offers if offer.clusters]


def sets_of(cells: Sequence[Cell], terms: Terms, *, named: bool, preferred: bool = False) -> Sets:
    """List the sets that fill each amplifier of a chart.

    named: somebody named the boxes, so that every combination of them is meant; else only those for one use
    """
    found: list[BoxSet] = []
    left: dict[str, int] = {}
    amplifiers = {cell.amplifier.id: cell.amplifier for cell in cells}
    most = 3 if named or len(amplifiers) == 1 else 2
    for amplifier in amplifiers.values():
        offers = offers_of([cell for cell in cells if cell.amplifier.id == amplifier.id], terms, preferred=preferred)
        room = room_of(amplifier)
        carefree = msgspec.structs.replace(room, supply_w=None)
        tables = {own: [fills_of(offer.clusters, own) for offer in offers] for own in (room, carefree)}
        mine: list[Found] = []
        tried = 0
        for kinds in _combinations(offers, most, left, named=named):
            own = carefree if supply_is_plenty([offers[kind] for kind in kinds], room) else room
            every, fitting = _feasible([tables[own][kind] for kind in kinds], own)
            tried += fitting
            top = _maximal(every)
            mine += [(kinds, counts, every[counts]) for counts in top]
        kept = _outside_others(mine)
        _count(left, "inside another set", tried - len(kept))
        found += [
            BoxSet(amplifier, tuple((offers[kind].candidate, n) for kind, n in zip(kinds, counts, strict=True)), fill)
            for kinds, counts, fill in kept
        ]
    return Sets(tuple(sorted(found, key=_order)), tuple((rule, count) for rule, count in left.items() if count))


def supply_is_plenty(offers: Sequence[BoxOffer], room: Room) -> bool:
    """Tell whether a common supply carries any clusters of these on all channels, so that it need not be looked at."""
    if room.supply_w is None:
        return True
    clusters = [cluster for offer in offers for cluster in offer.clusters]
    if not clusters:
        return True
    worst = room.channels * max(cluster.demand_w / cluster.channels for cluster in clusters)
    share = min(cluster.share for cluster in clusters)
    return room.takes(Fill(demand_w=worst, share=share))


def _count(left: dict[str, int], rule: str, number: int) -> None:
    left[rule] = left.get(rule, 0) + number


def _combinations(
    offers: Sequence[BoxOffer], most: int, left: dict[str, int], *, named: bool
) -> Iterator[tuple[int, ...]]:
    """List combinations of two or three kinds that serve one use; what is left out is counted by its rule."""
    every = range(len(offers))
    for size in (2, 3):
        for kinds in combinations(every, size):
            rule = _left_out([offers[kind].candidate for kind in kinds], most, named=named)
            if rule:
                _count(left, rule, 1)
            else:
                yield kinds


def _left_out(boxes: Sequence[Candidate], most: int, *, named: bool) -> str:
    """Say by which rule a combination of models is no useful one; empty where it is."""
    if len({box.name for box in boxes}) < len(boxes):
        return "one model in two drives (combinations)"
    if len(boxes) > most:
        return "three models, unless boxes or one amplifier are named (combinations)"
    subs = sum(box.is_sub for box in boxes)
    if not named and subs > 1:
        return "two models of sub (combinations)"
    if not named and not subs:
        return "tops without a sub, unless they are named (combinations)"
    return ""


def _feasible(tables: Sequence[Fills], room: Room) -> tuple[dict[Counts, Fill], int]:
    """Find what fits together, one at least of each kind: for all numbers of the others the most of the last kind.

    Each comes with its fill of fewest channels; beside them, how many combinations of numbers fit in all.
    """
    states: dict[Counts, list[Fill]] = {(): [EMPTY]}
    for table in tables[:-1]:
        states = {
            (*counts, number): both
            for counts, fills in states.items()
            for number in table
            if number and (both := joined_fills(fills, table[number], room))
        }
    last, found, fitting = tables[-1], {}, 0
    for counts, fills in states.items():
        numbers = [
            number
            for number, its in last.items()
            if number and any(room.takes_both(left, right) for left in fills for right in its)
        ]
        fitting += len(numbers)
        if numbers:
            most = max(numbers)
            found[*counts, most] = min(joined_fills(fills, last[most], room), key=lambda fill: fill.channels)
    return found, fitting


def _maximal(every: dict[Counts, Fill]) -> list[Counts]:
    """Leave out numbers that lie inside others."""
    kept: list[Counts] = []
    for counts in sorted(every, key=lambda item: (-sum(item), item)):
        if not any(all(a >= b for a, b in zip(other, counts, strict=True)) for other in kept):
            kept.append(counts)
    return kept


Found = tuple[tuple[int, ...], Counts, Fill]
"""Kinds by their number, how many of each, and how."""


def _outside_others(found: Sequence[Found]) -> list[Found]:
    """Leave out sets of two kinds that lie inside one of three."""
    larger: dict[tuple[int, ...], list[Counts]] = {}
    for kinds, counts, _ in found:
        for pair in combinations(range(len(kinds)), 2) if len(kinds) > 2 else ():
            larger.setdefault(tuple(kinds[k] for k in pair), []).append(tuple(counts[k] for k in pair))
    return [
        item
        for item in found
        if not any(all(a >= b for a, b in zip(other, item[1], strict=True)) for other in larger.get(item[0], ()))
    ]


def _order(item: BoxSet) -> tuple[str, int, int, int]:
    """Sets that leave least free first, then those nearest to as many of each."""
    counts = [count for _, count in item.boxes]
    return (item.amplifier.id, item.free, max(counts) - min(counts), -sum(counts))
