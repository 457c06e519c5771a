"""Ids and what they point to: every label is one thing's, and every name that is used is somebody's."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltUnit
from fieldkit.show.decoding import Path, nearest
from fieldkit.show.document import MODEL_TABLES, Box, Model, RackUnit, Run, Show, Step

Problem = tuple[Path, str, str]
"""Where in the document, whose (by id), and what is wrong."""

SHARED_TABLES = ("boxes", "racks", "rack_units", "runs", "supplies")
"""Tables whose ids are labels on things: no two of them may be alike, or a label would say nothing."""


def problems(show: Show) -> Iterator[Problem]:
    """Find every id that stands twice, points nowhere, or leads back to itself, in the file's order."""
    models = models_by_id(show)
    yield from _duplicates(show, MODEL_TABLES)
    yield from _duplicates(show, ("zones",))
    yield from _duplicates(show, SHARED_TABLES)
    yield from _gear(show)
    for index, stock in enumerate(show.stock):
        if stock.model not in models:
            yield ("stock", index, "model"), stock.model, f"no model '{stock.model}'{nearest(stock.model, models)}"
        if stock.out > stock.owned + stock.hired:
            have = stock.owned + stock.hired
            yield ("stock", index, "out"), stock.model, f"out: expected at most the {have} there are, got {stock.out}"
    yield from _zones(show)
    yield from _boxes(show, models)
    yield from _racks(show)
    units = {unit.id: unit for unit in all_units(show)}
    yield from _units(show, units, models)
    yield from _runs(show, units, models)
    yield from _readings(show)


def models_by_id(show: Show) -> dict[str, Model]:
    """Index the models of every kind."""
    return {model.id: model for table in MODEL_TABLES for model in getattr(show, table)}


def all_units(show: Show) -> list[RackUnit]:
    """List the amplifiers and processors: those of the file, and those that a rack as built brings.

    A rack as built names its units after itself, ``SR-1``, ``SR-2``; a table of that id in the file adds to
    what the model says, and rules where both say something.
    """
    built = {rack.id: rack for rack in show.built_racks}
    written = {unit.id: unit for unit in show.rack_units}
    result: list[RackUnit] = []
    brought: set[str] = set()
    for rack in show.racks:
        model = built.get(rack.as_built or "")
        for number, inside in enumerate(model.contents if model else (), start=1):
            name = f"{rack.id}-{number}"
            brought.add(name)
            result.append(_brought_unit(name, rack.id, inside, written.get(name)))
    result.extend(unit for unit in show.rack_units if unit.id not in brought)
    return result


def _brought_unit(name: str, rack: str, inside: BuiltUnit, own: RackUnit | None) -> RackUnit:
    """Make the unit that a rack as built brings, with what the file adds to it."""
    if own is None:
        own = RackUnit(id=name, model=inside.model)
    return msgspec.structs.replace(
        own,
        rack=rack,
        unit=own.unit or inside.unit or None,
        bridged=own.bridged or inside.bridged,
        paralleled=own.paralleled or inside.paralleled,
        inputs=inside.inputs | own.inputs,
    )


def _duplicates(show: Show, tables: tuple[str, ...]) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for table in tables:
        for index, thing in enumerate(getattr(show, table)):
            if thing.id in seen:
                yield (table, index, "id"), thing.id, f"the id '{thing.id}' is already used in {seen[thing.id]}"
            seen[thing.id] = table


def _gear(show: Show) -> Iterator[Problem]:
    for index, speaker in enumerate(show.loudspeakers):
        own = {preset.id for preset in speaker.presets}
        for number, section in enumerate(speaker.sections):
            for name in section.presets:
                if name not in own:
                    where: Path = ("loudspeakers", index, "sections", number, "presets")
                    yield where, speaker.id, f"no preset '{name}' in this model{nearest(name, own)}"
            if section.drive != "self-powered" and (section.impedance is None or section.continuous is None):
                where = ("loudspeakers", index, "sections", number)
                missing = "impedance" if section.impedance is None else "continuous"
                yield where, speaker.id, f"the section '{section.section}' needs the key '{missing}'"
    for index, amplifier in enumerate(show.amplifiers):
        yield from _amplifier(index, amplifier)
    for index, rack in enumerate(show.built_racks):
        known = {model.id for model in (*show.amplifiers, *show.processors)}
        for number, inside in enumerate(rack.contents):
            if inside.model not in known:
                where = ("built_racks", index, "contents", number, "model")
                yield where, rack.id, f"no amplifier or processor '{inside.model}'{nearest(inside.model, known)}"


def _amplifier(index: int, amplifier: Amplifier) -> Iterator[Problem]:
    if not amplifier.ratings(bridged=False):
        yield ("amplifiers", index, "powers"), amplifier.id, "powers: expected at least one that is not bridged"
    for bridged in (False, True):
        table = [rating.load.value for rating in amplifier.ratings(bridged=bridged)]
        if len(set(table)) != len(table):
            yield ("amplifiers", index, "powers"), amplifier.id, "powers: the same load is rated twice in one mode"
    for kind in ("connectors", "connectors_bridged"):
        for name, pairs in getattr(amplifier, kind).items():
            for channel in pairs.values():
                if channels_of(channel, amplifier.channels) is None:
                    wanted = f"expected a channel from 1 to {amplifier.channels}, or two such as '1+2'"
                    yield ("amplifiers", index, kind), amplifier.id, f"{kind}.{name}: {wanted}, got '{channel}'"


def channels_of(text: str, count: int) -> tuple[int, ...] | None:
    """Read ``3`` or ``3+4`` as channels of an amplifier that has so many; None for anything else."""
    parts = text.split("+")
    if not all(part.isascii() and part.isdecimal() and len(part) < 4 for part in parts) or len(parts) > 2:
        return None
    channels = tuple(int(part) for part in parts)
    if len(set(channels)) != len(channels) or not all(1 <= channel <= count for channel in channels):
        return None
    return channels


def _zones(show: Show) -> Iterator[Problem]:
    names = {zone.id for zone in show.zones}
    sources = {zone.id: zone.low_end_from or () for zone in show.zones}
    for index, zone in enumerate(show.zones):
        for name in zone.low_end_from or ():
            if name not in names:
                yield ("zones", index, "low_end_from"), zone.id, f"no zone '{name}'{nearest(name, names)}"
    for index, zone in enumerate(show.zones):
        loop = _loop(zone.id, lambda name: sources.get(name, ()))
        # A zone that holds its own subs names itself; a longer way back makes no sense.
        if loop and len(loop) > 2:
            yield ("zones", index, "low_end_from"), zone.id, f"low_end_from goes in a circle: {' → '.join(loop)}"
            break


def _loop(start: str, following: Callable[[str], tuple[str, ...]]) -> list[str]:
    """Find a way from a name back to itself; empty where there is none."""
    trail: list[str] = []
    seen: set[str] = set()
    stack: list[tuple[str, int]] = [(start, 0)]
    while stack:
        name, depth = stack.pop()
        trail = [*trail[:depth], name]
        for other in following(name):
            if other == start:
                return [*trail, start]
            if other not in seen:
                seen.add(other)
                stack.append((other, depth + 1))
    return []


def _boxes(show: Show, models: dict[str, Model]) -> Iterator[Problem]:
    zones = {zone.id: zone for zone in show.zones}
    speakers = {model.id: model for model in show.loudspeakers}
    for index, box in enumerate(show.boxes):
        if box.zone not in zones:
            yield ("boxes", index, "zone"), box.id, f"no zone '{box.zone}'{nearest(box.zone, zones)}"
        elif box.side and zones[box.zone].signals and box.side not in zones[box.zone].signals:
            sides = zones[box.zone].signals
            where: Path = ("boxes", index, "side")
            yield where, box.id, f"the zone '{box.zone}' has no side '{box.side}'{nearest(box.side, sides)}"
        if (box.model is None) == (box.unknown is None):
            yield ("boxes", index), box.id, "expected either 'model' or 'unknown' (ohms and watts)"
        elif box.model is not None and box.model not in speakers:
            kind = f"'{box.model}' is not a loudspeaker" if box.model in models else f"no loudspeaker '{box.model}'"
            yield ("boxes", index, "model"), box.id, kind + nearest(box.model, speakers)
        elif box.model is not None:
            yield from _box_choices(index, box, speakers[box.model])


def _box_choices(index: int, box: Box, speaker: Loudspeaker) -> Iterator[Problem]:
    for key, drive in (("drive", box.drive), ("switch", box.switch)):
        if drive is not None and drive not in speaker.drives():
            has = ", ".join(speaker.drives())
            yield ("boxes", index, key), box.id, f"'{speaker.id}' has no drive '{drive}'; expected {has}"
    for section, name in box.presets.items():
        if speaker.preset(name) is None:
            known = [preset.id for preset in speaker.presets]
            where: Path = ("boxes", index, "presets", section)
            yield where, box.id, f"'{speaker.id}' has no preset '{name}'{nearest(name, known)}"


def _racks(show: Show) -> Iterator[Problem]:
    built = {rack.id for rack in show.built_racks}
    for index, rack in enumerate(show.racks):
        if rack.as_built and rack.as_built not in built:
            where: Path = ("racks", index, "as_built")
            yield where, rack.id, f"no rack as built '{rack.as_built}'{nearest(rack.as_built, built)}"


def _units(show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> Iterator[Problem]:
    racks = {rack.id for rack in show.racks}
    supplies = {supply.id for supply in show.supplies}
    for index, unit in enumerate(show.rack_units):
        where: Path = ("rack_units", index)
        model = models.get(unit.model)
        if not isinstance(model, (Amplifier, Processor)):
            known = [model.id for model in (*show.amplifiers, *show.processors)]
            word = "is not an amplifier or processor" if model else "is no model"
            yield (*where, "model"), unit.id, f"'{unit.model}' {word}{nearest(unit.model, known)}"
            continue
        if unit.rack is not None and unit.rack not in racks:
            yield (*where, "rack"), unit.id, f"no rack '{unit.rack}'{nearest(unit.rack, racks)}"
        if unit.supply is not None and unit.supply not in supplies:
            yield (*where, "supply"), unit.id, f"no supply '{unit.supply}'{nearest(unit.supply, supplies)}"
        if isinstance(model, Amplifier):
            yield from _modes(where, unit, model)
        yield from _inputs(where, unit, model, units, models)
    for unit in units.values():
        links = _loop(unit.id, lambda name: _fed_by(units, name))
        if links:
            index = next((i for i, own in enumerate(show.rack_units) if own.id == unit.id), 0)
            yield ("rack_units", index, "inputs"), unit.id, f"inputs go in a circle: {' → '.join(links)}"
            break


def _fed_by(units: dict[str, RackUnit], name: str) -> tuple[str, ...]:
    """List the other units whose outputs feed one unit."""
    sources = units[name].inputs.values() if name in units else ()
    return tuple({source.partition(".")[0] for source in sources if source.partition(".")[0] in units})


def _modes(where: Path, unit: RackUnit, model: Amplifier) -> Iterator[Problem]:
    used: dict[int, str] = {}
    for key, pairs in (("bridged", unit.bridged), ("paralleled", unit.paralleled)):
        for pair in pairs:
            channels = channels_of(pair, model.channels)
            if channels is None or len(channels) != 2:
                wanted = f"expected two channels from 1 to {model.channels} such as '1+2', got '{pair}'"
                yield (*where, key), unit.id, f"{key}: {wanted}"
                continue
            for channel in channels:
                if channel in used:
                    yield (*where, key), unit.id, f"channel {channel} is in '{used[channel]}' and in '{pair}'"
                used[channel] = pair
    for channel in unit.attenuators:
        if channels_of(channel, model.channels) is None:
            wanted = f"expected a channel from 1 to {model.channels}, got '{channel}'"
            yield (*where, "attenuators"), unit.id, f"attenuators: {wanted}"


def _inputs(
    where: Path, unit: RackUnit, model: Amplifier | Processor, units: dict[str, RackUnit], models: dict[str, Model]
) -> Iterator[Problem]:
    count = model.channels if isinstance(model, Amplifier) else model.inputs
    for name, source in unit.inputs.items():
        here = (*where, "inputs", name)
        if channels_of(name, count) is None or "+" in name:
            yield here, unit.id, f"inputs: expected an input from 1 to {count}, got '{name}'"
        elif source.startswith("="):
            yield from _link(here, unit, name, source)
        elif "." in source:
            other, _, output = source.partition(".")
            host = models.get(units[other].model) if other in units else None
            if not isinstance(host, Processor):
                known = [key for key, value in units.items() if isinstance(models.get(value.model), Processor)]
                yield here, unit.id, f"no processor '{other}' for input {name}{nearest(other, known)}"
            elif channels_of(output, host.outputs) is None or "+" in output:
                yield here, unit.id, f"'{other}' has outputs 1 to {host.outputs}, got '{source}'"


def _link(here: Path, unit: RackUnit, name: str, source: str) -> Iterator[Problem]:
    """Follow a link between inputs of one unit to a signal."""
    seen = [name]
    while source.startswith("="):
        target = source[1:]
        if target in seen:
            yield here, unit.id, f"inputs go in a circle: {' → '.join([*seen, target])}"
            return
        if target not in unit.inputs:
            yield here, unit.id, f"input {seen[-1]} is linked to input {target}, which nothing feeds"
            return
        seen.append(target)
        source = unit.inputs[target]


def _runs(show: Show, units: dict[str, RackUnit], models: dict[str, Model]) -> Iterator[Problem]:
    boxes = {box.id for box in show.boxes}
    for index, run in enumerate(show.runs):
        yield from _start(("runs", index, "from"), run, show, units, models)
        for pair, output in run.feeds.items():
            where: Path = ("runs", index, "feeds", pair)
            if not (pair.isascii() and pair.isdecimal() and int(pair) >= 1):
                yield where, run.id, f"feeds: expected a pin pair such as 1, got '{pair}'"
            else:
                yield from _output(where, run.id, output, units, models)
        for number, step in enumerate(run.path):
            yield from _step(("runs", index, "path", number), run, step, show, boxes)


def _start(
    where: Path, run: Run, show: Show, units: dict[str, RackUnit], models: dict[str, Model]
) -> Iterator[Problem]:
    name, dot, connector = run.start.partition(".")
    racks = {rack.id: rack for rack in show.racks}
    if not dot or not connector:
        yield where, run.id, f"from: expected a unit or rack and its connector such as 'SR-1.A', got '{run.start}'"
    elif name in units:
        model = models.get(units[name].model)
        known = {**model.connectors, **model.connectors_bridged} if isinstance(model, Amplifier) else {}
        if not isinstance(model, Amplifier):
            yield where, run.id, f"from: '{name}' is not an amplifier"
        elif known and connector not in known:
            yield where, run.id, f"from: '{name}' has no connector '{connector}'{nearest(connector, known)}"
    elif name in racks:
        built = next((model for model in show.built_racks if model.id == racks[name].as_built), None)
        if built is None or connector not in built.panel:
            sockets = built.panel if built else {}
            yield where, run.id, f"from: the rack '{name}' has no socket '{connector}'{nearest(connector, sockets)}"
    else:
        yield where, run.id, f"from: no unit or rack '{name}'{nearest(name, {**units, **racks})}"


def _output(
    where: Path, thing: str, output: str, units: dict[str, RackUnit], models: dict[str, Model]
) -> Iterator[Problem]:
    name, _, channels = output.partition(".")
    model = models.get(units[name].model) if name in units else None
    amplifiers = [key for key, unit in units.items() if isinstance(models.get(unit.model), Amplifier)]
    if not isinstance(model, Amplifier):
        yield where, thing, f"feeds: no amplifier '{name}'{nearest(name, amplifiers)}"
        return
    numbers = channels_of(channels, model.channels)
    if numbers is None:
        wanted = f"expected a channel from 1 to {model.channels}, or a pair such as '{name}.1+2'"
        yield where, thing, f"feeds: {wanted}, got '{output}'"
    elif len(numbers) == 2 and channels not in (*units[name].bridged, *units[name].paralleled):
        yield where, thing, f"feeds: '{output}' is neither bridged nor paralleled; '{name}' would say so"


def _step(where: Path, run: Run, step: Step, show: Show, boxes: set[str]) -> Iterator[Problem]:
    kinds = [kind for kind in ("cable", "adaptor", "panel") if getattr(step, kind) is not None]
    if len(kinds) != 1:
        yield where, run.id, "expected one of 'cable', 'adaptor', 'panel' in each step of the path"
        return
    kind = kinds[0]
    name = getattr(step, kind)
    known = {model.id: model for model in getattr(show, f"{kind}s")}
    if name not in known:
        yield (*where, kind), run.id, f"no {kind} '{name}'{nearest(name, known)}"
    if kind == "cable" and step.length is None:
        yield where, run.id, f"the cable '{name}' needs the key 'length'"
    if kind == "panel" and name in known and step.socket not in known[name].sockets:
        sockets = known[name].sockets
        yield (*where, "socket"), run.id, f"'{name}' has no socket '{step.socket}'{nearest(step.socket, sockets)}"
    if step.box is not None and step.box not in boxes:
        yield (*where, "box"), run.id, f"no box '{step.box}'{nearest(step.box, boxes)}"


def _readings(show: Show) -> Iterator[Problem]:
    runs = {run.id for run in show.runs}
    for index, reading in enumerate(show.readings):
        run, slash, pair = reading.line.partition("/")
        if run not in runs:
            yield ("readings", index, "line"), reading.line, f"no run '{run}'{nearest(run, runs)}"
        elif not slash or not pair.isdecimal():
            wanted = f"expected a run and pin pair such as '{run}/1'"
            yield ("readings", index, "line"), reading.line, f"line: {wanted}, got '{reading.line}'"
