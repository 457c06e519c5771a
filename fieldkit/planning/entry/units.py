"""The entry of amplifiers and processors: ``amp four-channel RIGHT-1 rack RIGHT``."""

from __future__ import annotations

from typing import Any

import msgspec

from fieldkit.planning.entry.known import KnownWords
from fieldkit.planning.entry.made import Made
from fieldkit.planning.entry.places import by_name, labels, made, number_after, pairs
from fieldkit.planning.entry.slots import Slot, Values, one
from fieldkit.planning.entry.words import MOST, EntryError, labels_in, whole_number
from fieldkit.show.document import Rack, RackUnit
from fieldkit.show.labels import label_after
from fieldkit.text.words import counted, printable


def _slots(table: str, what: str) -> tuple[Slot, ...]:
    return (
        Slot("count", "how many", known=lambda _, text: whole_number(text)),
        msgspec.structs.replace(by_name("rack", "the rack", "racks"), said=lambda _, text: text),
        by_name("supply", "the supply", "supplies"),
        Slot(
            "model",
            f"a model of {what}",
            tables=(table,),
            known=lambda known, text: known.model(text, (table,)),
            said=lambda known, text: known.model(text, (table,)),
            offers=lambda known: known.models((table,)),
        ),
        number_after("unit", "the lowest rack unit that it takes"),
        number_after("phase", "the phase, 1 to 3"),
        Slot("bridged", "a pair of channels such as 1+2", said=lambda _, text: text, several=True),
        pairs("inputs", "what goes into an input, such as 1=L"),
        labels("its label"),
    )


AMPLIFIER_SLOTS = _slots("amplifiers", "amplifier")
PROCESSOR_SLOTS = _slots("processors", "processor")


def rack_of(known: KnownWords, values: Values) -> tuple[str | None, tuple[tuple[str, Any], ...]]:
    """Read the rack; one that is not there yet is made."""
    name = one(values, "rack")
    if name is None or name in known.ids("racks"):
        return name, ()
    if name in known.taken("racks"):
        raise EntryError(f"'{printable(name)}' is no rack; the label is already used")
    return name, (("racks", made({"id": name}, Rack)),)


def units(known: KnownWords, values: Values) -> Made:
    """Make amplifiers or processors, in their rack where one is named."""
    if "model" not in values:
        raise EntryError("which model? Write its name or pieces of it")
    rack, new = rack_of(known, values)
    table = "processors" if one(values, "model") in known.models(("processors",)) else "amplifiers"
    names = _labels(known, values, rack, table)
    if len(names) > 1 and "unit" in values:
        raise EntryError("one rack unit is said for several: add them one by one, or leave it out")
    plain: dict[str, Any] = {
        "model": one(values, "model"),
        "rack": rack,
        "unit": one(values, "unit"),
        "supply": one(values, "supply"),
        "phase": one(values, "phase"),
        "bridged": values.get("bridged"),
        "inputs": dict(values.get("inputs", [])),
    }
    return Made("rack_units", tuple(made({"id": name} | plain, RackUnit) for name in names), new)


def _labels(known: KnownWords, values: Values, rack: str | None, table: str) -> list[str]:
    count = one(values, "count")
    said = values.get("label", [])
    labels = [name for text in said for name in labels_in(text, (count or 1) if len(said) == 1 else None)]
    if not labels:
        models = known.models((table,))
        alike = [unit.id for unit in known.show.rack_units if unit.rack == rack and unit.model in models]
        first = "A0" if table == "amplifiers" else "DP0"
        labels = [label_after((alike or [f"{rack}-0" if rack else first])[-1], known.taken("rack_units"))]
    wanted = count or len(labels)
    if wanted > MOST:
        raise EntryError(f"expected at most {MOST} units in a line, got {wanted}")
    while len(labels) < wanted and len(said) <= 1:
        labels.append(label_after(labels[-1], {*known.taken("rack_units"), *labels}))
    if len(labels) != wanted or count == 0:
        raise EntryError(f"{counted(wanted if count else 0, 'unit')}, and {counted(len(labels), 'label')}")
    for name in labels:
        if name in known.taken("rack_units") or labels.count(name) > 1:
            raise EntryError(f"the label '{printable(name)}' is already used")
    return labels
