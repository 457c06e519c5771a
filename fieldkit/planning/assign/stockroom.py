"""The shelf that a proposal takes cables, adaptors and panels from: what is free, assumed, short."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from copy import copy
from math import ceil

import msgspec

from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.library import every
from fieldkit.planning.assign.patterns import Fittings
from fieldkit.planning.assign.sources import UNLIMITED, free_stock
from fieldkit.show.document import Run, Show, Step
from fieldkit.units import Length


class ShelfPiece(msgspec.Struct, frozen=True, gc=False):
    """A length of cable."""

    cable: Cable
    length: Length
    in_stock: bool
    """False for a cable of which the show has no stock list: any length is assumed."""


def fittings_of(show: Show) -> Fittings:
    """List the cables, adaptors and panels that are available.

    What the stock names counts. A kind that the stock does not name at all is taken as not planned yet: then the
    show's models, and after them the gear library's, are assumed to be had.
    """
    lengths = {item.model for item in show.stock if item.length is not None}
    counted = {item.model for item in show.stock if item.length is None}
    cables = [model for model in show.cables if model.id in lengths]
    adaptors = [model for model in show.adaptors if model.id in counted]
    panels = tuple(model for model in show.panels if model.id in counted) or show.panels
    assumed: list[Cable | Adaptor] = []
    library = [entry.model for entry in every()] if not cables or not adaptors else []
    if not cables:
        gauges = show.about.electrical_rules == "nfpa"  # where the show is at home says how its copper is sized
        sized = (model for model in library if isinstance(model, Cable) and (model.area.awg is not None) == gauges)
        assumed += _merged(show.cables, sized)
    if not adaptors:
        assumed += _merged(show.adaptors, (model for model in library if isinstance(model, Adaptor)))
    return Fittings(
        (*cables, *(model for model in assumed if isinstance(model, Cable))),
        (*adaptors, *(model for model in assumed if isinstance(model, Adaptor))),
        panels,
    )


def _merged(own: Iterable[Cable | Adaptor], library: Iterable[Cable | Adaptor]) -> list[Cable | Adaptor]:
    """Add to the show's own models those of the library that do something else."""
    models = list(own)
    known = {model.id for model in models} | {_does(model) for model in models}
    return models + [model for model in library if not {model.id, _does(model)} & known]


def _does(model: Cable | Adaptor) -> tuple[object, ...]:
    """Say what a model does: cores or pins between which connectors."""
    cores = model.cores if isinstance(model, Cable) else 0
    return (cores, model.connectors, tuple(sorted(model.pins.items())))


class Stockroom:
    """Cables by the piece, adaptors and panels by number; what is taken is gone."""

    def __init__(self, show: Show, fittings: Fittings) -> None:
        self.fittings = fittings
        self._parts = dict(free_stock(show))
        self._lengths: dict[str, list[Length]] = {}
        for item in show.stock:
            if item.length is not None:
                free = item.owned + item.hired - item.out
                self._lengths.setdefault(item.model, []).extend([item.length] * free)
        for lengths in self._lengths.values():
            lengths.sort(key=lambda length: length.value)
        self._shared: set[tuple[str, str]] = set()
        for cable, length in _cables_used(show):
            self._remove(cable, length)
        self.assumed: dict[str, None] = {}
        """What was taken without a stock list that has it."""
        self.missing: Counter[str] = Counter()
        """What was needed and not there: by model, or by length and model of a cable."""

    def copied(self) -> Stockroom:
        """Return another shelf with the same on it."""
        other = copy(self)
        other._parts = dict(self._parts)  # noqa: SLF001  # of its own class
        other._lengths = {cable: list(lengths) for cable, lengths in self._lengths.items()}  # noqa: SLF001
        other._shared = set(self._shared)  # noqa: SLF001
        other.assumed = dict(self.assumed)
        other.missing = Counter(self.missing)
        return other

    def take_over(self, other: Stockroom) -> None:
        """Take what was taken from another shelf that had the same on it."""
        self.__dict__ |= vars(other)

    def _remove(self, cable: str, length: Length) -> None:
        """Take the shortest piece off the shelf that could be this one."""
        pieces = self._lengths.get(cable, [])
        place = next((index for index, piece in enumerate(pieces) if piece.value >= length.value * 0.999), None)
        if place is not None:
            pieces.pop(place)

    def pieces(self, cable: Cable, length_m: float) -> list[ShelfPiece]:
        """List what could be taken of a cable for a length, the shortest that reaches first; or nothing."""
        if cable.id not in self._lengths:
            return [ShelfPiece(cable, Length.of(float(max(1, ceil(length_m - 1e-9)))), in_stock=False)]
        reaching = [piece for piece in self._lengths[cable.id] if piece.value >= length_m * 0.999]
        return [ShelfPiece(cable, length, in_stock=True) for length in dict.fromkeys(reaching)]

    def longest(self, cable: Cable) -> ShelfPiece | None:
        """Return the longest piece of a cable that is left."""
        left = self._lengths.get(cable.id, [])
        return ShelfPiece(cable, left[-1], in_stock=True) if left else None

    def under(self, cable: Cable, length_m: float) -> list[ShelfPiece]:
        """List the pieces of a cable that do not reach, the longest first."""
        lengths = dict.fromkeys(length for length in reversed(self._lengths.get(cable.id, [])))
        return [ShelfPiece(cable, length, in_stock=True) for length in lengths if length.value < length_m * 0.999]

    def pairs(self, cable: Cable, length_m: float) -> Iterator[tuple[ShelfPiece, ShelfPiece]]:
        """List two pieces of a cable that reach together where neither does alone; without a useless one."""
        lengths = self._lengths.get(cable.id, [])
        short = [length for length in dict.fromkeys(lengths) if length.value < length_m * 0.999]
        for place, second in enumerate(short):
            for first in short[place:]:
                enough = first.value + second.value >= length_m * 0.999
                if enough and (first != second or lengths.count(first) > 1):
                    yield ShelfPiece(cable, first, in_stock=True), ShelfPiece(cable, second, in_stock=True)
                    break

    def coupler(self, cable: Cable) -> str:
        """Name the adaptor that joins two pieces of a cable, all pairs through; empty where there is none."""
        ends = cable.connectors
        pairs = [str(number) for number in range(1, cable.cores // 2 + 1)]
        for adaptor in self.fittings.adaptors:
            meets = not ends or (adaptor.connectors[:1] == ends[-1:] and adaptor.connectors[-1:] == ends[:1])
            if meets and all(adaptor.far_pair(pair) == pair for pair in pairs) and self.has_part(adaptor.id):
                return adaptor.id
        return ""

    def lists(self, name: str) -> bool:
        """Tell whether the stock names an adaptor or panel at all."""
        return name in self._parts

    def left(self, name: str, length: Length | None) -> int:
        """Count what is left of an adaptor, or of a length of cable."""
        if length is None:
            return self._parts.get(name, UNLIMITED)
        return self._lengths[name].count(length)

    def take(self, piece: ShelfPiece) -> None:
        """Take a piece."""
        if piece.in_stock:
            self._lengths[piece.cable.id].remove(piece.length)
        else:
            self.assumed[piece.cable.id] = None

    def claim(self, run: Run) -> None:
        """Take what a run that stays is made of; what several share is taken once."""
        for step in run.path:
            name = step.cable or step.adaptor or step.panel or ""
            if step.shared and (step.shared, name) in self._shared:
                continue
            self._shared.add((step.shared, name))
            if step.cable is not None and step.length is not None:
                self._remove(step.cable, step.length)
            elif step.cable is None:
                self.take_part(name)

    def has_part(self, name: str) -> bool:
        """Tell whether an adaptor or panel is left; one that no stock list names always is."""
        return self._parts.get(name, 1) > 0

    def take_part(self, name: str) -> None:
        """Take an adaptor or panel; what is not there is short."""
        if name not in self._parts:
            self.assumed[name] = None
        elif self._parts[name] > 0:
            self._parts[name] -= 1
        else:
            self.missing[name] += 1

    def limited_parts(self) -> Mapping[str, int]:
        """Say how many adaptors and panels are left of those that the stock names."""
        names = (model.id for kind in (self.fittings.adaptors, self.fittings.panels) for model in kind)
        return {name: self._parts[name] for name in names if name in self._parts}

    def panel(self, name: str) -> Panel:
        """Find a panel that can be had by its name."""
        return next(panel for panel in self.fittings.panels if panel.id == name)


def _cables_used(show: Show) -> list[tuple[str, Length]]:
    """List the cables of all runs, longest first; what several share is counted once."""
    used: list[tuple[str, Length]] = []
    shared: set[tuple[str, str]] = set()
    for run in show.runs:
        for step in run.path:
            if step.cable is None or step.length is None or (step.shared and (step.shared, step.cable) in shared):
                continue
            shared.add((step.shared, step.cable))
            used.append((step.cable, step.length))
    return sorted(used, key=lambda item: -item[1].value)


def with_models_used(show: Show, fittings: Fittings) -> Show:
    """Copy the models that the paths name, and the show lacks, into it."""
    named = {name for run in show.runs for step in run.path for name in _names(step)}
    added = {}
    for table, models in (("cables", fittings.cables), ("adaptors", fittings.adaptors), ("panels", fittings.panels)):
        carried = {model.id for model in getattr(show, table)}
        lacking = tuple(model for model in models if model.id in named and model.id not in carried)
        if lacking:
            added[table] = (*getattr(show, table), *lacking)
    return msgspec.structs.replace(show, **added) if added else show


def _names(step: Step) -> list[str]:
    return [name for name in (step.cable, step.adaptor, step.panel) if name is not None]
