"""Unsaved work of sessions that ended: found again for a show, wherever that stands now, and dropped when answered."""

from __future__ import annotations

from pathlib import Path

from fieldkit.show.errors import FileError, ShowError
from fieldkit.show.keep.journal import SUFFIX, Kept, read
from fieldkit.show.keep.storage import read_text
from fieldkit.text.folders import state_folder


def all_kept() -> tuple[Kept, ...]:
    """List all unsaved work that waits for an answer, the newest first; of each session its last.

    What is in its file already is not listed, nor what was undone. Raises FileError.
    """
    found: dict[str, Kept] = {}
    for kept in sorted(_readable(), key=lambda kept: (kept.time, kept.file.name)):
        found[kept.head.session] = kept
    waiting = [kept for kept in found.values() if kept.text != kept.head.base and kept.text != _text_at(kept.show_path)]
    return tuple(sorted(waiting, key=lambda kept: -kept.time))


def kept_for(show_path: Path) -> tuple[Kept, ...]:
    """List the unsaved work of a show, the newest first, also where the show was moved. Raises FileError."""
    every = all_kept()
    if not every:
        return ()
    text = _text_at(show_path)
    return tuple(kept for kept in every if kept.text != text and _is_of(kept, show_path, text))


def drop(kept: Kept) -> None:
    """Forget unsaved work, since it was taken or is not wanted. Raises FileError."""
    try:
        for other in _readable():
            if other.head.session == kept.head.session:
                other.file.unlink(missing_ok=True)
    except OSError as error:
        raise FileError(f"it cannot be removed: {error.strerror}", file=kept.file.name) from error


def _readable() -> list[Kept]:
    place = state_folder()
    found = []
    try:
        for file in sorted(place.glob(f"*{SUFFIX}")) if place.is_dir() else ():
            try:
                kept = read(file)
            except FileNotFoundError:  # answered meanwhile
                continue
            if kept is not None:
                found.append(kept)
    except OSError as error:
        raise FileError(f"unsaved work cannot be read: {error.strerror}", file=place.name) from error
    return found


def _is_of(kept: Kept, show_path: Path, text: str | None) -> bool:
    """Tell whether work is of a show: by its path, with or without links, or as the file that was moved here."""
    head = kept.head
    resolved = show_path.resolve()
    if head.resolved == str(resolved) or head.path == str(show_path.absolute()):
        return True
    there = _text_at(Path(head.resolved))
    if text is None or (there is not None and _are_alike(there, head.base)):
        return False  # the show still stands where it was: a copy of it is another show
    if text == head.base:
        return True
    status = resolved.stat()
    same_file = (status.st_dev, status.st_ino) == (head.device, head.inode)
    return same_file and _are_alike(text, head.base)  # a number of a file that went is given to others


def _are_alike(one: str, other: str) -> bool:
    """Tell whether two texts may be versions of one show: half the lines of the longer one are in both."""
    lines, others = ({line for line in text.split("\n") if line.strip()} for text in (one, other))
    return 2 * len(lines & others) >= max(len(lines), len(others))


def _text_at(path: Path) -> str | None:
    try:
        return read_text(path)
    except ShowError:
        return None
