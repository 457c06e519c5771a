"""The line that would add a thing that is there: what a window that asked step by step shows, so that it is learned."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeAlias

from fieldkit.errors import FieldkitError
from fieldkit.gear.library import find as find_model
from fieldkit.gear.processor import Processor
from fieldkit.planning.entry.line import read_entry
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Box, Rack, RackUnit, Run, Show, Stock, Supply, Zone

_FIRST: dict[type, str] = {Box: "", Rack: "rack", Zone: "zone", Supply: "supply", Run: "run", Stock: "stock"}

LineWord: TypeAlias = str | tuple[str, str]
"""A word of a line, or the name of a slot with its value."""

_BARE = {"label", "model", "zone", "side", "built"}
"""Slots whose values are mostly understood without their name."""


def line_of(show: Show, thing: Any) -> str:
    """Write the line that adds such a thing to a show without it; what a line cannot say of it is left out.

    It is short where the short one is understood, else each word stands behind the name of its slot.
    """
    if isinstance(thing, RackUnit):
        model = models_by_id(show).get(thing.model) or find_model(thing.model)
        first = "processor" if isinstance(model, Processor) else "amp"
    else:
        first = _FIRST[type(thing)]
    words = [word for word in (first, *_words_of(thing)) if word]
    long = _joined(
        [part for word in words for part in ((word,) if isinstance(word, str) else (word[0], _quoted(word[1])))]
    )
    short = _joined([word if isinstance(word, str) else _short(word) for word in words])
    return short if _mean_the_same(show, short, long) else long


def _short(word: tuple[str, str]) -> str:
    name, value = word
    return _quoted(value) if name in _BARE else f"{name} {_quoted(value)}"


def _mean_the_same(show: Show, short: str, long: str) -> bool:
    try:
        return read_entry(show, short).made == read_entry(show, long).made
    except FieldkitError:
        return False


def _joined(words: Iterable[str]) -> str:
    return " ".join(words)


def _quoted(word: str) -> str:
    """Keep spaces together; a quote inside is left out, since none can be written."""
    plain = word.replace('"', "")
    key, mark, value = plain.partition("=")
    if " " not in plain:
        return plain
    return f'{key}="{value}"' if mark and " " not in key else f'"{plain}"'


def _words_of(thing: Any) -> list[LineWord]:
    if isinstance(thing, Box):
        return _box_words(thing)
    if isinstance(thing, RackUnit):
        return _unit_words(thing)
    if isinstance(thing, Run):
        return _run_words(thing)
    if isinstance(thing, Zone):
        return _zone_words(thing)
    if isinstance(thing, Supply):
        return _supply_words(thing)
    if isinstance(thing, Rack):
        return [
            *_named("label", thing.id),
            *_named("built", thing.as_built),
            *_named("side", thing.side),
            *_named("units", thing.units),
        ]
    return _stock_words(thing)


def _named(name: str, value: Any) -> list[LineWord]:
    return [] if value in (None, "", 0) else [(name, str(value))]


def _box_words(box: Box) -> list[LineWord]:
    unknown = box.unknown
    what = [str(unknown.impedance), str(unknown.continuous)] if unknown else _named("model", box.model)
    return [
        *what, *_named("zone", box.zone), *_named("side", box.side), box.drive or "",
        box.reach if box.reach != "floor" else "", *_named("supply", box.supply), *_named("label", box.id),
    ]  # fmt: skip


def _unit_words(unit: RackUnit) -> list[LineWord]:
    pairs = [word for pair in unit.bridged for word in _named("bridged", pair)]
    inputs = [_quoted(f"{key}={value}") for key, value in unit.inputs.items()]
    return [
        *_named("model", unit.model), *_named("label", unit.id), *_named("rack", unit.rack), *_named("unit", unit.unit),
        *_named("supply", unit.supply), *_named("phase", unit.phase), *pairs, *inputs,
    ]  # fmt: skip


def _run_words(run: Run) -> list[LineWord]:
    words: list[LineWord] = [*_named("label", run.id), run.start]
    cable = None
    for step in run.path:
        if step.cable:
            words += [*(_named("cable", step.cable) if step.cable != cable else []), str(step.length)]
            cable = step.cable
        words += [*_named("adaptor", step.adaptor), *_named("panel", step.panel)]
        words += [*_named("socket", step.socket), *_named("shared", step.shared)]
        words += [step.box] if step.box else []
    return words


def _zone_words(zone: Zone) -> list[LineWord]:
    near = [word for name in zone.near for word in _named("near", name)]
    low = [word for name in zone.low_end_from or () for word in _named("low-end-from", name)]
    signals = [_quoted(f"{side}={signal}") for side, signal in zone.signals.items()]
    return [
        *_named("label", zone.id), zone.use or "", *_named("priority", zone.priority),
        str(zone.distance or ""), *near, *low, *signals,
    ]  # fmt: skip


def _supply_words(supply: Supply) -> list[LineWord]:
    feeder = [str(supply.feeder.length), str(supply.feeder.area)] if supply.feeder else []
    return [
        *_named("label", supply.id), str(supply.rating), str(supply.volts),
        "three-phase" if supply.phases == 3 else "", *_named("phase", supply.phase), *_named("from", supply.fed_from),
        *feeder, supply.network or "",
    ]  # fmt: skip


def _stock_words(row: Stock) -> list[LineWord]:
    hired = "hired" if row.hired else ""
    return [
        str(row.hired or row.owned), *_named("model", row.model), str(row.length or ""), hired,
        *_named("from", row.hired_from), *_named("due", row.due), *_named("serial", row.serial),
    ]  # fmt: skip
