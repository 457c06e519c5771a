"""The settings: what to set in each host and on each amplifier."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas import levels
from fieldkit.rig.lines import Load
from fieldkit.rig.solving import SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Table, Words

WORDS = (
    (
        "The slow (rms) limiter protects from heat, the fast (peak) limiter from travel. Levels at the input are valid "
        "only at the gain and knob positions given here: bridging or turning a knob moves them."
    ),
    "Where one processor output feeds several outputs, set the lowest threshold of them.",
)


def settings_page(material: Material) -> Page:
    """Make the page."""
    margin = material.rig.conditions.margin_db
    rests = f"Thermal thresholds stay {margin:g} dB below the continuous rating where no preset brings a limiter."
    blocks = (Words((*WORDS, rests)), _presets(material), _limiters(material), _gains(material))
    return Page("settings", "Settings", blocks)


def _driven(material: Material) -> Iterator[SolvedOutput]:
    """Give the outputs that drive something, those of one host together."""
    outputs = [output for output in material.rig.outputs if output.loads]
    order = {_host(output): place for place, output in reversed(list(enumerate(outputs)))}
    yield from sorted(outputs, key=lambda output: order[_host(output)])


def _host(output: SolvedOutput) -> str:
    if output.host is None:
        return "no host: nothing runs a preset"
    return output.host.id if output.host.kind == "processor" else f"{output.output.unit.id} (in the amplifier)"


def _presets(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("host", "output", "boxes", "preset", "high-pass", "low-pass")),
        *(Column(title) for title in ("gain", "delay", "polarity")),
    )
    rows = [row for output in _driven(material) for row in _preset_rows(output)]
    return Table(
        "presets", "Presets", columns, tuple(rows), keys=(1, 2, 3), grouped=True, empty="no output drives a box"
    )


def _preset_rows(output: SolvedOutput) -> Iterator[tuple[Cell, ...]]:
    by_preset: dict[tuple[str, str], list[Load]] = {}
    for load in output.loads:
        by_preset.setdefault((load.speaker.id, load.choice.id or "none"), []).append(load)
    for (_, name), loads in by_preset.items():
        boxes = " ".join(dict.fromkeys(load.box.id for load in loads))
        preset = loads[0].choice.preset
        head = (_host(output), output.output.id, f"{boxes} {loads[0].section.section}", name)
        if preset is None:
            yield *head, "", "", "", "", ""
            continue
        filters = (preset.high_pass or "", preset.low_pass or "")
        yield *head, *filters, preset.gain or "0 dB", preset.delay or "0 ms", preset.polarity


def _limiters(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("host", "output", "ruled by")),
        Column("slow, rms", "V"),
        Column("fast, peak", "V"),
        Column("slow", "dBu"),
        Column("slow", "dBV"),
        Column("at the input", "dBu"),
        Column("in the host", "dBFS"),
        Column("limiter"),
    )
    rows: list[tuple[Cell, ...]] = []
    for output in _driven(material):
        limiter = output.limiter
        head = (_host(output), output.output.id)
        if limiter is None:
            rows.append((*head, "no rating known", *[None] * 6, ""))
            continue
        ruled_by = limiter.ruled_by + (" (assumed)" if output.assumed else "")
        own = (limiter.thermal_v, limiter.peak_v, limiter.thermal_dbu, levels.dbv_from_voltage(limiter.thermal_v))
        rows.append((*head, ruled_by, *own, limiter.input_dbu, limiter.input_dbfs, _state(output)))
    title = "Limiter thresholds"
    return Table("limiters", title, columns, tuple(rows), keys=(1,), grouped=True, empty="no output drives a box")


def _state(output: SolvedOutput) -> str:
    """Say whether a threshold is there already, is to be set, or cannot be."""
    if output.limiter is not None and output.limiter.held:
        return "preset"
    takes = output.host is not None and all(output.host.takes(load.speaker.id) for load in output.loads)
    return "to set" if takes else "none"


def _gains(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "output", "mode", "knob")),
        Column("load", "ohm"),
        Column("gain to the posts", "dB"),
        Column("full output", "V"),
        Column("input for it", "V"),
        Column("note"),
    )
    rows: list[tuple[Cell, ...]] = []
    for output in material.rig.outputs:
        if not output.loads:
            continue
        unit = output.output.unit
        knob: str = unit.attenuators.get(str(output.output.channels[0])) or "fully up"
        if not output.output.model.attenuators:
            knob = "none"
        elif unit.attenuators_locked:
            knob += ", locked"
        head = (unit.id, output.output.id, output.output.mode, knob, output.load_ohm)
        rows.append((*head, output.gain_db, output.can_give_v, output.clip_input_v, unit.note))
    return Table("gains", "Amplifiers", columns, tuple(rows), keys=(1,), grouped=True, empty="no output drives a box")
