"""The entry of boxes: ``4 two-way-12 mains left bi-amp ML1-4``, words in any order."""

from __future__ import annotations

from typing import Any, get_args

from fieldkit.gear.loudspeaker import Drive
from fieldkit.planning.entry.known import ROLES, KnownWords
from fieldkit.planning.entry.made import Made
from fieldkit.planning.entry.places import by_name, labels, made, quantity, word_in
from fieldkit.planning.entry.slots import Slot, Values, one
from fieldkit.planning.entry.words import MOST, EntryError, labels_in, listed, whole_number
from fieldkit.show.document import Box, Zone
from fieldkit.show.labels import label_after, side_of_label
from fieldkit.text.words import counted, nearest, printable
from fieldkit.units import Impedance, Power

DRIVES: tuple[str, ...] = get_args(Drive)


def _zone_known(known: KnownWords, text: str) -> str | None:
    return text if text in known.ids("zones") else None


def _zone_new(known: KnownWords, text: str) -> str | None:
    """Take a word without capitals and digits as the name of a new zone, unless it is nearly something else."""
    if any(mark.isdigit() or mark.isupper() for mark in text):
        return None
    begun = [name for name in known.ids("zones") if name.startswith(text)]
    if begun:
        raise EntryError(f"'{printable(text)}': {begun[0]}? Write it whole, or 'zone {printable(text)}' for a new zone")
    near = nearest(text, [*known.ids("zones"), *known.sides, *DRIVES])
    if "did you mean" in near:
        raise EntryError(f"'{printable(text)}' is not understood{near} 'zone {printable(text)}' makes a new zone")
    return text


BOX_SLOTS = (
    Slot("count", "how many", known=lambda _, text: whole_number(text)),
    Slot("zone", "a zone", known=_zone_known, fallback=_zone_new, said=lambda _, text: text,
         offers=lambda known: known.ids("zones")),
    Slot("side", "a side", known=lambda known, text: text if text in known.sides else None,
         said=lambda _, text: text, offers=lambda known: known.sides, several=True),
    word_in("each"),
    Slot("drive", "a drive", known=lambda _, text: text if text in DRIVES else None, offers=lambda _: DRIVES),
    Slot("reach", "how it is reached", known=lambda _, text: text if text in ("flown", "ladder") else None,
         offers=lambda _: ("flown", "ladder")),
    Slot("role", "what they are for", known=lambda _, text: text if text in ROLES else None),
    Slot("model", "a model of loudspeaker", tables=("loudspeakers",),
         known=lambda known, text: known.model(text, ("loudspeakers",)),
         said=lambda known, text: known.model(text, ("loudspeakers",)),
         offers=lambda known: known.models(("loudspeakers",))),
    quantity("ohms", "the ohms of a box that no library knows", Impedance),
    quantity("watts", "its watts", Power),
    by_name("supply", "the supply of a self-powered box", "supplies", behind_only=True),
    labels("labels such as ML1-4"),
)  # fmt: skip


def boxes(known: KnownWords, values: Values) -> Made:
    """Make boxes. Several sides share them out; ``each`` puts that many on each side."""
    zone = one(values, "zone") or _zone_in_role(known, one(values, "role"))
    if zone is None:
        label = printable(next(iter(values.get("label", [])), ""))
        taken_for = f"; '{label}' is taken for a label: 'zone {label}' makes it a zone" if label else ", such as mains"
        raise EntryError(f"in which zone? Write its name{taken_for}")
    model = _model(known, values)
    sides = values.get("side", [])
    if "each" in values and not sides:
        sides = ["left", "right"]
    names = _said_labels(values, len(sides) if "each" in values else 1)
    count = len(names) or one(values, "count", 1) * (len(sides) if "each" in values else 1)
    spread = _spread(sides, count)
    taken = known.taken("boxes")
    if not names:
        names = _new_labels(known, zone, spread, taken)
    elif not sides:
        spread = _sides_of(known, zone, names)
    for name in names:
        if name in taken or names.count(name) > 1:
            raise EntryError(f"the label '{printable(name)}' is already used")
    plain: dict[str, Any] = {
        **model,
        "zone": zone,
        "drive": one(values, "drive"),
        "reach": one(values, "reach"),
        "supply": one(values, "supply"),
    }
    things = tuple(made({"id": name, "side": side} | plain, Box) for name, side in zip(names, spread, strict=True))
    new = () if zone in known.ids("zones") else (("zones", made({"id": zone}, Zone)),)
    return Made("boxes", things, new)


def _zone_in_role(known: KnownWords, role: str | None) -> str | None:
    """Find the only zone that is named by what boxes are for, in the singular or not; else the word names a new one."""
    alike = [name for name in known.ids("zones") if role is not None and ROLES.get(name) == ROLES[role]]
    return alike[0] if len(alike) == 1 else role


def _model(known: KnownWords, values: Values) -> dict[str, Any]:
    """Read what the boxes are: a model, or the ohms and watts of a box that no library knows."""
    model, measured = one(values, "model"), [name for name in ("ohms", "watts") if name in values]
    if model is not None and measured:
        raise EntryError(f"{printable(model)} has its own ohms and watts: write the model, or the ohms and watts alone")
    if len(measured) == 1:
        raise EntryError(f"the {measured[0]} alone are not enough: a box without a model has both, such as 8ohm 250W")
    if measured:
        return {"unknown": {"impedance": str(one(values, "ohms")), "continuous": str(one(values, "watts"))}}
    if model is not None and "zone" in values and "role" in values and model not in known.in_role(one(values, "role")):
        raise EntryError(f"{printable(model)} is no {ROLES[one(values, 'role')]}: write the model, or what it is for")
    role = one(values, "role") or one(values, "zone", "")
    if model is None and role in ROLES:
        model = known.of_role(role)
    if model is None:
        meant = known.nearly((one(values, "zone"), *values.get("label", [])), ("loudspeakers",))
        near = f", such as {listed(meant)}" if meant else ""
        raise EntryError(f"which model? Write its name or pieces of it{near}, or ohms and watts such as 8ohm 250W")
    return {"model": model}


def _said_labels(values: Values, sides: int) -> list[str]:
    """Read the labels of the line; one label and a count go on from it."""
    count = one(values, "count")
    wanted = None if count is None else count * sides
    said = values.get("label", [])
    labels = [name for text in said for name in labels_in(text, wanted if len(said) == 1 else None)]
    if len(labels) == 1 and wanted is not None:
        while len(labels) < wanted:
            labels.append(label_after(labels[-1], labels))
    if labels and wanted is not None and len(labels) != wanted:
        raise EntryError(
            f"{counted(wanted, 'box')}, and {counted(len(labels), 'label')}: {printable(' '.join(labels))}"
        )
    if (wanted or len(labels)) > MOST:
        raise EntryError(f"expected at most {MOST} boxes in a line, got {wanted or len(labels)}")
    if wanted == 0:
        raise EntryError("expected 1 box or more, got 0")
    return labels


def _spread(sides: list[str], count: int) -> list[str]:
    """Share boxes out over the sides, the first side's first."""
    if not sides:
        return [""] * count
    if count % len(sides):
        raise EntryError(f"{counted(count, 'box')} cannot be shared by {' and '.join(sides)}; 'each' puts all on each")
    return [side for side in sides for _ in range(count // len(sides))]


def _sides_of(known: KnownWords, zone: str, labels: list[str]) -> list[str]:
    """Read sides from labels, where they name two of them, or where each box of the zone has a side."""
    found = [side_of_label(known.show, name) or "" for name in labels]
    others = [box.side for box in known.show.boxes if box.zone == zone]
    if all(found) and (len(set(found)) > 1 or (others and all(others))):
        return found
    return [""] * len(labels)


def _new_labels(known: KnownWords, zone: str, spread: list[str], taken: frozenset[str]) -> list[str]:
    """Go on from the labels of the zone and side; the first are named by the zone's and the side's initials."""
    labels: list[str] = []
    for side in spread:
        alike = [box.id for box in known.show.boxes if box.zone == zone and box.side == side]
        initials = "".join(part[0] for part in zone.split("-") if part).upper() + side[:1].upper()
        mine = [name for name, at in zip(labels, spread, strict=False) if at == side]
        labels.append(label_after((mine or alike or [f"{initials}0"])[-1], {*taken, *labels}))
    return labels
