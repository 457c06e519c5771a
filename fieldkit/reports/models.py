"""The gear library as a list: one line a model, or one object."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from fieldkit.gear.amplifier import Amplifier, Hosts
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.library import LibraryEntry
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.model_file import Model
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.reports.text import WIDTH
from fieldkit.rig.connect.presets import PresetRow, preset_rows
from fieldkit.text.style import Style
from fieldkit.units import Measure


def found(entries: Iterable[LibraryEntry], words: Sequence[str]) -> tuple[LibraryEntry, ...]:
    """Pick the models whose kind, id or description holds every one of some words, whatever their case.

    One word that is a model's whole id means that model, whatever others hold it too.
    """
    entries = tuple(entries)
    named = [entry for entry in entries if len(words) == 1 and entry.model.id == words[0]]
    wanted = [word.casefold() for word in words]
    return tuple(named) or tuple(entry for entry in entries if all(word in _searched(entry) for word in wanted))


def _searched(entry: LibraryEntry) -> str:
    return f"{kind_text(entry)} {entry.model.id} {entry.model.description}".casefold()


def kind_text(entry: LibraryEntry) -> str:
    """Name a model's kind as people say it: ``built rack``."""
    return entry.kind.replace("_", " ")


def models_text(entries: Sequence[LibraryEntry], style: Style) -> Iterator[str]:
    """Print one line a model: kind, id, what counts about it, description; cut at 80 columns."""
    rows = [(kind_text(entry), entry.model.id + (" (own)" if entry.own else ""), entry) for entry in entries]
    widths = (max((len(row[0]) for row in rows), default=0), max((len(row[1]) for row in rows), default=0))
    for kind, name, entry in rows:
        about = ": ".join(filter(None, (figures_text(entry.model), entry.model.description)))
        text = style.plain(f"{kind:<{widths[0]}}  {name:<{widths[1]}}  {about}").rstrip()
        end = "..." if style.ascii_only else "…"
        yield text if len(text) <= WIDTH else text[: WIDTH - len(end)] + end


def figures_text(model: Model) -> str:
    """Say what counts about a model in a few words: ohms and watts, channels, cores, sockets."""
    if isinstance(model, Loudspeaker):
        drives = model.drives()
        sections = [item for item in model.sections if item.drive == drives[0] and item.impedance is not None]
        first = f"{sections[0].impedance} {sections[0].continuous or ''}".strip() if sections else drives[0]
        return first + ("" if len(model.sections) == 1 else f", {len(drives)} drives" if len(drives) > 1 else " …")
    if isinstance(model, Amplifier):
        minimum = min(model.ratings(bridged=False), key=lambda rating: rating.load.value, default=None)
        hosting = ", hosts presets" if model.hosts is not None else ""
        return f"{model.channels} x " + (f"{minimum.power} {minimum.load}" if minimum else "?") + hosting
    if isinstance(model, Processor):
        return f"{model.inputs} in, {model.outputs} out"
    if isinstance(model, Cable):
        return f"{model.cores} x {model.area}"
    if isinstance(model, Adaptor):
        return ", ".join(f"{near} to {far}" for near, far in model.pins.items()) or "straight through"
    if isinstance(model, Panel):
        return f"{len(model.sockets)} sockets"
    return f"{len(model.contents)} in {model.units} units"


def models_object(entries: Sequence[LibraryEntry], unusable: Sequence[str]) -> dict[str, Any]:
    """Make the object of ``models --json``: the models, and the own files that cannot be used."""
    return {"models": [_model(entry) for entry in entries], "unusable": list(unusable)}


def _model(entry: LibraryEntry) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "kind": entry.kind,
        "id": entry.model.id,
        "description": entry.model.description,
        "own": entry.own,
    }
    return shown | _figures(entry)


def _figures(entry: LibraryEntry) -> dict[str, Any]:
    model = entry.model
    if isinstance(model, Loudspeaker):
        return {
            "sections": [_section(section) for section in model.sections],
            "presets": [_preset_row(row) for row in preset_rows(model)],
        }
    if isinstance(model, Amplifier):
        ratings = [*model.ratings(bridged=False), *model.ratings(bridged=True)]
        powers = [{"load_ohm": it.load.value, "power_w": it.power.value, "bridged": it.bridged} for it in ratings]
        minimum = model.minimum_load_ohm(bridged=False)
        return {"channels": model.channels, "powers": powers, "minimum_ohm": minimum, "hosts": _hosts(model.hosts)}
    if isinstance(model, Processor):
        return {"inputs": model.inputs, "outputs": model.outputs, "hosts": _hosts(model.hosts)}
    if isinstance(model, Cable):
        return {"cores": model.cores, "area_mm2": model.area.value, "connectors": list(model.connectors)}
    if isinstance(model, Adaptor):
        return {"pins": model.pins, "connectors": list(model.connectors)}
    if isinstance(model, BuiltRack):
        return {"rack_units": model.units, "contents": [inside.model for inside in model.contents]}
    return {"sockets": list(model.sockets)}


def _section(section: Any) -> dict[str, Any]:
    return {
        "drive": section.drive,
        "section": section.section,
        "pair": section.pair,
        "impedance_ohm": _value(section.impedance),
        "minimum_ohm": _value(section.minimum),
        "continuous_w": _value(section.continuous),
        "peak_w": _value(section.peak),
        "rating": section.rating,
        "sensitivity_db": _value(section.sensitivity),
    }


def _preset_row(row: PresetRow) -> dict[str, Any]:
    return {
        "drive": row.drive,
        "section": row.section.section,
        "uses": list(row.uses),
        "preset": row.preset.id if row.preset else None,
    }


def _value(measure: Measure | None) -> float | None:
    return measure.value if measure is not None else None


def _hosts(hosts: Hosts | None) -> list[str]:
    return list(hosts.presets) if hosts is not None else []
