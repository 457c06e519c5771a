"""What a kind of entry takes, as slots: each knows its words, and one reader fills them in any order.

A word that can only be one thing fills its slot. What could be anything (a new label, a new zone) comes last, or after
the slot's own name: ``zone delay``.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import msgspec

from fieldkit.planning.entry.known import KnownWords
from fieldkit.planning.entry.words import FILLERS, MOST, EntryError, EntryWord, is_bare_number
from fieldkit.text.words import nearest, printable
from fieldkit.units import Measure

MOST_JOINED = 4
"""Words that name one model."""

Values = dict[str, list[Any]]
"""Slot -> what was said of it, in the order of the words."""


class Slot(msgspec.Struct, frozen=True):
    """One thing that an entry may say."""

    name: str
    """Also the word that may stand before its value: ``rack RIGHT``."""
    what: str
    """In words, for errors and help: ``a zone``."""
    known: Callable[[KnownWords, str], Any] | None = None
    """Reads a word that can mean nothing else; None where it is none of these. May raise EntryError."""
    fallback: Callable[[KnownWords, str], Any] | None = None
    """Reads a word that nothing else knows."""
    said: Callable[[KnownWords, str], Any] | None = None
    """Reads the word behind the slot's name. Without it there is no such form; None means that it cannot be used."""
    offers: Callable[[KnownWords], Iterable[str]] | None = None
    """Words to choose from."""
    several: bool = False
    tables: tuple[str, ...] = ()
    """Set where it takes a model, of these tables: its name may be several words."""
    measure: type[Measure] | None = None
    """Set where it takes a quantity, so that a bare number can be asked for its unit."""


def fill(slots: Sequence[Slot], known: KnownWords, words: Sequence[EntryWord]) -> Values:
    """Fill the slots with words in any order. Raises EntryError for the first word that fits nowhere."""
    values: Values = {}
    by_name = {slot.name: slot for slot in slots if slot.said}
    left: list[EntryWord] = []
    index = 0
    while index < len(words):
        word = words[index]
        index += 1
        slot = by_name.get(word.text) if not word.quoted else None
        if slot and slot.said:
            if index == len(words):
                raise EntryError(f"expected {slot.what} after '{word.text}'")
            _put(values, slot, _behind(slot, known, words[index].text), words[index].text)
            index += 1
        elif passed_over(word, known) and any(item.name == "count" for item in slots):
            continue
        elif count := _joined(values, slots, known, words[index - 1 :]):
            index += count - 1
        elif not any(_taken(values, item, item.known, known, word.text) for item in slots):
            _never_twice(values, slots, known, word.text)
            left.append(word)
    for word in left:
        if not any(_taken(values, slot, slot.fallback, known, word.text) for slot in slots):
            raise EntryError(_no_place(slots, values, known, word.text))
    return values


def passed_over(word: EntryWord, known: KnownWords) -> bool:
    """Tell whether a word says nothing, and names nothing in this show."""
    return not word.quoted and word.text in FILLERS and word.text not in (*known.ids("zones"), *known.sides)


def model_of_words(known: KnownWords, words: Sequence[EntryWord], tables: tuple[str, ...]) -> tuple[str, int] | None:
    """Read a model whose name is written as several words: its id, and how many of the words that takes."""
    plain = list(itertools.takewhile(lambda word: not word.quoted, words[:MOST_JOINED]))
    for count in range(len(plain), 1, -1):
        model = known.joined([word.text for word in plain[:count]], tables)
        if model is not None:
            return model, count
    return None


def _joined(values: Values, slots: Sequence[Slot], known: KnownWords, words: Sequence[EntryWord]) -> int:
    """Fill the slot of the model with several words; gives how many, 0 where they are none."""
    slot = next((slot for slot in slots if slot.tables and slot.name not in values), None)
    found = model_of_words(known, words, slot.tables) if slot else None
    if slot is None or found is None:
        return 0
    _put(values, slot, found[0], words[0].text)
    return found[1]


def _behind(slot: Slot, known: KnownWords, text: str) -> Any:
    value = slot.said(known, text) if slot.said else None
    if value is None:
        offered = nearest(text, slot.offers(known)) if slot.offers else ""
        raise EntryError(f"expected {slot.what} after '{slot.name}', got '{printable(text)}'{offered}")
    return value


def _taken(
    values: Values, slot: Slot, read: Callable[[KnownWords, str], Any] | None, known: KnownWords, text: str
) -> bool:
    """Fill a slot with a word where it is free and the word can be read so; tell whether it was."""
    if read is None or (slot.name in values and not slot.several):
        return False
    value = read(known, text)
    if value is not None:
        _put(values, slot, value, text)
    return value is not None


def _never_twice(values: Values, slots: Sequence[Slot], known: KnownWords, text: str) -> None:
    """Refuse a word for a slot that another word has filled: no second model is a label.

    A plain word that is only a piece of one may be a name: ``stage`` is where boxes stand, and begins a model's name.
    """
    for slot in slots:
        if slot.known is None or slot.name not in values or slot.several:
            continue
        try:
            again = slot.known(known, text)
        except EntryError:
            continue  # a piece that fits several; it may be a new name
        if again is not None and (again == text or not text.isalpha()):
            raise EntryError(f"{slot.what} is said twice: '{printable(text)}'")


def _put(values: Values, slot: Slot, value: Any, text: str) -> None:
    if slot.name in values and not slot.several:
        raise EntryError(f"{slot.what} is said twice: '{printable(text)}'")
    values.setdefault(slot.name, []).append(value)


def _no_place(slots: Sequence[Slot], values: Values, known: KnownWords, text: str) -> str:
    """Say what a word could have been: a number that lacks its unit, or a name that is near."""
    if is_bare_number(text) and any(slot.name == "count" for slot in slots):
        return f"expected a number up to {MOST}, got '{printable(text)}'; a quantity has its unit behind it"
    units = [slot for slot in slots if slot.measure and slot.name not in values]
    if is_bare_number(text) and units:
        return unit_wanted(text, units[0].measure)
    free = [slot for slot in slots if slot.several or slot.name not in values]
    offered = [name for slot in free if slot.offers for name in slot.offers(known)]
    near = nearest(text, offered) if offered else ""
    near = near if "did you mean" in near else f"; expected {', '.join(slot.what for slot in free)}"
    return f"'{printable(text)}' is not understood{near}"


def unit_wanted(text: str, kind: type[Measure] | None) -> str:
    """Ask for the unit of a bare number, in the units that people use for this."""
    from fieldkit.units import Length

    if kind is Length:
        return f"{text} m or {text} ft? Write the unit behind the number"
    return f"{text} of what? Write the unit behind the number"


def one(values: Values, name: str, otherwise: Any = None) -> Any:
    """Look up what was said of a slot that takes one value."""
    return values[name][0] if name in values else otherwise


def offered(slots: Sequence[Slot], values: Iterable[str], known: KnownWords) -> list[str]:
    """List the words that may come next: values and names of the slots that are not filled."""
    filled = set(values)
    free = [slot for slot in slots if slot.several or slot.name not in filled]
    words = [name for slot in free if slot.offers for name in slot.offers(known)]
    return [*words, *(slot.name for slot in free if slot.said)]
