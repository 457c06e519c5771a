"""The reverse: which amplifiers carry a list of boxes, alone or together, with fewest rack units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.chart.cells import cell_of, modes_of
from fieldkit.planning.chart.filling import EMPTY, Fill, fills_of, joined_fills, room_of, ways_of
from fieldkit.planning.chart.question import Candidate, Hosting, Library, Terms
from fieldkit.planning.chart.sets import BoxOffer, Counts, offer_of, supply_is_plenty
from fieldkit.planning.chart.trial import CHANNELS, Trial, try_out

MOST_UNITS = 24
"""Amplifiers of one plan: more are another job than a question at the desk."""
MOST_KINDS, MOST_BOXES = 4, 36
"""Of a list: more are another job than a question at the desk, and ``assign`` does it."""


class WantedBoxes(msgspec.Struct, frozen=True):
    """So many boxes of one kind."""

    candidate: Candidate
    count: int


class LoadedAmplifier(msgspec.Struct, frozen=True):
    """One amplifier of a plan with its boxes, solved."""

    amplifier: Amplifier
    fill: Fill
    trial: Trial

    @property
    def free(self) -> int:
        """Channels that stay free."""
        return self.amplifier.channels - self.fill.channels


class Carrying(msgspec.Struct, frozen=True):
    """Amplifiers that carry all boxes of a list."""

    units: tuple[LoadedAmplifier, ...]
    processor_outputs: tuple[tuple[str, str], ...]
    """Box and preset of each output that outboard processors must have, for one signal."""
    processor: Processor | None
    """One that could have them."""

    @property
    def names(self) -> tuple[tuple[str, int], ...]:
        """Its models, and how many of each."""
        return tuple(Counter(unit.amplifier.id for unit in self.units).items())

    @property
    def is_under_preferred(self) -> bool:
        """Tell whether an output is loaded under the preferred load."""
        return any(unit.trial.is_under_preferred() for unit in self.units)

    @property
    def processors(self) -> int:
        """How many processors its outputs need."""
        return -(-len(self.processor_outputs) // self.processor.outputs) if self.processor else 0

    @property
    def rack_units(self) -> int:
        """Height of all, the processors included."""
        outboard = self.processors * self.processor.units if self.processor else 0
        return sum(unit.amplifier.units for unit in self.units) + outboard

    @property
    def free(self) -> int:
        """Channels that stay free."""
        return sum(unit.free for unit in self.units)


class Bearer(msgspec.Struct, frozen=True):
    """A model of amplifier, and what one of it carries of the list."""

    amplifier: Amplifier
    offers: tuple[BoxOffer, ...]
    tops: tuple[Counts, ...]
    """The numbers of each kind that one carries at most, none inside another."""
    hosting: tuple[Hosting, ...]
    processors: tuple[Processor | None, ...]


def carry(
    wanted: Sequence[WantedBoxes], library: Library, terms: Terms, *, preferred: bool = False
) -> tuple[Carrying, ...]:
    """Find amplifiers that carry a list of boxes: each model alone, and two together where that takes less.

    Fewest rack units first, then fewest amplifiers, then fewest channels left. With ``preferred`` no output goes under
    the preferred load.
    """
    goal = tuple(item.count for item in wanted)
    bearers = [bearer_of(amplifier, wanted, library, terms, preferred=preferred) for amplifier in library.amplifiers]
    alone = {bearer.amplifier.id: _reach(bearer, goal) for bearer in bearers}
    picks: list[tuple[Bearer, ...]] = []
    for bearer in bearers:
        layers = alone[bearer.amplifier.id]
        if layers and goal in layers[-1]:
            picks.append((bearer,) * (len(layers) - 1))
    for index, first in enumerate(bearers):
        for second in bearers[index + 1 :]:
            picks += _together(first, second, alone, goal)
    found = [plan for pick in picks if _holds(plan := _plan(pick, wanted, terms), wanted)]
    return tuple(sorted(_worth_while(found), key=_order))


def _holds(plan: Carrying, wanted: Sequence[WantedBoxes]) -> bool:
    """Tell whether a plan carries every box and the checks have no word against their number.

    It does not where a model bears three boxes on an output and not one: parts of a list may then be no part.
    """
    carried: dict[str, int] = Counter()
    for unit in plan.units:
        for cluster in unit.fill.clusters:
            carried[cluster.place.candidate.title] += cluster.count
    complete = all(carried[item.candidate.title] == item.count for item in wanted)
    return complete and all(unit.trial.refusal() is None for unit in plan.units)


def _order(item: Carrying) -> tuple[int, int, int, tuple[tuple[str, int], ...]]:
    return (item.rack_units, len(item.units), item.free, item.names)


def _worth_while(found: Sequence[Carrying]) -> list[Carrying]:
    """Leave out mixtures that are no better than one of their models alone, in height or in number."""
    alone = {item.names[0][0]: item for item in found if len(item.names) == 1}

    def worth(item: Carrying) -> bool:
        others = [alone[name] for name, _ in item.names if name in alone]
        return len(item.names) == 1 or all(
            item.rack_units < other.rack_units
            or (item.rack_units == other.rack_units and len(item.units) < len(other.units))
            for other in others
        )

    return [item for item in found if worth(item)]


def bearer_of(
    amplifier: Amplifier, wanted: Sequence[WantedBoxes], library: Library, terms: Terms, *, preferred: bool = False
) -> Bearer:
    """Say what one amplifier carries of a list."""
    cells = [
        [cell_of(amplifier, mode, item.candidate, library, terms) for mode in modes_of(amplifier)] for item in wanted
    ]
    offers = tuple(offer_of(its, terms, preferred=preferred) for its in cells)
    room = room_of(amplifier)
    if supply_is_plenty(offers, room):
        room = msgspec.structs.replace(room, supply_w=None)
    tables = [fills_of(offer.clusters, room, item.count) for offer, item in zip(offers, wanted, strict=True)]
    states: dict[Counts, list[Fill]] = {(): [EMPTY]}
    for table in tables:
        states = {
            (*counts, number): both
            for counts, fills in states.items()
            for number in table
            if (both := joined_fills(fills, table[number], room))
        }
    return Bearer(
        amplifier,
        offers,
        _tops(states),
        tuple(its[0].hosting for its in cells),
        tuple(its[0].processor for its in cells),
    )


def _tops(found: Mapping[Counts, object] | set[Counts]) -> tuple[Counts, ...]:
    kept: list[Counts] = []
    for counts in sorted(found, key=lambda item: (-sum(item), item)):
        if any(counts) and not any(_covers(other, counts) for other in kept):
            kept.append(counts)
    return tuple(kept)


def _covers(one: Counts, other: Counts) -> bool:
    return all(a >= b for a, b in zip(one, other, strict=True))


def _sum(one: Counts, other: Counts, goal: Counts) -> Counts:
    return tuple(min(a + b, c) for a, b, c in zip(one, other, goal, strict=True))


def _reach(bearer: Bearer, goal: Counts) -> list[tuple[Counts, ...]]:
    """Say what 0, 1, 2, … of an amplifier carry at most, up to the goal or as far as it gets."""
    layers: list[tuple[Counts, ...]] = [(tuple(0 for _ in goal),)]
    while goal not in layers[-1] and len(layers) <= MOST_UNITS:
        following = _tops({_sum(a, b, goal) for a in layers[-1] for b in bearer.tops})
        if not following or set(following) == set(layers[-1]):
            break
        layers.append(following)
    return layers


def _together(
    first: Bearer, second: Bearer, alone: Mapping[str, list[tuple[Counts, ...]]], goal: Counts
) -> list[tuple[Bearer, ...]]:
    """Find how few of a second amplifier each number of a first one leaves; both are needed."""
    one, two = alone[first.amplifier.id], alone[second.amplifier.id]
    found, minimum = [], len(two)
    for number in range(1, len(one) if goal not in one[-1] else len(one) - 1):
        for other in range(1, minimum):
            if any(_sum(a, b, goal) == goal for a in one[number] for b in two[other]):
                found.append((first,) * number + (second,) * other)
                minimum = other
                break
    return found


def _plan(pick: Sequence[Bearer], wanted: Sequence[WantedBoxes], terms: Terms) -> Carrying:
    """Share a list among amplifiers, as evenly as their room lets, and solve each with its part."""
    parts = _shares(pick, tuple(item.count for item in wanted))
    units = []
    outputs: dict[tuple[str, str], Processor] = {}
    for bearer, part in zip(pick, parts, strict=True):
        fill = best_fill(bearer.amplifier, bearer.offers, part)
        units.append(LoadedAmplifier(bearer.amplifier, fill, load(bearer, fill, terms)))
        for item, count, hosting, processor in zip(wanted, part, bearer.hosting, bearer.processors, strict=True):
            if count and hosting == "processor" and processor is not None:
                for section in item.candidate.loads:
                    outputs.setdefault((item.candidate.title, section.choice.id or ""), processor)
    needed = next(iter(outputs.values()), None)
    return Carrying(tuple(unit for unit in units if unit.fill.clusters), tuple(outputs), needed)


def _shares(pick: Sequence[Bearer], goal: Counts) -> list[Counts]:
    """Share the boxes over the amplifiers: equal parts where possible, else the first takes as many as it can."""
    alike = {bearer.amplifier.id for bearer in pick}
    if len(alike) == 1 and all(number % len(pick) == 0 for number in goal):
        part = tuple(number // len(pick) for number in goal)
        if any(_covers(top, part) for top in pick[0].tops):
            return [part] * len(pick)
    left, parts = goal, []
    for index, bearer in enumerate(pick):
        rest = pick[index + 1 :]
        options = [tuple(map(min, top, left)) for top in bearer.tops]
        possible = [
            option for option in options if _carried(rest, tuple(a - b for a, b in zip(left, option, strict=True)))
        ]
        best = max(possible or options or [tuple(0 for _ in goal)], key=sum)
        parts.append(best)
        left = _without(left, best)
    return parts


def _without(left: Counts, part: Counts) -> Counts:
    return tuple(a - b for a, b in zip(left, part, strict=True))


def _carried(rest: Sequence[Bearer], left: Counts) -> bool:
    """Tell whether some amplifiers carry what is left."""
    reached: tuple[Counts, ...] = (tuple(0 for _ in left),)
    for bearer in rest:
        reached = _tops({_sum(a, b, left) for a in reached for b in bearer.tops}) or reached
    return not any(left) or left in reached


def best_fill(amplifier: Amplifier, offers: Sequence[BoxOffer], counts: Counts) -> Fill:
    """Find the way to put boxes on an amplifier with most power for the weakest section, then fewest channels."""
    room = room_of(amplifier)
    fills: list[Fill] = [EMPTY]
    for offer, number in zip(offers, counts, strict=True):
        if number:
            fills = joined_fills(fills, ways_of(offer.clusters, room, number).get(number, ()), room, every=True)
    fill = max(fills, key=lambda item: (min(item.share, ENOUGH), -item.channels), default=EMPTY)
    # Pairs first: then each of them begins at an odd channel.
    return msgspec.structs.replace(
        fill, clusters=tuple(sorted(fill.clusters, key=lambda cluster: -CHANNELS[cluster.place.mode]))
    )


ENOUGH = 2.0
"""Twice the continuous rating, "programme" power: no channel is spent for more. Common practice, no source."""


def load(bearer: Bearer, fill: Fill, terms: Terms) -> Trial:
    """Solve an amplifier with its part of a plan; presets that it does not host run on a processor."""
    places = [cluster.place for cluster in fill.clusters]
    sources = {
        offer.candidate.title: processor for offer, processor in zip(bearer.offers, bearer.processors, strict=True)
    }
    return try_out(bearer.amplifier, places, terms, lambda candidate: sources.get(candidate.title))
