"""The order to switch on and off: sources, processors, amplifiers last on; and the other way round to leave.

What is switched on sends whatever its inputs hold to its outputs, and many units thump: so whatever drives
loudspeakers comes last and leaves first (common practice, no source). One unit at a time keeps the surges apart.
"""

from __future__ import annotations

import msgspec

from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import LoadedSupplies

RANK = {"processor": 0, "amplifier": 1, "self-powered box": 1}


class SwitchStep(msgspec.Struct, frozen=True, gc=False):
    """One unit switched on."""

    number: int
    draw: Draw
    surge_a: float | None
    """Its inrush on top of what already idles on its supply; None where the model does not say its inrush."""


def switch_on_order(mains: LoadedSupplies) -> tuple[SwitchStep, ...]:
    """List the order to switch on; in reverse it is the order to switch off.

    Processors first, then what drives loudspeakers; supplies take turns, so that each has time to settle.
    """
    draws = sorted(enumerate(mains.draws), key=lambda item: (RANK[item[1].kind], _turn(item[0], mains), item[0]))
    running: dict[str | None, float] = {}
    steps = []
    for number, (_, draw) in enumerate(draws, start=1):
        before = running.get(draw.supply, 0.0)
        steps.append(SwitchStep(number, draw, None if draw.inrush_a is None else before + draw.inrush_a))
        running[draw.supply] = before + (draw.idle_a or 0.0)
    return tuple(steps)


def _turn(place: int, mains: LoadedSupplies) -> int:
    """Count how many of a unit's own kind come before it on its supply."""
    every = mains.draws
    draw = every[place]
    return sum(other.supply == draw.supply and RANK[other.kind] == RANK[draw.kind] for other in every[:place])
