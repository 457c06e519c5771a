"""What an entry makes: things of one table, with what has to be there first; and the labels that they get."""

from __future__ import annotations

from typing import Any

import msgspec

from fieldkit.planning.entry.known import KnownWords
from fieldkit.planning.entry.words import EntryError
from fieldkit.show.labels import label_after
from fieldkit.text.words import printable


class Made(msgspec.Struct, frozen=True):
    """The things that a line adds."""

    table: str
    things: tuple[Any, ...]
    first: tuple[tuple[str, Any], ...] = ()
    """Table and thing that were not there yet and are added before: the zone of a box, the rack of an amplifier."""


def new_label(known: KnownWords, table: str, said: str | None, stem: str) -> str:
    """Choose the label of a new thing: what was said, else the next after the last of its table.

    Raises EntryError for a label that somebody has.
    """
    taken = known.taken(table)
    if said is None:
        ids = known.ids(table)
        return label_after(ids[-1] if ids else f"{stem}0", taken)
    if said in taken:
        raise EntryError(f"the label '{printable(said)}' is already used")
    return said
