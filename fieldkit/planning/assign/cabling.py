"""Lay the runs: how far each lead and link must reach, and the steps of each path once its cable is chosen."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise
from math import ceil

import msgspec

from fieldkit.gear.cabling import Cable
from fieldkit.planning.assign.leads import CableNeed, Cost, Leg, Offer, fill, over_current_of
from fieldkit.planning.assign.options import LINK_M
from fieldkit.planning.assign.patterns import Fittings
from fieldkit.planning.assign.stockroom import ShelfPiece, Stockroom
from fieldkit.show.document import Show, Step, Zone
from fieldkit.units import Length

ASSUMED_DISTANCE_M = 15.0
"""Way from the rack to a zone that does not say it. Our own choice; a plan that rests on it says so."""

ELSEWHERE_M = 5.0
"""Way between boxes of two zones, where nobody knows better. Our own choice."""


def led_before(show: Show) -> dict[str, float]:
    """Measure the leads to each box, and for each zone the longest lead to its first box on a run [m].

    A box is named ``box ML1`` and a zone ``zone mains``.
    """
    zones = {box.id: box.zone for box in show.boxes}
    found: dict[str, float] = {}
    for run in show.runs:
        way_m, met = 0.0, set()
        for step in run.path:
            way_m += step.length.value if step.length else 0.0
            if step.box:
                found[f"box {step.box}"] = way_m
            if step.box and zones[step.box] not in met:
                met.add(zones[step.box])
                name = f"zone {zones[step.box]}"
                found[name] = max(way_m, found.get(name, 0.0))
    return found


def cables_before(show: Show) -> dict[tuple[str, str], tuple[str, Length]]:
    """List the cable from each box or connector (then empty) to the next box, where it is one piece and no more."""
    found: dict[tuple[str, str], tuple[str, Length]] = {}
    for run in show.runs:
        behind, alone = "", True
        for step in run.path:
            if step.box and step.cable and step.length and alone:
                found[behind, step.box] = step.cable, step.length
            behind, alone = (step.box, True) if step.box else (behind, False)
    return found


class LaidWay(msgspec.Struct, frozen=True):
    """The way of one run: what it begins with, and its legs."""

    start: tuple[Step, ...]
    legs: tuple[Leg, ...]
    limit_db: float
    laid_m: float
    """Way that its start has behind it [m]."""
    laid_ohm: float
    """Loop of that [ohm]."""
    behind: Zone | None = None
    """Zone of the box that it hangs behind, where that is on a run that stays."""


class Layer:
    """Lays runs from one shelf."""

    def __init__(self, stockroom: Stockroom, temperature_c: float, before: Show) -> None:
        """Lay runs anew; ``before`` has those that there were."""
        self.stockroom = stockroom
        self.temperature_c = temperature_c
        self.before = before
        self.led_m = led_before(before)
        """How far the leads went that led to each box and zone before [m]."""
        self._cables = cables_before(before)
        self.guessed: dict[str, None] = {}
        """Zones whose distance was assumed."""

    @property
    def fittings(self) -> Fittings:
        """What can be had."""
        return self.stockroom.fittings

    def on_trial(self) -> Layer:
        """Return a layer with a shelf of its own, to see what a choice would cost."""
        return Layer(self.stockroom.copied(), self.temperature_c, self.before)

    def take_over(self, trial: Layer) -> None:
        """Let what was laid on trial be laid."""
        self.stockroom.take_over(trial.stockroom)
        self.guessed |= trial.guessed

    def lay(self, ways: Sequence[LaidWay]) -> tuple[list[tuple[Step, ...]], Cost]:
        """Return the paths of all runs, and what they cost; the cables of the whole show are chosen together."""
        for way in ways:
            for leg in way.legs:
                if leg.adaptor:
                    self.stockroom.take_part(leg.adaptor)
        needs = [list(self._needs(way)) for way in ways]
        chosen, cost = fill([need for own in needs for need in own], self.stockroom, self.temperature_c)
        offers = iter(chosen)
        return [(*way.start, *self._steps(way, offers)) for way in ways], cost

    def _needs(self, way: LaidWay) -> Iterator[CableNeed]:
        for number, leg in enumerate(way.legs):
            before = way.legs[number - 1].group.zone if number else way.behind
            length_m, known = self._way_m(before, leg, way.laid_m)
            behind = way.legs[number - 1].boxes[-1] if number else ""
            cable = self._cables.get((behind, leg.boxes[0])) if not (leg.adaptor or way.start) else None
            yield CableNeed(leg, False, length_m, known, way.limit_db, way.laid_ohm, cable)
            for behind, box in pairwise(leg.boxes):
                link_m = ELSEWHERE_M if box == leg.group.across else LINK_M
                yield CableNeed(leg, True, link_m, False, way.limit_db, 0.0, self._cables.get((behind, box)))

    def _steps(self, way: LaidWay, offers: Iterator[Offer]) -> Iterator[Step]:
        for leg in way.legs:
            if leg.adaptor:
                yield Step(adaptor=leg.adaptor)
            for box in leg.boxes:
                yield from _offered(next(offers), box)

    def trunk_m(self, zones: Sequence[Zone], short_m: float) -> float:
        """Compute the length of a multicore with a breakout panel at its end [m].

        short_m: how far before the nearest of its zones it may end, where leads go on from the panel
        """
        led = (self.led_m.get(f"zone {zone.id}", ASSUMED_DISTANCE_M) for zone in zones)
        ways = [zone.distance.value if zone.distance else way_m for zone, way_m in zip(zones, led, strict=True)]
        return max(LINK_M, min(ways) - short_m)

    def trunk(self, plug: str, pairs: Collection[str], length_m: float, carried_a: float) -> ShelfPiece:
        """Take a multicore with the same connector at both ends: the shortest that reaches, else the longest.

        One that bears the current on each of its cores comes first.
        """
        cables = [
            cable
            for cable in self.fittings.cables
            if set(cable.connectors or (plug,)) == {plug} and all(cable.far_pair(pair) == pair for pair in pairs)
        ]
        offers = [piece for cable in cables for piece in self.stockroom.pieces(cable, length_m)[:1]]
        offers = offers or [piece for cable in cables if (piece := self.stockroom.longest(cable)) is not None]
        if not offers:
            return self._missing(cables[0], length_m)
        piece = min(offers, key=lambda offer: (over_current_of(offer, carried_a), *_thrift(offer)))
        self.stockroom.take(piece)
        return piece

    def _way_m(self, here: Zone | None, leg: Leg, laid_m: float) -> tuple[float, bool]:
        """Compute how far the lead of a leg must reach [m], and whether the show says so or it is assumed.

        here: zone of the box that it comes from; None from an amplifier
        """
        zone = leg.group.zone
        if here is not None:
            if here.id == zone.id or here.id in zone.near or zone.id in here.near:
                return LINK_M, False
            apart_m = abs(zone.distance.value - here.distance.value) if zone.distance and here.distance else 0.0
            return ELSEWHERE_M + apart_m, False  # at the least: equally far from the rack is not near each other
        if zone.distance is not None:
            return max(LINK_M, zone.distance.value - laid_m), True
        self.guessed[zone.id] = None
        led_m = self.led_m.get(f"box {leg.boxes[0]}", self.led_m.get(f"zone {zone.id}"))
        if led_m is not None:
            return max(LINK_M, led_m - laid_m), True
        return max(LINK_M, ASSUMED_DISTANCE_M - laid_m), False

    def _missing(self, cable: Cable, length_m: float) -> ShelfPiece:
        """Write down a piece that is not there, in the length that is needed."""
        length = Length.of(float(ceil(length_m)))
        self.stockroom.missing[f"{length} of {cable.id}"] += 1
        return ShelfPiece(cable, length, in_stock=False)


def _offered(offer: Offer, box: str) -> list[Step]:
    """Write an offer as the steps to a box."""
    steps: list[Step] = []
    for piece in offer.pieces:
        if steps:
            steps.append(Step(adaptor=offer.coupler))
        steps.append(Step(cable=piece.cable.id, length=piece.length))
    if offer.lead.adaptor is not None:
        steps.append(Step(adaptor=offer.lead.adaptor.id))
    return [*steps[:-1], msgspec.structs.replace(steps[-1], box=box)]


def _thrift(piece: ShelfPiece) -> tuple[int, float, float]:
    return piece.cable.cores, piece.length.value, piece.cable.area.value
