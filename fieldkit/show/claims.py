"""Who has a show open: a small file beside it, so that two people do not write over each other unawares."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import msgspec


class Claim(msgspec.Struct, frozen=True):
    """Who has a show open."""

    host: str
    pid: int
    user: str
    since: float
    """Seconds since 1970."""

    def is_stale(self) -> bool:
        """Tell whether the program that made this claim is gone; only this very host can know."""
        return self.host == _host() and not _is_running(self.pid)


def claim(show_path: Path) -> Claim | None:
    """Claim a show for this program; give the claim of whoever has it already, or None when it is ours.

    A claim whose program is gone on this host is taken over. Where the folder cannot be written nobody can
    claim, nor save: then it is nobody's.
    """
    file = claim_file(show_path)
    own = Claim(host=_host(), pid=os.getpid(), user=_user(), since=time.time())
    for _ in range(2):
        try:
            handle = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644)
        except FileExistsError:
            other = read_claim(show_path)
            if other is not None and other.pid == own.pid and other.host == own.host:
                return None
            if other is None or other.is_stale():
                file.unlink(missing_ok=True)
                continue
            return other
        except OSError:
            return None  # saving will say why it cannot write here
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            json.dump(msgspec.to_builtins(own), stream)
        return None
    return read_claim(show_path)


def release(show_path: Path) -> None:
    """Give a show free again, if this program has it."""
    other = read_claim(show_path)
    if other is not None and other.host == _host() and other.pid == os.getpid():
        claim_file(show_path).unlink(missing_ok=True)


def read_claim(show_path: Path) -> Claim | None:
    """Read who has a show open; None for nobody, or for a file that is no claim."""
    try:
        return msgspec.json.decode(claim_file(show_path).read_bytes(), type=Claim)
    except (FileNotFoundError, msgspec.DecodeError):
        return None


def claim_file(show_path: Path) -> Path:
    """Name the file of the claim: hidden, beside the show."""
    target = show_path.resolve()
    return target.with_name(f".{target.name}.open")


def _host() -> str:
    import socket

    return socket.gethostname()


def _user() -> str:
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no name for this user number, as in a bare container
        return str(os.getuid()) if hasattr(os, "getuid") else "somebody"


def _is_running(pid: int) -> bool:
    if os.name == "nt":
        return True  # signal 0 is no question there but an interrupt; the claim is left for a person to judge
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
