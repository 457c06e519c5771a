"""Mains for the amplifiers that a plan brings: the supply that carries them and leaves the phases most even.

How it flows: what was brought and hangs nowhere → each group of circuits that are alike, shared as the balance does
it (``planning.phases``) → whatever would bring an error of the mains is set aside, the heaviest first, and tried on
the next group. What was plugged by hand stays where it is.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.mains import mains_hold
from fieldkit.checks.rules import choices_of
from fieldkit.formulas.mains import mains_current
from fieldkit.planning.phases import Key, all_plugged, base_of, groups_of, slots_of
from fieldkit.planning.proposals import MainsPlug, Short
from fieldkit.planning.sharing import Item, Slot, share
from fieldkit.rig.consumption import Draw
from fieldkit.rig.evaluation import Rig, evaluate
from fieldkit.rig.losses import lost_now
from fieldkit.rig.supplies import Mains, limit_a, mains_of
from fieldkit.rig.supply_sums import phase_volts
from fieldkit.show.document import Show, Supply
from fieldkit.units import format_value

Lot = tuple[Draw, ...]
"""What is plugged as one: a unit, or the units of a rack as built."""


class Plugged(msgspec.Struct, frozen=True):
    """A show with its new amplifiers on mains, as far as that holds."""

    show: Show
    plugs: tuple[MainsPlug, ...] = ()
    notes: tuple[str, ...] = ()
    short: tuple[Short, ...] = ()


def plugged_in(show: Show, brought: Collection[str]) -> Plugged:
    """Put the units of these names on supplies; a show that plans no mains comes back as it is."""
    if not show.supplies:
        return Plugged(show)
    rig = evaluate(show)
    before = mains_of(rig)
    waiting = _lots(rig, [draw for draw in before.unplanned if draw.id in brought])
    own = [draw.id for draw in before.unplanned if draw.id not in brought and draw.output_w > 0.0]
    loose = f"on no supply, and left so, since it stood there before: {', '.join(own)}; Mains, b proposes one"
    first = [lot for lot in waiting if len(lot) > 1]
    rig, waiting = _spread(rig, waiting)
    # A rack as built that no one supply carries may have a mains lead for each of its units.
    split: list[Lot] = [(draw,) for lot in waiting for draw in lot]
    if first and split:
        rig, split = _spread(rig, split)
    left = [draw for lot in split for draw in lot]
    plugs = tuple(_plugs(rig.show, before, {draw.id for draw in left}, brought))
    return Plugged(
        rig.show, plugs, (*_notes(rig, plugs), *([loose] if own else [])), tuple(_short(rig, draw) for draw in left)
    )


def _lots(rig: Rig, draws: Collection[Draw]) -> list[Lot]:
    built = {rack.id for rack in rig.show.racks if rack.as_built}
    together: dict[str, list[Draw]] = {}
    for draw in draws:
        together.setdefault(draw.rack if draw.rack in built and draw.rack else draw.id, []).append(draw)
    return [tuple(lot) for lot in together.values()]


def _spread(rig: Rig, waiting: list[Lot]) -> tuple[Rig, list[Lot]]:
    """Put what holds on the groups of circuits, the one that takes most first; give the rig, and what is left."""
    keys = list(groups_of(rig.show))
    while waiting and keys:
        tries = [(_onto(rig, key, waiting), key) for key in keys]
        (after, left), key = min(tries, key=lambda item: len(item[0][1]))  # of equals the first: the largest group
        if len(left) == len(waiting):
            break
        rig, waiting = after, left
        keys.remove(key)
    return rig, waiting


def _onto(rig: Rig, key: Key, waiting: list[Lot]) -> tuple[Rig, list[Lot]]:
    """Share as much as holds over the circuits of one group."""
    mains = mains_of(rig)
    dead = _dead(rig.show)
    slots = [slot for slot in slots_of(rig, mains, key, empty=True) if slot.supply not in dead]
    if not slots:
        return rig, waiting
    supplies = {supply.id: supply for supply in rig.show.supplies}
    volts = phase_volts(supplies[slots[0].supply])
    items = [_item(lot, volts) for lot in waiting]
    lots = {item.ids: lot for item, lot in zip(items, waiting, strict=True)}
    left: list[Lot] = []
    items.sort(key=lambda item: (-item.load_ma, item.ids))
    while items:
        chosen, _ = share(items, slots, base_of(mains, items, slots))
        after = evaluate(all_plugged(rig.show, rig, items, slots, chosen))
        bad = _worse(rig, after)
        if not bad:
            return after, left
        left.append(lots[items.pop(_set_aside(items, slots, chosen, bad)).ids])
    return rig, left


def _item(lot: Lot, volts: float) -> Item:
    amps = [mains_current(draw.apparent_va, volts) for draw in lot]  # VA at a power factor of one
    return Item(tuple(draw.id for draw in lot), sum(round(1000.0 * amp) for amp in amps), None)


def _set_aside(items: list[Item], slots: list[Slot], chosen: tuple[int, ...], bad: frozenset[str]) -> int:
    """Choose which item does not fit: the heaviest on a supply that would be in trouble, else the heaviest of all."""
    places = range(len(items))
    return next((place for place in places if slots[chosen[place]].supply in bad), 0)


def _worse(before: Rig, after: Rig) -> frozenset[str]:
    """Name the supplies that have an error which they had not before, or more load over their limit."""
    known = {(item.rule, item.where.id) for item in _errors(before)}
    new = {item.where.id for item in _errors(after) if (item.rule, item.where.id) not in known}
    over = _over(before)
    more = {name for name, amps in _over(after).items() if amps > over.get(name, 0.0) + 1e-6}
    return frozenset(new | more)


def _errors(rig: Rig) -> list[Finding]:
    return [item for item in mains_hold(rig, choices_of(rig)) if item.severity == "error"]


def _over(rig: Rig) -> dict[str, float]:
    nfpa = rig.show.about.electrical_rules == "nfpa"
    return {
        item.supply.id: item.load_a - limit_a(item.supply, nfpa=nfpa)
        for item in mains_of(rig).loaded
        if item.load_a > limit_a(item.supply, nfpa=nfpa)
    }


def _dead(show: Show) -> set[str]:
    """Name the supplies that are lost, and all that are fed from them."""
    dead = set(lost_now(show))
    for _ in show.supplies:
        dead |= {supply.id for supply in show.supplies if supply.fed_from in dead}
    return dead


def _plugs(show: Show, before: Mains, left: set[str], brought: Collection[str]) -> Iterator[MainsPlug]:
    units = {unit.id: unit for unit in show.rack_units}
    for draw in before.unplanned:
        if draw.id in brought and draw.id not in left and (unit := units.get(draw.id)) and unit.supply:
            yield MainsPlug(draw.id, unit.supply, unit.phase)


def _notes(rig: Rig, plugs: Collection[MainsPlug]) -> Iterator[str]:
    """Say what is plugged where, and what the phases carry then."""
    if not plugs:
        return
    yield f"mains at the duty of the programme: {', '.join(plug.says for plug in plugs)}; {_loads(rig, plugs)}"


def _loads(rig: Rig, plugs: Collection[MainsPlug]) -> str:
    mains = mains_of(rig)
    nfpa = rig.show.about.electrical_rules == "nfpa"
    rule = " (80 %)" if nfpa else ""
    parts = []
    for name in dict.fromkeys(plug.supply for plug in plugs):
        item = mains.supply(name)
        if item is not None:
            most = format_value(limit_a(item.supply, nfpa=nfpa), "A", 3)
            assumed = ", partly assumed" if item.assumed else ""
            parts.append(f"{name} carries {format_value(item.load_a, 'A', 3)} of {most}{rule}{assumed}")
    return "; ".join(parts)


def _short(rig: Rig, draw: Draw) -> Short:
    """Say that no supply carries a unit, and how much it is."""
    volts = max((phase_volts(supply) for supply in rig.show.supplies), default=0.0)
    amps = format_value(mains_current(draw.apparent_va, volts), "A", 3)
    most = max((_room(rig, supply) for supply in rig.show.supplies if supply.id not in _dead(rig.show)), default=0.0)
    assumed = ", partly assumed" if draw.assumed else ""
    says = (
        f"no supply carries {draw.id}: {amps} at the duty of the programme{assumed}, and at most "
        f"{format_value(most, 'A', 3)} is left on a line; ask for another circuit, a licensed electrician connects it"
    )
    return Short(draw.id, 1, says)


def _room(rig: Rig, supply: Supply) -> float:
    """Give what the least loaded line of a supply may carry in addition [A]."""
    item = mains_of(rig).supply(supply.id)
    nfpa = rig.show.about.electrical_rules == "nfpa"
    lines = item.line_a[: supply.phases] if item is not None else (0.0,)
    return max(0.0, limit_a(supply, nfpa=nfpa) - min(lines))
