"""The words of an entry line: cut at spaces, quoted where they hold some, a number kept with its unit."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.show.labels import label_after
from fieldkit.text.words import printable
from fieldkit.units import Measure, UnitError, known_unit

LONGEST = 2000
"""Characters of a line; the longest that anybody typed had 90."""
MOST = 99
"""Things that one line adds; a slip of a finger is no order for a thousand boxes."""

NUMBERS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
"""Small numbers as people say them, each in its place."""
FILLERS = frozenset(
    ("a", "add", "also", "and", "another", "at", "for", "in", "more", "of", "on", "the", "then", "to", "via", "with")
)
"""Words that people put between the others, and that say nothing here."""

_TIMES = ("x", "×")
_PIECE = re.compile(r'([^\s"=]+=)?"([^"]*)"?|(\S+)')
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
_RANGE = re.compile(r"(?P<stem>.*?)(?P<first>[0-9]+)(?:-|\.\.)(?P<again>\D*?)(?P<last>[0-9]+)")


class EntryError(UnusableError):
    """A word of an entry line that cannot be used, or one that is missing; the text says what was expected."""


class EntryWord(msgspec.Struct, frozen=True):
    """One word, as it was typed."""

    text: str
    at: int
    """Where it begins in the line, from 0."""
    quoted: bool = False


def split(line: str, kinds: Collection[str] = ()) -> list[EntryWord]:
    """Cut a line into words. ``15 m`` is one word, as ``15m`` is, and ``4 x``; ``2 amp`` is two where amp is a kind.

    Raises EntryError for a line that is too long.
    """
    if len(line) > LONGEST:
        raise EntryError(f"expected a line of at most {LONGEST} characters, got {len(line)}")
    words: list[EntryWord] = []
    for found in _PIECE.finditer(line):
        quoted = found[2] is not None
        plain = found[3].rstrip(",;") or found[3] if not quoted else ""  # ``2 tops, left`` as people write it
        word = EntryWord(f"{found[1] or ''}{found[2]}" if quoted else plain, found.start(), quoted)
        before = words[-1] if words else None
        times = before is not None and word.text in _TIMES and whole_number(before.text) is not None
        joins = times or (word.text not in kinds and known_unit(word.text) is not None)
        if before and not (quoted or before.quoted) and _NUMBER.fullmatch(before.text) and joins:
            words[-1] = EntryWord(f"{before.text}{'' if times else ' '}{word.text}", before.at)
        else:
            words.append(word)
    return words


def whole_number(text: str) -> int | None:
    """Read ``4``, ``4x``, ``4×`` or ``four``; None for anything else, and for what no crew carries in."""
    if text.casefold() in NUMBERS:
        return NUMBERS.index(text.casefold())
    digits = text.rstrip("".join(_TIMES))
    return int(digits) if re.fullmatch(r"[0-9]{1,2}", digits) and len(text) - len(digits) <= 1 else None


def read_measure(kind: type[Measure], text: str) -> Measure | None:
    """Read a quantity with its unit; None where the text is none of this kind. A bare number never is."""
    if not text[:1].isdigit() or _NUMBER.fullmatch(text):
        return None
    try:
        return kind(text)
    except UnitError:
        return None


def is_bare_number(text: str) -> bool:
    """Tell whether a text is a number without a unit."""
    return _NUMBER.fullmatch(text) is not None


def labels_in(text: str, count: int | None) -> list[str]:
    """Read one label, or a row of them: ``ML1-4``, ``ML1-ML4``, ``A-01..03``.

    Where one thing is wanted, ``SR1-2`` is its label. Raises EntryError for a row longer than ``MOST``.
    """
    row = _RANGE.fullmatch(text)
    if row is None or row["again"] not in ("", row["stem"]):
        return [text]
    first, last = int(row["first"]), int(row["last"])
    if last <= first or count == 1:
        return [text]
    if last - first >= MOST:
        raise EntryError(f"expected at most {MOST} labels in a row, got '{printable(text)}'")
    width = len(row["first"])
    return [f"{row['stem']}{number:0{width}}" for number in range(first, last + 1)]


def row_of_labels(text: str, count: int) -> list[str]:
    """Read the labels for a number of things: all of them, or the first, from which they go on.

    Raises EntryError for another number of labels.
    """
    labels = [label for word in text.replace(",", " ").split() for label in labels_in(word, None)]
    while len(labels) < count and labels and len(text.split()) == 1:
        labels.append(label_after(labels[-1], labels))
    if len(labels) != count:
        raise EntryError(f"expected a label to go on from, or {count} labels, got '{printable(text)}'")
    return labels


def listed(names: Sequence[str]) -> str:
    """Write names as a row of words, the last after *or*."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
