"""Versions of a show that are kept beside it: the save before, and those before that; what went aside in a conflict.

``hall.toml.bak`` is the save before the last, where everybody looks. Older ones stand in the folder
``hall.toml.copies`` as ``saved-0001.toml``, ``saved-0002.toml`` and so on, and versions that somebody else's save put
aside as ``mine-0001.toml``; the higher number is the later one. The last ten of each kind are kept. Each file has the
time at which that version was saved.
"""

from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path

from fieldkit.text.files import OddFileError, PartFile, odd_kind, replace_file

KEPT = 10
"""Copies of each kind: a day of work has about so many versions that one would want back."""

_NAME = re.compile(r"(saved|mine)-(\d{4,9})\.toml")


def folder_of(path: Path) -> Path:
    """Name the folder of the copies of a show."""
    target = path.resolve()
    return target.with_name(f"{target.name}.copies")


def backup_of(path: Path) -> Path:
    """Name the file of the save before the last."""
    target = path.resolve()
    return target.with_name(f"{target.name}.bak")


def copies(path: Path, kind: str = "saved") -> list[Path]:
    """List the copies of one kind, the oldest first."""
    folder = folder_of(path)
    names = [file.name for file in folder.iterdir()] if folder.is_dir() else []
    found = [(int(match[2]), name) for name in names if (match := _NAME.fullmatch(name)) and match[1] == kind]
    return [folder / name for _, name in sorted(found)]


def keep_previous(target: Path) -> None:
    """Keep a file as it is, before it is replaced. Raises OSError, and then nothing is lost."""
    backup = backup_of(target)
    if odd_kind(backup):
        raise OddFileError(f"{backup.name}: {odd_kind(backup)}; expected a file", backup)
    before = target.stat()
    part = PartFile(backup, target.read_bytes(), follow=False, read_only_too=True)
    try:
        os.utime(part.path, ns=(before.st_atime_ns, before.st_mtime_ns))
        part.path.chmod(before.st_mode & 0o7777)
        if backup.exists():
            backup.replace(_next(target, "saved"))
        part.put()
    finally:
        part.drop()
    _forget_old(target, "saved")


def put_aside(path: Path, text: str) -> Path:
    """Write a version that gives way to somebody else's, and give its file. Raises OSError."""
    copy = _next(path, "mine")
    replace_file(copy, text.encode(), follow=False)
    _forget_old(path, "mine")
    return copy


def _next(path: Path, kind: str) -> Path:
    """Name the next copy, in a folder that is there."""
    folder = folder_of(path)
    folder.mkdir(exist_ok=True)
    last = next((match[2] for copy in copies(path, kind)[-1:] if (match := _NAME.fullmatch(copy.name))), "0")
    return folder / f"{kind}-{int(last) + 1:04d}.toml"


def _forget_old(path: Path, kind: str) -> None:
    for copy in copies(path, kind)[:-KEPT]:
        with contextlib.suppress(OSError):  # one that may not be removed does no harm
            copy.unlink()
