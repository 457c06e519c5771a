"""A program in a pseudo-terminal: what it writes for a key, whether it is quiet, how it takes a signal."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path


class Terminal:
    """A terminal of a fixed size with fieldkit in it."""

    def __init__(
        self,
        *arguments: str,
        columns: int = 80,
        rows: int = 24,
        env: dict[str, str] | None = None,
        command: list[str] | None = None,
        controlling: bool = False,
    ) -> None:
        """``command`` gives Python something else to run than fieldkit.

        Only a ``controlling`` terminal sends a signal when it is closed.
        """
        self.main, side = pty.openpty()
        fcntl.ioctl(side, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        # What the terminal of the tests' own caller says of itself is not to be believed here.
        own = ("NO_COLOR", "COLORFGBG", "SSH_CONNECTION", "SSH_TTY")
        environment = {name: value for name, value in os.environ.items() if name not in own}
        environment |= {"TERM": "xterm-256color", "COLORTERM": "", **(env or {})}
        self.process = subprocess.Popen(
            [sys.executable, *(command or ["-m", "fieldkit"]), *arguments],
            stdin=side,
            stdout=side,
            stderr=side,
            env=environment,
            start_new_session=True,
            preexec_fn=(lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0)) if controlling else None,  # noqa: PLW1509
        )
        os.close(side)
        self.started = time.monotonic()

    def at_rest(self) -> bool:
        """Whether every thread of the program waits: for a key, a timer, or for somebody to read what it writes.

        A quiet line alone says little where other programs run: this one may have had no turn yet.
        """
        try:
            stats = [(task / "stat").read_text() for task in Path(f"/proc/{self.process.pid}/task").iterdir()]
        except OSError:  # a system that does not say, a thread that has just ended, or the whole program
            return True
        return all(stat.rpartition(")")[2].split()[0] not in {"R", "D"} for stat in stats)

    def wait_until_stuck(self, longest_s: float = 20.0) -> None:
        """Read nothing until no more comes: the line is full, or the program has nothing to say."""
        begun = since = time.monotonic()
        before = -1
        while (now := time.monotonic()) - since < 0.3 and now - begun < longest_s:
            (waiting,) = struct.unpack("i", fcntl.ioctl(self.main, termios.FIONREAD, b"\0" * 4))
            if waiting != before:
                before, since = waiting, now
            time.sleep(0.02)

    def read(self, quiet_s: float = 0.15, longest_s: float = 20.0) -> bytes:
        """Read until nothing has come for a while and the program is at rest."""
        found = b""
        begun = since = time.monotonic()
        while (now := time.monotonic()) - since < quiet_s and now - begun < longest_s:
            ready, _, _ = select.select([self.main], [], [], min(quiet_s, 0.01))
            if ready:
                try:
                    data = os.read(self.main, 65536)
                except OSError:  # the other side is closed
                    break
                if not data:
                    break
                found += data
            if ready or not self.at_rest():
                since = time.monotonic()
        return found

    def until(self, text: str, longest_s: float = 60.0) -> bytes:
        """Read until a text has been painted."""
        found = b""
        end = time.monotonic() + longest_s
        while text.encode() not in found and time.monotonic() < end:
            found += self.read(0.05, 1.0)
        if text.encode() not in found:
            raise AssertionError(f"{text!r} was not painted: {found[-400:]!r}")
        return found + self.read()

    def send(self, keys: bytes) -> bytes:
        """Press keys, and read what they make the program write."""
        os.write(self.main, keys)
        return self.read()

    def ended(self, longest_s: float = 20.0) -> int:
        """Wait for the end, and give its status. How soon it comes is measured by ``bench/terminal.py``."""
        return self.process.wait(timeout=longest_s)

    def signal(self, number: int) -> None:
        """Send a signal."""
        self.process.send_signal(number)

    def hang_up(self) -> None:
        """Close the terminal, with the program still in it."""
        os.close(self.main)
        self.main = -1

    def close(self) -> None:
        """End the program."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=10)
        if self.main >= 0:
            os.close(self.main)
