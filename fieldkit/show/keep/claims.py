"""Who has a show open: a small file beside it, so that two people do not write over each other unawares.

Whoever holds the system's own lock of the file ``.NAME.open`` that stands there has the show; the lock goes with the
program, whatever ends it. Where the lock does not reach (another host, a file system without locks) the file tells by
its last sign of life, which the owner renews every few seconds. Taking a show over puts another file in its place: the
owner before sees that its own is no longer there, and reads from then on.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from fieldkit.text.files import OddFileError, odd_kind, try_lock

BEAT_S = 5.0
"""Between two signs of life."""
FRESH_S = 30.0
"""A sign of life of this age says that the program is there: some beats may be late on a slow network."""
GONE_S = 86_400.0
"""A mark of another host is taken without asking after a day: no clock of a network is as far off as that."""


class ShowClaim(msgspec.Struct, frozen=True):
    """Who has a show open, as the file says; times in seconds since 1970."""

    host: str = "another host"
    pid: int = 0
    user: str = "somebody"
    since: float = 0.0
    beat: float = 0.0
    """The last sign of life."""
    boot: str = ""
    """The run of the operating system; empty where that is not known."""
    token: str = ""
    alive: bool = True
    """Whether the lock or a fresh sign of life says that the program is there."""

    @property
    def age_s(self) -> float:
        """How long ago the last sign of life was, by this host's clock."""
        return max(0.0, time.time() - max(self.beat, self.since))

    @property
    def says(self) -> str:
        """Who and when: ``crew on foh, last sign of life 3 min ago``."""
        age = self.age_s
        if not max(self.beat, self.since):
            when = "at a time that is not known"
        elif age < 90:
            when = f"{age:.0f} s ago"
        elif age < 5400:
            when = f"{age / 60:.0f} min ago"
        elif age < 172_800:
            when = f"{age / 3600:.0f} h ago"
        else:
            when = f"{min(age / 86_400, 99_999):.0f} days ago"
        return f"{self.user[:40]} on {self.host[:60]}, last sign of life {when}"


class Held:
    """A claim of this program."""

    def __init__(self, file: Path, handle: int, claim: ShowClaim, *, writes: bool) -> None:
        """``writes`` is whether signs of life can be written into the file."""
        self.file, self.claim, self._handle, self._writes = file, claim, handle, writes

    def is_ours(self) -> bool:
        """Tell whether nobody took the show over."""
        if self._handle < 0:
            return False
        try:
            there, own = self.file.stat(), os.fstat(self._handle)
        except FileNotFoundError:
            return False
        except OSError:
            return True  # it cannot be looked at just now: nobody was seen to take it
        return os.path.samestat(there, own)

    def beat(self) -> bool:
        """Renew the sign of life; False when somebody took the show over."""
        if not self.is_ours():
            return False
        if self._writes:
            with contextlib.suppress(OSError):  # a full disk: the lock still says so on this host
                _write(self._handle, msgspec.structs.replace(self.claim, beat=time.time()))
        return True

    def release(self) -> None:
        """Release the show."""
        if self._handle < 0:
            return
        with contextlib.suppress(OSError):
            if self.is_ours():
                self.file.unlink()
        os.close(self._handle)
        self._handle = -1


class ClaimAnswer(msgspec.Struct, frozen=True):
    """What became of a claim: it is held, or another has it, or nobody could be told."""

    held: Held | None = None
    other: ShowClaim | None = None
    problem: str = ""
    """Why no claim could be written; the show opens all the same."""


def claim(show_path: Path, *, over: ShowClaim | None = None) -> ClaimAnswer:
    """Claim a show for this program. ``over`` is the claim of another that a person chose to take over."""
    file = claim_file(show_path)
    try:
        for _ in range(20):
            answer = _try(file, over)
            if answer is not None:
                return answer
    except OSError as error:
        return ClaimAnswer(problem=error.strerror or str(error))
    return ClaimAnswer(other=_read(file))  # others claim it at this very moment


def look(show_path: Path) -> ShowClaim | None:
    """Tell who has a show open now; None for nobody. Takes nothing. Raises OSError."""
    file = claim_file(show_path)
    try:
        handle = os.open(file, os.O_RDONLY | _SAFE)
    except FileNotFoundError:
        return None
    try:
        return _other(handle, lambda: _is_free(handle))
    finally:
        os.close(handle)


def claim_file(show_path: Path) -> Path:
    """Name the file of the claim: hidden, beside the show."""
    target = show_path.resolve()
    return target.with_name(f".{target.name}.open")


_SAFE = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)


def _try(file: Path, over: ShowClaim | None) -> ClaimAnswer | None:
    """Try once; None where the file went away meanwhile. Raises OSError where no claim can be written."""
    kind = odd_kind(file)
    if kind:
        raise OddFileError(f"{file.name}: {kind}; expected a file", file)
    writes = True
    try:
        handle = os.open(file, os.O_RDWR | os.O_CREAT | _SAFE, 0o644)
    except PermissionError:
        handle, writes = os.open(file, os.O_RDONLY | _SAFE), False
    keep = False
    try:
        other = _other(handle, lambda: _lock_patiently(handle))
        if other is not None and over is not None and other.token == over.token and other.since == over.since:
            _remove(file, handle)
            return None
        if other is not None:
            return ClaimAnswer(other=other)
        if not _stands(file, handle):
            return None
        own = ShowClaim(_host(), os.getpid(), _user(), time.time(), time.time(), _boot(), secrets.token_hex(8))
        if writes:
            with contextlib.suppress(OSError):  # a full disk: the lock itself needs no room
                _write(handle, own)
        keep = True
        return ClaimAnswer(held=Held(file, handle, own, writes=writes))
    finally:
        if not keep:
            os.close(handle)


def _other(handle: int, is_free: Callable[[], bool]) -> ShowClaim | None:
    """Read the claim of an open file if its program is there, or may be: None when the show is free."""
    said = _decoded(handle)
    try:
        free = is_free()
    except OSError:  # no locks on this file system: the sign of life alone decides
        if said is None or (said.host, said.pid, said.boot) == (_host(), os.getpid(), _boot()):
            return None
        fresh = abs(time.time() - max(said.beat, said.since)) < FRESH_S
        return msgspec.structs.replace(said, alive=fresh) if fresh or _may_be_elsewhere(said) else None
    if not free:
        return msgspec.structs.replace(said or _decoded(handle) or ShowClaim(), alive=True)
    if said is None:
        return None
    fresh = abs(time.time() - max(said.beat, said.since)) < FRESH_S
    here = said.host == _host() and (said.boot == _boot() or not fresh)
    if here or (said.age_s > GONE_S and max(said.beat, said.since) > 0):
        return None
    return msgspec.structs.replace(said, alive=fresh)


def _may_be_elsewhere(said: ShowClaim) -> bool:
    return said.host != _host() and said.age_s <= GONE_S


def _lock_patiently(handle: int) -> bool:
    """Take the lock, letting those pass who only look whether it is free."""
    for wait_s in (0.0, 0.005, 0.02):
        time.sleep(wait_s)
        if try_lock(handle):
            return True
    return False


def _is_free(handle: int) -> bool:
    """Tell whether nobody has the lock; it is given back at once by closing the file."""
    return try_lock(handle)


def _stands(file: Path, handle: int) -> bool:
    try:
        return os.path.samestat(file.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False


def _remove(file: Path, handle: int) -> None:
    if _stands(file, handle):
        file.unlink()


def _read(file: Path) -> ShowClaim:
    with contextlib.suppress(OSError):
        handle = os.open(file, os.O_RDONLY | _SAFE)
        try:
            return _decoded(handle) or ShowClaim()
        finally:
            os.close(handle)
    return ShowClaim()


def _decoded(handle: int) -> ShowClaim | None:
    """Read a claim; None for a file that is empty, or that is none."""
    os.lseek(handle, 0, os.SEEK_SET)
    raw = os.read(handle, 4096)
    try:
        found = msgspec.json.decode(raw, type=ShowClaim)
    except (msgspec.DecodeError, UnicodeDecodeError):
        return None
    limit = 4e11  # a time in a year that no clock shows
    if not (0 <= found.since < limit and 0 <= found.beat < limit):
        return msgspec.structs.replace(found, since=0.0, beat=0.0)
    return found


def _write(handle: int, claim: ShowClaim) -> None:
    """Write the claim in place: in one step for those who read it, since its length stays nearly the same."""
    raw = msgspec.json.encode(claim)
    os.lseek(handle, 0, os.SEEK_SET)
    os.write(handle, raw)
    os.ftruncate(handle, len(raw))


def _host() -> str:
    import socket

    return socket.gethostname()


def _boot() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""


def _user() -> str:
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no name for this user number, as in a bare container
        return str(os.getuid()) if hasattr(os, "getuid") else "somebody"
