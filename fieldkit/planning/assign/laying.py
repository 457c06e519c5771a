"""Lay what the whole numbers found: amplifiers for the patterns, clusters on their places, a run for each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from fieldkit.planning.assign.cabling import ELSEWHERE_M, LaidWay, Layer
from fieldkit.planning.assign.leads import Cost, Leg, thrift
from fieldkit.planning.assign.options import cable_ohm, can_reach, carried_pairs
from fieldkit.planning.assign.patterns import Kind, OutletFeed, Pattern, Place
from fieldkit.planning.assign.problem import ClusterOption, Counts, Question
from fieldkit.planning.assign.racking import Racker
from fieldkit.planning.assign.sources import OutputSource
from fieldkit.rig.connect.uses import is_sub
from fieldkit.show.document import Run, Show, Step

TRUNK_SHORT_M = (ELSEWHERE_M, 0.0)
"""How far before its nearest zone a multicore may end: each is tried, and what leaves the least open is laid."""


class Spot(msgspec.Struct, frozen=True):
    """One place of one amplifier or rack that has a name by now."""

    name: str
    """Of the amplifier, or of the rack as built."""
    is_rack: bool
    source: int
    connector: str
    number: int
    """Which place of the connector's use it is."""
    place: Place
    use: str
    """Shared by all places of one use: the connector's full name."""
    side: int | None
    """0 or 1 where the amplifier is one of a pair, a side each."""

    def output(self, feed: OutletFeed) -> str:
        """Name the output that a pin pair is fed from."""
        if not self.is_rack:
            return f"{self.name}.{feed.name}"
        number, _, channels = feed.name.partition(".")
        return f"{self.name}-{number}.{channels}"

    def units(self) -> tuple[str, ...]:
        """Name the amplifiers that feed it."""
        return tuple(dict.fromkeys(self.output(feed).partition(".")[0] for _, feed in self.place.feeds))


class Cluster(msgspec.Struct, frozen=True):
    """Boxes on a spot."""

    option: ClusterOption
    side: int
    boxes: tuple[str, ...]
    spot: Spot


def place_clusters(
    question: Question, counts: Counts, racker: Racker, before: Mapping[str, str]
) -> tuple[Cluster, ...]:
    """Place every cluster; ``before`` says which connector drove each box, so that it can stay there."""
    board = _Board(_spots(question, counts, racker))
    waiting: dict[int, list[list[str]]] = {
        index: [list(names) for names in group.boxes] for index, group in enumerate(question.groups)
    }
    clusters: list[Cluster] = []
    sided = _sided_sources(question, counts)
    # Larger clusters first, so that the boxes are dealt out in the order of the show. Of what stands on no side the
    # zone with the most runs comes first, so that it finds an amplifier that holds all of it.
    runs: Counter[str] = Counter()
    for option, number in counts.clusters:
        runs[question.groups[option.group].zone.id] += number
    chosen = sorted(
        counts.clusters,
        key=lambda item: (
            not item[0].apart,
            0 if item[0].apart else -runs[question.groups[item[0].group].zone.id],
            item[0].group,
            -item[0].boxes,
        ),
    )
    for option, number in chosen:
        sides = waiting[option.group]
        for _ in range(number):
            twin: Spot | None = None
            for side, names in enumerate(sides):
                boxes, names[:] = tuple(names[: option.boxes]), names[option.boxes :]
                hand = question.groups[option.group].hand
                zone = question.groups[option.group].zone.id
                at = (side if hand is None else hand) if option.apart and option.source in sided else None
                wanted = (option.source, option.kind)
                kin = frozenset(c.spot.name for c in clusters if question.groups[c.option.group].zone.id == zone)
                last = side if hand is None else hand
                wish = _Wish(wanted, at, twin, before.get(boxes[0], ""), last, kin, runs[zone])
                runs[zone] -= side == len(sides) - 1
                twin = board.take(wish, avoided(clusters, question, option.group, wish.hand))
                clusters.append(Cluster(option, side, boxes, twin))
    placed = _subs_first(_left_first(_near(clusters, question, board.left()), question), question)
    everything = (box for group in question.groups for names in group.boxes for box in names)
    order = {box: place for place, box in enumerate(everything)}
    return tuple(sorted(placed, key=lambda cluster: order[cluster.boxes[0]]))


def _near(clusters: list[Cluster], question: Question, free: Sequence[Spot]) -> list[Cluster]:
    """Let what hangs behind another cluster hang behind one that is near, as far as that can be.

    Clusters may change their spots, with each other or for free ones, where these offer the same.
    """
    at_use = {(cluster.spot.use, cluster.spot.number): cluster for cluster in clusters}

    def fits(cluster: Cluster, spot: Spot) -> bool:
        if not (spot.number and spot.place.adaptor):
            return True
        first = at_use.get((spot.use, spot.number - 1))
        groups = question.groups
        return first is not None and question.near(groups[cluster.option.group], groups[first.option.group])

    lots: dict[tuple[object, ...], list[int]] = {}
    for number, cluster in enumerate(clusters):
        if not cluster.spot.place.kind.passes_on:
            lots.setdefault((*_offer(cluster.spot), cluster.option.apart), []).append(number)
    result = list(clusters)
    for key, lot in lots.items():
        if all(fits(clusters[number], clusters[number].spot) for number in lot):
            continue
        spots = [clusters[number].spot for number in lot] + [spot for spot in free if _offer(spot) == key[:-1]]
        ways = {number: [at for at, spot in enumerate(spots) if fits(clusters[number], spot)] for number in lot}
        holder: dict[int, int] = {}
        for number in lot:
            _hung(number, ways, holder, set())
        placed = {number: place for place, number in holder.items()}
        left = [place for place in range(len(spots)) if place not in holder]
        for number in lot:
            place = placed[number] if number in placed else left.pop(0)
            result[number] = msgspec.structs.replace(clusters[number], spot=spots[place])
    return result


def _left_first(clusters: list[Cluster], question: Question) -> list[Cluster]:
    """Let the first side come first where both sides of a zone hang on one amplifier."""
    result = list(clusters)
    lots: dict[tuple[object, ...], dict[int, list[int]]] = {}
    for number, cluster in enumerate(clusters):
        group = question.groups[cluster.option.group]
        if group.hand is not None:
            key = (group.zone.id, group.speaker.id, cluster.spot.name, len(cluster.boxes), *_offer(cluster.spot))
            lots.setdefault(key, {}).setdefault(group.hand, []).append(number)
    for hands in lots.values():
        for left, right in zip(hands.get(0, ()), hands.get(1, ()), strict=False):
            one, other = result[left].spot, result[right].spot
            if (other.connector, other.number) < (one.connector, one.number):
                result[left] = msgspec.structs.replace(result[left], spot=other)
                result[right] = msgspec.structs.replace(result[right], spot=one)
    return result


def _offer(spot: Spot) -> tuple[object, ...]:
    return spot.source, spot.place.kind, spot.side


def _hung(number: int, ways: Mapping[int, Sequence[int]], holder: dict[int, int], seen: set[int]) -> bool:
    """Find a place for a cluster, moving others on that have another place to go to (an augmenting way)."""
    for place in ways[number]:
        if place in seen:
            continue
        seen.add(place)
        if place not in holder or _hung(holder[place], ways, holder, seen):
            holder[place] = number
            return True
    return False


def far_links(clusters: Sequence[Cluster], question: Question) -> Iterator[str]:
    """Name the links between zones that nobody called near."""
    at_use = {(cluster.spot.use, cluster.spot.number): cluster for cluster in clusters}
    for (use, number), behind in at_use.items():
        first = at_use.get((use, number - 1))
        if first is None or behind.spot.place.panel:
            continue
        here, there = (question.groups[cluster.option.group] for cluster in (first, behind))
        if not question.near(here, there):
            link = f"the link from {first.boxes[-1]} to {behind.boxes[0]} is assumed"
            if here.zone.id == there.zone.id:
                yield f"nobody knows whether a lead reaches across zone '{here.zone.id}': {link}"
            else:
                yield (
                    f"nobody said that zones '{here.zone.id}' and '{there.zone.id}' are near: {link}; "
                    f"near = [\"{here.zone.id}\"] at '{there.zone.id}' says so"
                )


def avoided(clusters: Sequence[Cluster], question: Question, group: int, hand: int) -> frozenset[str]:
    """Name the amplifiers that carry the other side of a group's zone already."""
    if not question.groups[group].is_sided:
        return frozenset()
    return serving(clusters, question).get(question.groups[group].zone.id, (frozenset(), frozenset()))[1 - hand]


def serving(clusters: Sequence[Cluster], question: Question) -> dict[str, tuple[frozenset[str], frozenset[str]]]:
    """List for each zone with two sides the amplifiers of its first and of its second side."""
    found: dict[str, tuple[set[str], set[str]]] = {}
    for cluster in clusters:
        group = question.groups[cluster.option.group]
        if group.is_sided:
            side = cluster.side if group.hand is None else group.hand
            found.setdefault(group.zone.id, (set(), set()))[side].update(cluster.spot.units())
    sided = {group.zone.id: group for group in question.groups if group.is_sided}
    for own in question.standing:
        if own.zone in sided:
            first = sided[own.zone].sides[0] == own.side
            hand = sided[own.zone].hand or 0
            found.setdefault(own.zone, (set(), set()))[hand if first else 1 - hand].update(own.units)
    return {zone: (frozenset(left), frozenset(right)) for zone, (left, right) in found.items()}


def _subs_first(clusters: list[Cluster], question: Question) -> tuple[Cluster, ...]:
    """Let subs be the first on a run that they share, since others stand on them; else the fewer boxes.

    What comes first needs cable that carries both pairs, as far as its last box.
    """
    result = {cluster.boxes: cluster for cluster in clusters}
    at_use = {(cluster.spot.use, cluster.spot.number): cluster for cluster in clusters}
    for (use, number), first in at_use.items():
        second = at_use.get((use, number + 1))
        if second is None or not first.spot.place.kind.passes_on:
            continue
        groups = [question.groups[cluster.option.group] for cluster in (first, second)]
        kinds = [cluster.spot.place.kind for cluster in (second, first)]
        fits = all(can_reach(kind, group, question.fittings) for kind, group in zip(kinds, groups, strict=True))
        alike = fits and kinds[0].feeds == kinds[1].feeds
        ranks = [
            (not is_sub(group.speaker), len(own.boxes)) for group, own in zip(groups, (first, second), strict=True)
        ]
        if alike and ranks[1] < ranks[0]:
            for one, other in ((first, second), (second, first)):
                result[one.boxes] = msgspec.structs.replace(one, spot=other.spot)
    return tuple(result.values())


def _sided_sources(question: Question, counts: Counts) -> frozenset[int]:
    """Find the sources that carry a zone which keeps its sides apart, all its boxes: each unit stands on a side."""
    carried = [(option, question.groups[option.group].zone.id) for option, _ in counts.clusters]
    mixed = {zone for option, zone in carried if not option.apart}
    return frozenset(option.source for option, zone in carried if zone not in mixed)


def _spots(question: Question, counts: Counts, racker: Racker) -> list[Spot]:
    spots: list[Spot] = []
    sided = _sided_sources(question, counts)
    lots: list[tuple[int, Pattern, tuple[int | None, ...], int]] = [
        *((index, pattern, (0, 1), number) for index, pattern, number in counts.pairs),
        *((index, pattern, (side if index in sided else None,), n) for index, pattern, side, n in counts.sided),
        *((index, pattern, (None,), number) for index, pattern, number in counts.singles),
    ]
    lots.sort(key=lambda lot: not question.sources[lot[0]].is_rack)  # they are named first: LEFT is the main rack
    for index, pattern, sides, number in lots:
        source = question.sources[index]
        for _ in range(number):
            for side in sides:
                spots += _spots_of(racker.name(source, side), source, index, pattern, side)
    return spots


def _spots_of(name: str, source: OutputSource, index: int, pattern: Pattern, side: int | None) -> list[Spot]:
    return [
        Spot(name, source.is_rack, index, connector, number, place, f"{name}.{connector}", side)
        for connector, use in pattern.uses
        for number, place in enumerate(use.places)
    ]


class _Wish(msgspec.Struct, frozen=True):
    """What a cluster asks of the board."""

    wanted: tuple[int, Kind]
    """Source, and what its place must offer."""
    side: int | None
    """The side whose amplifiers alone will do."""
    twin: Spot | None
    """Where its twin on the other side is."""
    before: str
    """The connector that drove its first box."""
    hand: int
    """The side that it stands on, 0 where there are none."""
    kin: frozenset[str]
    """Amplifiers and racks that carry its zone already."""
    coming: int
    """Runs of its zone that still want a place, with this one."""


class _Board:
    """The free spots, by what they offer."""

    def __init__(self, spots: Sequence[Spot]) -> None:
        self._free: dict[tuple[int, Kind], list[Spot]] = {}
        for spot in spots:
            self._free.setdefault((spot.source, spot.place.kind), []).append(spot)

    def left(self) -> list[Spot]:
        """List the spots that nothing has taken."""
        return [spot for spots in self._free.values() for spot in spots]

    def take(self, wish: _Wish, avoid: frozenset[str]) -> Spot:
        """Take a spot: that of before, else like the twin's on the other side, else the first that is free."""
        wanted, side, twin = wish.wanted, wish.side, wish.twin
        free = self._free.get(wanted, [])
        fitting = [spot for spot in free if side is None or spot.side == side]
        if not fitting:
            raise ValueError(f"no place of the pattern is left of kind {wanted[1]}")
        chosen = fitting[0] if side is not None else self._alone(fitting, avoid, wish)
        if twin is not None and side is not None:
            like = (spot for spot in fitting if (spot.connector, spot.number) == (twin.connector, twin.number))
            chosen = next(like, chosen)
        if wish.before:
            chosen = next((spot for spot in fitting if spot.use == wish.before), chosen)
        free.remove(chosen)
        return chosen

    def _alone(self, fitting: Sequence[Spot], avoid: frozenset[str], wish: _Wish) -> Spot:
        """Choose for what needs no twin: away from the other side, then where its zone is or finds room as a whole.

        Then on no side, then where more places are left.
        """
        left = Counter(spot.side for spot in fitting)
        on = Counter(spot.name for spot in fitting)

        def rank(spot: Spot) -> tuple[bool, bool, bool, bool, int]:
            whole = on[spot.name] >= wish.coming
            away = bool(avoid & set(spot.units()))
            return away, spot.name not in wish.kin, not whole, spot.side is not None, -left[spot.side]

        return min(fitting, key=rank)


def lay_runs(
    show: Show, question: Question, clusters: Sequence[Cluster], layer: Layer, before: Mapping[tuple[str, ...], Run]
) -> tuple[Run, ...]:
    """Lay a run for each cluster, or for two that share one; longest ways first, since they have least choice.

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
    tried = {
        short_m: _laid(order, _Trunks(layer.on_trial(), clusters, question, short_m))[1]
        for short_m in (TRUNK_SHORT_M if behind_panels else ())
    }
    short_m = min(tried, key=tried.__getitem__, default=TRUNK_SHORT_M[0])
    ways, _ = _laid(order, _Trunks(layer, clusters, question, short_m))
    paths = {_key(lot): path for lot, path in zip(order, ways, strict=True)}
    names = _Names(show, {run.id for run in runs.values()})
    for lot in lots.values():
        if _key(lot) not in runs:
            runs[_key(lot)] = Run(id=names.next(), start=lot[0].spot.use, feeds=_feeds(lot), path=paths[_key(lot)])
    return tuple(runs[_key(lot)] for lot in lots.values())


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
    legs = []
    for number, cluster in enumerate(lot):
        place, group = cluster.spot.place, question.groups[cluster.option.group]
        goes_on = place.kind.passes_on and number + 1 < len(lot)
        pairs = carried_pairs(place.kind) if goes_on else cluster.option.way.pairs
        legs.append(Leg(group, cluster.option.way, cluster.boxes, place.kind.plug, pairs, goes_on, place.adaptor))
    limit_db = min(question.limits[leg.group.zone.id].loss_db for leg in legs)
    return LaidWay(tuple(start), tuple(legs), limit_db, laid_m, laid_ohm)


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
        piece = layer.trunk(panel.connector, pairs, way_m)
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
