"""Balance: which amplifier on which circuit or line, so that the most loaded phase carries least.

How it flows: circuits that are alike (one feed, one length and size of cable, one rating) are one group; what is
plugged into a group may move within it and nowhere else, since another group may stand at the other end of the
site. Units of a rack as built move together, and those of any rack as long as the phases stay even. How each group
is shared is found in ``planning.sharing``. The answer is a proposal, from show to show.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.checks.rules import choices_of
from fieldkit.checks.supply import is_unbalanced
from fieldkit.planning.supply.sharing import CircuitSlot, Item, gain_ma, share
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import Lines, LoadedSupplies, LoadedSupply, limit_a
from fieldkit.rig.power.supplies import supplies_of
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
    """Propose which unit to plug where. A show without anything to choose comes back as it is.

    A rack stays on one phase, or comes onto one, as long as no circuit is overloaded for it and no phase carries more
    than the checks let pass; the heaviest racks are the first to be shared out.
    """
    apart = _shared_out(show, frozenset())
    racks = _loose_racks(show)
    for heaviest in range(len(racks)):
        found = _shared_out(show, frozenset(racks[heaviest:]))
        if _strain(found.show) <= _strain(apart.show):
            return found
    return apart


def _loose_racks(show: Show) -> list[str]:
    """List the racks with several units in them that could be plugged apart, the heaviest load first."""
    rig = evaluate(show)
    loads: dict[str, list[float]] = {}
    for draw in supplies_of(rig).draws:
        if draw.rack and draw.kind != "self-powered box" and rig.show_index.racks[draw.rack].as_built is None:
            loads.setdefault(draw.rack, []).append(draw.apparent_va)
    several = [name for name, its in loads.items() if len(its) > 1]
    return sorted(several, key=lambda name: (-sum(loads[name]), name))


def _strain(show: Show) -> tuple[float, int]:
    """Say how far circuits are overloaded [A], and how many supplies have uneven phases."""
    rig = evaluate(show)
    mains = supplies_of(rig)
    nfpa = show.about.electrical_rules == "nfpa"
    over = sum(max(0.0, amps - limit_a(item.supply, nfpa=nfpa)) for item in mains.loaded for amps in item.line_a)
    most = choices_of(rig).phase_share
    three = [item.line_a for item in mains.loaded if item.supply.phases == 3] or [mains.totals]
    return round(over, 3), sum(is_unbalanced(lines, most) for lines in three)


def _shared_out(show: Show, together: frozenset[str]) -> Balance:
    """Balance a show with some racks kept together."""
    before = evaluate(show)
    first = supplies_of(before)
    wanted, show = show, _gathered(show, together)
    rig = evaluate(show)
    mains, proved, groups = supplies_of(rig), True, 0
    for key in groups_of(show):
        slots = slots_of(rig, mains, key)
        items = _items(rig, mains, slots, _MayMove(with_unplanned=groups == 0, together=together))
        if len(slots) < 2 or not items:
            continue
        groups += 1
        base = base_of(mains, items, slots)
        chosen, sure = share(items, slots, base)
        proved = proved and sure
        moved = any(index != item.slot for item, index in zip(items, chosen, strict=True))
        if moved and gain_ma(chosen, items, slots, base) >= WORTH_MA:
            show = all_plugged(show, rig, items, slots, chosen)
            rig = evaluate(show)
            mains = supplies_of(rig)
    moves = tuple(_moves(wanted, show, first, mains))
    return Balance(show, moves, first.totals, mains.totals, proved, _says(groups, moves, first, mains, proved))


def _gathered(show: Show, together: frozenset[str]) -> Show:
    """Plug the units of each rack where most of its load is, as far as they are on circuits that are alike."""
    if not together:
        return show
    rig = evaluate(show)
    mains = supplies_of(rig)
    for key in groups_of(show):
        names = {slot.supply for slot in slots_of(rig, mains, key)}
        for rack in sorted(together):
            at: dict[tuple[str, int | None], float] = {}
            its = [draw for draw in mains.draws if draw.rack == rack and draw.supply in names]
            for draw in its:
                place = (draw.supply or "", draw.phase)
                at[place] = at.get(place, 0.0) + draw.apparent_va
            if len(at) > 1:
                supply, phase = max(at, key=lambda place: at[place])
                for draw in its:
                    show = plugged(show, rig, draw.id, supply, phase)
    return show


def _says(groups: int, moves: Sequence[PhaseMove], first: LoadedSupplies, last: LoadedSupplies, proved: bool) -> str:  # noqa: FBT001
    if not groups:
        return (
            "nothing to choose: there are not two circuits alike, or two phases of one supply, with something on them"
        )
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


class _MayMove(msgspec.Struct, frozen=True):
    """What may move in a group."""

    with_unplanned: bool
    together: frozenset[str]
    """Racks that move as one."""


def _items(rig: Rig, mains: LoadedSupplies, slots: list[CircuitSlot], may: _MayMove) -> list[Item]:
    """List what may move in a group, heaviest first."""
    by_lines = any(slot.phase for slot in slots)
    place = {(slot.supply, slot.phase): index for index, slot in enumerate(slots)}
    built = {rack.id for rack in rig.show.racks if rack.as_built} | may.together
    names = {slot.supply for slot in slots}
    volts = next((item.supply.volts.value for item in mains.loaded if item.supply.id in names), 230.0)
    together: dict[tuple[object, ...], list[tuple[Draw, int | None, float]]] = {}
    planned = [draw for item in mains.loaded if item.supply.id in names for draw in item.draws]
    for draw in [*planned, *(mains.unplanned if may.with_unplanned else ())]:
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


def _moves(show: Show, after: Show, first: LoadedSupplies, last: LoadedSupplies) -> Iterator[PhaseMove]:
    """List what is plugged elsewhere in another show, in the order of its loads."""
    was = {draw.id: _place(draw, first) for draw in first.draws}
    for draw in last.draws:
        if show is not after and _place(draw, last) != was[draw.id]:
            yield PhaseMove(draw.id, was[draw.id], _place(draw, last))


def _place(draw: Draw, mains: LoadedSupplies) -> str:
    """Name where something is plugged in: ``C1``, ``T L2``, ``no supply``, ``no phase``."""
    if draw.supply is None:
        return "no supply"
    item = mains.supply(draw.supply)
    if item is not None and item.supply.phases == 3:
        return f"{draw.supply} L{draw.phase}" if draw.phase else "no phase"
    return draw.supply


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
