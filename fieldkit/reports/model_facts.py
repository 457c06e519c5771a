"""What is known of a model, in lines for a screen or a page: each kind has its own most useful facts first."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.gear.amplifier import Amplifier, Hosts
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.loudspeaker import Loudspeaker, Preset, Section
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.show.document import Model
from fieldkit.units import Frequency


def model_facts(model: Model) -> tuple[str, ...]:
    """Say what is known of a model, as it was typed: quantities keep their units."""
    lines = [model.id + (f": {model.description}" if model.description else "")]
    if isinstance(model, Loudspeaker):
        lines += _loudspeaker(model)
    elif isinstance(model, Amplifier):
        lines += _amplifier(model)
    elif isinstance(model, Processor):
        lines += [
            f"{model.inputs} inputs, {model.outputs} outputs, {model.units} rack units",
            *hosts_lines(model.hosts),
        ]
    elif isinstance(model, Cable):
        lines += [f"{model.cores} cores of {model.area}; {' to '.join(model.connectors) or 'plugs not known'}"]
        lines += known(("carries", model.current), ("weighs a metre", model.weight))
    elif isinstance(model, (Adaptor, Panel)):
        lines += _pins(model)
    else:
        lines += _built_rack(model)
    if model.note:
        lines += ["", f"note: {model.note}"]
    return tuple(lines)


def known(*facts: tuple[str, object]) -> Iterator[str]:
    """Say what is known of some facts, each under its name."""
    for name, value in facts:
        if value is not None:
            yield f"{name} {value}"


def _loudspeaker(model: Loudspeaker) -> Iterator[str]:
    linked = "links onward" if model.connectors > 1 else "cannot be linked onward"
    yield f"{model.connector} connector, {linked}" + (f"; {model.weight}" if model.weight else "")
    if model.assumed:
        yield "assumed: no data sheet"
    for drive in model.drives():
        yield ""
        yield f"{drive}" + (", by the switch on the box" if len(model.drives()) > 1 and model.switch else "")
        for section in model.sections_in(drive):
            yield from _section(section)
    if model.presets:
        yield ""
        yield "presets"
        yield from (f"  {line}" for preset in model.presets for line in _preset(preset))


def _section(section: Section) -> Iterator[str]:
    first = [f"pair {section.pair}"]
    first += [str(value) for value in (section.impedance, section.continuous) if value is not None]
    yield f"  {section.section}: {', '.join(first)}"
    peak = section.peak_volts or section.peak
    more = [f"peak {peak}"] if peak else []
    more += list(known(("Re", section.dc_resistance), ("capacitor", section.series_capacitor)))
    if section.low or section.high:
        more.append(f"{section.low or '?'} to {section.high or '?'}")
    if section.sensitivity:
        more.append(f"{section.sensitivity}")
    if more:
        yield f"    {', '.join(more)}"


def preset_facts(preset: Preset) -> Iterator[str]:
    """Say what a preset does: filters, gain, delay, polarity, limiter."""
    yield from known(
        ("high-pass", _filter(preset.high_pass, preset.high_pass_type, preset.high_pass_slope)),
        ("low-pass", _filter(preset.low_pass, preset.low_pass_type, preset.low_pass_slope)),
        ("gain", preset.gain),
        ("delay", preset.delay),
        ("limiter", preset.limiter),
    )
    if preset.polarity == "inverted":
        yield "inverted"


def _preset(preset: Preset) -> Iterator[str]:
    yield f"{preset.id}: {', '.join(preset.uses)}"
    text = ", ".join(preset_facts(preset))
    if text:
        yield f"  {text}"


def _filter(corner: Frequency | None, kind: str | None, slope: int | None) -> str | None:
    if corner is None:
        return None
    return f"{corner}" + (f" {kind}" if kind else "") + (f" {slope} dB per octave" if slope else "")


def _amplifier(model: Amplifier) -> Iterator[str]:
    yield f"{model.channels} channels, {model.units} rack units" + (f"; {model.weight}" if model.weight else "")
    minus = {"common": "minus posts common", "bridge-tied": "both posts driven", "alternate": "alternate polarity"}
    yield minus[model.outputs]
    for bridged, word in ((False, "each channel"), (True, "bridged pair")):
        powers = [
            f"{rating.power} into {rating.load}" + (" (minimum)" if rating.minimum else "")
            for rating in model.ratings(bridged=bridged)
        ]
        if powers:
            yield f"{word}: {'; '.join(powers)}"
    yield from known(("gain", model.gain), ("full power at", model.sensitivity), ("input clips at", model.input_clip))
    yield from known(("idle", model.idle_power), ("inrush", model.inrush), ("leakage", model.leakage))
    if model.attenuators:
        yield "has knobs that anybody can turn"
    yield from hosts_lines(model.hosts)
    for name, pins in model.connectors.items():
        yield f"connector {name}: " + ", ".join(f"pair {pair} is {channel}" for pair, channel in pins.items())


def hosts_lines(hosts: Hosts | None) -> Iterator[str]:
    """Say whose presets run here, how many, at which levels."""
    if hosts is None:
        yield "hosts no presets"
        return
    named = "presets of any loudspeaker" if "any" in hosts.presets else f"presets of {', '.join(hosts.presets)}"
    yield f"hosts {named}" + (f", {hosts.slots} at a time" if hosts.slots else "")
    yield from known(("full scale is", hosts.full_scale), ("longest delay", hosts.longest_delay))


def _pins(model: Adaptor | Panel) -> Iterator[str]:
    if isinstance(model, Adaptor):
        yield " to ".join(model.connectors) or "plugs not known"
        pins = ", ".join(f"pair {near} becomes {far}" for near, far in model.pins.items())
        yield pins or "straight through"
        return
    yield f"{model.connector or 'tail'} to {model.socket_connector or 'sockets'}"
    for socket, pins_of in model.sockets.items():
        yield f"socket {socket}: " + ", ".join(f"pair {near} becomes {far}" for near, far in pins_of.items())


def _built_rack(model: BuiltRack) -> Iterator[str]:
    yield f"{model.units} rack units" + (f"; {model.weight}" if model.weight else "")
    for number, unit in enumerate(model.contents, start=1):
        place = f"unit {unit.unit}" if unit.unit else "no place noted"
        yield f"  {number}: {unit.model}, {place}" + (f", bridged {', '.join(unit.bridged)}" if unit.bridged else "")
    for socket, pins in model.panel.items():
        yield f"socket {socket}: " + ", ".join(f"pair {pair} is {output}" for pair, output in pins.items())
