"""Open a show as its user means it: the file, and the models that it names from the gear library."""

from __future__ import annotations

from pathlib import Path

import msgspec

from fieldkit.gear.library import find, known_names
from fieldkit.show.borrowing import borrowed
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.keep.storage import Stored, check_references, read


class Opened(msgspec.Struct, frozen=True):
    """A show that can be worked with, and the file that it came from."""

    stored: Stored
    """As it was read: what saving compares with."""
    show: Show
    """With the models that it names and the file does not carry; saving writes them into it."""
    borrowed: tuple[str, ...]
    """Their names."""


def open_show(path: Path | str) -> Opened:
    """Read a show file, add the models that it names and does not carry, and check that all ids hold.

    Raises ShowError.
    """
    stored = read(path)
    show, names = borrowed(stored.show, find)
    try:
        check_references(show, stored.text, stored.path.name, offered=known_names)
    except DocumentError as error:
        if error.thing in names:
            raise DocumentError(error.problem, file="gear library", thing=error.thing) from error
        raise
    return Opened(stored, show, names)
