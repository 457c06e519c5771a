"""The supplies of a show, loaded: current of each line, neutral, drop, leakage, heat, inrush.

How it flows: what each unit takes (``consumption``) → its supply, line by line → the supply that this one is
fed from, and so on up → the drop of each feeder, added up on the way down again.
"""

from __future__ import annotations

from functools import partial
from itertools import chain

from fieldkit.formulas import feeders, generators, harmonics, mains
from fieldkit.formulas.figures import Apply, direct, given
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.power.consumption import Draw, Parts, draw_of
from fieldkit.rig.power.loaded import NO_LINES, Device, Lines, LoadedSupplies, LoadedSupply
from fieldkit.rig.power.supply_sums import Gathered, gathered, phase_volts, upward_order
from fieldkit.rig.signal.basis import sides_of
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.memory import Memory
from fieldkit.show.document import Box, RackUnit, Supply


def load_supplies(rig: Rig, apply: Apply = direct, *, trace: bool = False) -> LoadedSupplies:
    """Load the supplies of a rig, with ``traced`` so that each number remembers where it came from."""
    show = rig.show
    supplies = {supply.id: supply for supply in show.supplies}
    parts = Parts(show.about, {zone.id: zone for zone in show.zones}, supplies, apply, trace)
    memory = Memory() if trace or apply is not direct else rig.memory  # a trace is asked for once, and holds no other
    draws = _draws(rig, parts, memory)
    plugged: dict[str, list[Draw]] = {name: [] for name in supplies}
    for draw in draws:
        if draw.supply in plugged:
            plugged[draw.supply].append(draw)
    order = upward_order(supplies)
    sums: dict[str, Gathered] = {}
    hung: dict[str, list[tuple[Supply, Gathered]]] = {name: [] for name in supplies}
    for name in order:
        supply, its = supplies[name], plugged[name]
        rests_on: tuple[object, ...] = (supply, *its, *chain.from_iterable(hung[name]))
        sums[name] = memory.once(("gathered", name), rests_on, partial(gathered, supply, its, hung[name], parts))
        if supply.fed_from is not None:
            hung[supply.fed_from].append((supply, sums[name]))
    loaded: dict[str, LoadedSupply] = {}
    for name in reversed(order):
        supply, above = supplies[name], loaded.get(supplies[name].fed_from or "")
        rests_on = (supply, sums[name], above)
        loaded[name] = memory.once(("loaded", name), rests_on, partial(_loaded, supply, sums[name], above, parts))
    return LoadedSupplies(
        loaded=tuple(loaded[name] for name in supplies),
        unplanned=tuple(draw for draw in draws if draw.supply not in supplies),
        devices=_devices(loaded, supplies),
        generators=tuple(_generators(loaded, supplies)),
        by_id=loaded,
    )


def _draws(rig: Rig, parts: Parts, memory: Memory) -> tuple[Draw, ...]:
    """Work out what every unit takes, in the order of the show, and then every self-powered box."""
    index, about = rig.show_index, rig.show.about
    sides = memory.each("sides", rig.amplifiers, sides_of)
    on_unit = {its[0].output.unit.id: (its, zones) for its, zones in zip(rig.amplifiers, sides, strict=True) if its}
    boxes = memory.once(("self-powered",), (rig.show.boxes, index.speakers), lambda: _self_powered(rig))
    takers: list[RackUnit | Box] = [*index.units.values(), *boxes]

    def model_of(taker: RackUnit | Box) -> Amplifier | Processor | Loudspeaker:
        model = index.speakers[taker.id] if isinstance(taker, Box) else index.models[taker.model]
        assert isinstance(model, Amplifier | Processor | Loudspeaker)  # noqa: S101  (the references of the show hold)
        return model

    def rests_on(taker: RackUnit | Box) -> tuple[object, ...]:
        outputs, its_sides = on_unit.get(taker.id, ((), ()))
        zones = (taker.zone,) if isinstance(taker, Box) else tuple(zone for zone, _ in its_sides)
        supply = parts.supplies.get(taker.supply or "")
        return (about.duty, about.sub_duty, supply, model_of(taker), *outputs, *(parts.zones[zone] for zone in zones))

    def draw(taker: RackUnit | Box) -> Draw:
        return draw_of(taker, model_of(taker), on_unit.get(taker.id, ((), ()))[0], parts)

    return memory.each_of("draws", takers, (about, index, rig.amplifiers, rig.show.supplies), rests_on, draw)


def _self_powered(rig: Rig) -> list[Box]:
    speakers = rig.show_index.speakers
    return [box for box in rig.show.boxes if planned_drive(box, speakers[box.id]) == "self-powered"]


def _loaded(supply: Supply, sums: Gathered, above: LoadedSupply | None, parts: Parts) -> LoadedSupply:
    lines: Lines = (sums.lines[0], sums.lines[1], sums.lines[2])
    apply = parts.apply
    if supply.phases == 3:
        neutral = apply(harmonics.neutral_by_order, *sums.first, *sums.third)
        first, third = mains.neutral_current(*map(float, sums.first)), sum(map(float, sums.third))
    else:
        neutral = first = 0.0 if supply.across == "phases" else lines[0]
        third = 0.0
    drop = _drops(supply, lines, neutral, parts)
    before = _drops_above(supply, above)
    volts: float = phase_volts(supply)
    if parts.trace:
        volts = given(volts, "volts of the supply", "V", f"supply {supply.id}, '{supply.volts}'")
    shares = []
    for own, upper in zip(drop, before, strict=True):
        share = apply(feeders.voltage_drop_share, own, volts)
        shares.append(share + upper if upper else share)
    return LoadedSupply(
        supply=supply,
        draws=tuple(sums.draws),
        feeds=tuple(sums.feeds),
        line_a=lines,
        spread=sums.spread,
        neutral_a=neutral,
        neutral_first_a=first,
        neutral_third_a=third,
        third_guessed=sums.third_guessed,
        power_w=sums.power_w,
        apparent_va=sums.apparent_va,
        heat_w=sums.heat_w,
        drop_v=drop,
        drop_share=(shares[0], shares[1], shares[2]),
        private=_is_private(supply, above),
        leakage_a=sums.leakage_a,
        leakage_unknown=sums.unknown,
        inrush_a=max(sums.inrush),
        inrush_unknown=sums.surprises,
        assumed=sums.assumed,
    )


def _is_private(supply: Supply, above: LoadedSupply | None) -> bool:
    if supply.network is not None:
        return supply.network == "private"
    return supply.generator is not None or (above is not None and above.private)


def _drops(supply: Supply, lines: Lines, neutral_a: float, parts: Parts) -> Lines:
    """Compute the volts lost in the feeder of a supply, phase by phase; cos φ is taken as 1, where the drop is most."""
    feeder = supply.feeder
    if feeder is None:
        return NO_LINES
    by_gauge = feeder.area.awg is not None
    length: float = feeder.length.value
    size: float = feeder.area.value if feeder.area.awg is None else feeder.area.awg
    if parts.trace:
        label, unit = ("gauge", "") if by_gauge else ("cross-section", "mm²")
        length = given(length, "length of the feeder", "m", f"supply {supply.id}, feeder '{feeder.length}'")
        size = given(size, label, unit, f"supply {supply.id}, feeder '{feeder.area}'")
    if supply.phases == 1:
        drop = feeders.gauge_voltage_drop if by_gauge else feeders.mains_voltage_drop
        return parts.apply(drop, length, size, lines[0]), 0.0, 0.0
    unequal = feeders.unbalanced_gauge_voltage_drop if by_gauge else feeders.unbalanced_voltage_drop
    one, two, three = (parts.apply(unequal, length, size, line, neutral_a) if line else 0.0 for line in lines)
    return one, two, three


def _drops_above(supply: Supply, above: LoadedSupply | None) -> Lines:
    """Add up what is lost before a supply, for each of its phases."""
    if above is None:
        return NO_LINES
    if supply.phases == 3:
        return above.drop_share if above.lines == 3 else (above.drop_share[0],) * 3
    if above.lines == 1:
        return above.drop_share[0], 0.0, 0.0
    if supply.phase is None:
        return above.worst_drop_share, 0.0, 0.0
    return above.drop_share[supply.phase - 1], 0.0, 0.0


def _devices(loaded: dict[str, LoadedSupply], supplies: dict[str, Supply]) -> tuple[Device, ...]:
    """Sum the leakage behind each residual-current device: a supply's own, or one that several share by name."""
    groups: dict[str, list[str]] = {}
    for supply in supplies.values():
        if supply.residual_device:
            groups.setdefault(supply.residual_device, []).append(supply.id)
        elif supply.residual_current is not None:
            groups[f"\0{supply.id}"] = [supply.id]
    devices = []
    for name, members in groups.items():
        typed = [supplies[item].residual_current for item in members]
        ratings = [rating.value for rating in typed if rating is not None]
        if not ratings:
            continue  # a device without a rating: nothing to hold the leakage against
        its = set(members)
        tops = [item for item in members if not _is_below(item, its, supplies)]
        devices.append(
            Device(
                id=members[0] if name.startswith("\0") else name,
                rating_a=min(ratings),
                supplies=tuple(members),
                leakage_a=sum(loaded[item].leakage_a for item in tops),
                unknown=sum(loaded[item].leakage_unknown for item in tops),
            )
        )
    return tuple(devices)


def _is_below(name: str, others: set[str], supplies: dict[str, Supply]) -> bool:
    """Tell whether a supply hangs below one of the others, so that its leakage is in theirs already."""
    at = supplies[name].fed_from
    for _ in supplies:
        if at is None:
            return False
        if at in others:
            return True
        at = supplies[at].fed_from
    return False


def _generators(
    loaded: dict[str, LoadedSupply], supplies: dict[str, Supply]
) -> list[tuple[LoadedSupply, float, float]]:
    found = []
    for name, supply in supplies.items():
        if supply.generator is not None:
            item = loaded[name]
            factor = supply.generator.power_factor
            asked = generators.generator_size(
                float(item.power_w), float(item.apparent_va), factor.value if factor and factor.value else 0.8
            )
            found.append((item, asked, supply.generator.prime.value))
    return found


supplies_of = Derived[LoadedSupplies](load_supplies)
"""Load the supplies of a rig."""
