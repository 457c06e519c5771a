"""Unsaved work, kept as text beside nobody's file: in the user's state folder, until it is saved or dropped."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import msgspec

from fieldkit.show.errors import FileError
from fieldkit.show.storage import read_text, write_text

HEAD = "# fieldkit unsaved work, kept for: "
"""First line of a kept file; the path of the show follows as a JSON string, so that any name is safe in it."""


class Kept(msgspec.Struct, frozen=True):
    """Unsaved work of an earlier session."""

    show_path: Path
    file: Path
    text: str
    """The show as it would have been saved."""
    time: float
    """When it was kept, in seconds since 1970."""


def folder() -> Path:
    """Give the folder of unsaved work: ``FIELDKIT_STATE``, else the platform's state folder."""
    named = os.environ.get("FIELDKIT_STATE")
    if named:
        return Path(named)
    from platformdirs import user_state_path

    return user_state_path("fieldkit", appauthor=False) / "unsaved"


def keep(show_path: Path, text: str) -> Path:
    """Keep the text of a show that has not been saved, in place of what was kept for it before.

    Raises FileError where the folder cannot be written.
    """
    file = _file_for(show_path)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(f"unsaved work cannot be kept: {error.strerror}", file=file.parent.name) from error
    write_text(file, f"{HEAD}{json.dumps(str(show_path.absolute()))}\n{text}", keep_before=False)
    return file


def kept_for(show_path: Path) -> Kept | None:
    """Find unsaved work of a show; None where there is none. Raises FileError where it cannot be read."""
    file = _file_for(show_path)
    return _read(file) if file.exists() else None


def all_kept() -> tuple[Kept, ...]:
    """List all unsaved work, the newest first."""
    place = folder()
    files = sorted(place.glob("*.toml")) if place.is_dir() else []
    found = [kept for file in files if (kept := _read(file)) is not None]
    return tuple(sorted(found, key=lambda kept: -kept.time))


def drop(show_path: Path) -> None:
    """Forget the unsaved work of a show, since it was saved or is not wanted."""
    _file_for(show_path).unlink(missing_ok=True)


def _file_for(show_path: Path) -> Path:
    """Name the file by the show's whole path: two shows of one name in two folders do not meet."""
    digest = hashlib.sha256(str(show_path.absolute()).encode("utf-8", "surrogateescape")).hexdigest()
    return folder() / f"{digest[:24]}.toml"


def _read(file: Path) -> Kept | None:
    """Read a kept file; None for one that this program did not write."""
    head, newline, text = read_text(file).partition("\n")
    if not newline or not head.startswith(HEAD):
        return None
    try:
        path = Path(json.loads(head.removeprefix(HEAD)))
    except ValueError:
        return None
    return Kept(show_path=path, file=file, text=text, time=file.stat().st_mtime)
