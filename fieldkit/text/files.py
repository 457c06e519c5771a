"""Files that are written whole: beside their place first, on the disk, and put there in one step.

Everything that the program writes in place of an older file goes through here. Mode, owner (where the system permits),
extended attributes and symbolic links stay as they were. A hard link is not kept: the other names go on with the
version before, since a file with two names could only be changed by writing into it, and a write that is cut off
would then spoil both.
"""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import stat
from pathlib import Path

from fieldkit.errors import UnusableError

KINDS = (
    (stat.S_ISDIR, "this is a folder"),
    (stat.S_ISFIFO, "this is a pipe"),
    (stat.S_ISCHR, "this is a device"),
    (stat.S_ISBLK, "this is a device"),
    (stat.S_ISSOCK, "this is a socket"),
)


class OddFileError(OSError, UnusableError):
    """Something that is no file stands in its place; or a file that may not be written, which ``read_only`` tells."""

    def __init__(self, says: str, path: Path, *, read_only: bool = False) -> None:
        """Keep what is said of it where other errors of the system have theirs."""
        super().__init__(errno.EINVAL, says, str(path))
        self.read_only = read_only


def odd_kind(path: Path) -> str:
    """Say what stands in the place of a file, such as ``this is a folder``; empty for a file, and for nothing.

    Raises OSError where it cannot be looked at.
    """
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return ""
    return next((says for test, says in KINDS if test(mode)), "")


def try_lock(handle: int) -> bool:
    """Take the system's own lock of an open file, if nobody has it. It goes with the handle, whatever ends a program.

    Raises OSError where the file system knows no locks.
    """
    try:
        if os.name == "nt":
            import msvcrt

            os.lseek(handle, 1 << 30, os.SEEK_SET)  # far behind the text, which others may read meanwhile
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


class PartFile:
    """A file that is written, and not yet in its place."""

    def __init__(self, path: Path, raw: bytes, *, follow: bool = True, read_only_too: bool = False) -> None:
        """Write the bytes to the disk beside ``path``. Raises OSError, and leaves nothing behind.

        follow: whether a symbolic link stays, and what it leads to is replaced
        read_only_too: whether a file that may not be written is replaced, as somebody said
        """
        self.target = path.resolve() if follow else path
        kind = odd_kind(self.target) if follow or not path.is_symlink() else ""
        if kind:
            raise OddFileError(f"{kind}; expected a file", self.target)
        before = self.target.stat() if self.target.exists() and not self.target.is_symlink() else None
        writable = before is None or (before.st_mode & 0o222 and os.access(self.target, os.W_OK))
        if not writable and not read_only_too:
            raise OddFileError("the file is read only", self.target, read_only=True)
        _remove_left_over(self.target)
        self.path = self.target.with_name(f".{self.target.name}.{os.getpid()}.part")
        self.path.unlink(missing_ok=True)
        self._file = self.path.open("xb")
        try:
            with contextlib.suppress(OSError):  # where there are no locks a part is known by its age
                try_lock(self._file.fileno())
            self._file.write(raw)
            self._file.flush()
            if before is not None:
                _like(self._file.fileno(), self.target, self.path, before)
            os.fsync(self._file.fileno())
        except BaseException:
            self.drop()
            raise
        if os.name == "nt":  # an open file cannot be renamed there
            self._file.close()

    def put(self) -> None:
        """Put it in its place, in one step."""
        self.path.replace(self.target)
        self._file.close()
        sync_folder(self.target.parent)

    def put_new(self) -> None:
        """Put it in its place if nothing is there. Raises FileExistsError."""
        try:
            os.link(self.path, self.target)
        except FileExistsError:
            raise
        except OSError:  # no links on this file system
            handle = os.open(self.target, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
            os.close(handle)
            self.path.replace(self.target)
        sync_folder(self.target.parent)

    def drop(self) -> None:
        """Remove what is not in its place; nothing happens once it is there."""
        with contextlib.suppress(OSError):
            self.path.unlink(missing_ok=True)
            self._file.close()


def replace_file(path: Path, raw: bytes, *, follow: bool = True, read_only_too: bool = False) -> None:
    """Replace a file in one step, or leave it as it is. Raises OSError."""
    part = PartFile(path, raw, follow=follow, read_only_too=read_only_too)
    try:
        part.put()
    finally:
        part.drop()


def sync_folder(folder: Path) -> None:
    """See that the names in a folder are on the disk."""
    if os.name == "nt":  # a folder cannot be opened there, and a rename is durable without it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _like(handle: int, old: Path, new: Path, before: os.stat_result) -> None:
    """Pass the owner, where that is permitted, the mode and the attributes of an old file on to the new one."""
    import shutil

    if os.name != "nt":
        mine = os.fstat(handle)
        if (mine.st_uid, mine.st_gid) != (before.st_uid, before.st_gid):
            for owner, group in ((-1, before.st_gid), (before.st_uid, -1)):
                with contextlib.suppress(PermissionError):
                    os.fchown(handle, owner, group)
    shutil.copystat(old, new)
    os.utime(new)


OLD_S = 600.0
"""A part of this age is left over where no locks say so: no write of a few megabytes takes an hour."""


def _remove_left_over(target: Path) -> None:
    """Remove the parts of programs that ended while they wrote this file."""
    import time

    for name in target.parent.glob(f".{glob.escape(target.name)}.*part"):
        with contextlib.suppress(OSError):  # another program was first, or it may not be removed
            handle = os.open(name, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
            try:
                age_s = time.time() - os.fstat(handle).st_mtime
                try:
                    # One that is empty yet may be between being opened and being locked.
                    free = try_lock(handle) and (os.fstat(handle).st_size > 0 or age_s > OLD_S)
                except OSError:
                    free = age_s > OLD_S
            finally:
                os.close(handle)
            if free:
                name.unlink()
