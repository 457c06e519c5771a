"""Every way to hang a few boxes on a few outputs, written from the physical rules alone: no planning code.

A box hangs on one channel, bi-amp on both channels of one plug, or on a bridged pair. An output carries boxes of one
model, zone, side and drive, down to 2.7 ohm on a channel and 8 ohm on a pair (2 % of tolerance). A plug carries two
channels; where the second has no plug of its own, a crossing brings it over, one for each plug. What an amplifier gives
into a load lies on straight lines of volts over current between its rated powers. Where no amplifier hosts presets,
each zone, signal, model and preset takes one processor output; bi-amp, and four times the rated power or more, is not
driven without.

Ways are judged by what is wanted in turn: boxes that play, their presets, enough power, each by priority; boxes of a
zone driven alike; left and right on amplifiers that are alike; sides apart; rack units.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import combinations, pairwise
from math import sqrt
from typing import NamedTuple

SECTIONS = {
    ("top", False): [("full", 8.0, 300.0)],
    ("top", True): [("low", 8.0, 300.0), ("high", 16.0, 60.0)],
    ("small", False): [("small", 16.0, 120.0)],
    ("sub", False): [("sub", 8.0, 700.0)],
}
"""Model and whether it is bi-amp: preset, ohm and continuous watts of each section."""


class Box(NamedTuple):
    name: str
    model: str
    zone: str
    side: str
    priority: int
    biamp: bool

    @property
    def alike(self):
        return self.zone, self.side, self.model, self.biamp

    def keys(self, signals):
        """What processor outputs would have to hold for it."""
        return [
            (self.zone, signals.get(self.side, ""), self.model, preset)
            for preset, _, _ in SECTIONS[self.model, self.biamp]
        ]


class Amp(NamedTuple):
    model: str
    channels: int
    units: int
    own_plugs: bool
    """The second channel of each two has a plug of its own."""
    watts: float = 900.0
    """Into 8 ohm; 1.8 times that into 4, 2.3 times into 2.7, and 3.4 times bridged into 8."""
    bridges: bool = False


class Task(NamedTuple):
    boxes: list[Box]
    amps: list[Amp]
    crossings: int = 0
    host_outputs: int | None = None
    """Of the one processor; None where the amplifiers host presets."""
    signals: dict[str, str] = {}


class Place(NamedTuple):
    amp: int
    channels: tuple[int, ...]
    """From 0."""
    mode: str
    """single, pair (bi-amp) or bridged"""


class Judged(NamedTuple):
    """How good a way is, what is wanted first standing first."""

    silent: tuple[int, ...]
    """By priority, the first first."""
    without_preset: tuple[int, ...]
    weak: tuple[int, ...]
    kinds: int
    """Ways to drive boxes of one model in a zone."""
    unlike: tuple[int, ...]
    """Models of amplifier that serve one side of a zone and not the other, by priority."""
    shared: tuple[int, ...]
    """Boxes that stand on a side, on amplifiers that carry both."""
    units: int


def volts(amp, ohm, *, bridged):
    """What an amplifier gives into a load."""
    ratings = [(8.0, 3.4)] if bridged else [(8.0, 1.0), (4.0, 1.8), (2.7, 2.3)]
    points = [(sqrt(amp.watts * times / load), sqrt(amp.watts * times * load)) for load, times in ratings]
    if ohm >= 8.0:
        return points[0][1]
    for (amps0, volts0), (amps1, volts1) in pairwise(points):
        if ohm >= volts1 / amps1:
            slope = (volts1 - volts0) / (amps1 - amps0)
            return ohm * (volts0 - slope * amps0) / (ohm - slope)
    return points[-1][0] * ohm


def power(amp, place, boxes):
    """The least and the most share of its rated power that a section gets, half a decibel of cable taken off the least."""
    shares = []
    for _, ohm, watts in SECTIONS[boxes[0].model, boxes[0].biamp]:
        given = volts(amp, ohm / len(boxes), bridged=place.mode == "bridged") ** 2 / ohm / watts
        shares.append(given)
    return min(shares) / 10**0.05, max(shares)


def places(task):
    for number, amp in enumerate(task.amps):
        for channel in range(amp.channels):
            yield Place(number, (channel,), "single")
        for first in range(0, amp.channels - 1, 2):
            yield Place(number, (first, first + 1), "pair")
            if amp.bridges:
                yield Place(number, (first, first + 1), "bridged")


def bears(place, boxes):
    """Whether an output may carry these boxes."""
    if len({box.alike for box in boxes}) > 1 or boxes[0].biamp != (place.mode == "pair"):
        return False
    least = 8.0 if place.mode == "bridged" else 2.7
    return all(ohm / len(boxes) >= 0.98 * least for _, ohm, _ in SECTIONS[boxes[0].model, boxes[0].biamp])


def judged(task, hung):
    """Judge a way: place -> boxes; None where it must not be."""
    priorities = sorted({box.priority for box in task.boxes})

    def by_priority(boxes):
        counted = Counter(box.priority for box in boxes)
        return tuple(counted[one] for one in priorities)

    on = {box.name: (place, boxes) for place, boxes in hung.items() for box in boxes}
    silent = by_priority(box for box in task.boxes if box.name not in on)
    shares = {name: power(task.amps[place.amp], place, boxes) for name, (place, boxes) in on.items()}
    driven = [box for box in task.boxes if box.name in on]
    weak = by_priority(box for box in driven if shares[box.name][0] < 0.5)
    must = {key for box in driven if box.biamp or shares[box.name][1] > 4.0 for key in box.keys(task.signals)}
    keys = sorted({key for box in driven for key in box.keys(task.signals)})
    sides = defaultdict(set)
    for box in driven:
        sides[on[box.name][0].amp].add(box.side)
    shared = by_priority(box for box in driven if box.side and len(sides[on[box.name][0].amp] - {""}) > 1)
    unlike = [0] * len(priorities)
    for zone, model, priority in {(box.zone, box.model, box.priority) for box in task.boxes if box.side}:
        own = [box for box in driven if (box.zone, box.model) == (zone, model)]
        of = [{task.amps[on[box.name][0].amp].model for box in own if box.side == side} for side in ("left", "right")]
        two = {box.side for box in task.boxes if (box.zone, box.model) == (zone, model)} == {"left", "right"}
        unlike[priorities.index(priority)] += len(of[0] ^ of[1]) if two else 0
    units = sum(task.amps[number].units for number in sides)

    def with_hosts(hosted):
        bare = [box for box in driven if hosted is not None and not set(box.keys(task.signals)) <= hosted]
        kinds = {(box.zone, box.model, box.biamp, on[box.name][0].mode, box in bare) for box in driven}
        return Judged(silent, by_priority(bare), weak, len(kinds), tuple(unlike), shared, units)

    if task.host_outputs is None:
        return with_hosts(None)
    if len(must) > task.host_outputs:
        return None
    more = [key for key in keys if key not in must]
    lots = combinations(more, min(len(more), task.host_outputs - len(must)))
    return min(with_hosts(must | set(lot)) for lot in lots)


def crossed(task, hung):
    """Count the crossings that a way takes."""
    return sum(
        not task.amps[place.amp].own_plugs and place.mode == "single" and place.channels[0] % 2 == 1 for place in hung
    )


class Plugged(NamedTuple):
    """What is plugged now, each box on an output of its own, and how many plugs may move at most."""

    at: dict[str, Place]
    plugs: int


def every(task, *, by=None, apart=False, plugged=None):
    """Give the best of all ways, by what ``by`` makes of how each is judged; ``apart`` leaves out what shares sides.

    ``plugged`` leaves out what moves too many plugs; one that comes off counts.
    """
    key = by or tuple
    best = None
    hung: dict[Place, list[Box]] = {}
    taken: dict[tuple[int, int], Place] = {}
    boxes = sorted(task.boxes, key=lambda box: (box.alike, box.name))
    everywhere = list(places(task))

    def first_of_its_kind(place):
        """Of amplifiers that are alike and empty, the first will do."""
        used = {number for number, _ in taken}
        return not any(
            other < place.amp
            and other not in used
            and place.amp not in used
            and task.amps[other] == task.amps[place.amp]
            for other in range(place.amp)
        )

    def go(number, before):
        nonlocal best
        if number == len(boxes):
            if plugged is not None:
                now = {box.name: place for place, on_it in hung.items() for box in on_it}
                if sum(now.get(name) != place for name, place in plugged.at.items()) > plugged.plugs:
                    return
            found = judged(task, hung)
            if found is not None and (not apart or not any(found.shared)) and (best is None or key(found) < key(best)):
                best = found
            return
        box = boxes[number]
        alike = number > 0 and boxes[number - 1].alike == box.alike
        for index, place in enumerate([*everywhere, None]):
            if alike and index < before and plugged is None:
                continue  # boxes that are alike may stand in this order
            if place is None:
                go(number + 1, index)
                continue
            own = hung.get(place, [])
            free = all(taken.get((place.amp, channel)) in (None, place) for channel in place.channels)
            if not free or not bears(place, [*own, box]) or not (own or plugged or first_of_its_kind(place)):
                continue
            hung[place] = [*own, box]
            taken.update({(place.amp, channel): place for channel in place.channels})
            if crossed(task, hung) <= task.crossings:
                go(number + 1, index)
            if own:
                hung[place] = own
            else:
                del hung[place]
                for channel in place.channels:
                    del taken[place.amp, channel]

    go(0, 0)
    return best
