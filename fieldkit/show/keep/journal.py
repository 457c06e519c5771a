"""Unsaved work of one session: a file that only grows, outside the show's folder, which survives any end.

One record a line: the sum of its text, a blank, the text as JSON. The first says which show it is and carries the text
of the file that the work began from; each further one says what is different from the record before: where, how many
characters go, what comes in their place. What a crash leaves of the last line has a wrong sum, and is not read. The
session holds the system's lock of the file while it lives, so that nobody offers its work to somebody else.
"""

from __future__ import annotations

import json
import os
import secrets
import time
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path

import msgspec

from fieldkit.text.files import sync_folder, try_lock

SUFFIX = ".journal"
MOST_BYTES = 2_000_000
"""Beyond this and four times the show the file begins anew."""


class Head(msgspec.Struct, frozen=True):
    """Which show a journal is of, and what its work began from."""

    session: str
    path: str
    """As it was opened, absolute."""
    resolved: str
    """With its links followed."""
    device: int
    inode: int
    base: str
    """Text of the file when the work began."""
    started: float
    """Seconds since 1970."""


class JournalChange(msgspec.Struct, frozen=True):
    """One state, as its difference from the one before."""

    at: int
    cut: int
    put: str
    time: float


class Kept(msgspec.Struct, frozen=True):
    """Unsaved work of a session that ended."""

    file: Path
    head: Head
    text: str
    """The show as it would have been saved."""
    time: float
    """When it was kept, in seconds since 1970."""

    @property
    def show_path(self) -> Path:
        """The show that it is of, as it was opened."""
        return Path(self.head.path)


class Journal:
    """The journal of a session that lives. All of it is one thread's business."""

    def __init__(self, folder: Path, show_path: Path, base: str, session: str) -> None:
        """Begin one. Raises OSError where the folder cannot be made or written."""
        folder.mkdir(parents=True, exist_ok=True)
        self.base = self._last = base
        self._show_path, self._session = show_path, session
        self.file = folder / f"{int(time.time() * 1000):014d}-{secrets.token_hex(4)}{SUFFIX}"
        self._size = 0
        self._handle = os.open(self.file, os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_CLOEXEC", 0), 0o600)
        try:
            try_lock(self._handle)
            self._append(_head(show_path, base, session))
            sync_folder(folder)
        except OSError:
            self.remove()
            raise

    @property
    def has_grown(self) -> bool:
        """Whether it is time to begin anew."""
        return self._size > MOST_BYTES + 4 * len(self.base)

    def write(self, text: str) -> None:
        """Add a state, and see that it is on the disk. Raises OSError, and then the file is as it was."""
        if text != self._last:
            at, cut, put = _difference(self._last, text)
            self._append(JournalChange(at, cut, put, time.time()))
            self._last = text

    def close(self) -> None:
        """Leave it for the next start."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def remove(self) -> None:
        """Remove it, since it was answered. Raises OSError where that cannot be."""
        self.close()
        self.file.unlink(missing_ok=True)

    def _append(self, record: Head | JournalChange) -> None:
        # Not msgspec's writer: a name of a file may hold bytes that are no text, which JSON can only escape.
        text = json.dumps(msgspec.to_builtins(record)).encode()
        line = b"%08x %s\n" % (zlib.crc32(text), text)
        try:
            os.lseek(self._handle, self._size, os.SEEK_SET)
            left = memoryview(line)
            while left:
                left = left[os.write(self._handle, left) :]
            os.fsync(self._handle)
        except OSError:
            os.ftruncate(self._handle, self._size)  # a torn record would hide those behind it
            raise
        self._size += len(line)


def read(file: Path) -> Kept | None:
    """Read a journal up to its last whole record; None for one that is none, or whose session lives.

    Raises OSError.
    """
    handle = os.open(file, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "rb") as stream:
        if not _is_free(handle):
            return None
        records = _records(stream)
        try:
            head = msgspec.convert(json.loads(next(records, b"0")), Head)
        except (ValueError, msgspec.ValidationError):
            return None
        text, kept = head.base, head.started
        for raw in records:
            change = msgspec.convert(json.loads(raw), JournalChange)
            text = text[: change.at] + change.put + text[change.at + change.cut :]
            kept = change.time
        return Kept(file, head, text, kept)


def _is_free(handle: int) -> bool:
    try:
        return try_lock(handle)
    except OSError:  # no locks here: better offered while its session lives than never
        return True


def _records(lines: Iterable[bytes]) -> Iterator[bytes]:
    """Read the records up to the first that is not whole."""
    for line in lines:
        mark, _, text = line.removesuffix(b"\n").partition(b" ")
        if not line.endswith(b"\n") or mark != b"%08x" % zlib.crc32(text):
            return
        yield text


def _head(show_path: Path, base: str, session: str) -> Head:
    resolved = show_path.resolve()
    try:
        status = resolved.stat()
        device, inode = status.st_dev, status.st_ino
    except OSError:
        device = inode = 0
    return Head(session, str(show_path.absolute()), str(resolved), device, inode, base, time.time())


def _difference(before: str, after: str) -> tuple[int, int, str]:
    """Say where two texts differ: from which character, how many go, and what comes instead."""
    start = _common(before, after)
    end = _common(before[start:][::-1], after[start:][::-1])
    return start, len(before) - start - end, after[start : len(after) - end]


def _common(one: str, other: str) -> int:
    """Count the characters that two texts begin with alike."""
    low, high = 0, min(len(one), len(other))
    while low < high:
        middle = (low + high + 1) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low
