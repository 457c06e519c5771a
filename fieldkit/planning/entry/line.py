"""The entry line: what kinds of things it adds, one line read into a show, and a word of it finished.

A kind is declared once, in ``KINDS``; its help, the words that are offered, and the reading come from there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import msgspec

from fieldkit.errors import FieldkitError
from fieldkit.gear.library import find as find_model
from fieldkit.planning.entry.boxes import BOX_SLOTS, boxes
from fieldkit.planning.entry.known import ROLES, KnownWords
from fieldkit.planning.entry.made import Made
from fieldkit.planning.entry.places import (
    RACK_SLOTS,
    STOCK_SLOTS,
    SUPPLY_SLOTS,
    ZONE_SLOTS,
    rack,
    stock,
    supply,
    zone,
)
from fieldkit.planning.entry.runs import offered_on, run
from fieldkit.planning.entry.slots import Slot, Values, fill, offered, passed_over
from fieldkit.planning.entry.units import AMPLIFIER_SLOTS, PROCESSOR_SLOTS, units
from fieldkit.planning.entry.words import EntryError, EntryWord, split, whole_number
from fieldkit.show.borrowing import borrowed
from fieldkit.show.document import Show, Stock
from fieldkit.show.edits import with_thing
from fieldkit.units import Length


class EntryKind(msgspec.Struct, frozen=True):
    """One kind of thing that a line adds."""

    words: tuple[str, ...]
    """The word that the line begins with, and others for it; none for boxes."""
    example: str
    slots: tuple[Slot, ...] = ()
    make: Callable[[KnownWords, Values], Made] | None = None
    """Makes it of its slots; a run is read in the order of its words instead."""


KINDS = (
    EntryKind((), "4 two-way-12 mains left bi-amp ML1-4", BOX_SLOTS, boxes),
    EntryKind(
        ("amp", "amplifier", "amps", "amplifiers"), "amp four-channel RIGHT-1 rack RIGHT", AMPLIFIER_SLOTS, units
    ),
    EntryKind(("processor", "processors"), "processor two-by-six DP rack RIGHT", PROCESSOR_SLOTS, units),
    EntryKind(("run",), "run SR-1.A 15m ML1 5m ML2"),
    EntryKind(("rack",), "rack RIGHT right units 12", RACK_SLOTS, rack),
    EntryKind(("zone",), "zone delay distance 28m left=L right=R", ZONE_SLOTS, zone),
    EntryKind(("supply", "generator", "circuit", "power"), "supply X1 32A 230V three-phase", SUPPLY_SLOTS, supply),
    EntryKind(("stock", "cable", "cables", "hire"), "stock 6 four-core-2.5 15m", STOCK_SLOTS, stock),
)

SAY_MORE = {"generator", "hire"}
"""First words that say something of the thing besides what it is."""
OTHER_MODELS = (
    (("amplifiers",), "amp"),
    (("processors",), "processor"),
    (("cables", "adaptors", "panels"), "stock"),
)

_FIRST_WORDS = frozenset(word for kind in KINDS for word in kind.words)


class Entry(msgspec.Struct, frozen=True):
    """A line that was understood: the show with what it adds, and how it was understood."""

    before: Show
    show: Show
    made: Made
    models: tuple[str, ...]
    """Models that came from the gear library with it."""

    @property
    def added(self) -> tuple[tuple[str, str], ...]:
        """Table and label of each thing; of stock the model."""
        return tuple((self.made.table, _name_of(thing)) for thing in self.made.things)


def read_entry(show: Show, line: str) -> Entry:
    """Add what a line says. Raises EntryError or DocumentError, with what was expected."""
    words = split(line, _FIRST_WORDS)
    if not words:
        raise EntryError(f"expected what to add, such as: {KINDS[0].example}")
    known = KnownWords(show)
    kind, rest = _kind_of(words, known)
    made = run(known, rest) if kind.make is None else kind.make(known, fill(kind.slots, known, rest))
    after = show
    for table, thing in made.first:
        after = with_thing(after, table, thing)
    for thing in made.things:
        after = _with_row(after, thing) if made.table == "stock" else with_thing(after, made.table, thing)
    after, models = borrowed(after, find_model)
    return Entry(show, after, made, models)


def finished(show: Show, line: str) -> tuple[str, ...]:
    """List how the last word of a line may go on: whole words, the likeliest first; none for an unusable line."""
    try:
        words = split(line, _FIRST_WORDS)
    except EntryError:
        return ()
    begun = words[-1].text if words and not line[-1:].isspace() else ""
    before = words[:-1] if begun else words
    known = KnownWords(show)
    try:
        choices = _choices(known, before)
    except FieldkitError:
        return ()
    named = [name for name in known.in_role(begun) if name in choices] if begun in ROLES else []
    return tuple(dict.fromkeys((*_fitting(begun, choices), *named)))


def _choices(known: KnownWords, before: Sequence[EntryWord]) -> list[str]:
    firsts = [kind.words[0] for kind in KINDS if kind.words]
    if not before:
        return [*firsts, *offered(BOX_SLOTS, (), known)]
    kind, rest = _kind_of(before, known)
    if kind.make is None:
        return offered_on(known, rest)
    open_slot = next((slot for slot in kind.slots if rest and slot.said and slot.name == rest[-1].text), None)
    if open_slot:
        return list(open_slot.offers(known)) if open_slot.offers else []
    filled = fill(kind.slots, known, rest)
    return [*(firsts if len(before) == 1 and whole_number(before[0].text) else ()), *offered(kind.slots, filled, known)]


def _fitting(begun: str, choices: Sequence[str]) -> tuple[str, ...]:
    wanted = begun.casefold()
    unique = [name for name in dict.fromkeys(choices) if name != begun]
    first = [name for name in unique if name.casefold().startswith(wanted)]
    rest = [name for name in unique if wanted and wanted in name.casefold() and name not in first]
    return (*first, *rest)


def _kind_of(words: Sequence[EntryWord], known: KnownWords) -> tuple[EntryKind, list[EntryWord]]:
    """Find the kind by the first word, or by the second where the first is a number: ``2 amp …``.

    Where neither says it, a model of something else than loudspeakers does: ``6 four-core-2.5 10m`` are for the stock.
    """
    rest = list(words)
    while rest and passed_over(rest[0], known):
        rest.pop(0)
    for index, word in enumerate(rest[:2]):
        kind = next((kind for kind in KINDS if word.text in kind.words and not word.quoted), None)
        if kind:
            said_too = word.text in SAY_MORE
            return kind, rest if said_too else [*rest[:index], *rest[index + 1 :]]
        if whole_number(word.text) is None:
            break
    first = next((_first_word_for(known, word.text) for word in rest if not word.quoted and len(word.text) > 5), "")
    return next((kind for kind in KINDS if first in kind.words), KINDS[0]), rest


def _first_word_for(known: KnownWords, text: str) -> str:
    """Give the word that begins a line about such a model; empty for a word that names no model, or a loudspeaker."""
    for tables, word in ((("loudspeakers",), ""), *OTHER_MODELS):
        try:
            if known.model(text, tables) is not None:
                return word
        except EntryError:
            return word  # it names several: which one is asked for there
    return ""


def _with_row(show: Show, row: Stock) -> Show:
    """Put stock to the row of its kind where only the numbers differ, else in a row of its own."""

    def kind(stock: Stock) -> Stock:
        length = Length.of(stock.length.value) if stock.length else None
        return msgspec.structs.replace(stock, owned=0, hired=0, length=length)

    for index, old in enumerate(show.stock):
        if kind(old) == kind(row) and not row.serial:
            more = msgspec.structs.replace(old, owned=old.owned + row.owned, hired=old.hired + row.hired)
            return msgspec.structs.replace(show, stock=(*show.stock[:index], more, *show.stock[index + 1 :]))
    return msgspec.structs.replace(show, stock=(*show.stock, row))


def _name_of(thing: Any) -> str:
    return str(getattr(thing, "id", "") or thing.model)
