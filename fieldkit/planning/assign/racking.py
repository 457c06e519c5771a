"""Where new amplifiers go: names, racks a side each, and the supply that carries them."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import choices_of
from fieldkit.checks.supply import supplies_hold
from fieldkit.formulas.mains import mains_current
from fieldkit.planning.assign.judging import Short, SupplyPlug
from fieldkit.planning.assign.problem import Question
from fieldkit.planning.assign.sources import OutputSource
from fieldkit.planning.supply.phases import Key, all_plugged, base_of, groups_of, slots_of
from fieldkit.planning.supply.sharing import CircuitSlot, Item, share
from fieldkit.rig.failures import failed_now
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import LoadedSupplies, limit_a
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.power.supply_sums import phase_volts
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.decoding import convert
from fieldkit.show.document import Rack, RackUnit, Show, Supply
from fieldkit.show.errors import DocumentError
from fieldkit.units import format_value

MOST_UNITS = 16
"""Height of a rack that two people still move. Common practice, no source."""


class Racker:
    """Takes the amplifiers and racks of the show in turn, and builds racks for units from the stock."""

    def __init__(self, show: Show, question: Question, names: tuple[frozenset[str], frozenset[str]]) -> None:
        self.show = show
        self._names = names
        self._there: dict[int, list[tuple[str, str]]] = {
            id(source): list(source.members) for source in question.sources
        }
        self._racks: dict[int | None, tuple[str, int]] = {}
        self._heights = {model.id: model.units for model in show.amplifiers}
        self._heights |= {model.id: model.units for model in show.processors}
        self.added: list[tuple[str, str]] = []
        """What is new: id and model."""

    def name(self, source: OutputSource, side: int | None) -> str:
        """Name the next amplifier or rack of a source, for a side or for none."""
        if not source.is_new:
            return self._one_there(source, side)
        if source.is_rack:
            name = self._free(self._side_name(side) or "RACK")
            rack = Rack(id=name, as_built=source.model, side=self._side(side))
            self.show = msgspec.structs.replace(self.show, racks=(*self.show.racks, rack))
            self.added.append((name, source.model))
            return name
        return self.add_unit(source.model, side)

    def _one_there(self, source: OutputSource, side: int | None) -> str:
        waiting = self._there[id(source)]
        own = self._names[side] if side is not None else frozenset()
        other = self._names[1 - side] if side is not None else frozenset()
        # Those that stand on this very side first, then those of no side; a pair's twin is left for the twin.
        allowed = [member for member in waiting if member[1] not in other]
        chosen = min(allowed, key=lambda member: (member[1] not in own, waiting.index(member)))
        waiting.remove(chosen)
        return chosen[0]

    def add_unit(self, model: str, side: int | None) -> str:
        """Add an amplifier or processor: in a rack of its side, or loose where it has no height."""
        height = self._heights[model]
        if not height:
            unit = RackUnit(id=self._free("AMP"), model=model)
        else:
            rack, place = self._gap(side, height) or self._rack(side, height)
            unit = RackUnit(id=self._free(f"{rack}-1"), model=model, rack=rack, unit=place)
        self.show = msgspec.structs.replace(self.show, rack_units=(*self.show.rack_units, unit))
        self.added.append((unit.id, model))
        return unit.id

    def _gap(self, side: int | None, height: int) -> tuple[str, int | None] | None:
        """Find a gap in a rack of this side that stands there already: its name, and the lowest unit of the gap.

        Where nobody said at which units the others sit, it is a gap of that many units, and its place is left open.
        """
        own = {name for name, _ in self._racks.values()}
        for rack in self.show.racks:
            if rack.as_built is not None or rack.id in own or rack.units is None or rack.side != self._side(side):
                continue
            inside = [unit for unit in self.show.rack_units if unit.rack == rack.id]
            if any(unit.unit is None for unit in inside):
                if height + sum(self._heights.get(unit.model, 0) for unit in inside) <= rack.units:
                    return rack.id, None
                continue
            taken = {(unit.unit or 0) + place for unit in inside for place in range(self._heights.get(unit.model, 0))}
            for first in range(1, rack.units - height + 2):
                if not taken & set(range(first, first + height)):
                    return rack.id, first
        return None

    def _rack(self, side: int | None, height: int) -> tuple[str, int]:
        """Return the rack that is being built on a side, and the lowest unit that is free; fill it by one amplifier."""
        name, filled = self._racks.get(side, ("", 0))
        if not name or filled + height > MOST_UNITS:
            name, filled = self._free(self._side_name(side) or "RACK"), 0
            rack = Rack(id=name, units=height, side=self._side(side))
            self.show = msgspec.structs.replace(self.show, racks=(*self.show.racks, rack))
        self._racks[side] = (name, filled + height)
        racks = tuple(
            msgspec.structs.replace(rack, units=filled + height) if rack.id == name else rack
            for rack in self.show.racks
        )
        self.show = msgspec.structs.replace(self.show, racks=racks)
        return name, filled + 1

    def _side(self, side: int | None) -> str:
        return min(self._names[side]) if side is not None and self._names[side] else ""

    def _side_name(self, side: int | None) -> str:
        """Make a label of a side's name where it can be one, with room for a number behind it."""
        try:
            return convert({"id": self._side(side)[:40].upper()}, Rack).id
        except DocumentError:
            return ""

    def _free(self, label: str) -> str:
        """Find a label that neither a thing of the show nor a unit of a rack as built has."""
        built = {model.id: len(model.contents) for model in self.show.built_racks}
        brought = {
            f"{rack.id}-{number}"
            for rack in self.show.racks
            for number in range(1, built.get(rack.as_built or "", 0) + 1)
        }
        tables = (self.show.boxes, self.show.racks, self.show.rack_units, self.show.runs, self.show.supplies)
        taken = {thing.id for table in tables for thing in table} | brought
        stem = label.rstrip("0123456789")
        number = int(label[len(stem) :] or 1)
        while label in taken:
            number += 1
            label = f"{stem}{number}"
        return label


Lot = tuple[Draw, ...]
"""What is plugged as one: a unit, or the units of a rack as built."""


class Plugged(msgspec.Struct, frozen=True):
    """A show with its new amplifiers on mains, as far as that holds."""

    show: Show
    plugs: tuple[SupplyPlug, ...] = ()
    notes: tuple[str, ...] = ()
    short: tuple[Short, ...] = ()


def plugged_in(show: Show, brought: Collection[str]) -> Plugged:
    """Put the units of these names on supplies; a show that plans no mains comes back as it is."""
    if not show.supplies:
        return Plugged(show)
    rig = evaluate(show)
    before = supplies_of(rig)
    waiting = _lots(rig, [draw for draw in before.unplanned if draw.id in brought])
    own = [draw.id for draw in before.unplanned if draw.id not in brought and draw.output_w > 0.0]
    loose = f"on no supply, and left so, since it stood there before: {', '.join(own)}; Supply, b proposes one"
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
    mains = supplies_of(rig)
    failed = _failed(rig.show)
    slots = [slot for slot in slots_of(rig, mains, key, empty=True) if slot.supply not in failed]
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


def _set_aside(items: list[Item], slots: list[CircuitSlot], chosen: tuple[int, ...], bad: frozenset[str]) -> int:
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
    return [item for item in supplies_hold(rig, choices_of(rig)) if item.severity == "error"]


def _over(rig: Rig) -> dict[str, float]:
    nfpa = rig.show.about.electrical_rules == "nfpa"
    return {
        item.supply.id: item.load_a - limit_a(item.supply, nfpa=nfpa)
        for item in supplies_of(rig).loaded
        if item.load_a > limit_a(item.supply, nfpa=nfpa)
    }


def _failed(show: Show) -> set[str]:
    """Name the supplies that have failed, and all that are fed from them."""
    failed = set(failed_now(show))
    for _ in show.supplies:
        failed |= {supply.id for supply in show.supplies if supply.fed_from in failed}
    return failed


def _plugs(show: Show, before: LoadedSupplies, left: set[str], brought: Collection[str]) -> Iterator[SupplyPlug]:
    units = {unit.id: unit for unit in show.rack_units}
    for draw in before.unplanned:
        if draw.id in brought and draw.id not in left and (unit := units.get(draw.id)) and unit.supply:
            yield SupplyPlug(draw.id, unit.supply, unit.phase)


def _notes(rig: Rig, plugs: Collection[SupplyPlug]) -> Iterator[str]:
    """Say what is plugged where, and what the phases carry then."""
    if not plugs:
        return
    yield f"mains at the duty of the programme: {', '.join(plug.says for plug in plugs)}; {_loads(rig, plugs)}"


def _loads(rig: Rig, plugs: Collection[SupplyPlug]) -> str:
    mains = supplies_of(rig)
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
    most = max((_room(rig, supply) for supply in rig.show.supplies if supply.id not in _failed(rig.show)), default=0.0)
    assumed = ", partly assumed" if draw.assumed else ""
    says = (
        f"no supply carries {draw.id}: {amps} at the duty of the programme{assumed}, and at most "
        f"{format_value(most, 'A', 3)} is left on a line; ask for another circuit, a licensed electrician connects it"
    )
    return Short(draw.id, 1, says)


def _room(rig: Rig, supply: Supply) -> float:
    """Compute what the least loaded line of a supply may carry in addition [A]."""
    item = supplies_of(rig).supply(supply.id)
    nfpa = rig.show.about.electrical_rules == "nfpa"
    lines = item.line_a[: supply.phases] if item is not None else (0.0,)
    return max(0.0, limit_a(supply, nfpa=nfpa) - min(lines))
