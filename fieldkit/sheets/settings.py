"""The settings: what to set on each host, the delays of the zones, and the gain of each amplifier."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas import delays, levels
from fieldkit.rig.delays import DEFAULT_SAMPLE_RATE_HZ, zone_delays
from fieldkit.rig.gains import gain_chain
from fieldkit.rig.settings import Setting, settings
from fieldkit.rig.solving import SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Items, Page, Table, Words
from fieldkit.units import convert, format_value

WORDS = (
    (
        "The slow (rms) limiter protects from heat, the fast (peak) limiter from travel. Levels at the input are valid "
        "only at the gain and knob positions given here: bridging or turning a knob moves them."
    ),
    (
        "A fast threshold is given as the peak at the posts, and as the sine that has this peak where the host "
        "measures. Times by rule are a rule of thumb."
    ),
)


def settings_page(material: Material) -> Page:
    """Make the page."""
    margin = material.rig.conditions.margin_db
    rests = f"Slow thresholds stay {margin:g} dB below the continuous rating where no preset brings a limiter."
    found = settings(material.rig)
    blocks: list[Block] = [Words((*WORDS, rests)), _presets(found), _slow(found, material), _fast(found)]
    disagreeing = tuple((f"{setting.host}: {text}",) for setting in found for text in setting.disagreements)
    if disagreeing:
        blocks.append(Items(disagreeing, "Boxes on one host that want different settings; the first box's are given"))
    return Page("settings", "Settings", (*blocks, _delays(material), _gains(material)))


def _where(setting: Setting) -> tuple[str, str]:
    """Name the unit that is set, as a heading, and the output of it."""
    unit = setting.host.partition(".")[0]
    words = {"amplifier": "in the amplifier", "processor": "processor", "none": "no host: nothing runs a preset"}
    return f"{unit} ({words[setting.kind]})", setting.host


def _presets(found: tuple[Setting, ...]) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host", "signal", "input", "boxes", "preset")),
        Column("high-pass", "Hz"),
        Column("low-pass", "Hz"),
        Column("gain", "dB"),
        Column("delay", "ms"),
        Column("polarity"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            *_where(one),
            " ".join(one.signals) or "not planned",
            "+".join(one.inputs),
            f"{' '.join(one.boxes)} {one.section}",
            one.preset or "none",
            one.high_pass_hz,
            one.low_pass_hz,
            one.gain_db,
            1e3 * one.delay_s,
            one.polarity,
        )
        for one in found
    ]
    empty = "no output drives a box"
    return Table("presets", "Presets", columns, tuple(rows), keys=(1, 4), grouped=True, empty=empty)


def _slow(found: tuple[Setting, ...], material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host", "feeds")),
        Column("at the posts", "V"),
        Column("at the posts", "dBu"),
        Column("at the input", "dBu"),
        Column("at the input", "dBV"),
        Column("in the host", "dBFS"),
        Column("limiter"),
    )
    rows: list[tuple[Cell, ...]] = []
    for one in found:
        held = one.thermal
        if held is not None:
            values = (held.terminals_v, held.terminals_dbu, held.input_dbu, held.input_dbv, held.dbfs)
            feeds = " ".join(one.outputs) + (" (assumed)" if one.assumed else "")
            rows.append((*_where(one), feeds, *values, _state(one, material)))
    return Table("limiters", "Slow limiters", columns, tuple(rows), keys=(1,), grouped=True, empty="no rating is known")


def _state(setting: Setting, material: Material) -> str:
    """Say whether a threshold is there already, is to be set, or cannot be."""
    outputs = [material.output[name] for name in setting.outputs]
    if all(output.limiter is not None and output.limiter.held for output in outputs):
        return "preset"
    takes = all(
        output.host is not None and output.host.takes(load.speaker.id) for output in outputs for load in output.loads
    )
    return "to set" if takes else "none"


def _fast(found: tuple[Setting, ...]) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host")),
        Column("peak at the posts", "V"),
        Column("at the input", "dBu"),
        Column("at the input", "dBV"),
        Column("in the host", "dBFS"),
        Column("attack", "ms"),
        Column("release", "ms"),
        Column("times"),
    )
    rows: list[tuple[Cell, ...]] = []
    for one in found:
        held = one.peak
        if held is not None:
            times = [None if value is None else 1e3 * value for value in (one.attack_s, one.release_s)]
            by = "rule" if one.times_by_rule else "preset"
            rows.append((*_where(one), held.terminals_v, held.input_dbu, held.input_dbv, held.dbfs, *times, by))
    return Table("peak-limiters", "Fast limiters", columns, tuple(rows), keys=(1,), grouped=True, empty="none")


def _delays(material: Material) -> Table:
    unit = "ft" if material.units == "imperial" else "m"
    temperature = material.rig.conditions.temperature_c
    columns = (
        *(Column(title) for title in ("zone", "side")),
        Column("delay", "ms"),
        Column("way of sound", unit),
        Column("samples at 48 kHz", digits=6),
        Column("why"),
    )
    rows: list[tuple[Cell, ...]] = []
    for item in zone_delays(material.rig):
        way = convert(delays.distance_of_delay(item.delay_s, temperature), "m", unit)
        samples = round(delays.delay_in_samples(item.delay_s, DEFAULT_SAMPLE_RATE_HZ))
        rows.append((item.zone, item.side or "all", 1e3 * item.delay_s, way, samples, item.why))
    title = f"Delays of the zones at {format_value(temperature, '°C')}, before what box and preset add"
    return Table("delays", title, columns, tuple(rows), keys=(0, 1), grouped=True, empty="no zone yet")


def _gains(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "output", "mode", "knob")),
        Column("load", "ohm"),
        Column("gain to the posts", "dB"),
        Column("full output", "V"),
        Column("input for it", "dBu"),
        Column("clips first"),
        Column("note"),
    )
    rows = [_gain_row(output, material) for output in _driven(material)]
    empty = "no output drives a box"
    return Table("gains", "Amplifiers", columns, tuple(rows), keys=(1,), grouped=True, empty=empty)


def _driven(material: Material) -> Iterator[SolvedOutput]:
    return (output for output in material.rig.outputs if output.loads)


def _gain_row(output: SolvedOutput, material: Material) -> tuple[Cell, ...]:
    unit, clip_v = output.output.unit, output.clip_input_v
    knob: str = unit.attenuators.get(str(output.output.channels[0])) or "fully up"
    if not output.output.model.attenuators:
        knob = "none"
    elif unit.attenuators_locked:
        knob += ", locked"
    chain = gain_chain(material.rig, output)
    first = ""
    if chain is not None and chain.stages:
        stage = chain.clips_first
        first = stage.name if stage.at == output.output.id else f"{stage.name} {stage.at}"
    head = (unit.id, output.output.id, output.output.mode, knob, output.load_ohm)
    level = None if clip_v is None else levels.dbu_from_voltage(clip_v)
    return *head, output.gain_db, output.can_give_v, level, first, unit.note
