"""Cable for the whole show at once: which leads, links, couplers and adaptors of the stock fill which gaps.

Each gap between two plugs is a need; each piece that fills it, or two joined by a coupler, is an offer. All needs are
met together, as whole numbers: no gap is left open that another choice would fill, then the loss limits hold, then
few joints, few cores, short pieces and thin copper are used, so that the better ones are left for what comes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Sequence
from math import ceil

import msgspec

from fieldkit.planning.assign.options import LINK_M, Lead, cable_ohm, leads_to, links_of, worst_loss_db
from fieldkit.planning.assign.patterns import carries_a
from fieldkit.planning.assign.problem import Group, Way
from fieldkit.planning.assign.stockroom import ShelfPiece, Stockroom
from fieldkit.planning.assign.whole_numbers import Goal, Programme
from fieldkit.units import Length

Cost = tuple[int, int, int]
"""Open; then unlisted adaptors, current and loss; then joints, length that does not reach, cores, length, copper."""

FAR_TOO_LONG = 2.0
"""A guessed distance is no reason to take a cable so many times as long as the guess."""


class Leg(msgspec.Struct, frozen=True):
    """One cluster of boxes on a run."""

    group: Group
    way: Way
    boxes: tuple[str, ...]
    plug: str
    pairs: tuple[str, ...]
    """Pairs that the cables of this leg must carry."""
    goes_on: bool
    adaptor: str = ""
    """It comes before this leg."""
    carried_a: float = 0.0
    """What each core of its lead carries at the most [A]."""


class CableNeed(msgspec.Struct, frozen=True):
    """One gap between two plugs."""

    leg: Leg
    is_link: bool
    length_m: float
    known: bool
    """Somebody said how far it is."""
    limit_db: float
    laid_ohm: float
    """The loop that lies before it [ohm]."""
    before: tuple[str, Length] | None = None
    """The cable that filled this gap until now: it lies there."""

    def alike(self) -> Hashable:
        """Say what makes two needs one and the same to the stock."""
        leg = self.leg
        return (
            self.is_link, leg.group.speaker.id, leg.way.drive, leg.plug, leg.pairs, leg.goes_on,
            self.length_m, self.known, len(leg.boxes), leg.carried_a, self.limit_db, self.laid_ohm, self.before,
        )  # fmt: skip


class Offer(msgspec.Struct, frozen=True):
    """What would fill a gap."""

    lead: Lead
    pieces: tuple[ShelfPiece, ...]
    coupler: str = ""
    """Joins two pieces."""
    missing: bool = False
    """Nothing that is there fills it: this would have to be hired."""

    def parts(self) -> Counter[str]:
        """Count the adaptors that it takes."""
        names = [self.coupler] * (len(self.pieces) - 1)
        return Counter([*names, self.lead.adaptor.id] if self.lead.adaptor is not None else names)


def fill(needs: Sequence[CableNeed], stockroom: Stockroom, temperature_c: float) -> tuple[tuple[Offer, ...], Cost]:
    """Choose an offer for each need, and take it from the shelf; give what all of them cost."""
    alike: dict[Hashable, list[int]] = defaultdict(list)
    for number, need in enumerate(needs):
        alike[need.alike()].append(number)
    lots = list(alike.values())
    offers = [list(_offers(needs[lot[0]], stockroom)) for lot in lots]
    costs = [
        [_cost(needs[lot[0]], offer, stockroom, temperature_c) for offer in own]
        for lot, own in zip(lots, offers, strict=True)
    ]
    numbers = _numbers([len(lot) for lot in lots], offers, costs, stockroom)
    chosen: dict[int, Offer] = {}
    for lot, own, taken in zip(lots, offers, numbers, strict=True):
        dealt = [offer for offer, number in zip(own, taken, strict=True) for _ in range(number)]
        chosen |= dict(zip(lot, dealt, strict=True))
    for offer in chosen.values():
        for piece in offer.pieces:
            if offer.missing:
                stockroom.missing[f"{piece.length} of {piece.cable.id}"] += 1
            else:
                stockroom.take(piece)
        for part, number in offer.parts().items():
            for _ in range(number):
                stockroom.take_part(part)
    paid = [
        (number, cost)
        for taken, own in zip(numbers, costs, strict=True)
        for number, cost in zip(taken, own, strict=True)
    ]
    first, second, third = (sum(number * cost[part] for number, cost in paid) for part in range(3))
    return tuple(chosen[number] for number in range(len(needs))), (first, second, third)


def _cost(need: CableNeed, offer: Offer, stockroom: Stockroom, temperature_c: float) -> Cost:
    share = 1.0 - need.is_link / len(need.leg.boxes)  # the first link carries what all but the first box take
    over_current = max(over_current_of(piece, need.leg.carried_a * share) for piece in offer.pieces)
    over_db = 0.0 if need.is_link else _loss_db(need, offer.pieces, temperature_c) - need.limit_db
    joints = sum(offer.parts().values())
    short_m = max(0.0, need.length_m - sum(piece.length.value for piece in offer.pieces))
    copper = 1 if offer.pieces[0].in_stock or not need.is_link else -1
    unlisted = sum(number for part, number in offer.parts().items() if not stockroom.lists(part))
    wrong = 10_000 * unlisted + over_current + max(0, ceil(100.0 * over_db - 1e-6))
    if (offer.pieces[0].cable.id, offer.pieces[0].length) == need.before and not joints and not short_m:
        return 0, wrong, 0  # it is laid already
    if offer.missing:  # it loses what a lead that is there loses; and the shortest is the easiest to find
        return 1, wrong, 100_000 * round(need.length_m) + thrift(offer.pieces)
    coiled = need.is_link and offer.pieces[0].length.value > FAR_TOO_LONG * need.length_m
    fine = 1_000_000 * joints + 100_000 * round(short_m) + 400_000 * coiled + thrift(offer.pieces, copper)
    return 0, wrong, max(0, fine)


def thrift(pieces: Sequence[ShelfPiece], copper: int = 1) -> int:
    """Weigh what a lead of some pieces takes from what comes: cores, then length, then copper, by its sign."""
    cable = pieces[0].cable
    length_m = sum(piece.length.value for piece in pieces)
    return 30_000 * cable.cores + 100 * round(length_m) + copper * round(10.0 * min(cable.area.value, 99.0))


def _numbers(
    counts: Sequence[int], offers: Sequence[Sequence[Offer]], costs: Sequence[Sequence[Cost]], stockroom: Stockroom
) -> list[list[int]]:
    """Say how often each offer of each lot is taken."""
    best = [min(range(len(own)), key=own.__getitem__) for own in costs]
    wanted: Counter[tuple[str, Length | None]] = Counter()
    for count, own, place in zip(counts, offers, best, strict=True):
        wanted.update({key: count * number for key, number in _takes(own[place]).items()})
    if all(number <= stockroom.left(*key) for key, number in wanted.items()):
        return [
            [count * (at == place) for at in range(len(own))]
            for count, own, place in zip(counts, offers, best, strict=True)
        ]
    programme = Programme()
    columns = [
        [programme.column(count, count if offer.missing else 0) for offer in own]
        for count, own in zip(counts, offers, strict=True)
    ]
    rows: dict[tuple[str, Length | None], dict[int, float]] = defaultdict(dict)
    for count, own, at in zip(counts, offers, columns, strict=True):
        programme.row(count, count, dict.fromkeys(at, 1.0))
        for offer, column in zip(own, at, strict=True):
            for key, number in _takes(offer).items():
                rows[key][column] = float(number)
    for key, terms in rows.items():
        programme.row(-float("inf"), float(stockroom.left(*key)), terms)
    goals = [
        Goal(
            name,
            {
                c: float(cost[part])
                for at, own in zip(columns, costs, strict=True)
                for c, cost in zip(at, own, strict=True)
            },
        )
        for part, name in enumerate(("open gaps", "loss and current", "thrift"))
    ]
    values = programme.minimise([*goals[:2], msgspec.structs.replace(goals[2], exact=False)]).values
    return [[values[column] for column in at] for at in columns]


def _takes(offer: Offer) -> Counter[tuple[str, Length | None]]:
    """Count what an offer takes of what is limited: pieces by cable and length, adaptors by name."""
    if offer.missing:
        return Counter()
    pieces = ((piece.cable.id, piece.length) for piece in offer.pieces if piece.in_stock)
    found: Counter[tuple[str, Length | None]] = Counter(pieces)
    found.update({(part, None): number for part, number in offer.parts().items()})
    return found


def _offers(need: CableNeed, stockroom: Stockroom) -> Iterator[Offer]:
    """List what could fill a gap, and what would have to be hired where nothing does."""
    leg, speaker = need.leg, need.leg.group.speaker
    if need.is_link:
        leads = list(links_of(speaker, leg.pairs, stockroom.fittings))
    else:
        leads = list(leads_to(speaker, leg.plug, leg.pairs, stockroom.fittings, goes_on=leg.goes_on))
    for lead in leads:
        reaching = stockroom.pieces(lead.cable, need.length_m)
        near = [piece for piece in reaching if need.known or piece.length.value <= FAR_TOO_LONG * need.length_m]
        # Of a link a long lead may lie coiled beside the boxes, where no short one is left.
        yield from (Offer(lead, (piece,)) for piece in (reaching if need.is_link else near or reaching))
        if not need.known and not need.is_link:  # a guess is no reason to leave a gap open
            yield from (Offer(lead, (piece,)) for piece in stockroom.under(lead.cable, need.length_m))
        if not need.is_link and (coupler := stockroom.coupler(lead.cable)):
            yield from (Offer(lead, pair, coupler) for pair in stockroom.pairs(lead.cable, need.length_m))
    length = Length.of(float(ceil(need.length_m)))
    lead = leads[0] if leads else Lead(stockroom.fittings.cables[0])
    yield Offer(lead, (ShelfPiece(lead.cable, length, in_stock=False),), missing=True)


def over_current_of(piece: ShelfPiece, amps: float) -> int:
    """Weigh how far a current is over what a cable is rated for.

    0 where it bears it; else the more, the hotter it gets, so that of two that are too thin the thicker one is taken.
    """
    rated_a = carries_a(piece.cable)
    return 0 if amps <= rated_a else 10_000 + ceil(1_000.0 * (amps / rated_a - 1.0))


def _loss_db(need: CableNeed, pieces: Sequence[ShelfPiece], temperature_c: float) -> float:
    """Compute the worst loss on the pairs of a leg, with these pieces and links of the same cable [dB].

    A lead shorter than a guessed way loses what one of that way would: too short is not less loss.
    """
    loads = tuple(own for _, own in need.leg.way.loads)
    ways = [(piece.cable, piece.length) for piece in pieces]
    short_m = need.length_m - sum(length.value for _, length in ways)
    if short_m > 0.0:
        ways.append((pieces[-1].cable, Length.of(short_m)))
    lead_ohm = need.laid_ohm + sum(cable_ohm(cable, length, temperature_c) for cable, length in ways)
    link_ohm = cable_ohm(pieces[0].cable, Length.of(LINK_M), temperature_c)
    stretches = [(lead_ohm, loads), *[(link_ohm, loads)] * (len(need.leg.boxes) - 1)]
    return max((worst_loss_db(stretches, number) for number in range(len(loads))), default=0.0)
