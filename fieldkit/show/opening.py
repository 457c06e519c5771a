"""Open a show as its user means it: the file, and the models that it names from the gear library."""

from __future__ import annotations

from pathlib import Path

import msgspec

from fieldkit.gear.library import find
from fieldkit.show.borrowing import borrowed
from fieldkit.show.storage import Stored, check_references, read


def open_show(path: Path | str) -> Stored:
    """Read a show file, add the models that it names and does not carry, and check that all ids hold.

    The result's text is the file as it stands; ``storage.save`` writes the borrowed models into it. Raises
    ShowError.
    """
    stored = read(path)
    show, _ = borrowed(stored.show, find)
    check_references(show, stored.text, stored.path.name)
    return stored if show is stored.show else msgspec.structs.replace(stored, show=show)
