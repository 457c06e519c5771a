"""What hangs on a supply, gathered from the bottom up, line by line.

A circuit of one phase has its load on the first of its three lines; on the supply above it stands on its phase,
across two lines on both, and where nobody said which it is spread over three. Currents add up as numbers: units
draw at nearly one angle, so the sum is at most a little too large.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.formulas import harmonics, mains
from fieldkit.formulas.figures import Apply, given
from fieldkit.rig.power.consumption import THIRD_CORRECTED, Draw, Parts
from fieldkit.show.document import Supply


class Gathered(msgspec.Struct):
    """Gathers one supply from the bottom up."""

    draws: list[Draw] = []
    feeds: list[str] = []
    lines: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    star: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    """The part of the lines that comes back by the neutral."""
    first: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    """Of that, what is not third harmonic, unit by unit: on the neutral it cancels as far as the lines are alike."""
    third: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    """Of that, the third harmonic, unit by unit: on the neutral it adds."""
    third_guessed: bool = False
    spread: bool = False
    power_w: float = 0.0
    apparent_va: float = 0.0
    heat_w: float = 0.0
    leakage_a: float = 0.0
    unknown: int = 0
    inrush: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    """What each line takes when all is switched on at once [A]."""
    surprises: int = 0
    """Units whose inrush nobody knows."""
    assumed: bool = False


def upward_order(supplies: dict[str, Supply]) -> list[str]:
    """List the supplies so that each comes before the one that it is fed from."""
    depth: dict[str, int] = {}
    for name in supplies:
        way = [name]
        while (at := supplies[way[-1]].fed_from) in supplies and at not in depth and len(way) <= len(supplies):
            way.append(at)
        above = depth.get(at or "", -1)
        depth.update((item, steps) for steps, item in enumerate(reversed(way), start=above + 1))
    return sorted(supplies, key=lambda name: -depth[name])


def gathered(supply: Supply, draws: Sequence[Draw], below: Sequence[tuple[Supply, Gathered]], parts: Parts) -> Gathered:
    """Gather what hangs on a supply: what is plugged into it, the supplies that it feeds, and what else there is."""
    found = Gathered()
    for draw in draws:
        _plug(found, supply, draw, parts)
    for other, its in below:
        _hang(found, supply, other, its)
    _add_others(found, supply, parts)
    return found


def _plug(into: Gathered, supply: Supply, draw: Draw, parts: Parts) -> None:
    """Plug a unit into a supply."""
    into.draws.append(draw)
    amps = draw.current_a or 0.0
    third: float = draw.third_share
    if parts.trace:
        where = f"model {draw.model}{' does not say; guessed from the power factor' if draw.third_guessed else ''}"
        third = given(third, "third harmonic", "", where, assumed=draw.third_guessed)
    if supply.phases == 1:
        shares = [1.0, 0.0, 0.0]
    elif draw.phase is not None:
        shares = [1.0 if line == draw.phase else 0.0 for line in (1, 2, 3)]
    else:
        shares = [1.0 / 3.0] * 3
        into.spread = True
    for place, share in enumerate(shares):
        if share:
            part = amps if share == 1.0 else amps * share
            into.lines[place] = into.lines[place] + part
            into.star[place] = into.star[place] + part
            _add_orders(into, place, part, third, parts.apply)
    into.third_guessed = into.third_guessed or draw.third_guessed
    into.power_w = into.power_w + draw.power_w
    into.apparent_va = into.apparent_va + draw.apparent_va
    into.heat_w = into.heat_w + float(draw.heat_w)
    into.leakage_a += draw.leakage_a or 0.0
    into.unknown += draw.leakage_a is None
    into.inrush = [before + share * (draw.inrush_a or 0.0) for before, share in zip(into.inrush, shares, strict=True)]
    into.surprises += draw.inrush_a is None
    into.assumed = into.assumed or bool(draw.assumed)


def _add_others(into: Gathered, supply: Supply, parts: Parts) -> None:
    """Add what else hangs on a supply."""
    if supply.other_load is None:
        return
    amps: float = supply.other_load.value
    if parts.trace:
        amps = given(amps, "other load", "A", f"supply {supply.id}, other_load '{supply.other_load}'")
    for place in range(supply.phases):
        into.lines[place] = into.lines[place] + amps
        into.star[place] = into.star[place] + amps
        third: float = THIRD_CORRECTED
        if parts.trace:
            third = given(third, "third harmonic", "", f"other load of supply {supply.id}: a guess", assumed=True)
        _add_orders(into, place, amps, third, parts.apply)
        into.third_guessed = True
        volts_amperes = parts.apply(mains.circuit_va, phase_volts(supply), amps)
        into.apparent_va = into.apparent_va + volts_amperes
        into.power_w = into.power_w + float(volts_amperes)


def _hang(above: Gathered, upper: Supply, supply: Supply, below: Gathered) -> None:
    """Add the load of a supply to the one that it is fed from."""
    above.feeds.append(supply.id)
    if upper.phases == 1:
        # One line above carries whatever its circuits carry: of three lines below, all.
        above.lines[0] = above.lines[0] + below.lines[0] + below.lines[1] + below.lines[2]
        for mine, theirs in _returning(above, below):
            mine[0] = mine[0] + theirs[0] + theirs[1] + theirs[2]
    else:
        for place, amps in enumerate(lines_above(supply, below.lines)):
            above.lines[place] = above.lines[place] + amps
        if supply.phases == 3 or supply.across == "neutral":
            for mine, theirs in _returning(above, below):
                for place, amps in enumerate(lines_above(supply, theirs)):
                    mine[place] = mine[place] + amps
    above.spread = above.spread or below.spread or (upper.phases == 3 and supply.phases == 1 and supply.phase is None)
    above.third_guessed = above.third_guessed or below.third_guessed
    above.power_w = above.power_w + below.power_w
    above.apparent_va = above.apparent_va + below.apparent_va
    above.heat_w = above.heat_w + below.heat_w
    above.leakage_a += below.leakage_a
    above.unknown += below.unknown
    surges = [sum(below.inrush), 0.0, 0.0] if upper.phases == 1 else lines_above(supply, below.inrush)
    above.inrush = [before + more for before, more in zip(above.inrush, surges, strict=True)]
    above.surprises += below.surprises
    above.assumed = above.assumed or below.assumed


def _add_orders(into: Gathered, place: int, amps: float, third_share: float, apply: Apply) -> None:
    into.first[place] = into.first[place] + apply(harmonics.current_without_third, amps, third_share)
    into.third[place] = into.third[place] + apply(harmonics.current_of_third, amps, third_share)


def _returning(above: Gathered, below: Gathered) -> tuple[tuple[list[float], list[float]], ...]:
    """Pair what comes back by the neutral: as a whole, its first order, its third."""
    return (above.star, below.star), (above.first, below.first), (above.third, below.third)


def lines_above(supply: Supply, lines: list[float]) -> list[float]:
    """Compute what a supply puts on the three phases above it; across two phases both carry its current."""
    if supply.phases == 3:
        return lines
    amps = lines[0]
    if supply.phase is None:
        return [amps / 3.0] * 3
    first = supply.phase - 1
    on = {first, (first + 1) % 3} if supply.across == "phases" else {first}
    return [amps if place in on else 0.0 for place in range(3)]


def phase_volts(supply: Supply) -> float:
    """Compute the volts that one phase of a supply works at: to neutral where it has three [V]."""
    if supply.phases == 3 and supply.across == "phases":
        return mains.line_to_neutral_voltage(supply.volts.value)
    return supply.volts.value
