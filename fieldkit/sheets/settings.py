"""The settings: what to set on each host, the delays of the zones, and the gain of each amplifier."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas import delays, levels
from fieldkit.rig.delays import DEFAULT_SAMPLE_RATE_HZ, zone_delays
from fieldkit.rig.settings import Setting, settings
from fieldkit.rig.solving import SolvedOutput
from fieldkit.sheets.host_settings import (
    IN_PRESET,
    amplifier_blocks,
    clips_first,
    held,
    host_blocks,
    in_order,
    knob,
)
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Items, Page, Table, Words
from fieldkit.units import convert, format_value

WORDS = (
    (
        "'Input' is the amplifier's input, which is the processor's output. Limiters come last, behind the gain. "
        "Levels hold only at the gain and knob positions given here: bridging or turning a knob moves them."
    ),
    (
        "The slow (rms) limiter protects from heat, the fast (peak) limiter from travel. A fast threshold in dBu or "
        "dBFS is the sine that has this peak. Times by rule are a rule of thumb; the slow limiter takes what its "
        "preset has, else seconds (common practice, no source)."
    ),
    "Filters that a preset brings are named for comparison: do not set them a second time.",
)


def settings_page(material: Material) -> Page:
    """Make the page: what to set in lists, output by output; as tables for a spreadsheet too."""
    margin = material.rig.conditions.margin_db
    found = in_order(settings(material.rig), material)
    words = list(WORDS)
    if any(one.thermal is not None and held(one, material) != IN_PRESET for one in found):
        words.append(f"A slow threshold that no preset brings stays {margin:g} dB below the continuous rating.")
    hosts = list(host_blocks(found, material)) or [Items((), "Processing", "no output drives a box")]
    amplifiers = list(amplifier_blocks(material)) or [Items((), "Amplifiers", "no output drives a box")]
    tables = (_presets(found), _slow(found, material), _fast(found), _gains(material))
    return Page("settings", "Settings", (Words(tuple(words)), *hosts, *amplifiers, _delays(material), *tables))


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
    return Table("presets", "Presets", columns, tuple(rows), keys=(1, 4), grouped=True, on_paper=False)


def _slow(found: tuple[Setting, ...], material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host", "feeds")),
        Column("at the posts, rms", "V"),
        Column("at the posts", "dBu"),
        Column("at the input", "dBu"),
        Column("at the input", "dBV"),
        Column("in the host", "dBFS"),
        Column("limiter"),
    )
    rows: list[tuple[Cell, ...]] = []
    for one in found:
        slow = one.thermal
        if slow is not None:
            values = (slow.terminals_v, slow.terminals_dbu, slow.input_dbu, slow.input_dbv, slow.dbfs)
            feeds = " ".join(one.outputs) + (" (assumed)" if one.assumed else "")
            rows.append((*_where(one), feeds, *values, held(one, material)))
    return Table("limiters", "Slow limiters", columns, tuple(rows), keys=(1,), grouped=True, on_paper=False)


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
        fast = one.peak
        if fast is not None:
            times = [None if value is None else 1e3 * value for value in (one.attack_s, one.release_s)]
            by = "rule" if one.times_by_rule else "preset"
            rows.append((*_where(one), fast.terminals_v, fast.input_dbu, fast.input_dbv, fast.dbfs, *times, by))
    return Table("peak-limiters", "Fast limiters", columns, tuple(rows), keys=(1,), grouped=True, on_paper=False)


def _delays(material: Material) -> Table:
    unit = "ft" if material.units == "imperial" else "m"
    temperature = material.rig.conditions.temperature_c
    columns = (
        *(Column(title) for title in ("zone", "side")),
        Column("delay", "ms", digits=5),
        Column("way of sound", unit, digits=4),
        Column("samples at 48 kHz", digits=6),
        Column("why"),
    )
    rows: list[tuple[Cell, ...]] = []
    for item in zone_delays(material.rig):
        way = convert(delays.distance_of_delay(item.delay_s, temperature), "m", unit)
        samples = round(delays.delay_in_samples(item.delay_s, DEFAULT_SAMPLE_RATE_HZ))
        rows.append((item.zone, item.side or "all", 1e3 * item.delay_s, way, samples, item.why))
    title = f"Where the delays come from: the zones at {format_value(temperature, '°C')}, without box and preset"
    return Table("delays", title, columns, tuple(rows), keys=(0, 1), grouped=True, empty="no zone yet")


def _gains(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "output", "mode", "knob")),
        Column("load", "ohm"),
        Column("gain to the posts", "dB"),
        Column("full output", "V"),
        Column("clips from", "dBu"),
        Column("clips first"),
        Column("note"),
    )
    rows = [_gain_row(output, material) for output in _driven(material)]
    return Table("gains", "Amplifiers", columns, tuple(rows), keys=(1,), grouped=True, on_paper=False)


def _driven(material: Material) -> Iterator[SolvedOutput]:
    return (output for output in material.rig.outputs if output.loads)


def _gain_row(output: SolvedOutput, material: Material) -> tuple[Cell, ...]:
    clip_v = output.clip_input_v
    level = None if clip_v is None else levels.dbu_from_voltage(clip_v)
    head = (output.output.unit.id, output.output.id, output.output.mode, knob(output), output.load_ohm)
    return *head, output.gain_db, output.can_give_v, level, clips_first(output, material), output.output.unit.note
