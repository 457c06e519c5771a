"""Lay one run: the lead to its first box, the links from box to box, the adaptor to what comes behind.

Of the cables that reach, the one with the fewest cores is taken, then the shortest, then the thinnest, for as long
as the zone's loss limit holds; where none holds it, the one that loses least.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import ceil

import msgspec

from fieldkit.formulas import ohms_law
from fieldkit.gear.cabling import Cable
from fieldkit.planning.assign.options import Lead, cable_ohm, leads_to, links_of, worst_loss_db
from fieldkit.planning.assign.patterns import Fittings
from fieldkit.planning.assign.problem import Group, Way
from fieldkit.planning.assign.stockroom import ShelfPiece, Stockroom
from fieldkit.rig.connect.lines import Load
from fieldkit.show.document import Show, Step, Zone
from fieldkit.units import Length

ASSUMED_DISTANCE_M = 15.0
"""Way from the rack to a zone that does not say it. Our own choice; a plan that rests on it says so."""

LINK_M = 2.0
"""Way from one box to the next beside it. Our own choice."""

ELSEWHERE_M = 5.0
"""Way between boxes of two zones, where nobody knows better. Our own choice."""


def led_before(show: Show) -> dict[str, float]:
    """Give for each zone how far the longest lead goes to the first of its boxes on a run [m]."""
    zones = {box.id: box.zone for box in show.boxes}
    found: dict[str, float] = {}
    for run in show.runs:
        way_m, met = 0.0, set()
        for step in run.path:
            way_m += step.length.value if step.length else 0.0
            if step.box and zones[step.box] not in met:
                met.add(zones[step.box])
                found[zones[step.box]] = max(way_m, found.get(zones[step.box], 0.0))
    return found


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


class Layer:
    """Lays runs from one shelf."""

    def __init__(self, stockroom: Stockroom, temperature_c: float, led_m: Mapping[str, float]) -> None:
        self.stockroom = stockroom
        self.temperature_c = temperature_c
        self.led_m = led_m
        """Zone -> how far the leads went that led there before [m]."""
        self.guessed: dict[str, None] = {}
        """Zones whose distance was assumed."""

    @property
    def fittings(self) -> Fittings:
        """What can be had."""
        return self.stockroom.fittings

    def lay(self, legs: Sequence[Leg], limit_db: float, laid_m: float = 0.0, laid_ohm: float = 0.0) -> list[Step]:
        """Give the path of a run; ``laid_m`` and ``laid_ohm`` are the way and the loop that its start has behind it."""
        steps: list[Step] = []
        for number, leg in enumerate(legs):
            if leg.adaptor:
                self.stockroom.take_part(leg.adaptor)
                steps.append(Step(adaptor=leg.adaptor))
            links = [self._link(leg) for _ in leg.boxes[1:]]
            length_m, known = self._way_m(legs[number - 1] if number else None, leg, laid_m)
            lead, pieces = self._lead(leg, length_m, links, limit_db, laid_ohm, known=known)
            steps += self._lead_steps(leg, lead, pieces)
            steps += [
                Step(cable=piece.cable.id, length=piece.length, box=box)
                for piece, box in zip(links, leg.boxes[1:], strict=True)
            ]
            laid_m = 0.0
        return steps

    def trunk_m(self, zones: Sequence[Zone]) -> float:
        """Give how far a multicore with a breakout panel at its end shall go [m]: near the nearest of its zones."""
        ways = [zone.distance.value if zone.distance else self.led_m.get(zone.id, ASSUMED_DISTANCE_M) for zone in zones]
        return max(LINK_M, min(ways) - ELSEWHERE_M)

    def trunk(self, plug: str, pairs: Collection[str], length_m: float) -> ShelfPiece:
        """Take a multicore with the same connector at both ends: the shortest that reaches, else the longest."""
        cables = [
            cable
            for cable in self.fittings.cables
            if set(cable.connectors or (plug,)) == {plug} and all(cable.far_pair(pair) == pair for pair in pairs)
        ]
        offers = [piece for cable in cables for piece in self.stockroom.pieces(cable, length_m)[:1]]
        offers = offers or [piece for cable in cables if (piece := self.stockroom.longest(cable)) is not None]
        if not offers:
            return self._missing(cables[0], length_m)
        piece = min(offers, key=_thrift)
        self.stockroom.take(piece)
        return piece

    def _way_m(self, before: Leg | None, leg: Leg, laid_m: float) -> tuple[float, bool]:
        """Give how far the lead of a leg must reach [m], and whether somebody said so."""
        zone = leg.group.zone
        if before is not None:
            if before.group.zone.id == zone.id:
                return LINK_M, False
            here, there = before.group.zone.distance, zone.distance
            return (ELSEWHERE_M + abs(there.value - here.value) if here and there else LINK_M), False
        if zone.distance is not None:
            return max(LINK_M, zone.distance.value - laid_m), True
        self.guessed[zone.id] = None
        if zone.id in self.led_m:
            return max(LINK_M, self.led_m[zone.id] - laid_m), True
        return max(LINK_M, ASSUMED_DISTANCE_M - laid_m), False

    def _link(self, leg: Leg) -> ShelfPiece:
        """Take the shortest piece that links two boxes; what is not there is written down as missing."""
        leads = list(links_of(leg.group.speaker, leg.pairs, self.fittings))
        offers = [piece for lead in leads for piece in self.stockroom.pieces(lead.cable, LINK_M)[:1]]
        offers = [piece for piece in offers if _carries(piece, leg, len(leg.boxes) - 1)] or offers
        if offers:
            piece = min(offers, key=_thrift if offers[0].in_stock else _stoutest)
            self.stockroom.take(piece)
        else:
            cable = leads[0].cable if leads else self.fittings.cables[0]
            piece = self._missing(cable, LINK_M)
        return piece

    def _lead(
        self, leg: Leg, length_m: float, links: Sequence[ShelfPiece], limit_db: float, laid_ohm: float, *, known: bool
    ) -> tuple[Lead, list[ShelfPiece]]:
        leads = list(leads_to(leg.group.speaker, leg.plug, leg.pairs, self.fittings, goes_on=leg.goes_on))
        leads = [lead for lead in leads if lead.adaptor is None or self.stockroom.has_part(lead.adaptor.id)] or leads
        offers = [(lead, [piece]) for lead in leads for piece in self.stockroom.pieces(lead.cable, length_m)[:1]]
        if not known:  # a guess is no reason to take a cable three times as long as the next one
            shorter = [(lead, piece) for lead in leads if (piece := self.stockroom.under(lead.cable, length_m))]
            enough = [offer for offer in offers if offer[1][0].length.value <= 2.0 * length_m]
            offers = enough or [(lead, [piece]) for lead, piece in shorter] or offers
        offers = offers or [offer for lead in leads if (offer := self._joined(lead, length_m)) is not None]
        if not offers:
            lead = leads[0] if leads else Lead(self.fittings.cables[0])
            return lead, [self._missing(lead.cable, length_m)]
        carrying = [offer for offer in offers if all(_carries(piece, leg, len(leg.boxes)) for piece in offer[1])]
        offers = carrying or offers
        offers.sort(key=lambda offer: (offer[0].adaptor is not None, _thrift(offer[1][0])))
        losses = [self._loss_db(leg, pieces, links, laid_ohm) for _, pieces in offers]
        good = [number for number, loss_db in enumerate(losses) if loss_db <= limit_db]
        chosen = good[0] if good else min(range(len(offers)), key=losses.__getitem__)
        lead, pieces = offers[chosen]
        for piece in pieces:
            self.stockroom.take(piece)
        return lead, pieces

    def _joined(self, lead: Lead, length_m: float) -> tuple[Lead, list[ShelfPiece]] | None:
        """Join the longest piece of a cable with the shortest one that makes up the length, by a coupler."""
        first = self.stockroom.longest(lead.cable)
        coupler = self._coupler(lead)
        if first is None or coupler is None or not self.stockroom.has_part(coupler):
            return None
        self.stockroom.take(first)
        rest = self.stockroom.pieces(lead.cable, length_m - first.length.value)[:1]
        self.stockroom.put_back(first)
        return (lead, [first, rest[0]]) if rest else None

    def _coupler(self, lead: Lead) -> str | None:
        ends = lead.cable.connectors
        pairs = [str(number) for number in range(1, lead.cable.cores // 2 + 1)]
        for adaptor in self.fittings.adaptors:
            meets = not ends or (adaptor.connectors[:1] == ends[-1:] and adaptor.connectors[-1:] == ends[:1])
            if meets and all(adaptor.far_pair(pair) == pair for pair in pairs):
                return adaptor.id
        return None

    def _missing(self, cable: Cable, length_m: float) -> ShelfPiece:
        """Write down a piece that is not there, in the length that is needed."""
        length = Length.of(float(ceil(length_m)))
        self.stockroom.missing[f"{length} of {cable.id}"] += 1
        return ShelfPiece(cable, length, in_stock=False)

    def _lead_steps(self, leg: Leg, lead: Lead, pieces: Sequence[ShelfPiece]) -> list[Step]:
        steps: list[Step] = []
        for piece in pieces:
            if steps:
                coupler = self._coupler(lead)
                if coupler is None:
                    raise ValueError(f"no coupler for '{piece.cable.id}' although two pieces were joined")
                self.stockroom.take_part(coupler)
                steps.append(Step(adaptor=coupler))
            steps.append(Step(cable=piece.cable.id, length=piece.length))
        if lead.adaptor is not None:
            self.stockroom.take_part(lead.adaptor.id)
            steps.append(Step(adaptor=lead.adaptor.id))
        return [*steps[:-1], msgspec.structs.replace(steps[-1], box=leg.boxes[0])]

    def _loss_db(self, leg: Leg, pieces: Sequence[ShelfPiece], links: Sequence[ShelfPiece], laid_ohm: float) -> float:
        """Give the worst loss on the pairs of a leg, with these pieces [dB]."""
        loads: tuple[tuple[Load, ...], ...] = tuple(own for _, own in leg.way.loads)
        lead_ohm = laid_ohm + sum(cable_ohm(piece.cable, piece.length, self.temperature_c) for piece in pieces)
        stretches = [(lead_ohm, loads)]
        stretches += [(cable_ohm(piece.cable, piece.length, self.temperature_c), loads) for piece in links]
        return max((worst_loss_db(stretches, number) for number in range(len(loads))), default=0.0)


def _carries(piece: ShelfPiece, leg: Leg, boxes: int) -> bool:
    """Tell whether a cable bears the current of so many boxes at their continuous rating, on each of its pairs."""
    rated = piece.cable.current
    if rated is None:
        return True
    for _, loads in leg.way.loads:
        each = (ohms_law.current_from_power(load.continuous_w, load.rated_ohm) for load in loads)
        if boxes * sum(each) > rated.value:
            return False
    return True


def _stoutest(piece: ShelfPiece) -> tuple[int, float]:
    """Put thick cable first where any may be had: a link of a few metres costs nothing."""
    return piece.cable.cores, -piece.cable.area.value


def _thrift(piece: ShelfPiece) -> tuple[int, float, float]:
    return piece.cable.cores, piece.length.value, piece.cable.area.value
