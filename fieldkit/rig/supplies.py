"""The supplies of a show, loaded: current of each line, neutral, drop, leakage, heat, inrush.

How it flows: what each unit takes (``rig.consumption``) → its supply, line by line → the supply that this one is
fed from, and so on up → the drop of each feeder, added up on the way down again.
"""

from __future__ import annotations

import msgspec

from fieldkit.formulas import feeders, generators, harmonics, mains, protection
from fieldkit.formulas.figures import Apply, direct, given
from fieldkit.rig.consumption import THIRD_CORRECTED, Draw, Parts, draws_of
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.uses import planned_drive
from fieldkit.show.document import Supply

Lines = tuple[float, float, float]
NO_LINES: Lines = (0.0, 0.0, 0.0)


class Loaded(msgspec.Struct, frozen=True, gc=False):
    """One supply with all that hangs on it, below it too."""

    supply: Supply
    draws: tuple[Draw, ...]
    """What is plugged into it."""
    feeds: tuple[str, ...]
    """Supplies that are fed from it."""
    line_a: Lines
    """Current of its lines at the duty of the programme; a circuit of one phase has the first alone."""
    spread: bool
    """True where things without a line hang on three phases, and were spread over them."""
    neutral_a: float
    neutral_plain_a: float
    """The neutral if nothing had a third harmonic."""
    power_w: float
    apparent_va: float
    heat_w: float
    drop_v: Lines
    """Lost in its own feeder, line to neutral where it has three lines."""
    drop_share: Lines
    """Lost from the origin on, as a share of the volts, for each line."""
    private: bool
    leakage_a: float
    leakage_unknown: int
    """How many units below it do not say how much they leak."""
    inrush_a: float
    """Of everything below it at once, where it is known."""
    inrush_unknown: int
    assumed: bool
    """True where something below it does not say what it takes."""

    @property
    def load_a(self) -> float:
        """The most loaded line [A]."""
        return max(self.line_a)

    @property
    def lines(self) -> int:
        """How many lines it has."""
        return self.supply.phases

    @property
    def worst_drop_share(self) -> float:
        """The largest drop from the origin on any line."""
        return max(self.drop_share)


class Device(msgspec.Struct, frozen=True, gc=False):
    """A residual-current device with all the leakage behind it."""

    id: str
    rating_a: float
    supplies: tuple[str, ...]
    leakage_a: float
    unknown: int


class Mains(msgspec.Struct, frozen=True):
    """The mains of a show."""

    loaded: tuple[Loaded, ...]
    """In the order of the show."""
    unplanned: tuple[Draw, ...]
    """What is on no supply yet."""
    devices: tuple[Device, ...]
    generators: tuple[tuple[Loaded, float, float], ...]
    """A supply from a generator, the prime VA that its load asks for, and the prime VA it has."""

    def supply(self, name: str) -> Loaded | None:
        """Find a supply by its id."""
        return next((item for item in self.loaded if item.supply.id == name), None)

    @property
    def draws(self) -> tuple[Draw, ...]:
        """Everything that takes mains."""
        return (*(draw for item in self.loaded for draw in item.draws), *self.unplanned)

    @property
    def totals(self) -> Lines:
        """Load of the three lines of all that has no supply above it: circuits of one phase by their phase [A]."""
        lines = [0.0, 0.0, 0.0]
        for item in self.loaded:
            if item.supply.fed_from is None:
                for place, amps in enumerate(_upward(item)):
                    lines[place] += amps
        return lines[0], lines[1], lines[2]


def limit_a(supply: Supply, *, nfpa: bool) -> float:
    """Give what each line of a supply may carry for hours: its rating, or 80 % of it where NFPA 70 rules [A]."""
    return protection.continuous_limit(supply.rating.value) if nfpa else supply.rating.value


def load_shares(item: Loaded, *, nfpa: bool) -> tuple[float, ...]:
    """Give the load of each line of a supply as a share of what it may carry."""
    most = limit_a(item.supply, nfpa=nfpa)
    return tuple(protection.load_share(amps, most) for amps in item.line_a[: item.supply.phases])


def line_names(supply: Supply) -> tuple[str, ...]:
    """Name the lines of a supply: L1, L2, L3; of a circuit of one phase the line that it is on."""
    if supply.phases == 3:
        return "L1", "L2", "L3"
    if supply.phase is None:
        return ("L",)
    if supply.across == "lines":
        return (f"L{supply.phase}-L{supply.phase % 3 + 1}",)
    return (f"L{supply.phase}",)


class _Sum(msgspec.Struct):
    """Gathers one supply from the bottom up."""

    draws: list[Draw] = []
    feeds: list[str] = []
    lines: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    star: list[float] = msgspec.field(default_factory=lambda: [0.0, 0.0, 0.0])
    """The part of the lines that comes back by the neutral."""
    third: float = 0.0
    """Third harmonic of all lines together [A]."""
    spread: bool = False
    power_w: float = 0.0
    apparent_va: float = 0.0
    heat_w: float = 0.0
    leakage_a: float = 0.0
    unknown: int = 0
    inrush_a: float = 0.0
    surprises: int = 0
    """Units whose inrush nobody knows."""
    assumed: bool = False


def mains_of(rig: Rig, apply: Apply = direct, *, trace: bool = False) -> Mains:
    """Load the supplies of a rig."""
    show = rig.show
    supplies = {supply.id: supply for supply in show.supplies}
    parts = Parts({zone.id: zone for zone in show.zones}, supplies, apply, trace)
    boxes = [
        (box, rig.ground.speakers[box.id])
        for box in show.boxes
        if planned_drive(box, rig.ground.speakers[box.id]) == "self-powered"
    ]
    draws = tuple(draws_of(rig.ground.units, rig.ground.models, rig.amplifiers, boxes, parts))
    sums = {name: _Sum(draws=[], feeds=[]) for name in supplies}
    for draw in draws:
        if draw.supply in sums:
            _plug(sums[draw.supply], supplies[draw.supply], draw)
    for name in _upward_order(supplies):
        _finish(sums[name], supplies[name], parts)
        above = supplies[name].fed_from
        if above is not None:
            _hang(sums[above], supplies[above], supplies[name], sums[name])
    loaded: dict[str, Loaded] = {}
    for name in reversed(_upward_order(supplies)):
        supply = supplies[name]
        loaded[name] = _loaded(supply, sums[name], loaded.get(supply.fed_from or ""), parts)
    return Mains(
        loaded=tuple(loaded[name] for name in supplies),
        unplanned=tuple(draw for draw in draws if draw.supply not in supplies),
        devices=_devices(loaded, supplies),
        generators=tuple(_generators(loaded, supplies)),
    )


def _upward_order(supplies: dict[str, Supply]) -> list[str]:
    """List the supplies so that each comes before the one that it is fed from."""
    depth: dict[str, int] = {}
    for name, supply in supplies.items():
        steps, at = 0, supply.fed_from
        while at in supplies and steps <= len(supplies):
            steps, at = steps + 1, supplies[at].fed_from
        depth[name] = steps
    return sorted(supplies, key=lambda name: -depth[name])


def _plug(into: _Sum, supply: Supply, draw: Draw) -> None:
    """Plug a unit into a supply."""
    into.draws.append(draw)
    amps = draw.current_a or 0.0
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
    into.third = into.third + draw.third_share * float(amps)
    into.power_w = into.power_w + draw.power_w
    into.apparent_va = into.apparent_va + draw.apparent_va
    into.heat_w = into.heat_w + float(draw.heat_w)
    into.leakage_a += draw.leakage_a or 0.0
    into.unknown += draw.leakage_a is None
    into.inrush_a += draw.inrush_a or 0.0
    into.surprises += draw.inrush_a is None
    into.assumed = into.assumed or bool(draw.assumed)


def _finish(into: _Sum, supply: Supply, parts: Parts) -> None:
    """Add what else hangs on a supply."""
    if supply.other_load is None:
        return
    amps: float = supply.other_load.value
    if parts.trace:
        amps = given(amps, "other load", "A", f"supply {supply.id}, other_load '{supply.other_load}'")
    for place in range(supply.phases):
        into.lines[place] = into.lines[place] + amps
        into.star[place] = into.star[place] + amps
        into.third += THIRD_CORRECTED * float(amps)
        volts_amperes = parts.apply(mains.circuit_va, _phase_volts(supply), amps)
        into.apparent_va = into.apparent_va + volts_amperes
        into.power_w = into.power_w + float(volts_amperes)


def _hang(above: _Sum, upper: Supply, supply: Supply, below: _Sum) -> None:
    """Add the load of a supply to the one that it is fed from."""
    above.feeds.append(supply.id)
    if upper.phases == 1:
        # One line above carries whatever its circuits carry: of three lines below, all.
        above.lines[0] = above.lines[0] + below.lines[0] + below.lines[1] + below.lines[2]
        above.star[0] = above.star[0] + below.star[0] + below.star[1] + below.star[2]
    else:
        for place, amps in enumerate(_lines_above(supply, below.lines)):
            above.lines[place] = above.lines[place] + amps
        if supply.phases == 3 or supply.across == "neutral":
            for place, amps in enumerate(_lines_above(supply, below.star)):
                above.star[place] = above.star[place] + amps
    above.spread = above.spread or below.spread or (upper.phases == 3 and supply.phases == 1 and supply.phase is None)
    above.third += below.third if supply.phases == 3 or supply.across == "neutral" else 0.0
    above.power_w = above.power_w + below.power_w
    above.apparent_va = above.apparent_va + below.apparent_va
    above.heat_w = above.heat_w + below.heat_w
    above.leakage_a += below.leakage_a
    above.unknown += below.unknown
    above.inrush_a += below.inrush_a
    above.surprises += below.surprises
    above.assumed = above.assumed or below.assumed


def _lines_above(supply: Supply, lines: list[float]) -> list[float]:
    """Give what a supply puts on the three lines above it; across two lines both carry its current."""
    if supply.phases == 3:
        return lines
    amps = lines[0]
    if supply.phase is None:
        return [amps / 3.0] * 3
    first = supply.phase - 1
    on = {first, (first + 1) % 3} if supply.across == "lines" else {first}
    return [amps if place in on else 0.0 for place in range(3)]


def _upward(item: Loaded) -> list[float]:
    return _lines_above(item.supply, list(item.line_a))


def _phase_volts(supply: Supply) -> float:
    """Give the volts that one line of a supply works at: to neutral where it has three [V]."""
    if supply.phases == 3 and supply.across == "lines":
        return mains.line_to_neutral_voltage(supply.volts.value)
    return supply.volts.value


def _loaded(supply: Supply, sums: _Sum, above: Loaded | None, parts: Parts) -> Loaded:
    lines: Lines = (sums.lines[0], sums.lines[1], sums.lines[2])
    total = float(sum(sums.star))
    third = min(sums.third / total, 1.0) if total > 0.0 else 0.0
    apply = parts.apply
    if supply.phases == 3:
        if parts.trace:
            third = given(third, "third harmonic", "", "by the power factor of what hangs on it")
        neutral = apply(harmonics.neutral_current_with_third, sums.star[0], sums.star[1], sums.star[2], third)
        plain = mains.neutral_current(sums.star[0], sums.star[1], sums.star[2])
    else:
        neutral = plain = 0.0 if supply.across == "lines" else lines[0]
    drop = _drops(supply, lines, neutral, parts)
    before = _drops_above(supply, above)
    volts: float = _phase_volts(supply)
    if parts.trace:
        volts = given(volts, "volts of the supply", "V", f"supply {supply.id}, '{supply.volts}'")
    shares = []
    for own, upper in zip(drop, before, strict=True):
        share = apply(feeders.voltage_drop_share, own, volts)
        shares.append(share + upper if upper else share)
    return Loaded(
        supply=supply,
        draws=tuple(sums.draws),
        feeds=tuple(sums.feeds),
        line_a=lines,
        spread=sums.spread,
        neutral_a=neutral,
        neutral_plain_a=plain,
        power_w=sums.power_w,
        apparent_va=sums.apparent_va,
        heat_w=sums.heat_w,
        drop_v=drop,
        drop_share=(shares[0], shares[1], shares[2]),
        private=_is_private(supply, above),
        leakage_a=sums.leakage_a,
        leakage_unknown=sums.unknown,
        inrush_a=sums.inrush_a,
        inrush_unknown=sums.surprises,
        assumed=sums.assumed,
    )


def _is_private(supply: Supply, above: Loaded | None) -> bool:
    if supply.network is not None:
        return supply.network == "private"
    return supply.generator is not None or (above is not None and above.private)


def _drops(supply: Supply, lines: Lines, neutral_a: float, parts: Parts) -> Lines:
    """Give the volts lost in the feeder of a supply, line by line; cos φ is taken as 1, where the drop is most."""
    feeder = supply.feeder
    if feeder is None:
        return NO_LINES
    length: float = feeder.length.value
    area: float = feeder.area.value
    if parts.trace:
        length = given(length, "length of the feeder", "m", f"supply {supply.id}, feeder '{feeder.length}'")
        area = given(area, "cross-section", "mm²", f"supply {supply.id}, feeder '{feeder.area}'")
    if supply.phases == 1:
        return parts.apply(feeders.mains_voltage_drop, length, area, lines[0]), 0.0, 0.0
    one, two, three = (
        parts.apply(feeders.unbalanced_voltage_drop, length, area, line, neutral_a) if line else 0.0 for line in lines
    )
    return one, two, three


def _drops_above(supply: Supply, above: Loaded | None) -> Lines:
    """Give what is lost before a supply, for each of its lines."""
    if above is None:
        return NO_LINES
    if supply.phases == 3:
        return above.drop_share if above.lines == 3 else (above.drop_share[0],) * 3
    if above.lines == 1:
        return above.drop_share[0], 0.0, 0.0
    if supply.phase is None:
        return above.worst_drop_share, 0.0, 0.0
    return above.drop_share[supply.phase - 1], 0.0, 0.0


def _devices(loaded: dict[str, Loaded], supplies: dict[str, Supply]) -> tuple[Device, ...]:
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
        tops = [item for item in members if not _is_below(item, set(members), supplies)]
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


def _generators(loaded: dict[str, Loaded], supplies: dict[str, Supply]) -> list[tuple[Loaded, float, float]]:
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
