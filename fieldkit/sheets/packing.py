"""What travels: how many of each model with spares, which pieces of cable, how many cases, how heavy."""

from __future__ import annotations

import math
from collections import Counter

import msgspec

from fieldkit.checks.stock import laid, used_cables, used_models
from fieldkit.gear.cabling import Cable
from fieldkit.sheets.material import Material
from fieldkit.show.document import Model, SheetChoices, Stock
from fieldkit.units import Length, Ratio

KINDS = {
    "loudspeakers": "boxes",
    "amplifiers": "amplifiers",
    "processors": "processors",
    "built_racks": "racks as built",
    "panels": "panels",
    "adaptors": "adaptors",
}
"""Tables of models that are counted one by one, and what they are called on paper; cables go by length."""


class PackedPiece(msgspec.Struct, frozen=True):
    """So many of a model; of a cable, of one length."""

    kind: str
    model: str
    length: str
    """As planned and as typed; empty for all but cables."""
    used: int
    spare: int
    listed: bool
    """Whether the stock names this model at all."""
    owned: int
    """One's own that are in order; of a cable, pieces of this very length."""
    hired: int
    """Hired ones that are in order, counted alike."""
    found: int
    """What may be taken: of a cable, the pieces that reach and that no other row takes."""
    taken: tuple[float, ...] = ()
    """Lengths of the pieces found [m]."""

    @property
    def wanted(self) -> int:
        """With spares."""
        return self.used + self.spare

    @property
    def short(self) -> int | None:
        """How many are not there; None where the stock does not name the model."""
        return max(0, self.wanted - self.found) if self.listed else None


class Packed(msgspec.Struct, frozen=True):
    """A model as it is loaded."""

    model: str
    pieces: int
    holds: int | None
    """To a case; None for what travels loose."""
    cases: int
    pieces_kg: float | None
    """None where the model does not say."""
    cases_kg: float | None


def spares(share: Ratio | None, used: int) -> int:
    """Compute the number of spares for a number in use: the share of it, rounded up to whole pieces."""
    return math.ceil(round((share.value if share else 0.0) * used, 9))


def pieces(material: Material) -> tuple[PackedPiece, ...]:
    """List everything that travels, kind by kind."""
    return (*_counted(material), *_cables(material))


def _counted(material: Material) -> list[PackedPiece]:
    used = used_models(material.rig)
    own: Counter[str] = Counter()
    hired: Counter[str] = Counter()
    for item in material.show.stock:
        if item.length is None:
            own[item.model] += own_in_order(item)
            hired[item.model] += hired_in_order(item)
    found = []
    for table, kind in KINDS.items():
        share = _share(table, material.choices)
        for model in getattr(material.show, table):
            count = used[model.id]
            if count:
                spare = spares(share, count)
                mine, theirs = own[model.id], hired[model.id]
                found.append(
                    PackedPiece(kind, model.id, "", count, spare, model.id in own, mine, theirs, mine + theirs)
                )
    unknown = sum(box.model is None for box in material.show.boxes)
    if unknown:
        found.append(PackedPiece("boxes", "no data sheet", "", unknown, 0, listed=False, owned=0, hired=0, found=0))
    return found


def own_in_order(item: Stock) -> int:
    """Count one's own pieces of a row of the stock that are in order; what is out of service is taken from these."""
    return max(0, item.owned - item.out)


def hired_in_order(item: Stock) -> int:
    """Count the hired pieces of a row of the stock that are in order."""
    return max(0, item.owned + item.hired - item.out) - own_in_order(item)


def _share(table: str, choices: SheetChoices) -> Ratio | None:
    return getattr(choices, f"spare_{table}", None)


def _cables(material: Material) -> list[PackedPiece]:
    found = []
    for model, lengths in used_cables(material.rig).items():
        stock = [
            item.length.value
            for item in material.show.stock
            if item.model == model and item.length is not None
            for _ in range(item.owned + item.hired - item.out)
        ]
        listed = any(item.model == model and item.length is not None for item in material.show.stock)
        kinds = Counter(text for _, text in lengths)
        extra = {text: spares(material.choices.spare_cables, count) for text, count in kinds.items()}
        first = laid(lengths, stock)
        for _, piece in first:
            if piece is not None:
                stock.remove(piece)
        more = laid([(Length(text).value, text) for text, count in extra.items() for _ in range(count)], stock)
        for text, count in kinds.items():
            taken = tuple(piece for name, piece in (*first, *more) if name == text and piece is not None)
            same = [item for item in material.show.stock if item.model == model and _is_long(item, text)]
            own, hired = sum(map(own_in_order, same)), sum(map(hired_in_order, same))
            found.append(PackedPiece("cables", model, text, count, extra[text], listed, own, hired, len(taken), taken))
    return found


def _is_long(item: Stock, length: str) -> bool:
    """Tell whether a row of the stock is of this very length, whatever unit either was typed in."""
    return item.length is not None and math.isclose(item.length.value, Length(length).value, rel_tol=1e-3)


def packed(material: Material, travelling: tuple[PackedPiece, ...]) -> tuple[Packed, ...]:
    """Put what travels into its cases, model by model."""
    count: Counter[str] = Counter()
    metres: dict[str, float] = {}
    for piece in travelling:
        count[piece.model] += piece.wanted
        if piece.length:
            # What the stock has no piece for counts with the planned length.
            missing = (piece.wanted - len(piece.taken)) * Length(piece.length).value
            metres[piece.model] = metres.get(piece.model, 0.0) + sum(piece.taken) + missing
    return tuple(_packed(name, number, metres.get(name), material.model(name)) for name, number in count.items())


def _packed(name: str, number: int, metres: float | None, model: Model | None) -> Packed:
    case = model.case if model is not None else None
    cases = math.ceil(number / case.holds) if case else 0
    weight = getattr(model, "weight", None)
    own = None
    if weight is not None:
        own = weight.value * (metres or 0.0) if isinstance(model, Cable) else weight.value * number
    cases_kg = 0.0 if case is None else (case.weight.value * cases if case.weight else None)
    return Packed(name, number, case.holds if case else None, cases, own, cases_kg)


def goes_to(item: Stock) -> str:
    """Say who gets the pieces of a row of stock when the show is over."""
    lender = item.hired_from or "the hire company (not noted)"
    if item.hired and item.owned:
        return f"own, and {item.hired} to {lender}"
    return lender if item.hired else "own"


def gone(material: Material, travelling: tuple[PackedPiece, ...]) -> list[tuple[Stock, int]]:
    """Say how many of each row of the stock are on the truck: all that is hired, and of one's own what is needed."""
    needed: Counter[tuple[str, float | None]] = Counter()
    for piece in travelling:
        if piece.length:
            needed.update((piece.model, round(length, 6)) for length in piece.taken)
        else:
            needed[piece.model, None] += piece.wanted
    serials = {(box.model, box.serial) for box in material.show.boxes if box.serial}
    serials |= {(unit.model, unit.serial) for unit in material.rig.show_index.units.values() if unit.serial}
    # First what is certain: single items that the plan names, and all that is hired.
    first = [
        max(item.hired, 1 if item.serial and (item.model, item.serial) in serials else 0)
        for item in material.show.stock
    ]
    keys = [(item.model, round(item.length.value, 6) if item.length else None) for item in material.show.stock]
    for key, count in zip(keys, first, strict=True):
        needed[key] -= count
    result = []
    for item, key, certain in zip(material.show.stock, keys, first, strict=True):
        in_order = max(0, item.owned + item.hired - item.out)
        more = min(max(0, in_order - certain), max(0, needed[key]))
        needed[key] -= more
        result.append((item, certain + more))
    return result
