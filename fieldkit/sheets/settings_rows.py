"""The settings as rows: one for each host output, one for each amplifier output, and notes that rows share."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from fieldkit.rig.signal.account import Account, account_of
from fieldkit.rig.signal.account_text import amplifier_text
from fieldkit.rig.signal.thresholds import NO_PLACE
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.sheets.host_settings import GUESSED_PRESET, clips_first
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Cell, Column, Items, Table

ROW_WORDS = (
    "Load the preset, then set what stands under 'set', and nothing else; 'in all' is what then reads back. Limiters "
    "come last, behind the gain; 'preset' before one means that the preset holds it."
)
"""How a row is read."""


class SettingRows(msgspec.Struct, frozen=True):
    """The rows of some outputs, with the notes that they point to by number."""

    hosts: Table
    amplifiers: Table
    notes: Items


def setting_rows(found: Sequence[Account], outputs: Iterable[SolvedOutput], material: Material) -> SettingRows:
    """Make the rows of these host outputs and of these amplifier outputs."""
    notes: dict[str, int] = {}
    hosts = _hosts(found, notes, material)
    amplifiers = _amplifiers(outputs, material)
    items = tuple((f"{number}: {text}",) for text, number in notes.items())
    return SettingRows(hosts, amplifiers, Items(items, "Notes to the rows", empty="none"))


def _hosts(found: Sequence[Account], notes: dict[str, int], material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "host", "signal", "input", "boxes", "preset")),
        Column("preset high-pass", "Hz"),
        Column("preset low-pass", "Hz"),
        *(Column(title, "dB") for title in ("preset gain", "set gain on top", "gain in all")),
        *(Column(title, "ms") for title in ("preset delay", "set delay on top", "delay in all")),
        *(Column(title) for title in ("preset polarity", "set polarity", "polarity in all")),
        Column("slow limiter"),
        *(Column(title, "ms") for title in ("set slow attack", "set slow release")),
        Column("fast limiter"),
        *(Column(title, "ms") for title in ("preset fast attack", "set fast attack")),
        *(Column(title, "ms") for title in ("preset fast release", "set fast release")),
        Column("notes"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            *where(one),
            " ".join(one.signals) or "not planned",
            "+".join(one.inputs),
            f"{' '.join(one.boxes)} {one.section}{' (assumed)' if one.assumed else ''}",
            f"{one.preset or 'none'}{' (guessed)' if one.preset_guessed else ''}",
            *(one.number(name, "Hz") for name in ("preset high-pass", "preset low-pass")),
            *(one.number(name, "dB") for name in ("preset gain", "gain on top", "gain in all")),
            *(one.number(name, "ms") for name in ("preset delay", "delay on top", "delay in all")),
            *(one.word(name) for name in ("preset polarity", "polarity", "polarity in all")),
            _limiter(one, "slow"),
            *(one.number(name, "ms") for name in ("slow attack", "slow release")),
            _limiter(one, "fast"),
            *(one.number(name, "ms") for name in ("preset fast attack", "fast attack")),
            *(one.number(name, "ms") for name in ("preset fast release", "fast release")),
            " ".join(str(notes.setdefault(text, len(notes) + 1)) for text in map(material.said, _notes(one))),
        )
        for one in found
    ]
    return Table(
        "presets", "One row an output: load and set", columns, tuple(rows), keys=(1, 4), grouped=True,
        empty="no output drives a box",
    )  # fmt: skip


def where(account: Account) -> tuple[str, str]:
    """Name the unit that is set, as a heading, and the output of it."""
    unit = account.host.partition(".")[0]
    words = {"amplifier": "in the amplifier", "processor": "processor", "none": "no host: nothing runs a preset"}
    return f"{unit} ({words[account.kind]})", account.host


def _limiter(account: Account, kind: str) -> str:
    """Write a threshold: what is to be set, or that the preset holds it."""
    order, held = account.entry(f"{kind} limiter"), account.entry(f"preset {kind} limiter")
    if order is not None and order.where == NO_PLACE:
        return f"{order.text}: {NO_PLACE}, hold it somewhere else"
    if order is not None:
        return f"set {order.text}"
    return f"preset {held.text}" if held is not None else "none"


def _notes(account: Account) -> Iterator[str]:
    """List what must be known to set a row; why its numbers are so stands in the lists and on the cards."""
    if account.preset_guessed:
        yield f"{GUESSED_PRESET}: {account.preset_why}"
    elif account.preset is None and account.outputs:
        yield f"no preset: {account.preset_why}"
    for entry in account.you_set:
        if entry.basis and entry.quantity.endswith("on top"):
            yield f"{entry.quantity}: {entry.basis}"
    yield from account.conditions
    yield from (f"! {text}" for text in account.disagreements)


def _amplifiers(outputs: Iterable[SolvedOutput], material: Material) -> Table:
    columns = (
        *(Column(title) for title in ("unit", "output", "fed by", "mode", "set at the amplifier")),
        Column("load", "ohm"),
        Column("gain to the posts", "dB"),
        Column("full output", "V"),
        Column("clips from", "dBu"),
        Column("slow limiter at the posts", "V rms"),
        Column("fast limiter at the posts", "V peak"),
        Column("clips first"),
        Column("note"),
    )
    wanted = (
        ("gain to the posts", "dB"),
        ("full output", "V"),
        ("clips from", "dBu"),
        ("slow limiter at the posts", "V rms"),
        ("fast limiter at the posts", "V peak"),
    )
    rows: list[tuple[Cell, ...]] = []
    for output in outputs:
        name, account = output.output.id, account_of(material.rig, output.output.id)
        if account is not None:
            mode = f"{output.output.mode}{' (assumed)' if output.assumed else ''}"
            source = output.source or "nothing that is planned"
            head = (output.output.unit.id, name, source, mode, amplifier_text(account, name), output.load_ohm)
            values = [account.number(quantity, unit, name) for quantity, unit in wanted]
            rows.append((*head, *values, clips_first(output, material).removeprefix("; "), output.output.unit.note))
    title = "Amplifiers: set, and what then reads back"
    return Table("gains", title, columns, tuple(rows), keys=(1,), grouped=True, empty="no output drives a box")
