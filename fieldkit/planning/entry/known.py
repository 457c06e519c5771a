"""What the words of an entry line may mean: the models of the show, its stock and the library, and what it has."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cached_property

from fieldkit.gear.library import every
from fieldkit.gear.model_file import Model
from fieldkit.planning.entry.words import EntryError, listed
from fieldkit.show.connectors import Start, starts
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Show
from fieldkit.show.usage import LABELS
from fieldkit.text.words import printable

SIDES = ("left", "right", "centre")
_MOST_SAID = 6


class KnownWords:
    """One show and the gear library, asked by words. Made anew for each show, since it keeps what it looked up."""

    def __init__(self, show: Show) -> None:
        """Keep the show."""
        self.show = show

    @cached_property
    def _carried(self) -> dict[str, Model]:
        return models_by_id(self.show)

    @cached_property
    def _library(self) -> dict[str, tuple[str, Model]]:
        return {entry.model.id: (f"{entry.kind}s", entry.model) for entry in every()}

    def models(self, tables: Iterable[str]) -> dict[str, Model]:
        """List the models of some tables, those of the show first."""
        found = {model.id: model for table in tables for model in getattr(self.show, table)}
        for name, (table, model) in self._library.items():
            if table in tables:
                found.setdefault(name, model)
        return found

    def model(self, word: str, tables: tuple[str, ...]) -> str | None:
        """Find a model by its name or by pieces of it: ``sub-18`` is ``sub-single-18-inch`` where no other fits.

        A model that the show has goes before those of the library. None where none fits. Raises EntryError where
        several do.
        """
        models = self.models(tables)
        if word in models:
            return word
        fitting = [name for name in models if _fits(word, name)]
        own = [name for name in fitting if name in self._carried] or fitting
        if len(own) > 1:
            said = f"{', '.join(own[:_MOST_SAID])}, …" if len(own) > _MOST_SAID else listed(own)
            raise EntryError(f"'{printable(word)}' may be {said}: write more of it")
        return own[0] if own else None

    def nearly(self, words: Iterable[str], tables: tuple[str, ...]) -> list[str]:
        """List the models that words may have meant, but for capitals, an ending or a slip of a finger."""
        import difflib

        models, said = list(self.models(tables)), [word for word in words if word and len(word) > 2]
        meant = [name for name in models if any(_fits(word.casefold().removesuffix("s"), name) for word in said)]
        begun = {name.removesuffix("-inch"): name for name in models}
        close = [found for word in said for found in difflib.get_close_matches(word[:80], begun, n=1, cutoff=0.75)]
        return meant[:_MOST_SAID] or [begun[found] for found in close]

    @cached_property
    def sides(self) -> tuple[str, ...]:
        """Sides: the usual ones, and those in use."""
        used = [box.side for box in self.show.boxes] + [side for zone in self.show.zones for side in zone.signals]
        return tuple(dict.fromkeys((*SIDES, *(side for side in used if side))))

    def ids(self, table: str) -> tuple[str, ...]:
        """List the labels of a table."""
        return tuple(thing.id for thing in getattr(self.show, table))

    def taken(self, table: str) -> frozenset[str]:
        """List the labels that a new thing of a table may not have: zones have their own, all else shares."""
        tables = ("zones",) if table == "zones" else tuple(name for name in LABELS if name != "zones")
        return frozenset(thing.id for name in tables for thing in getattr(self.show, name))

    @cached_property
    def starts(self) -> dict[str, Start]:
        """Connectors that a run can start from, by name."""
        return {start.name: start for start in starts(self.show)}


def _fits(word: str, name: str) -> bool:
    """Tell whether each piece of a word begins a piece of the name, in the same order.

    Capitals count: ``TW`` is a label, and none of the models of two ways.
    """
    wanted = [piece for piece in re.split(r"[-_ ]", word) if piece]
    pieces = iter(re.split(r"[-_ ]", name))
    return bool(wanted) and all(any(piece.startswith(part) for piece in pieces) for part in wanted)
