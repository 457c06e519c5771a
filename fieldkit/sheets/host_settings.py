"""The settings of each host output in one place, in the order of the outputs: what somebody types in, line by line."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas import levels
from fieldkit.formulas.crest import sine_peak
from fieldkit.formulas.figures import direct
from fieldkit.gear.processor import Processor
from fieldkit.rig.gains import gain_chain
from fieldkit.rig.limits import peak_v_of
from fieldkit.rig.outputs import ruling_channel
from fieldkit.rig.settings import Setting, Threshold
from fieldkit.rig.solving import SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Items
from fieldkit.units import format_number, format_value

IN_PRESET = "in the preset, compare it"
"""What is said of a threshold that the preset brings."""
AT_CLIP = 1.0005
"""A peak threshold this near to the amplifier's own peak is the amplifier's."""

Item = tuple[str, ...]


def in_order(found: tuple[Setting, ...], material: Material) -> tuple[Setting, ...]:
    """Sort settings by unit, as the show has them, and by output; what nothing hosts comes last."""
    units = {name: place for place, name in enumerate(material.rig.ground.units)}

    def place(setting: Setting) -> tuple[int, int, str]:
        unit, _, channels = setting.host.partition(".")
        number = channels.partition("+")[0]
        return units.get(unit, len(units)), int(number) if number.isdecimal() else 0, setting.host

    return tuple(sorted(found, key=place))


def host_blocks(found: tuple[Setting, ...], material: Material) -> Iterator[Items]:
    """Give a block a unit, with an item an output of it."""
    by_unit: dict[str, list[Setting]] = {}
    for setting in found:
        by_unit.setdefault(setting.host.partition(".")[0], []).append(setting)
    for unit, settings in by_unit.items():
        items = [_item(setting, material) for setting in settings]
        items += _unused(unit, settings, material)
        yield Items(tuple(items), _title(unit, settings[0], material))


def _title(unit: str, setting: Setting, material: Material) -> str:
    if setting.kind == "none":
        return f"{unit}: nothing here runs a preset; what is said below has to be set somewhere else"
    of_unit = material.rig.ground.units[unit]
    reference = ""
    model = material.model(of_unit.model)
    hosts = getattr(model, "hosts", None)
    if hosts is not None and hosts.full_scale is not None:
        full_dbu = levels.dbu_from_voltage(hosts.full_scale.value)
        reference = f"; 0 dBFS is {full_dbu:+.1f} dBu {'at its outputs' if setting.kind == 'processor' else 'here'}"
    return f"{unit}: {of_unit.model}{reference}"


def _item(setting: Setting, material: Material) -> Item:
    feeds = f" to {' '.join(setting.outputs)}" if setting.kind == "processor" and setting.outputs else ""
    assumed = ", assumed" if setting.assumed else ""
    section = f" ({setting.section} section{assumed})" if setting.outputs else assumed
    lines = [f"{setting.host}{feeds}: {' '.join(setting.boxes)}{section}"]
    if setting.kind == "processor":
        entry = f"input {'+'.join(setting.inputs)}" if setting.inputs else "an input that is not planned"
        lines.append(f"from {entry}: {_signals(setting)}")
    elif setting.signals:
        lines.append(f"signal {_signals(setting)}")
    lines.append(f"preset {setting.preset}{_filters(setting)}" if setting.preset else "no preset")
    lines.append(f"set gain {setting.gain_db:+.1f} dB, polarity {setting.polarity}, delay {_delay(setting)}")
    outputs = [material.output[name] for name in setting.outputs]
    if setting.thermal is not None:
        lines.append(f"slow limiter {_level(setting.thermal, 'V rms', setting)}: {held(setting, material)}")
    if setting.peak is not None:
        lines.append(f"fast limiter {_level(setting.peak, 'V peak', setting)}: {_bound(setting.peak, outputs)}")
    if setting.peak is not None and setting.attack_s is not None and setting.release_s is not None:
        by = "rule of thumb" if setting.times_by_rule else "by the preset"
        lines.append(f"its attack {1e3 * setting.attack_s:.1f} ms, release {1e3 * setting.release_s:.0f} ms ({by})")
    if not outputs:
        lines.append("self-powered: its limiters are its own")
    if setting.thermal is not None and setting.valid_at:
        lines.append(f"levels hold only with the amplifier at {setting.valid_at}")
    lines += [f"! {text}" for text in setting.disagreements]
    return tuple(lines)


def _signals(setting: Setting) -> str:
    return " + ".join(setting.signals) or "no signal planned"


def _filters(setting: Setting) -> str:
    """Say which filters a preset brings, so that nobody sets them twice."""
    ends = (("high-pass", setting.high_pass_hz), ("low-pass", setting.low_pass_hz))
    told = [f"{name} {format_value(value, 'Hz', 4)}" for name, value in ends if value is not None]
    return f" (with its own {' and '.join(told)})" if told else ""


def _delay(setting: Setting) -> str:
    if not setting.delay_s:
        return "0 ms"
    samples = f"{setting.delay_samples:.0f} samples at {setting.sample_rate_hz / 1e3:g} kHz"
    return f"{1e3 * setting.delay_s:.2f} ms ({samples})"


def _level(threshold: Threshold, unit: str, setting: Setting) -> str:
    """Write a threshold where it is set first: a level for a processor, volts for an amplifier."""
    posts = f"{format_number(threshold.terminals_v, 3)} {unit} at the posts"
    if threshold.input_dbu is None:
        return posts
    full = f" = {threshold.dbfs:+.1f} dBFS" if threshold.dbfs is not None else ""
    if setting.kind == "amplifier":
        # Here the gain of preset, zone and box comes behind the input, and before the limiter.
        return f"{posts}{full}, reached with {threshold.input_dbu - setting.gain_db:+.1f} dBu at the input"
    return f"{threshold.input_dbu:+.1f} dBu{full} ({posts})"


def held(setting: Setting, material: Material) -> str:
    """Say whether a slow threshold is there already, is to be set, or cannot be."""
    outputs = [material.output[name] for name in setting.outputs]
    if all(output.limiter is not None and output.limiter.held for output in outputs):
        return IN_PRESET
    takes = all(
        output.host is not None and output.host.takes(load.speaker.id) for output in outputs for load in output.loads
    )
    return "to set" if takes else "no place to set it"


def _bound(peak: Threshold, outputs: list[SolvedOutput]) -> str:
    """Say what a fast threshold is bound by, and what the boxes would bear."""
    bears_v = min(peak_v_of(load, direct) for output in outputs for load in output.loads)
    clip_v = min(sine_peak(output.clip_v) for output in outputs)
    bears = f"the boxes bear {format_number(bears_v, 3)} V peak"
    if peak.terminals_v * AT_CLIP >= clip_v:
        return f"to set; it is the amplifier's own clip, {bears}"
    return f"to set; {bears}, the amplifier could give {format_number(clip_v, 3)}"


def _unused(unit: str, settings: list[Setting], material: Material) -> Iterator[Item]:
    """Name the outputs of a processor that feed nothing, so that nobody wonders."""
    model = material.model(material.rig.ground.units[unit].model) if unit in material.rig.ground.units else None
    if not isinstance(model, Processor):
        return
    used = {setting.host for setting in settings}
    free = [f"{unit}.{number}" for number in range(1, model.outputs + 1) if f"{unit}.{number}" not in used]
    if free:
        yield (f"{' '.join(free)}: feed{'' if len(free) > 1 else 's'} nothing, mute",)


def amplifier_blocks(material: Material) -> Iterator[Items]:
    """Give a block an amplifier: bridging, gain and knob of each output, what feeds it, and what clips first."""
    for outputs in material.rig.amplifiers:
        if not any(output.loads for output in outputs):
            continue
        unit = outputs[0].output.unit
        gain = f", gain set to {unit.gain}" if unit.gain is not None else ""
        items = [_amplifier_item(output, material) for output in outputs]
        if unit.note:
            items.append((f"note: {unit.note}",))
        yield Items(tuple(items), f"{unit.id}: {unit.model}{gain}")


def _amplifier_item(output: SolvedOutput, material: Material) -> Item:
    name, mode = output.output.id, output.output.mode
    head = f"{name}: {'not bridged' if mode == 'single' else mode}, {knob(output)}"
    if not output.loads:
        return (f"{head}; drives nothing",)
    boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads))
    level = ""
    if output.clip_input_v is not None:
        level = f" from {levels.dbu_from_voltage(output.clip_input_v):+.1f} dBu at the input"
        if output.supply_scale < 1.0:
            level = f" for long, the supply is shared; short peaks clip at {format_value(output.clip_v, 'V')}{level}"
    return (
        f"{head}; {boxes}, fed by {output.source or 'nothing that is planned'}",
        f"{_gain(output)}load {format_value(output.load_ohm or 0.0, 'ohm')}",
        f"full output {format_value(output.can_give_v, 'V')}{level}{clips_first(output, material)}",
    )


def _gain(output: SolvedOutput) -> str:
    """Say the gain from input to posts, and what it would be with the knob fully up."""
    if output.gain_db is None:
        return ""
    unit, channel = output.output.unit, ruling_channel(output.output)
    turned = unit.attenuators.get(str(channel)) if output.output.model.attenuators else None
    fully = f" ({output.gain_db - turned.value:.1f} dB fully up)" if turned is not None and turned.value else ""
    return f"gain to the posts {output.gain_db:.1f} dB{fully}, "


def knob(output: SolvedOutput) -> str:
    """Say how the knob of an output stands."""
    unit = output.output.unit
    if not output.output.model.attenuators:
        return "no knob"
    position = unit.attenuators.get(str(ruling_channel(output.output)))
    text = f"knob at {position}" if position is not None else "knob fully up"
    return f"{text}, locked" if unit.attenuators_locked else text


def clips_first(output: SolvedOutput, material: Material) -> str:
    """Say what clips before the amplifier does, if anything."""
    chain = gain_chain(material.rig, output)
    if chain is None or not chain.stages or chain.clips_first.at == output.output.id:
        return ""
    return f"; {chain.clips_first.name} {chain.clips_first.at} clips before that"
