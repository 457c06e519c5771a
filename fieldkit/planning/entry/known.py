"""What the words of an entry line may mean: the models of the show, its stock and the library, and what it has."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cached_property

from fieldkit.gear.library import every
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.model_file import Model
from fieldkit.planning.entry.words import NUMBERS, EntryError, listed
from fieldkit.rig.connect.uses import is_sub
from fieldkit.show.connectors import Start, starts
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Show
from fieldkit.show.usage import LABELS
from fieldkit.text.words import printable

SIDES = ("left", "right", "centre")
_MOST_SAID = 6
ROLES = {
    word: role
    for role, words in {
        "top": ("top", "tops"),
        "sub": ("sub", "subs"),
        "wedge": ("wedge", "wedges", "monitor", "monitors"),
    }.items()
    for word in words
}
"""What people call boxes by what they are for, and what that is."""
_PARTS = re.compile(r"[^\W\d_]+|[0-9]+(?:\.[0-9]+)?")


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
        if word in models or word in NUMBERS:
            return word if word in models else None
        fitting = [name for name in models if _fits(word, name)] or [
            name for name in models if any(mark.isdigit() for mark in word) and _fits_in_parts([word], name)
        ]
        return self._only(word, fitting)

    def joined(self, words: Sequence[str], tables: tuple[str, ...]) -> str | None:
        """Find the only model that several words name together: ``two-way 12``; None where none fits, or several."""
        fitting = [name for name in self.models(tables) if _fits_in_parts(words, name)]
        own = [name for name in fitting if name in self._carried] or fitting
        return own[0] if len(own) == 1 else None

    def in_role(self, word: str) -> list[str]:
        """List the models that *tops*, *subs* or *wedges* may be."""
        models = self.models(("loudspeakers",))
        return [name for name in models if _role_of(models[name]) == ROLES[word]]

    def of_role(self, word: str) -> str | None:
        """Find the model that *tops*, *subs* or *wedges* are, where there is one in the show, else in the library.

        Raises EntryError where there are several.
        """
        return self._only(word, self.in_role(word))

    def _only(self, word: str, fitting: list[str]) -> str | None:
        """Take the one that fits, those of the show before others. Raises EntryError where several do."""
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


def _fits_in_parts(words: Sequence[str], name: str) -> bool:
    """Tell whether the parts of words are parts of a name, each of another: ``2way12``, ``two-way 12``.

    A number is there whole, a word by its beginning of three letters. What begins with a number has the order of the
    name, since in ``12 two-way`` there are twelve.
    """
    wanted = [_plain(part) for word in words for part in _PARTS.findall(word)]
    parts = [_plain(part) for part in _PARTS.findall(name)]
    if wanted and wanted[0].isdigit() and not any(" " in word for word in words[:1]):
        return wanted == parts[: len(wanted)]
    for want in wanted:
        found = next((part for part in parts if part == want or (len(want) > 2 and part.startswith(want))), None)
        if found is None or (found != want and want.isdigit()):
            return False
        parts.remove(found)
    return bool(wanted)


def _plain(part: str) -> str:
    """Write a number as digits, and no plural."""
    if part in NUMBERS:
        return str(NUMBERS.index(part))
    if part == "in":
        return "inch"
    return part.removesuffix("s") if len(part) > 3 and not part.endswith("ss") else part


def _role_of(model: Model) -> str:
    """Say what people call a model by what it is for."""
    if not isinstance(model, Loudspeaker):
        return ""
    if is_sub(model):
        return "sub"
    on_stage = [any(use.startswith("wedge") for use in preset.uses) for preset in model.presets]
    return "wedge" if "wedge" in model.id or (on_stage and all(on_stage)) else "top"
