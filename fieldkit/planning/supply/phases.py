"""Balance: which amplifier on which circuit or line, so that the most loaded phase carries least.

How it flows: circuits that are alike (one feed, one length and size of cable, one rating) are one group; what is
plugged into a group may move within it and nowhere else, since another group may stand at the other end of the
site. Units of a rack as built move together. How each group is shared is found in ``planning.sharing``. The answer
is a proposal, from show to show.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.planning.supply.sharing import CircuitSlot, Item, gain_ma, share
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.supplies import Lines, LoadedSupplies, LoadedSupply, limit_a, supplies_of
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import RackUnit, Show, Supply
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.errors import DocumentError

WORTH_MA = 500
"""Nobody moves a plug to take less than this off the worst phase: common practice, no source."""


class PhaseMove(msgspec.Struct, frozen=True, gc=False):
    """One unit plugged elsewhere."""

    unit: str
    was: str
    becomes: str


class Balance(msgspec.Struct, frozen=True):
    """A proposal: the show after it, and what it changes."""

    show: Show
    moves: tuple[PhaseMove, ...]
    before_a: Lines
    after_a: Lines
    proved: bool
    """Whether no other sharing within the groups is better."""
    says: str


def balance(show: Show) -> Balance:
    """Propose which unit to plug where. A show without anything to choose comes back as it is."""
    rig = evaluate(show)
    first = supplies_of(rig)
    mains, proved, groups = first, True, 0
    moves: list[PhaseMove] = []
    for key in groups_of(show):
        slots = slots_of(rig, mains, key)
        items = _items(rig, mains, slots, with_unplanned=groups == 0)
        if len(slots) < 2 or not items:
            continue
        groups += 1
        chosen, sure = share(items, slots, base_of(mains, items, slots))
        proved = proved and sure
        moved = list(_moves(items, slots, chosen))
        if moved and gain_ma(chosen, items, slots, base_of(mains, items, slots)) >= WORTH_MA:
            show = all_plugged(show, rig, items, slots, chosen)
            rig = evaluate(show)
            mains = supplies_of(rig)
            moves += moved
    return Balance(show, tuple(moves), first.totals, mains.totals, proved, _says(groups, moves, first, mains, proved))


def _says(groups: int, moves: Sequence[PhaseMove], first: LoadedSupplies, last: LoadedSupplies, proved: bool) -> str:  # noqa: FBT001
    if not groups:
        return "nothing to choose: there are not two circuits alike, or two lines of one supply, with something on them"
    if not moves:
        known = "as good as it can be, to half an ampere" if proved else "as good as was found"
        return f"it is {known}: nothing needs to move"
    before, after = max(first.totals), max(last.totals)
    sure = "no other sharing is better" if proved else "a better one may exist"
    return f"worst phase {before:.1f} A before, {after:.1f} A after, {len(moves)} moved; {sure}"


Key = tuple[object, ...]


def _key(supply: Supply) -> Key:
    if supply.phases == 3:
        return ("lines of", supply.id)
    alike = (supply.volts, supply.across, supply.rating, supply.fed_from, supply.feeder, supply.phase is None)
    return ("circuits", *alike)


def groups_of(show: Show) -> Iterator[Key]:
    """List each group of slots once, the largest first: what is on no supply yet goes there."""
    sizes: dict[Key, int] = {}
    for supply in show.supplies:
        key = _key(supply)
        sizes[key] = sizes.get(key, 0) + supply.phases
    yield from sorted(sizes, key=lambda key: -sizes[key])


def slots_of(rig: Rig, mains: LoadedSupplies, key: Key, *, empty: bool = False) -> list[CircuitSlot]:
    """List where something of a group can be plugged in; with ``empty``, also three-phase outlets that nothing is on.

    Then what feeds other supplies is no outlet.
    """
    slots = []
    nfpa = rig.show.about.electrical_rules == "nfpa"
    for item in mains.loaded:
        supply = item.supply
        if _key(supply) != key or (empty and item.feeds):
            continue
        limit = round(limit_a(supply, nfpa=nfpa) * 1000.0)
        if supply.phases == 3:
            taken = {draw.id for draw in item.draws}
            if taken or empty:
                slots += [CircuitSlot(supply.id, line, (line - 1,), limit) for line in (1, 2, 3)]
        elif supply.phase is None:
            slots.append(CircuitSlot(supply.id, None, (), limit))
        else:
            first = supply.phase - 1
            lines = (first, (first + 1) % 3) if supply.across == "phases" else (first,)
            slots.append(CircuitSlot(supply.id, None, lines, limit))
    return slots


def _items(rig: Rig, mains: LoadedSupplies, slots: list[CircuitSlot], *, with_unplanned: bool) -> list[Item]:
    """List what may move in a group, heaviest first."""
    by_lines = any(slot.phase for slot in slots)
    place = {(slot.supply, slot.phase): index for index, slot in enumerate(slots)}
    built = {rack.id for rack in rig.show.racks if rack.as_built}
    names = {slot.supply for slot in slots}
    volts = next((item.supply.volts.value for item in mains.loaded if item.supply.id in names), 230.0)
    together: dict[tuple[object, ...], list[tuple[Draw, int | None, float]]] = {}
    planned = [draw for item in mains.loaded if item.supply.id in names for draw in item.draws]
    for draw in [*planned, *(mains.unplanned if with_unplanned else ())]:
        if by_lines and draw.kind == "self-powered box":
            continue  # a box has no line of its own to note
        slot = place.get((draw.supply or "", draw.phase if by_lines else None))
        amps = draw.current_a if draw.current_a is not None else draw.apparent_va / volts
        mark = (draw.rack, slot) if draw.rack in built else (draw.id, draw.kind)
        together.setdefault(mark, []).append((draw, slot, amps))
    items = [
        Item(tuple(draw.id for draw, _, _ in group), sum(round(amps * 1000.0) for _, _, amps in group), group[0][1])
        for group in together.values()
    ]
    return sorted(items, key=lambda item: (-item.load_ma, item.ids))


def base_of(mains: LoadedSupplies, items: list[Item], slots: list[CircuitSlot]) -> tuple[list[int], list[int]]:
    """Compute the load that does not move: on each slot, and on each of the three lines above them [mA]."""
    own = [0] * len(slots)
    lines = [round(amps * 1000.0) for amps in _lines_of(mains, slots)]
    for index, slot in enumerate(slots):
        loaded = mains.supply(slot.supply)
        if loaded is not None:
            own[index] = round(loaded.line_a[(slot.phase or 1) - 1] * 1000.0)
    for item in items:
        if item.slot is not None:
            own[item.slot] -= item.load_ma
            for line in slots[item.slot].lines:
                lines[line] -= item.load_ma
        elif any(slot.phase for slot in slots) and _is_planned(mains, item):
            # It was spread over the three lines of its supply.
            for index in range(len(slots)):
                own[index] -= item.load_ma // 3
            lines = [amps - item.load_ma // 3 for amps in lines]
    return [max(amps, 0) for amps in own], [max(amps, 0) for amps in lines]


def _is_planned(mains: LoadedSupplies, item: Item) -> bool:
    return item.ids[0] not in {draw.id for draw in mains.unplanned}


def _lines_of(mains: LoadedSupplies, slots: list[CircuitSlot]) -> Lines:
    """Return the load on the lines that feed a group [A]: of the supply above, else the sum of all roots."""
    first: LoadedSupply | None = mains.supply(slots[0].supply)
    if first is None or first.supply.phases == 3:
        return first.line_a if first else (0.0, 0.0, 0.0)
    above = mains.supply(first.supply.fed_from or "")
    if above is not None and above.supply.phases == 3:
        return above.line_a
    return mains.totals


def _moves(items: list[Item], slots: list[CircuitSlot], chosen: tuple[int, ...]) -> Iterator[PhaseMove]:
    for item, index in zip(items, chosen, strict=True):
        if index != item.slot:
            was = slots[item.slot].name if item.slot is not None else "no line" if slots[0].phase else "no supply"
            for name in item.ids:
                yield PhaseMove(name, was, slots[index].name)


def plugged(show: Show, rig: Rig, name: str, supply: str | None, phase: int | None = None) -> Show:
    """Plug a unit or a self-powered box into a supply, or into none; return the show.

    A unit that a rack as built brings gets a table of its own for it. Raises DocumentError for a name that nobody has.
    """
    if name in rig.show_index.boxes:
        return with_thing(show, "boxes", changed(find(show, "boxes", name), supply=supply))
    if any(unit.id == name for unit in show.rack_units):
        own = find(show, "rack_units", name)
    elif name in rig.show_index.units:
        own = RackUnit(id=name, model=rig.show_index.units[name].model)
    else:
        raise DocumentError(f"there is no '{name}' in rack_units or boxes", thing=name)
    return with_thing(show, "rack_units", changed(own, supply=supply, phase=phase))


def all_plugged(show: Show, rig: Rig, items: list[Item], slots: list[CircuitSlot], chosen: tuple[int, ...]) -> Show:
    """Return the show with each moved thing at its new place."""
    for item, index in zip(items, chosen, strict=True):
        if index != item.slot:
            for name in item.ids:
                show = plugged(show, rig, name, slots[index].supply, slots[index].phase)
    return show
