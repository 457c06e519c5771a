"""Lay a run for each cluster that has its place, or for two that share one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.planning.assign.cabling import ELSEWHERE_M, LaidWay, Layer
from fieldkit.planning.assign.leads import Cost, Leg, thrift
from fieldkit.planning.assign.options import cable_ohm, carried_pairs
from fieldkit.planning.assign.placing import Cluster
from fieldkit.planning.assign.problem import Question
from fieldkit.planning.assign.spots import Spot
from fieldkit.show.document import Run, Show, Step

TRUNK_SHORT_M = (ELSEWHERE_M, 0.0)
"""How far before its nearest zone a multicore may end: each is tried, and what leaves the least open is laid."""


def lay_runs(
    show: Show, question: Question, clusters: Sequence[Cluster], layer: Layer, before: Mapping[tuple[str, ...], Run]
) -> tuple[Run, ...]:
    """Lay a run for each cluster, or for two that share one; longest ways first, since they have least choice.

    What hangs behind the end of a run that stays makes that run longer: it comes back so, under its own name.
    ``before`` gives the run that some boxes had, which stays as it was where its start and feeds do.
    """
    lots: dict[tuple[str, str], list[Cluster]] = {}
    for cluster in clusters:
        spot = cluster.spot
        lots.setdefault((spot.use, spot.place.panel and spot.place.socket), []).append(cluster)
    for lot in lots.values():
        lot.sort(key=lambda cluster: cluster.spot.number)
    runs = _as_before(lots, before)
    for run in runs.values():
        layer.stockroom.claim(run)
    order = sorted((lot for lot in lots.values() if _key(lot) not in runs), key=lambda lot: -_distance_m(lot, question))
    behind_panels = any(lot[0].spot.place.panel for lot in order)
    tried = [
        (_laid(order, _Trunks(trial, clusters, question, short_m)), trial)
        for short_m in (TRUNK_SHORT_M if behind_panels else TRUNK_SHORT_M[:1])
        for trial in (layer.on_trial() if behind_panels else layer,)
    ]
    (ways, _), best = min(tried, key=lambda one: one[0][1])
    layer.take_over(best)
    paths = {_key(lot): path for lot, path in zip(order, ways, strict=True)}
    names = _Names(show, {run.id for run in runs.values()})
    for lot in lots.values():
        if _key(lot) not in runs:
            tail = question.tails.get(lot[0].spot.place.kind.behind)
            path = paths[_key(lot)]
            if tail is not None:
                runs[_key(lot)] = _longer(tail.run, _feeds(lot), path)
            else:
                runs[_key(lot)] = Run(id=names.next(), start=lot[0].spot.use, feeds=_feeds(lot), path=path)
    return tuple(runs[_key(lot)] for lot in lots.values())


def _longer(run: Run, feeds: Mapping[str, str], path: tuple[Step, ...]) -> Run:
    """Let a run go on behind its end; one that does not say what feeds its pairs is fed by all that there is."""
    more = dict(sorted({**run.feeds, **feeds}.items(), key=lambda item: int(item[0]))) if run.feeds else {}
    return msgspec.structs.replace(run, feeds=more, path=(*run.path, *path))


def _laid(order: Sequence[Sequence[Cluster]], trunks: _Trunks) -> tuple[list[tuple[Step, ...]], Cost]:
    """Lay some lots; give their paths, and what these and the multicores cost."""
    paths, cost = trunks.layer.lay([_way(lot, trunks) for lot in order])
    return paths, (cost[0] + trunks.missing, cost[1], cost[2] + trunks.thrift)


def _key(lot: Sequence[Cluster]) -> str:
    """Name a run by its first box."""
    return lot[0].boxes[0]


def _as_before(
    lots: Mapping[tuple[str, str], Sequence[Cluster]], before: Mapping[tuple[str, ...], Run]
) -> dict[str, Run]:
    """Find the runs that stay as they were; of those that share a multicore all or none."""
    same: dict[str, dict[str, Run | None]] = {}
    for lot in lots.values():
        old = before.get(tuple(box for cluster in lot for box in cluster.boxes))
        stays = old is not None and old.start == lot[0].spot.use and old.feeds == _feeds(lot)
        same.setdefault(lot[0].spot.use, {})[_key(lot)] = old if stays else None
    return {key: run for kept in same.values() if all(kept.values()) for key, run in kept.items() if run is not None}


def _feeds(lot: Sequence[Cluster]) -> dict[str, str]:
    pairs = {pair: cluster.spot.output(feed) for cluster in lot for pair, feed in cluster.spot.place.feeds}
    return dict(sorted(pairs.items(), key=lambda item: int(item[0])))


def _distance_m(lot: Sequence[Cluster], question: Question) -> float:
    zones = [question.groups[cluster.option.group].zone for cluster in lot]
    return max((zone.distance.value for zone in zones if zone.distance), default=0.0)


def _way(lot: Sequence[Cluster], trunks: _Trunks) -> LaidWay:
    question = trunks.question
    start, laid_m, laid_ohm = trunks.steps(lot[0].spot)
    tail = question.tails.get(lot[0].spot.place.kind.behind)
    if tail is not None:
        laid_ohm = max(tail.loops_ohm[pair] for pair, _ in lot[0].spot.place.feeds)
    legs = []
    for number, cluster in enumerate(lot):
        place, group = cluster.spot.place, question.groups[cluster.option.group]
        goes_on = place.kind.passes_on and number + 1 < len(lot)
        pairs = carried_pairs(place.kind) if goes_on else cluster.option.way.pairs
        option = cluster.option
        plug, carried_a = place.kind.plug, option.carried_a
        legs.append(Leg(group, option.way, cluster.boxes, plug, pairs, goes_on, place.adaptor, carried_a))
    limit_db = min(question.limits[leg.group.zone.id].loss_db for leg in legs)
    return LaidWay(tuple(start), tuple(legs), limit_db, laid_m, laid_ohm, tail.zone if tail is not None else None)


class _Names:
    """Labels for new runs: W1, W2, … that nothing has yet."""

    def __init__(self, show: Show, taken: set[str]) -> None:
        tables = (show.boxes, show.racks, show.rack_units, show.runs, show.supplies)
        self._taken = {thing.id for table in tables for thing in table} | taken
        self._number = 0

    def next(self) -> str:
        self._number += 1
        while f"W{self._number}" in self._taken:
            self._number += 1
        return f"W{self._number}"


class _Trunks:
    """Multicores and breakout panels, one for each connector that is used through them."""

    def __init__(self, layer: Layer, clusters: Sequence[Cluster], question: Question, short_m: float) -> None:
        self.layer = layer
        self.question = question
        self.missing = 0
        """Multicores that are not there."""
        self.thrift = 0
        """What those that are taken cost, as a part of `Cost`."""
        self._short_m = short_m
        self._laid: dict[str, tuple[Step, Step, float, float]] = {}
        self._clusters = clusters

    def steps(self, spot: Spot) -> tuple[list[Step], float, float]:
        """Return the steps up to a spot's socket, their length [m] and their loop resistance [ohm]."""
        if not spot.place.panel:
            return [], 0.0, 0.0
        if spot.use not in self._laid:
            self._laid[spot.use] = self._trunk(spot)
        cable, panel, way_m, loop = self._laid[spot.use]
        return [cable, msgspec.structs.replace(panel, socket=spot.place.socket)], way_m, loop

    def _trunk(self, spot: Spot) -> tuple[Step, Step, float, float]:
        layer = self.layer
        sharing = [cluster for cluster in self._clusters if cluster.spot.use == spot.use]
        pairs = {pair for cluster in sharing for pair, _ in cluster.spot.place.feeds}
        panel = layer.stockroom.panel(spot.place.panel)
        way_m = layer.trunk_m([self.question.groups[cluster.option.group].zone for cluster in sharing], self._short_m)
        before = layer.stockroom.missing.total()
        carried_a = max(cluster.option.carried_a for cluster in sharing)
        piece = layer.trunk(panel.connector, pairs, way_m, carried_a)
        self.missing += layer.stockroom.missing.total() - before
        self.thrift += thrift((piece,))
        layer.stockroom.take_part(panel.id)
        name = spot.use.replace(".", "-")
        own_ohm = panel.resistance.value if panel.resistance else 0.0
        loop = cable_ohm(piece.cable, piece.length, layer.temperature_c) + own_ohm
        return (
            Step(cable=piece.cable.id, length=piece.length, shared=f"{name}-LEAD"),
            Step(panel=panel.id, socket=spot.place.socket, shared=f"{name}-BREAK"),
            piece.length.value,
            loop,
        )
