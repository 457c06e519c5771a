"""The settings: what to set on each host, the delays of the zones, and the gain of each amplifier."""

from __future__ import annotations

import msgspec

from fieldkit.formulas import delays
from fieldkit.rig.signal.account import Account, accounts
from fieldkit.rig.signal.delays import DEFAULT_SAMPLE_RATE_HZ, zone_delays
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.rig.signal.thresholds import NO_PLACE
from fieldkit.sheets.host_settings import amplifier_blocks, host_blocks, in_order
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Page, Table, Words
from fieldkit.sheets.settings_rows import ROW_WORDS, setting_rows, where
from fieldkit.units import convert

WORDS = (
    "Where a processor has no such preset stored, build it once from what it brings.",
    (
        "The slow (rms) limiter protects from heat, the fast (peak) limiter from travel; a fast threshold as a level "
        "is the sine that has this peak. 'In the host' is where it measures, the input socket lies before the gain of "
        "a preset that runs in an amplifier. Levels hold only at the gain and knob positions given here: bridging or "
        "turning a knob moves them."
    ),
    (
        "Times by rule are a rule of thumb; the slow limiter takes what its preset has, else seconds (common "
        "practice, no source)."
    ),
)


def settings_page(material: Material) -> Page:
    """Make the page: one row an output on paper; on a screen and as text the reasons too, output by output."""
    found = in_order(accounts(material.rig), material)
    rows = setting_rows(found, material.rig.outputs, material)
    lists = [*host_blocks(found, material), *amplifier_blocks(material)]
    lists = [msgspec.structs.replace(block, aside=True) for block in lists]
    tables = (_limiters("slow", found), _limiters("fast", found))
    printed = (Words((ROW_WORDS, *WORDS)), rows.hosts, rows.amplifiers, delay_table(material), rows.notes)
    return Page("settings", "Settings", (*printed, *lists, *tables), across=0)


def _limiters(kind: str, found: tuple[Account, ...]) -> Table:
    """Make the table of the slow or the fast limiter of each output: what to set where, and where it then acts."""
    name, volts = f"{kind} limiter", "V rms" if kind == "slow" else "V peak"
    what = [(f"preset {name}", volts)] if kind == "slow" else []
    what += [(name, unit) for unit in (volts, "dBu", "dBFS")]
    what += [(f"{name} at the posts", unit) for unit in (volts, "dBu")]
    what += [(f"{name} at the input socket", "dBu")]
    what += [(f"{name} in the host", unit) for unit in ("dBu", "dBV", "dBFS")]
    if kind == "fast":
        what += [(f"{whose}fast {end}", "ms") for end in ("attack", "release") for whose in ("preset ", "")]
    rows: list[tuple[Cell, ...]] = []
    for one in found:
        for output in one.outputs:
            its = one.of_output(output)
            entry = its.entry(name) or its.entry(f"preset {name}")
            if entry is None:
                continue
            head = (*where(one), output + (" (assumed)" if one.assumed else ""), _who(entry))
            rows.append((*head, *(its.number(quantity, unit) for quantity, unit in what), entry.basis))
    columns = (
        *(Column(title) for title in ("unit", "host", "output", "who sets it")),
        *(Column(f"set {quantity}" if quantity in _ORDERS else quantity, unit) for quantity, unit in what),
        Column("from"),
    )
    title = f"{kind.capitalize()} limiters"
    file = "limiters" if kind == "slow" else "peak-limiters"
    return Table(file, title, columns, tuple(rows), keys=(1, 2), grouped=True, on_paper=False)


_ORDERS = ("slow limiter", "fast limiter", "fast attack", "fast release")


def _who(entry: AccountEntry) -> str:
    """Say who sees to a limiter: the preset, whoever sets the host, or nobody here."""
    if entry.quantity.startswith("preset"):
        return "the preset"
    return f"{NO_PLACE}, hold it somewhere else" if entry.where == NO_PLACE else "you"


def delay_table(material: Material) -> Table:
    """Make the table of the delays of the zones, with what each follows from."""
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
        figures = (None, None, None) if item.guess_s is not None else (1e3 * item.delay_s, way, samples)
        rows.append((item.zone, item.side or "all", *figures, material.said(item.why)))
    title = f"Where the delays come from: the zones at {material.air}, without box and preset"
    return Table("delays", title, columns, tuple(rows), keys=(0, 1), grouped=True, empty="no zone yet")
