"""Place what the whole numbers found: each cluster on a spot of its kind, near its like, its sides apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from fieldkit.planning.assign.options import can_reach
from fieldkit.planning.assign.problem import ClusterOption, Counts, Question
from fieldkit.planning.assign.racking import Racker
from fieldkit.planning.assign.spots import Board, Spot, SpotWish, sided_sources, spots_of
from fieldkit.rig.connect.uses import is_sub


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
    board = Board(spots_of(question, counts, racker))
    waiting: dict[int, list[list[str]]] = {
        index: [list(names) for names in group.boxes] for index, group in enumerate(question.groups)
    }
    clusters: list[Cluster] = []
    sided = sided_sources(question, counts)
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
                wish = SpotWish(wanted, at, twin, before.get(boxes[0], ""), last, kin, runs[zone])
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
        if first is None or behind.spot.place.panel or behind.spot.place.kind.behind:
            continue
        here, there = (question.groups[cluster.option.group] for cluster in (first, behind))
        if not question.near(here, there):
            yield _far_link(first.boxes[-1], here.zone.id, behind.boxes[0], there.zone.id)
    for cluster in clusters:
        kind, group = cluster.spot.place.kind, question.groups[cluster.option.group]
        if kind.behind and not question.near_tail(kind, group):
            tail = question.tails[kind.behind]
            yield _far_link(tail.box, tail.zone.id, cluster.boxes[0], group.zone.id)


def _far_link(box: str, zone: str, behind: str, there: str) -> str:
    link = f"the link from {box} to {behind} is assumed"
    if zone == there:
        return f"nobody knows whether a lead reaches across zone '{zone}': {link}"
    return f"nobody said that zones '{zone}' and '{there}' are near: {link}; near = [\"{zone}\"] at '{there}' says so"


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
