"""Where outputs come from: amplifiers and racks as built that are there, and those that the stock could add."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.planning.assign.patterns import (
    Channel,
    Fittings,
    OutletFeed,
    Pattern,
    Use,
    patterns_by_block,
    patterns_of,
    uses_of,
)
from fieldkit.planning.assign.tails import HeldConnector, uses_held
from fieldkit.rig.connect.connectors import socket_shape
from fieldkit.rig.connect.outputs import Mode, allows
from fieldkit.rig.failures import failed_now, failures_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units, channels_of
from fieldkit.show.document import RackUnit, Show

UNLIMITED = 100_000
NOTHING_HELD: Mapping[str, HeldConnector] = {}


def _on(unit: str, held: Mapping[str, HeldConnector]) -> dict[str, HeldConnector]:
    """Return the connectors of one unit with runs that stay."""
    parts = ((start.partition("."), own) for start, own in held.items())
    return {connector: own for (name, _, connector), own in parts if name == unit}


class OutputSource(msgspec.Struct, frozen=True):
    """Amplifiers or racks as built that are alike: of one model, with the same connectors and channels free."""

    model: str
    units: int
    """Rack units of each."""
    amplifiers: int
    """Amplifiers in each."""
    members: tuple[tuple[str, str], ...]
    """Those that are there: id, and the side of their rack. Empty where the stock would bring them."""
    count: int
    """How many there are, or could be."""
    patterns: tuple[Pattern, ...]
    is_rack: bool
    lots: tuple[int, ...] = ()
    """For each pattern the lot of connectors that it uses; empty where each is of all connectors together."""
    hosts: tuple[int, int] = (0, 0)
    """Processor outputs and inputs that come with each; those of racks that are there are counted elsewhere."""

    @property
    def is_new(self) -> bool:
        """Tell whether the stock would bring it."""
        return not self.members

    def called(self) -> frozenset[str]:
        """List the names by which a zone can be pinned to it."""
        return frozenset((self.model, *(name for name, _ in self.members)))


class Unavailable(msgspec.Struct, frozen=True):
    """What is not to be had: connectors and channels that the runs that stay have taken, and what has failed."""

    connectors: frozenset[str]
    channels: Mapping[str, frozenset[int]]


def taken_by(rig: Rig) -> Unavailable:
    """Find the connectors and channels that the runs of a rig use, and the channels that have failed."""
    channels: dict[str, set[int]] = {}
    failures = failures_of(rig.show, rig.show_index.units, failed_now(rig.show))
    for unit in failures.units:
        model = rig.show_index.models.get(rig.show_index.units[unit].model)
        if isinstance(model, (Amplifier, Processor)):
            count = model.channels if isinstance(model, Amplifier) else model.outputs
            channels[unit] = set(range(1, count + 1))
    for unit, channel in failures.outputs:
        channels.setdefault(unit, set()).add(channel)
    for line in rig.lines:
        if line.output is not None and (line.loads or line.run.feeds):
            channels.setdefault(line.output.unit.id, set()).update(line.output.channels)
    return Unavailable(
        frozenset(run.start for run in rig.show.runs),
        {unit: frozenset(numbers) for unit, numbers in channels.items()},
    )


def sources_there(
    rig: Rig,
    wanted: Sequence[tuple[str, ...]],
    fittings: Fittings,
    apart: frozenset[str],
    held: Mapping[str, HeldConnector] = NOTHING_HELD,
) -> tuple[OutputSource, ...]:
    """Gather what stands in the show; those named in ``apart`` (by pins) are not put together with others.

    held: connector -> what stands on it and stays or may stay, as more ways to use it
    """
    show, taken, needs = rig.show, taken_by(rig), _Needs(wanted, fittings)
    sides = {rack.id: rack.side for rack in show.racks}
    panelled: set[str] = set()
    alike: dict[tuple[object, ...], OutputSource] = {}

    def add(key: tuple[object, ...], source: OutputSource) -> None:
        name = source.members[0][0]
        key = (*key, name if name in apart else "")
        before = alike.get(key)
        members = (*(before.members if before else ()), *source.members)
        alike[key] = msgspec.structs.replace(source, members=members, count=len(members))

    for rack in show.racks:
        built = rig.show_index.models.get(rack.as_built or "")
        if not isinstance(built, BuiltRack) or not built.panel:
            continue
        inside = [rig.show_index.units[f"{rack.id}-{number}"] for number in range(1, len(built.contents) + 1)]
        panelled.update(unit.id for unit in inside)
        pins = _panel_pins(built, inside, rig)
        gone = {
            (number, channel) for number, unit in enumerate(inside, 1) for channel in taken.channels.get(unit.id, ())
        }
        used = {socket for socket in pins if f"{rack.id}.{socket}" in taken.connectors}
        own = _on(rack.id, held)
        pins = {socket: feeds for socket, feeds in _free(pins, gone).items() if socket not in used or socket in own}
        modes = tuple((unit.model, unit.bridged, unit.paralleled) for unit in inside)
        key = (built.id, modes, tuple(sorted(gone)), tuple(pins))
        here = _Standing(members=((rack.id, rack.side),), used=used, held=own)
        add(key, _rack_source(built, pins, needs, rig.show_index.models, here))
    for unit in rig.show_index.units.values():
        model = rig.show_index.models.get(unit.model)
        if not isinstance(model, Amplifier) or unit.id in panelled:
            continue
        gone = {(0, channel) for channel in taken.channels.get(unit.id, ())}
        used = {start.partition(".")[2] for start in taken.connectors if start.partition(".")[0] == unit.id}
        member = (unit.id, sides.get(unit.rack or "", ""))
        free = (model.id, unit.paralleled, tuple(sorted(gone)), tuple(sorted(used)))
        here = _Standing((member,), unit.paralleled, gone, used, _on(unit.id, held))
        add(free, _amplifier_source(model, needs, here))
    return tuple(source for source in alike.values() if source.patterns)


def sources_in_stock(
    rig: Rig, wanted: Sequence[tuple[str, ...]], fittings: Fittings, *, assume: bool, hire: bool = False
) -> tuple[OutputSource, ...]:
    """Gather what the stock could add.

    With ``assume``, any number of every model where no stock is written down; with ``hire``, also models of which
    none is left.
    """
    free, needs = free_stock(rig.show), _Needs(wanted, fittings)
    found = []
    for model in rig.show.amplifiers:
        count = free.get(model.id, UNLIMITED if assume else 0)
        if count > 0 or hire:
            source = _amplifier_source(model, needs, _Standing())
            found.append(msgspec.structs.replace(source, count=count))
    for built in rig.show.built_racks:
        count = free.get(built.id, 0)
        if (count > 0 or hire) and built.panel:
            pins = _panel_pins(
                built, [_inside(item.model, item.bridged, item.paralleled) for item in built.contents], rig
            )
            source = _rack_source(built, pins, needs, rig.show_index.models, _Standing())
            found.append(msgspec.structs.replace(source, count=count))
    return tuple(source for source in found if source.patterns)


def free_stock(show: Show) -> dict[str, int]:
    """Count what works and is not used yet, of each model without a length that the stock names.

    Where a spare stands in for something that failed, the failed one is not free.
    """
    free: Counter[str] = Counter()
    named: dict[str, None] = {}
    for item in show.stock:
        if item.length is None:
            free[item.model] += item.owned + item.hired - item.out
            named[item.model] = None
    built = {model.id: model for model in show.built_racks}
    brought = {
        f"{rack.id}-{number}"
        for rack in show.racks
        if rack.as_built in built
        for number in range(1, len(built[rack.as_built].contents) + 1)
    }
    free.subtract(unit.model for unit in show.rack_units if unit.id not in brought)
    free.subtract(rack.as_built for rack in show.racks if rack.as_built)
    units = {unit.id: unit.model for unit in all_units(show)}
    free.subtract(units[failure.id] for failure in show.failed if failure.swapped and failure.id in units)
    shared: set[tuple[str, str]] = set()
    for run in show.runs:
        for step in run.path:
            name = step.adaptor or step.panel
            if name is None or (step.shared and (step.shared, name) in shared):
                continue
            shared.add((step.shared, name))
            free[name] -= 1
    return {name: max(0, free[name]) for name in named}


def _connectors(model: Amplifier) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*model.connectors, *model.connectors_bridged)))


class _Needs(msgspec.Struct, frozen=True):
    """What the connectors are wanted for."""

    wanted: Sequence[tuple[str, ...]]
    """Pin pairs of each kind of plug."""
    fittings: Fittings


class _Standing(msgspec.Struct, frozen=True):
    """An amplifier or rack as it stands in the show; by default a new one."""

    members: tuple[tuple[str, str], ...] = ()
    """Id, and the side of its rack."""
    paralleled: tuple[str, ...] = ()
    gone: AbstractSet[Channel] = frozenset()
    """Channels that are not available."""
    used: AbstractSet[str] = frozenset()
    """Connectors that are not available."""
    held: Mapping[str, HeldConnector] = NOTHING_HELD
    """Connector -> what is on it and stays, or may."""

    @property
    def asks(self) -> bool:
        """Tell whether something may stay, so that connectors are counted lot by lot."""
        return any(own.stay is not None for own in self.held.values())


def _amplifier_source(model: Amplifier, needs: _Needs, here: _Standing) -> OutputSource:
    connectors = []
    carried = _carried(model, needs.wanted)
    for name, (single, changed) in carried.items():
        uses: list[Use] = []
        for pins in (single, changed) if name not in here.used else ():
            feeds = {pair: _feed(model, channels, here.paralleled) for pair, channels in pins.items()}
            free = _allowed(feeds, model, here.gone)
            uses += uses_of(free, socket_shape(pins), needs.wanted, needs.fittings)
        if name in here.held:
            held = here.held[name]
            outputs = held.tail.outputs if held.tail is not None else {}
            behind = {pair: _feed(model, at.partition(".")[2], here.paralleled) for pair, at in outputs.items()}
            uses += uses_held(held, _allowed(behind, model, here.gone), needs.wanted, needs.fittings)
        if uses:
            connectors.append((name, uses))
    slots = model.hosts.slots if model.hosts and model.hosts.slots and model.hosts.slots < model.channels else None
    if here.asks and slots is None:
        patterns, lots = _by_lot(connectors)
        return OutputSource(model.id, model.units, 1, here.members, 1, patterns, is_rack=False, lots=lots)
    patterns = patterns_of(connectors, slots)
    return OutputSource(model.id, model.units, 1, here.members, 1, patterns, is_rack=False)


def _by_lot(connectors: Sequence[tuple[str, Sequence[Use]]]) -> tuple[tuple[Pattern, ...], tuple[int, ...]]:
    found = patterns_by_block(connectors)
    return tuple(pattern for pattern, _ in found), tuple(number for _, number in found)


def _allowed(feeds: Mapping[str, OutletFeed], model: Amplifier, gone: AbstractSet[Channel]) -> dict[str, OutletFeed]:
    return {pair: feed for pair, feed in feeds.items() if not feed.channels & gone and allows(model, feed.mode)}


def _carried(
    model: Amplifier, wanted: Sequence[tuple[str, ...]]
) -> dict[str, tuple[Mapping[str, str], Mapping[str, str]]]:
    """List for each connector the channels on its pairs, single and bridged.

    An amplifier whose connectors are not known is assumed to bring any channels next to each other to one
    plug, named after the first of them.
    """
    if model.connectors or model.connectors_bridged:
        return {
            name: (model.connectors.get(name, {}), model.connectors_bridged.get(name, {}))
            for name in _connectors(model)
        }
    pairs = max((int(pair) for need in wanted for pair in need), default=1)
    bridges = allows(model, "bridged")
    return {
        str(first): (
            {str(pair): str(first + pair - 1) for pair in range(1, pairs + 1) if first + pair - 1 <= model.channels},
            {"1": f"{first}+{first + 1}"} if bridges and first % 2 and first < model.channels else {},
        )
        for first in range(1, model.channels + 1)
    }


def _feed(model: Amplifier, channels: str, paralleled: tuple[str, ...]) -> OutletFeed:
    mode: Mode = "bridged" if "+" in channels else "single"
    for pair in paralleled:
        if channels in pair.split("+"):
            channels, mode = pair, "paralleled"
    numbers = channels_of(channels, model.channels) or ()
    return OutletFeed(channels, mode, model.id, frozenset((0, number) for number in numbers))


def _rack_source(
    built: BuiltRack,
    pins: Mapping[str, Mapping[str, OutletFeed]],
    needs: _Needs,
    models: Mapping[str, object],
    here: _Standing,
) -> OutputSource:
    connectors = []
    for socket, feeds in pins.items():
        uses: list[Use] = []
        if socket not in here.used:
            uses += uses_of(feeds, built.connector, needs.wanted, needs.fittings)
        if socket in here.held:
            uses += uses_held(here.held[socket], feeds, needs.wanted, needs.fittings)
        if uses:
            connectors.append((socket, uses))
    number = sum(isinstance(models.get(inside.model), Amplifier) for inside in built.contents)
    inside = [models.get(item.model) for item in built.contents]
    processors = [model for model in inside if isinstance(model, Processor) and model.hosts is not None]
    hosts = (sum(model.outputs for model in processors), sum(model.inputs for model in processors))
    patterns, lots = _by_lot(connectors) if here.asks else (patterns_of(connectors), ())
    return OutputSource(
        built.id,
        built.units,
        number,
        here.members,
        1,
        patterns,
        is_rack=True,
        lots=lots,
        hosts=(0, 0) if here.members else hosts,
    )


def _panel_pins(built: BuiltRack, inside: Sequence[RackUnit], rig: Rig) -> dict[str, dict[str, OutletFeed]]:
    pins: dict[str, dict[str, OutletFeed]] = {}
    for socket, pairs in built.panel.items():
        for pair, place in pairs.items():
            number, _, channels = place.partition(".")
            unit = inside[int(number) - 1]
            model = rig.show_index.models.get(unit.model)
            if not isinstance(model, Amplifier):
                continue
            feed = _feed(model, channels, unit.paralleled)
            if feed.mode == "bridged" and channels not in unit.bridged:
                continue  # the pins of a bridged pair carry nothing while its channels are single
            if not allows(model, feed.mode):
                continue  # nothing is proposed on a pair that nobody allows
            if feed.mode == "single" and any(channels in pair.split("+") for pair in unit.bridged):
                continue  # one leg of a pair
            atoms = frozenset((int(number), channel) for _, channel in feed.channels)
            pins.setdefault(socket, {})[pair] = OutletFeed(f"{number}.{feed.name}", feed.mode, feed.amplifier, atoms)
    return pins


def _inside(model: str, bridged: tuple[str, ...], paralleled: tuple[str, ...]) -> RackUnit:
    return RackUnit(id="-", model=model, bridged=bridged, paralleled=paralleled)


def _free(pins: dict[str, dict[str, OutletFeed]], gone: set[Channel]) -> dict[str, dict[str, OutletFeed]]:
    return {
        socket: {pair: feed for pair, feed in feeds.items() if not feed.channels & gone}
        for socket, feeds in pins.items()
    }


def processors_there(rig: Rig) -> tuple[tuple[RackUnit, Processor], ...]:
    """List the processors that host presets and have not failed."""
    found = []
    failed = failures_of(rig.show, rig.show_index.units, failed_now(rig.show)).units
    for unit in rig.show_index.units.values():
        model = rig.show_index.models.get(unit.model)
        if isinstance(model, Processor) and model.hosts is not None and unit.id not in failed:
            found.append((unit, model))
    return tuple(found)
