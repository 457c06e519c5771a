"""Sharing loads over circuits and lines: all ways worked through layer by layer, equal ones met once.

The best way has the least overload, then the lowest load on the worst phase, then the least spread, then the least
on one circuit, then the fewest moves, then the first places. Where the ways are too many, loads are rounded to a
tenth of an ampere, so that more ways are equal; where they still are, only the best go on and nothing is proved.
The same loads give the same answer, however fast the machine is.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

MOST_STATES = 12_000
"""Ways kept at a time."""
FEW_STATES = 400
"""Ways that go on where there are more."""
GRAINS_MA = (1, 100)
"""Steps that loads are counted in [mA]."""

NO_END = 10**12

Loads: TypeAlias = tuple[int, ...]
Base: TypeAlias = tuple[list[int], list[int]]
"""What stays: on each slot, and on each of the three lines above them [mA]."""
Cost: TypeAlias = tuple[int, int, int, int]
Way: TypeAlias = tuple[int, Loads]
"""Units moved, and the slot of each item."""


class CircuitSlot(msgspec.Struct, frozen=True, gc=False):
    """Where something can be plugged in: a circuit, or one line of a three-phase supply."""

    supply: str
    phase: int | None
    """The line to note with the unit; None where the circuit says it."""
    lines: tuple[int, ...]
    """Which of the three lines it loads, from 0; none where nobody said."""
    limit_ma: int

    @property
    def name(self) -> str:
        """The slot in words."""
        return f"{self.supply} L{self.phase}" if self.phase else self.supply


class Item(msgspec.Struct, frozen=True, gc=False):
    """What moves as one: a unit, or the units of a rack as built."""

    ids: tuple[str, ...]
    load_ma: int
    slot: int | None
    """Where it is now."""


def share(items: list[Item], slots: list[CircuitSlot], base: Base) -> tuple[Loads, bool]:
    """Find the best slot of each item; and whether it is proved to be the best, to the step of the loads."""
    best = _greedy(items, slots, base)
    if all(item.slot is not None for item in items):
        present = tuple(item.slot or 0 for item in items)
        best = min(best, present, key=lambda chosen: _judged(chosen, items, slots, base))
    for grain in GRAINS_MA:
        found = _search(items, slots, base, best, grain)
        if found is not None:
            chosen, proved = found
            best = min(best, chosen, key=lambda way: _judged(way, items, slots, base))
            return (best, True) if proved else (_bettered(best, items, slots, base), False)
    return best, False


def _bettered(chosen: Loads, items: list[Item], slots: list[CircuitSlot], base: Base) -> Loads:
    """Better a way by putting one item elsewhere, or exchanging two, for as long as that helps."""
    best = _judged(chosen, items, slots, base)
    for _ in items:
        before = chosen
        for first in range(len(items)):
            ways = [(*chosen[:first], index, *chosen[first + 1 :]) for index in range(len(slots))]
            for second in range(first):
                swapped = list(chosen)
                swapped[first], swapped[second] = chosen[second], chosen[first]
                ways.append(tuple(swapped))
            for way in ways:
                judged = _judged(way, items, slots, base)
                if judged < best:
                    chosen, best = way, judged
        if chosen == before:
            break
    return chosen


def gain_ma(chosen: Loads, items: list[Item], slots: list[CircuitSlot], base: Base) -> int:
    """Say what a way takes off the worst phase, or off the worst circuit where nobody knows the phases [mA].

    Without end where it takes away an overload, or plugs in what is on no slot yet.
    """
    if any(item.slot is None for item in items):
        return NO_END
    present = tuple(item.slot or 0 for item in items)
    before, after = (_cost(_loads(way, items, base), slots, base) for way in (present, chosen))
    if after[0] < before[0]:
        return NO_END
    return max(before[1] - after[1], before[3] - after[3] if not any(slot.lines for slot in slots) else 0)


def _search(
    items: list[Item], slots: list[CircuitSlot], base: Base, known: Loads, grain: int
) -> tuple[Loads, bool] | None:
    """Work through all ways; None where they are too many: only with the last grain the best few go on."""
    start = tuple(round(amps / grain) * grain for amps in base[0])
    layer: dict[Loads, Way] = {start: (0, ())}
    proved, most = True, MOST_STATES
    rounded = [round(item.load_ma / grain) * grain for item in items]
    # Loads only grow, so a way that is worse already than one that is known to its end leads nowhere. Rounding
    # may make the known one look better than it is by half a step an item.
    slack = 0 if grain == 1 else grain * len(items)
    over, worst = _cost(_loads(known, items, base), slots, base)[:2]
    for item, load in zip(items, rounded, strict=True):
        following: dict[Loads, Way] = {}
        for loads, (moved, chosen) in layer.items():
            for index in range(len(slots)):
                after = (*loads[:index], loads[index] + load, *loads[index + 1 :])
                way = (moved + (index != item.slot) * len(item.ids), (*chosen, index))
                met = following.get(after)
                if met is None:
                    cost = _cost(after, slots, base)
                    if cost[0] > over + slack or (cost[0] == over and cost[1] > worst + slack):
                        continue
                if met is None or way < met:
                    following[after] = way
            if len(following) > most and grain != GRAINS_MA[-1]:
                return None
        if len(following) > most:
            proved, most = False, FEW_STATES
            ranked = sorted(following, key=lambda loads: (_cost(loads, slots, base), following[loads]))
            following = {loads: following[loads] for loads in ranked[:FEW_STATES]}
        layer = following
    if not layer:
        return known, False
    last = min(layer, key=lambda loads: (_cost(loads, slots, base), layer[loads]))
    return layer[last][1], proved


def _greedy(items: list[Item], slots: list[CircuitSlot], base: Base) -> Loads:
    """Put each item, the heaviest first, where it is best for now."""
    loads, chosen = tuple(base[0]), []
    for item in items:
        ways = [(*loads[:index], loads[index] + item.load_ma, *loads[index + 1 :]) for index in range(len(slots))]
        index = min(range(len(slots)), key=lambda place: (_cost(ways[place], slots, base), place))
        loads = ways[index]
        chosen.append(index)
    return tuple(chosen)


def _loads(chosen: Loads, items: list[Item], base: Base) -> Loads:
    loads = list(base[0])
    for index, item in zip(chosen, items, strict=True):
        loads[index] += item.load_ma
    return tuple(loads)


def _judged(chosen: Loads, items: list[Item], slots: list[CircuitSlot], base: Base) -> tuple[Cost, Way]:
    """Judge a way by its loads, then by what it moves."""
    moved = sum(len(item.ids) for index, item in zip(chosen, items, strict=True) if index != item.slot)
    return _cost(_loads(chosen, items, base), slots, base), (moved, chosen)


def _cost(loads: Loads, slots: list[CircuitSlot], base: Base) -> Cost:
    """Judge loads: overload of circuits, worst phase, spread of the phases, worst circuit [mA]."""
    over = 0
    lines = list(base[1])
    for load, start, slot in zip(loads, base[0], slots, strict=True):
        if load > slot.limit_ma:
            over += load - slot.limit_ma
        for line in slot.lines:
            lines[line] += load - start
    return over, max(lines), max(lines) - min(lines), max(loads)
