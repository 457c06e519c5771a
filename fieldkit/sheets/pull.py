"""The pull list: what to take from the shelves and what is hired, in which cases, how heavy it gets."""

from __future__ import annotations

import re
from collections import Counter

from fieldkit.gear.cabling import Adaptor
from fieldkit.rig.signal.chain import signal_cables, way_pieces
from fieldkit.sheets.material import Material
from fieldkit.sheets.packing import Packed, PackedPiece, packed, pieces
from fieldkit.sheets.page import Cell, Column, Items, Page, Table, Words
from fieldkit.units import Length, format_number


def pull_page(material: Material) -> Page:
    """Make the page."""
    travelling = pieces(material)
    loaded = packed(material, travelling)
    rule = "Spares are by the rule of the show." if _has_rule(material) else "The show sets no rule for spares."
    counted = "In stock is what is one's own and in order. What is short is neither that nor hired."
    blocks = (
        Words((f"{rule} {counted}",)),
        _totals(material, loaded),
        _models(material, travelling),
        _cables(material, travelling),
        _places(material),
        _feeders(material),
        _signal_cables(material),
        _hired(material),
        _cases(material, loaded),
    )
    return Page("pull", "Pull list", blocks)


def _has_rule(material: Material) -> bool:
    choices = material.choices
    return any(getattr(choices, name) is not None for name in choices.__struct_fields__ if name.startswith("spare_"))


KINDS = ("adaptor", "panel", "multicore", "signal adaptor", "signal multicore, panel or split", "split")
"""What stands between cables, in the order of the list."""
COUNTS = tuple(Column(title) for title in ("used", "spare", "take", "in stock", "hired", "short"))


def _counts(piece: PackedPiece) -> tuple[Cell, ...]:
    stock = piece.owned if piece.listed else "not listed"
    return piece.used, piece.spare, piece.wanted, stock, piece.hired or None, piece.short or None


def _models(material: Material, travelling: tuple[PackedPiece, ...]) -> Table:
    columns = (Column("kind"), Column("model"), Column("description"), *COUNTS)
    rows: list[tuple[Cell, ...]] = []
    for piece in travelling:
        if not piece.length:
            description = getattr(material.model(piece.model), "description", "")
            rows.append((piece.kind, piece.model, description, *_counts(piece)))
    return Table("pull-models", "Equipment", columns, tuple(rows), keys=(0, 1), grouped=True)


def _cables(material: Material, travelling: tuple[PackedPiece, ...]) -> Table:
    columns = (Column("cable"), Column("length"), *COUNTS, Column("pieces found"))
    rows: list[tuple[Cell, ...]] = []
    for piece in travelling:
        if piece.length:
            found = Counter(piece.taken)
            listed = {
                item.length.value: item.length
                for item in material.show.stock
                if item.length and item.model == piece.model
            }
            text = ", ".join(f"{count} × {material.length(listed[length])}" for length, count in sorted(found.items()))
            rows.append((piece.model, material.length(Length(piece.length)), *_counts(piece), text))
    return Table("pull-cables", "Cables by length", columns, tuple(rows), keys=(0, 1), grouped=True)


def _places(material: Material) -> Table:
    """Say where each adaptor, panel and shared multicore goes, on loudspeaker runs and on the way of signals."""
    columns = tuple(Column(title) for title in ("kind", "model", "name", "goes to"))
    rows: dict[tuple[str, str, str], dict[str, None]] = {}
    for run in material.show.runs:
        for step in run.path:
            kind = "multicore" if step.cable else "panel" if step.panel else "adaptor"
            if step.shared or not step.cable:
                at = f"{run.id}{f' socket {step.socket}' if step.socket else ''}"
                model = step.cable or step.panel or step.adaptor or ""
                rows.setdefault((kind, model, step.shared), {})[at] = None
    for unit in material.rig.show_index.units.values():
        for entry in sorted(unit.ways, key=lambda name: (len(name), name)):
            for piece in way_pieces(unit, entry):
                adaptor = isinstance(material.model(piece), Adaptor)
                name = piece if adaptor else re.sub(r" \S*\d\S*$", "", piece)
                kind = "signal adaptor" if adaptor else "signal multicore, panel or split"
                at = f"{f'{piece.removeprefix(name).strip()} to ' if name != piece else ''}{unit.id} input {entry}"
                rows.setdefault((kind, name if adaptor else "", "" if adaptor else name), {})[at] = None
    for cable in signal_cables(material.rig):
        if cable.shares > 1:
            rows.setdefault(("split", f"1 to {cable.shares}", cable.start), {})[cable.end] = None
    found = tuple(
        (kind, model, name, ", ".join(places))
        for (kind, model, name), places in sorted(rows.items(), key=lambda row: KINDS.index(row[0][0]))
    )
    title = "Adaptors, panels, multicores and splits, and where they go"
    return Table("pull-places", title, columns, found, keys=(0, 1, 2), grouped=True, empty="none is planned")


def _feeders(material: Material) -> Table:
    """List the cables of the supplies."""
    columns = tuple(Column(title) for title in ("supply", "length", "conductor", "fed from"))
    rows = tuple(
        (supply.id, material.length(supply.feeder.length), supply.feeder.area, supply.fed_from or "not noted")
        for supply in material.show.supplies
        if supply.feeder is not None
    )
    return Table("pull-feeders", "Feeders of the supplies", columns, rows, empty="no feeder is planned")


def _signal_cables(material: Material) -> Table:
    """Count the signal cables from place to place; how long they are is not planned."""
    columns = (Column("from"), Column("to"), Column("used"), Column("of them unbalanced"))
    counts: Counter[tuple[str, str]] = Counter()
    unbalanced: Counter[tuple[str, str]] = Counter()
    for cable in signal_cables(material.rig):
        if cable.kind != "inside the rack":
            way = (
                (_holder(cable.start), _holder(cable.end))
                if cable.kind == "signal cable"
                else ("an input", "the next input")
            )
            counts[way] += 1
            unbalanced[way] += not cable.balanced
    rows = tuple((*way, count, unbalanced[way] or None) for way, count in counts.items())
    title = "Signal cables and links"
    return Table("pull-signals", title, columns, rows, keys=(0, 1), empty="no signal cable is planned")


def _holder(place: str) -> str:
    """Name what a socket is on: ``desk Matrix 1`` is on the desk, ``DP output 3`` on DP, ``multicore 3`` on it."""
    return "desk" if place.startswith("desk ") else re.sub(r"( (output|input))? \d+\b.*", "", place)


def _hired(material: Material) -> Table:
    columns = tuple(Column(title) for title in ("hired from", "model", "length", "count", "due back", "note"))
    rows = [
        (
            item.hired_from or "not noted",
            item.model,
            material.length(item.length),
            item.hired,
            item.due.isoformat() if item.due else "not noted",
            item.note,
        )
        for item in material.show.stock
        if item.hired
    ]
    rows.sort(key=lambda row: (str(row[0]), str(row[4])))
    return Table("hired", "Hired in", columns, tuple(rows), keys=(0, 1, 2), grouped=True, empty="nothing is hired")


def _cases(material: Material, loaded: tuple[Packed, ...]) -> Table:
    unit = material.mass_unit
    columns = (
        *(Column(title) for title in ("model", "pieces", "to a case", "cases")),
        Column("pieces weigh", unit),
        Column("cases weigh", unit),
    )
    rows = [
        (
            item.model,
            item.pieces,
            item.holds or "loose",
            item.cases or None,
            None if item.pieces_kg is None else material.mass(item.pieces_kg),
            material.mass(item.cases_kg) if item.cases_kg else ("not noted" if item.cases_kg is None else None),
        )
        for item in loaded
    ]
    packed = any(item.holds is not None for item in loaded)  # else each is a piece by itself, as above
    return Table("cases", "Cases and weight", columns, tuple(rows), compared=False, aside=not packed)


def _totals(material: Material, loaded: tuple[Packed, ...]) -> Items:
    known = sum((item.pieces_kg or 0.0) + (item.cases_kg or 0.0) for item in loaded)
    loose = sum(item.pieces for item in loaded if item.holds is None)
    unknown = [item.model for item in loaded if item.pieces_kg is None]
    unknown += [f"the cases of {item.model}" for item in loaded if item.cases_kg is None]
    lines = [
        (f"weight that is known: {format_number(material.mass(known), 4)} {material.mass_unit}",),
        (f"cases: {sum(item.cases for item in loaded)}; pieces without a case: {loose}",),
    ]
    if unknown:
        lines.append((f"not weighed: {', '.join(unknown)}",))
    return Items(tuple(lines), "Truck")
