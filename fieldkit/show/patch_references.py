"""What the patch points to: units and their inputs, runs with their connectors, feeds and steps, readings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Panel
from fieldkit.gear.processor import Processor
from fieldkit.show.compared import Compared
from fieldkit.show.contents import channels_of, is_pair
from fieldkit.show.document import Model, RackUnit, Run, Show, Step
from fieldkit.show.loops import circle
from fieldkit.text.words import Path, nearest

Offered = Callable[..., Iterable[str]]
"""Lists the names of models that other sources have, of the kinds asked for: ``loudspeaker``."""

Problem = tuple[Path, str, str]
"""Where in the document, whose (by id), and what is wrong."""


def nothing_offered(*kinds: str) -> tuple[str, ...]:
    """Offer no models, where there is no gear library."""
    del kinds
    return ()


def unit_problems(look: Compared, offered: Offered) -> Iterator[Problem]:
    """Find what is wrong with the models, racks, supplies, modes and inputs of the amplifiers and processors."""
    show, units, models = look.show, look.units, look.models
    known_before = {} if look.outputs_new else look.sound_units
    if known_before is units:
        return
    places: dict[str, Path] = {unit.id: ("rack_units", index) for index, unit in enumerate(show.rack_units)}
    rack_places: dict[str | None, Path] = {rack.id: ("racks", index) for index, rack in enumerate(show.racks)}
    for unit in units.values():
        if known_before.get(unit.id) == unit:
            continue
        # A unit that a rack as built brings, and that the file does not mention, stands where its rack does.
        where = places.get(unit.id) or rack_places[unit.rack]
        model = models.get(unit.model)
        if not isinstance(model, (Amplifier, Processor)):
            known = [*(model.id for model in show.amplifiers), *(model.id for model in show.processors)]
            known += offered("amplifier", "processor")
            word = "is not an amplifier or processor" if model else "is no model"
            yield (*where, "model"), unit.id, f"'{unit.model}' {word}{nearest(unit.model, known)}"
            continue
        if isinstance(model, Amplifier):
            yield from _modes(where, unit, model)
        yield from _inputs(where, unit, model, units, models)
        yield from _routes(where, unit, model)
    way = circle(units, lambda name: _fed_by(units, name))
    if way:
        where = places.get(way[0]) or rack_places[units[way[0]].rack]
        yield (*where, "inputs"), way[0], f"inputs go in a circle: {' → '.join(way)}"


def _fed_by(units: dict[str, RackUnit], name: str) -> tuple[str, ...]:
    """List the other units whose outputs feed one unit."""
    sources = units[name].inputs.values() if name in units else ()
    names = (source.partition(".")[0] for source in sources if "." in source)
    return tuple(dict.fromkeys(name for name in names if name in units))


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
    for knob in unit.attenuators:
        if channels_of(knob, model.channels) is None:
            wanted = f"expected a channel from 1 to {model.channels}, got '{knob}'"
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
            yield from _link(here, unit, name, source, count)
        elif "." in source:
            wrong = _wrong_output(f"input {name}", source, units, models)
            if wrong:
                yield here, unit.id, wrong
    for name in unit.ways:
        if channels_of(name, count) is None or "+" in name:
            yield (*where, "ways", name), unit.id, f"ways: expected an input from 1 to {count}, got '{name}'"


def _wrong_output(what: str, source: str, units: dict[str, RackUnit], models: dict[str, Model]) -> str:
    """Say what is wrong with a processor output that feeds an input; empty where nothing is."""
    other, _, output = source.partition(".")
    host = models.get(units[other].model) if other in units else None
    if not isinstance(host, Processor):
        known = [key for key, value in units.items() if isinstance(models.get(value.model), Processor)]
        return f"no processor '{other}' for {what}{nearest(other, known)}"
    if channels_of(output, host.outputs) is None or "+" in output:
        return f"'{other}' has outputs 1 to {host.outputs}, got '{source}'"
    return ""


def box_input_problems(look: Compared) -> Iterator[Problem]:
    """Find self-powered boxes that are fed by a processor output which nobody has."""
    for index, box in look.rows("boxes", all_of_them=look.outputs_new):
        if "." in box.input:
            wrong = _wrong_output("its input", box.input, look.units, look.models)
            if wrong:
                yield ("boxes", index, "input"), box.id, wrong


def _routes(where: Path, unit: RackUnit, model: Amplifier | Processor) -> Iterator[Problem]:
    if unit.routes and not isinstance(model, Processor):
        yield (*where, "routes"), unit.id, f"routes: '{model.id}' is no processor, and has none"
        return
    for output, inputs in unit.routes.items():
        assert isinstance(model, Processor)  # noqa: S101  (said above)
        here = (*where, "routes", output)
        if channels_of(output, model.outputs) is None or "+" in output:
            yield here, unit.id, f"routes: expected an output from 1 to {model.outputs}, got '{output}'"
        for name in inputs.split("+"):
            if channels_of(name.strip(), model.inputs) is None:
                wanted = f"expected inputs from 1 to {model.inputs} such as '1' or '1+2'"
                yield here, unit.id, f"routes: {wanted}, got '{inputs[:40]}'"
                break


def _link(here: Path, unit: RackUnit, name: str, source: str, count: int) -> Iterator[Problem]:
    """Follow a link between inputs of one unit to a signal."""
    seen = [name]
    while source.startswith("="):
        target = source[1:]
        if target in seen:
            yield here, unit.id, f"inputs go in a circle: {' → '.join([*seen, target])}"
            return
        if channels_of(target, count) is None or "+" in target:
            yield here, unit.id, f"inputs: expected a link to an input from 1 to {count}, got '={target}'"
            return
        seen.append(target)
        source = unit.inputs.get(target, "")  # a link to an input whose signal is not planned yet is fine


def run_problems(look: Compared) -> Iterator[Problem]:
    """Find what is wrong with the connectors, feeds and steps of the runs."""
    units, models = look.units, look.models
    for index, run in look.rows("runs", all_of_them=look.outputs_new or look.new("racks")):
        yield from _start(("runs", index, "from"), run, look.show, units, models)
        for pair, output in run.feeds.items():
            where: Path = ("runs", index, "feeds", pair)
            if not is_pair(pair):
                yield where, run.id, f"feeds: expected a pin pair such as 1, got '{pair}'"
            else:
                yield from _output(where, run.id, output, units, models)
        for number, step in enumerate(run.path):
            yield from _step(("runs", index, "path", number), run, step, models)


def _start(
    where: Path, run: Run, show: Show, units: dict[str, RackUnit], models: dict[str, Model]
) -> Iterator[Problem]:
    if not run.start and not run.feeds:
        return  # plugged in nowhere for now
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
    if not isinstance(model, Amplifier):
        amplifiers = [key for key, unit in units.items() if isinstance(models.get(unit.model), Amplifier)]
        yield where, thing, f"feeds: no amplifier '{name}'{nearest(name, amplifiers)}"
        return
    numbers = channels_of(channels, model.channels)
    if numbers is None:
        wanted = f"expected a channel from 1 to {model.channels}, or a pair such as '{name}.1+2'"
        yield where, thing, f"feeds: {wanted}, got '{output}'"
    elif len(numbers) == 2 and channels not in (*units[name].bridged, *units[name].paralleled):
        yield where, thing, f"feeds: '{output}' is neither bridged nor paralleled; '{name}' would say so"


def _step(where: Path, run: Run, step: Step, models: dict[str, Model]) -> Iterator[Problem]:
    kinds = [kind for kind in ("cable", "adaptor", "panel") if getattr(step, kind) is not None]
    if len(kinds) != 1:
        yield where, run.id, "expected one of 'cable', 'adaptor', 'panel' in each step of the path"
        return
    kind = kinds[0]
    name = getattr(step, kind)
    model = models.get(name)
    if kind == "cable" and step.length is None:
        yield where, run.id, f"the cable '{name}' needs the key 'length'"
    if kind == "panel" and isinstance(model, Panel) and step.socket not in model.sockets:
        says = f"'{name}' has no socket '{step.socket}'{nearest(step.socket, model.sockets)}"
        yield (*where, "socket"), run.id, says


def reading_problems(look: Compared) -> Iterator[Problem]:
    """Find readings that do not name a pin pair of their run."""
    for index, reading in look.rows("readings"):
        run, slash, pair = reading.line.partition("/")
        if not slash or not is_pair(pair):
            wanted = f"expected a run and pin pair such as '{run}/1'"
            yield ("readings", index, "line"), reading.line, f"line: {wanted}, got '{reading.line}'"
