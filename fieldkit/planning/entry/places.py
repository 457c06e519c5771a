"""Entries of zones, racks, supplies and stock: one thing each, its fields in any order."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fieldkit.planning.entry.known import KnownWords
from fieldkit.planning.entry.made import Made, new_label
from fieldkit.planning.entry.slots import Slot, Values, one
from fieldkit.planning.entry.words import EntryError, read_measure, whole_number
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Rack, Stock, Supply, Zone
from fieldkit.show.labels import label_after
from fieldkit.text.words import nearest, printable
from fieldkit.units import Area, Current, Length, Voltage


def word_in(*words: str) -> Slot:
    """Make a slot of a few fixed words, the first of which names it."""
    return Slot(
        words[0], " or ".join(words), known=lambda _, text: text if text in words else None, offers=lambda _: words
    )


def number_after(name: str, what: str) -> Slot:
    """Make a slot of a whole number behind its name."""
    return Slot(name, what, said=lambda _, text: whole_number(text))


def quantity(name: str, what: str, kind: Any) -> Slot:
    """Make a slot of a quantity, known by its unit."""
    return Slot(
        name,
        what,
        known=lambda _, text: read_measure(kind, text),
        said=lambda _, text: read_measure(kind, text),
        measure=kind,
    )


def label(what: str) -> Slot:
    """Make the slot of a new label: any word that nothing else knows."""
    return Slot("label", what, fallback=lambda _, text: text, said=lambda _, text: text)


def labels(what: str) -> Slot:
    """Make the slot of new labels: a word with a capital or a digit, or of letters that have no capitals.

    A word of small letters is more likely a slip; behind the word ``label`` it is taken.
    """

    def looks_like_one(_: KnownWords, text: str) -> str | None:
        return None if text.isdecimal() or (text.islower() and not any(mark.isdigit() for mark in text)) else text

    return Slot("label", what, fallback=looks_like_one, said=lambda _, text: text, several=True)


def by_name(name: str, what: str, table: str, *, behind_only: bool = False) -> Slot:
    """Make a slot of something that the show has, by its label."""

    def find(known: KnownWords, text: str) -> str | None:
        return text if text in known.ids(table) else None

    return Slot(
        name,
        what,
        known=None if behind_only else find,
        said=find,
        offers=lambda known: known.ids(table),
    )


def _other_zone(name: str, what: str) -> Slot:
    """Make a slot of zones; the new one may name itself, where its subs are part of it."""
    return Slot(name, what, said=lambda _, text: text, offers=lambda known: known.ids("zones"), several=True)


def pairs(name: str, what: str) -> Slot:
    """Make a slot of words of the form ``left=L``."""

    def read(_: KnownWords, text: str) -> tuple[str, str] | None:
        key, mark, value = text.partition("=")
        return (key, value) if mark and key and value else None

    return Slot(name, what, known=read, several=True)


SIDE = Slot(
    "side",
    "a side",
    known=lambda known, text: text if text in known.sides else None,
    said=lambda _, text: text,
    offers=lambda known: known.sides,
)

ZONE_SLOTS = (
    word_in("front", "wedge"),
    number_after("priority", "a priority from 1"),
    quantity("distance", "a distance", Length),
    _other_zone("near", "a zone that is near"),
    _other_zone("low-end-from", "the zone of its subs"),
    pairs("signals", "a signal for a side, such as left=L"),
    label("the name of the zone"),
)


def zone(known: KnownWords, values: Values) -> Made:
    """Make a zone: ``zone delay distance 28m priority 3 left=L right=R``."""
    name = new_label(known, "zones", one(values, "label"), "zone")
    for slot in ("near", "low-end-from"):
        for other in values.get(slot, []):
            if other not in (*known.ids("zones"), name):
                near = nearest(other, known.ids("zones"))
                raise EntryError(f"expected a zone after '{slot}', got '{printable(other)}'{near}")
    plain: dict[str, Any] = {
        "id": name,
        "use": one(values, "front"),
        "priority": one(values, "priority"),
        "distance": one(values, "distance"),
        "near": values.get("near"),
        "low_end_from": values.get("low-end-from"),
        "signals": dict(values.get("signals", [])),
    }
    return Made("zones", (made(plain, Zone),))


RACK_SLOTS = (
    SIDE,
    Slot(
        "built",
        "a rack as built",
        known=lambda known, text: known.model(text, ("built_racks",)),
        said=lambda known, text: known.model(text, ("built_racks",)),
        offers=lambda known: known.models(("built_racks",)),
    ),
    number_after("units", "how many units it has room for"),
    label("the label of the rack"),
)


def rack(known: KnownWords, values: Values) -> Made:
    """Make a rack: ``rack RIGHT right units 12``; a rack as built comes with all that is in it."""
    name = new_label(known, "racks", one(values, "label"), "R")
    plain = {
        "id": name,
        "side": one(values, "side"),
        "as_built": one(values, "built"),
        "units": one(values, "units"),
    }
    return Made("racks", (made(plain, Rack),))


SUPPLY_SLOTS = (
    quantity("rating", "its rating, such as 16 A", Current),
    quantity("volts", "its volts, such as 230 V", Voltage),
    word_in("three-phase"),
    number_after("phase", "the phase that it is on, 1 to 3"),
    by_name("from", "the supply that feeds it", "supplies"),
    quantity("feeder", "the length of its feeder", Length),
    quantity("area", "the copper of its feeder, such as 16 mm²", Area),
    word_in("private", "public"),
    word_in("generator"),
    label("the label of the supply"),
)


def supply(known: KnownWords, values: Values) -> Made:
    """Make a supply: ``supply X1 32A 230V three-phase 60m 16mm²``."""
    volts = one(values, "volts") or _usual_volts(known)
    if "rating" not in values:
        raise EntryError("expected the rating and the volts of the supply, such as 'supply X1 16A 230V'")
    if volts is None:
        raise EntryError(f"{one(values, 'rating')} at how many volts? Write them too, such as 230V or 120V")
    name = one(values, "label")
    if name is None and "generator" in values:
        name = label_after("GEN-0", known.taken("supplies"))
    if ("feeder" in values) != ("area" in values):
        raise EntryError("a feeder has a length and a copper area: write both, such as '60m 16mm²'")
    plain: dict[str, Any] = {
        "id": new_label(known, "supplies", name, "X"),
        "volts": volts,
        "rating": one(values, "rating"),
        "phases": 3 if "three-phase" in values else None,
        "phase": one(values, "phase"),
        "fed_from": one(values, "from"),
        "network": one(values, "private") or ("private" if "generator" in values else None),
    }
    if "feeder" in values:
        plain["feeder"] = {"length": str(one(values, "feeder")), "area": str(one(values, "area"))}
    return Made("supplies", (made(plain, Supply),))


def _usual_volts(known: KnownWords) -> str | None:
    """Give the volts of the supplies that the show has, where they are all alike."""
    volts = {str(supply.volts) for supply in known.show.supplies if supply.across == "neutral"}
    return volts.pop() if len(volts) == 1 else None


STOCK_SLOTS = (
    Slot("count", "how many", known=lambda _, text: whole_number(text), said=lambda _, text: whole_number(text)),
    Slot(
        "model",
        "a model",
        tables=MODEL_TABLES,
        known=lambda known, text: known.model(text, MODEL_TABLES),
        said=lambda known, text: known.model(text, MODEL_TABLES),
        offers=lambda known: known.models(MODEL_TABLES),
    ),
    quantity("length", "the length of the cable", Length),
    word_in("hired", "hire"),
    Slot("from", "whom it is hired from", said=lambda _, text: text),
    Slot("due", "the day when it is due back, such as 2026-12-01", said=lambda _, text: _day(text)),
    Slot("serial", "the serial of a single item", said=lambda _, text: text),
)


def stock(_known: KnownWords, values: Values) -> Made:
    """Make a row of the stock: ``stock 6 four-core-2.5 15m``, ``stock 2 sub-18 hired from "next door"``."""
    if "model" not in values:
        raise EntryError("expected a model, such as 'stock 6 four-core-2.5 15m'")
    hired = "hired" in values or "from" in values or "due" in values
    plain: dict[str, Any] = {
        "model": one(values, "model"),
        "length": one(values, "length"),
        "hired" if hired else "owned": one(values, "count", 1),
        "hired_from": one(values, "from"),
        "due": one(values, "due"),
        "serial": one(values, "serial"),
    }
    return Made("stock", (made(plain, Stock),))


def made(plain: dict[str, Any], kind: Any) -> Any:
    """Make a thing of the fields that were said, read as the file would be. Raises DocumentError."""
    kept = {
        key: str(value) if isinstance(value, str) else value for key, value in plain.items() if value not in (None, {})
    }
    return convert(kept, kind)


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise EntryError(f"expected a day such as 2026-12-01, got '{printable(text)}'") from None
