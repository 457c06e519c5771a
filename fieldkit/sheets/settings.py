"""The settings: what to set on each host, the delays of the zones, and the gain of each amplifier."""

from __future__ import annotations

from fieldkit.formulas import delays
from fieldkit.rig.signal.account import Account, account_of, accounts
from fieldkit.rig.signal.account_text import amplifier_text
from fieldkit.rig.signal.delays import DEFAULT_SAMPLE_RATE_HZ, zone_delays
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.rig.signal.thresholds import NO_PLACE
from fieldkit.sheets.host_settings import amplifier_blocks, clips_first, host_blocks, in_order
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Items, Page, Table, Words
from fieldkit.units import convert, format_value

WORDS = (
    (
        "What a preset brings is there once it is loaded; only what is said to be set comes on top of it. Where a "
        "processor has no such preset stored, build it once from what it brings. What reads back is the sum of both."
    ),
    (
        "Limiters come last, behind the gain. The slow (rms) limiter protects from heat, the fast (peak) limiter from "
        "travel; a fast threshold as a level is the sine that has this peak. 'In the host' is where it measures, the "
        "input socket lies before the gain of a preset that runs in an amplifier. Levels hold only at the gain and "
        "knob positions given here: bridging or turning a knob moves them."
    ),
    (
        "Times by rule are a rule of thumb; the slow limiter takes what its preset has, else seconds (common "
        "practice, no source)."
    ),
)


def settings_page(material: Material) -> Page:
    """Make the page: what to set in lists, output by output; as tables for a spreadsheet too."""
    found = in_order(accounts(material.rig), material)
    hosts = list(host_blocks(found, material)) or [Items((), "Processing", "no output drives a box")]
    amplifiers = list(amplifier_blocks(material)) or [Items((), "Amplifiers", "no output drives a box")]
    tables = (_presets(found), _limiters("slow", found), _limiters("fast", found), _gains(material))
    return Page("settings", "Settings", (Words(WORDS), *hosts, *amplifiers, _delays(material), *tables))


def _where(account: Account) -> tuple[str, str]:
    """Name the unit that is set, as a heading, and the output of it."""
    unit = account.host.partition(".")[0]
    words = {"amplifier": "in the amplifier", "processor": "processor", "none": "no host: nothing runs a preset"}
    return f"{unit} ({words[account.kind]})", account.host


def _presets(found: tuple[Account, ...]) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host", "signal", "input", "boxes", "preset")),
        Column("preset high-pass", "Hz"),
        Column("preset low-pass", "Hz"),
        *(Column(title, "dB") for title in ("preset gain", "set gain on top", "gain in all")),
        *(Column(title, "ms") for title in ("preset delay", "set delay on top", "delay in all")),
        *(Column(title) for title in ("preset polarity", "set polarity", "polarity in all")),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            *_where(one),
            " ".join(one.signals) or "not planned",
            "+".join(one.inputs),
            f"{' '.join(one.boxes)} {one.section}",
            one.preset or "none",
            *(one.number(name, "Hz") for name in ("preset high-pass", "preset low-pass")),
            *(one.number(name, "dB") for name in ("preset gain", "gain on top", "gain in all")),
            *(one.number(name, "ms") for name in ("preset delay", "delay on top", "delay in all")),
            *(one.word(name) for name in ("preset polarity", "polarity", "polarity in all")),
        )
        for one in found
    ]
    return Table("presets", "Presets", columns, tuple(rows), keys=(1, 4), grouped=True, on_paper=False)


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
            head = (*_where(one), output + (" (assumed)" if one.assumed else ""), _who(entry))
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
        figures = (None, None, None) if item.guess_s is not None else (1e3 * item.delay_s, way, samples)
        rows.append((item.zone, item.side or "all", *figures, item.why))
    title = f"Where the delays come from: the zones at {format_value(temperature, '°C')}, without box and preset"
    return Table("delays", title, columns, tuple(rows), keys=(0, 1), grouped=True, empty="no zone yet")


def _gains(material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "output", "mode", "set at the amplifier")),
        Column("load", "ohm"),
        Column("gain to the posts", "dB"),
        Column("full output", "V"),
        Column("clips from", "dBu"),
        Column("clips first"),
        Column("note"),
    )
    rows: list[tuple[Cell, ...]] = []
    for output in material.rig.outputs:
        name, account = output.output.id, account_of(material.rig, output.output.id)
        if account is not None:
            mode = f"{output.output.mode}{' (assumed)' if output.assumed else ''}"
            head = (output.output.unit.id, name, mode, amplifier_text(account, name), output.load_ohm)
            wanted = (("gain to the posts", "dB"), ("full output", "V"), ("clips from", "dBu"))
            values = [account.number(quantity, unit, name) for quantity, unit in wanted]
            rows.append((*head, *values, clips_first(output, material), output.output.unit.note))
    return Table("gains", "Amplifiers", columns, tuple(rows), keys=(1,), grouped=True, on_paper=False)
