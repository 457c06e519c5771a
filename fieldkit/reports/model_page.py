"""A model's own page: all that is known of it, in tables of 80 columns; what it does not say is seen as a gap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from fieldkit.formulas import levels, limiters, ohms_law
from fieldkit.formulas.figures import direct
from fieldkit.formulas.ratings import MEANINGS, rating_impedance
from fieldkit.gear.amplifier import Amplifier, PairMode
from fieldkit.gear.loudspeaker import Loudspeaker, Section
from fieldkit.gear.model_file import Model
from fieldkit.gear.processor import Processor
from fieldkit.reports.model_facts import hosts_lines, known, model_facts, preset_facts
from fieldkit.reports.text import WIDTH
from fieldkit.rig.connect.lines import load_of
from fieldkit.rig.connect.outputs import permission_text
from fieldkit.rig.connect.presets import preset_rows
from fieldkit.rig.connect.uses import ZoneUse
from fieldkit.rig.solve.limits import peak_v_of
from fieldkit.show.document import Box
from fieldkit.text.widths import cells, clipped, padded, wrapped
from fieldkit.units import Measure, format_value

GAP = "-"
"""What a model does not say."""


def model_page(model: Model, models: Iterable[Model], *, own: bool = False) -> tuple[str, ...]:
    """Write the page of a model; ``models`` are those that may host its presets, ``own`` that it is the user's own."""
    name = f"{model.id} (own)" if own else model.id
    head = [f"{name}: {model.description}" if model.description else name]
    if isinstance(model, Loudspeaker):
        lines = _loudspeaker(model, tuple(models))
    elif isinstance(model, Amplifier):
        lines = _amplifier(model)
    else:
        _, *facts = model_facts(model)
        return tuple(line for text in (*head, *facts) for line in _in_lines(text))
    note = ["", f"note: {model.note}"] if model.note else []
    return tuple(line for text in (*head, *lines, *note) for line in _in_lines(text))


def _in_lines(text: str) -> Iterator[str]:
    """Break a sentence that is too long for a line, each line as far in as the first; rows of tables fit already."""
    if cells(text) <= WIDTH:
        yield text
        return
    indent = text[: len(text) - len(text.lstrip())]
    yield from (indent + line for line in wrapped(text, WIDTH - len(indent)))


def table(head: Sequence[str], rows: Sequence[Sequence[str]], right: str = "") -> Iterator[str]:
    """Lay a table; ``right`` has an ``r`` for each column that stands to the right. The last column gets the rest."""
    widths = [max(cells(row[column]) for row in (head, *rows)) for column in range(len(head))]
    for row in (head, *rows):
        last = len(row) - 1
        parts = [
            text if column == last else padded(text, widths[column], right=right[column : column + 1] == "r")
            for column, text in enumerate(row)
        ]
        room = WIDTH - 2 - sum(widths[:-1]) - 2 * last
        indent = " " * (WIDTH - room)
        first, *more = wrapped(parts[-1], max(room, 12))
        yield clipped("  " + "  ".join([*parts[:-1], first]), WIDTH).rstrip()
        yield from (indent + line for line in more)


def _text(measure: Measure | None) -> str:
    return GAP if measure is None else str(measure)


def _loudspeaker(model: Loudspeaker, models: Sequence[Model]) -> Iterator[str]:
    pattern = f"{_text(model.horizontal)} x {_text(model.vertical)}"
    links = f"{model.connectors} in parallel, links onward" if model.connectors > 1 else "one, cannot be linked onward"
    yield f"weighs {_text(model.weight)}; pattern {pattern}; {model.connector} connectors, {links}"
    if model.assumed:
        yield "assumed: no data sheet"
    if len(model.drives()) > 1:
        yield f"{' or '.join(model.drives())}" + (", by a switch on the box" if model.switch else ", by how it is fed")
    yield ""
    yield "sections"
    yield from table(
        ("drive", "section", "pair", "ohms", "min", "watts", "peak", "1 m", "band"),
        [_section_row(section) for section in model.sections],
        "  r",
    )
    volts = [row for section in model.sections if (row := _volts_row(model, section))]
    if volts:
        yield ""
        yield from table(("drive", "section", "volts", "peak", "which is"), volts)
    yield ""
    yield from _presets(model, models)


def _section_row(section: Section) -> tuple[str, ...]:
    low, high = section.low, section.high
    band = " - ".join(str(edge) for edge in (low or "?", high or "?")) if low or high else GAP
    minimum = _text(section.minimum)
    peak = _text(section.peak_volts or section.peak)
    return (
        section.drive,
        section.section,
        str(section.pair) if section.drive != "self-powered" else GAP,
        _text(section.impedance),
        minimum,
        _text(section.continuous),
        peak,
        _text(section.sensitivity),
        band,
    )


def _volts_row(model: Loudspeaker, section: Section) -> tuple[str, ...] | None:
    """Say what volts the watts are, and by which rule they are that."""
    if section.impedance is None or section.continuous is None:
        return None
    use = ZoneUse(use="full range", low_end_from=(), guessed=False, why="")
    load = load_of(Box(id=model.id, zone=""), model, section.drive, section, use)
    through = rating_impedance(
        section.rating,
        section.impedance.value,
        section.rated_at.value if section.rated_at else None,
        section.minimum.value if section.minimum else None,
    )
    meaning = MEANINGS[section.rating]
    volts = limiters.limiter_voltage(section.continuous.value, through)
    return (
        section.drive,
        section.section,
        format_value(volts, "V"),
        format_value(peak_v_of(load, direct), "V"),
        f"{meaning.name}, through {format_value(through, 'ohm')}, noise of crest {meaning.crest:g}",
    )


def _presets(model: Loudspeaker, models: Sequence[Model]) -> Iterator[str]:
    rows = preset_rows(model)
    if not rows:
        yield "presets: none in the model"
        return
    yield "presets"
    yield from table(
        ("drive", "section", "for", "preset"),
        [
            (
                row.drive,
                row.section.section,
                ", ".join(row.uses),
                f"{row.preset.id}: {', '.join(preset_facts(row.preset)) or 'nothing more is known'}"
                if row.preset
                else "no preset: a gap",
            )
            for row in rows
        ],
    )
    unused = [
        item.id
        for item in model.presets
        if not any(row.preset is not None and row.preset.id == item.id for row in rows)
    ]
    if unused:
        yield f"  of no section's use: {', '.join(unused)}"
    yield f"hosted by {_hosting(model, models)}"


def _hosting(model: Loudspeaker, models: Sequence[Model]) -> str:
    """Name the amplifiers and processors that the presets of a loudspeaker run on."""
    hosting = [item for item in models if isinstance(item, (Amplifier, Processor))]
    able = [item.id for item in hosting if item.hosts is not None and item.hosts.takes(model.id)]
    return ", ".join(able) or "no amplifier or processor that is known"


def _amplifier(model: Amplifier) -> Iterator[str]:
    minus = {"common": "minus posts common", "bridge-tied": "both posts driven", "alternate": "alternate polarity"}
    size = f"{model.units} rack units" if model.units else "not for a rack"
    yield f"{model.channels} channels; {size}; weighs {_text(model.weight)}; {minus[model.outputs]}"
    yield ""
    yield "powers"
    yield from table(("mode", "load", "watts", "volts", "amps", ""), list(_powers(model)), " rrrr")
    yield from _pairs_allowed(model)
    if model.supply_limit:
        yield f"  all outputs together {model.supply_limit} of sine, from a common supply"
    yield ""
    yield "connectors"
    rows = list(_connectors(model))
    if rows:
        yield from table(("", "single", "bridged"), rows)
    else:
        yield "  not in the model"
    if model.connector_current:
        yield f"  each carries {model.connector_current}"
    yield ""
    yield "levels"
    facts = known(
        ("gain", model.gain),
        ("full power at", model.sensitivity),
        ("input clips at", model.input_clip),
        ("output resistance", model.output_resistance),
    )
    gain = model.gain.value if model.gain else None
    bridged = f"bridged {levels.bridged_gain(gain):.1f} dB of gain" if gain is not None and model.channels > 1 else ""
    knobs = "knobs that anybody can turn" if model.attenuators else "no knobs"
    yield "  " + "; ".join(filter(None, (*facts, bridged, knobs)))
    yield from (f"  {line}" for line in hosts_lines(model.hosts))
    yield ""
    yield "mains"
    yield "  " + (
        "; ".join(
            known(
                ("idle", model.idle_power),
                ("efficiency", model.efficiency),
                ("power factor", model.power_factor),
                ("leakage", model.leakage),
                ("inrush", model.inrush),
            )
        )
        or "nothing in the model"
    )


def _powers(model: Amplifier) -> Iterator[tuple[str, ...]]:
    for bridged, mode in ((False, "each channel"), (True, "bridged pair")):
        ratings = model.ratings(bridged=bridged)
        lowest = model.minimum_load_ohm(bridged=bridged) if ratings else 0.0
        for rating in ratings:
            ohm, watts = rating.load.value, rating.power.value
            volts = limiters.limiter_voltage(watts, ohm)
            amps = ohms_law.current_from_voltage(volts, ohm)
            mark = "minimum" if ohm == lowest else ""
            yield (mode, str(rating.load), str(rating.power), format_value(volts, "V"), format_value(amps, "A"), mark)


def _pairs_allowed(model: Amplifier) -> Iterator[str]:
    """Say what pairs may do that have no rows of their own, and what they may not."""
    modes: tuple[PairMode, ...] = ("bridged", "paralleled")
    for mode in modes if model.channels > 1 else ():
        text = permission_text(model, mode)
        if text:
            yield f"  {text}"
        elif mode == "paralleled" or not model.ratings(bridged=True):
            lowest = (
                model.minimum_load_ohm(bridged=True) if mode == "bridged" else model.minimum_load_ohm(bridged=False) / 2
            )
            down_to = format_value(lowest, "ohm") if lowest else "a minimum that the model does not say"
            yield f"  {mode} pairs are allowed, down to {down_to}"


def _connectors(model: Amplifier) -> Iterator[tuple[str, str, str]]:
    for name in dict.fromkeys((*model.connectors, *model.connectors_bridged)):
        single = {pair: own for pair, own in model.connectors.get(name, {}).items() if "+" not in own}
        pairs = {pair: own for pair, own in model.connectors.get(name, {}).items() if "+" in own}
        yield name, _pins(single), _pins(pairs | model.connectors_bridged.get(name, {}))


def _pins(pins: dict[str, str]) -> str:
    return ", ".join(f"pair {pair} is {channel}" for pair, channel in pins.items()) or GAP
