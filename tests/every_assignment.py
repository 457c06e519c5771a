"""Every way to hang a few boxes on a few outputs, written from the physical rules alone: no planning code.

A box hangs on one output, or bi-amp on both channels of one plug. An output carries boxes of one model, zone and side,
down to 2.7 ohm (2 % of tolerance). A plug carries two channels; where the second has no plug of its own, a crossing
brings it over, one for each plug.
"""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

OHMS = {"top": 8.0, "small": 16.0, "sub": 8.0}


class Box(NamedTuple):
    name: str
    model: str
    zone: str
    side: str
    priority: int
    biamp: bool


class Amp(NamedTuple):
    model: str
    channels: int
    units: int
    own_plugs: bool
    """The second channel of each two has a plug of its own."""


class Best(NamedTuple):
    silent: tuple[int, ...]
    """By priority, the first first."""
    units: int


def every(boxes, amps, crossings=0, *, apart=False):
    """Give the best of all ways: what is silent by priority, then rack units."""
    priorities = sorted({box.priority for box in boxes})
    best: Best | None = None
    hung: dict[tuple[int, int], list[Box]] = defaultdict(list)

    def sound():
        for (_, channel), on_it in hung.items():
            if not on_it:
                continue
            if len({(b.zone, b.side, b.model, b.biamp) for b in on_it}) > 1:
                return False
            ohms = [16.0 if b.biamp and channel % 2 else OHMS[b.model] for b in on_it]
            if 1.0 / sum(1.0 / ohm for ohm in ohms) < 0.98 * 2.7:
                return False
        if apart:
            for number, _ in enumerate(amps):
                sides = {b.side for (amp, _), on_it in hung.items() if amp == number for b in on_it if b.side}
                if len(sides) > 1:
                    return False
        return (
            sum(crossed(number, first) for number, amp in enumerate(amps) for first in range(0, amp.channels, 2))
            <= crossings
        )

    def crossed(number, first):
        return not amps[number].own_plugs and any(not b.biamp for b in hung[number, first + 1])

    def worth(silent):
        used = {amp for (amp, _), on_it in hung.items() if on_it}
        lost = tuple(sum(box.priority == one for box in silent) for one in priorities)
        return Best(lost, sum(amps[number].units for number in used))

    def ways(box):
        for number, amp in enumerate(amps):
            step = 2 if box.biamp else 1
            for channel in range(0, amp.channels, step):
                yield [(number, channel + more) for more in range(step)]

    def go(place, silent):
        nonlocal best
        if place == len(boxes):
            found = worth(silent)
            if best is None or found < best:
                best = found
            return
        box = boxes[place]
        for outputs in ways(box):
            for output in outputs:
                hung[output].append(box)
            if sound():
                go(place + 1, silent)
            for output in outputs:
                hung[output].pop()
        go(place + 1, [*silent, box])

    go(0, [])
    return best
