"""What a session does beside the edits, in a thread of its own: keep unsaved work, renew the claim, watch the file.

The program never waits for the disk while one edits: an edit leaves word here, and the thread works out the text and
writes it, at most a second after the first edit that is not kept, however many follow.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from pathlib import Path

from fieldkit.show.errors import FileError
from fieldkit.show.keep import claims
from fieldkit.show.keep.journal import Journal
from fieldkit.text.folders import state_folder

KEEP_AFTER_S = 1.0
"""From the first edit that is not kept to its writing; with the writing itself under two seconds."""
LOOK_S = 2.0
"""Between two looks at the file and its claim."""
AGAIN_S = 5.0
"""Before another try where unsaved work could not be kept."""
LONGEST_S = 3.0
"""That the end of the program waits for the disk."""

State = tuple[str, Callable[[], str]]
"""The text that work began from, and what makes the text as it is now."""


class Keeper:
    """Keeps the work of one session. ``tell`` is called from its thread, with a word and a text: see ``Session``."""

    def __init__(self, path: Path, held: claims.Held | None, tell: Callable[[str, str], None], *, watch: bool) -> None:
        """``watch`` is whether the file and its claim are looked at from time to time."""
        self._path, self.held, self._tell, self._watch = path, held, tell, watch
        self._folder = state_folder()
        self._session = secrets.token_hex(8)
        self._wake = threading.Condition()
        self._state: State | None = None
        self._since = self._not_before = 0.0
        self._answered = self._ends = self._asked = False
        self._problem = ""
        self._journal: Journal | None = None
        self._seen = _stamp(path)
        self._other = ""
        self._next_look = self._next_beat = time.monotonic()
        self._thread: threading.Thread | None = None
        if watch:
            self._start()

    # ---- what the session says; none of these waits ---------------------------------------------------------

    def edited(self, base: str, text: Callable[[], str]) -> None:
        """Take word of an edit, or of going back to one."""
        with self._wake:
            if self._state is None:
                self._since = time.monotonic()
            self._state = (base, text)
            self._answered = False
            self._start()
            self._wake.notify_all()

    def answered(self) -> None:
        """Forget what is kept, since it was saved or is not wanted."""
        with self._wake:
            self._state = None
            self._answered = True
            self._start()
            self._wake.notify_all()

    def seen(self) -> None:
        """Take the file as it is now for known."""
        self._seen = _stamp(self._path)

    # ---- what waits ------------------------------------------------------------------------------------------

    def flush(self) -> None:
        """See that all is kept. Raises FileError where it cannot be."""
        end = time.monotonic() + LONGEST_S
        with self._wake:
            if self._thread is None:
                return
            self._asked = True
            self._wake.notify_all()
            while (self._asked or self._answered) and self._thread.is_alive():
                if not self._wake.wait(end - time.monotonic()) and time.monotonic() >= end:
                    raise FileError("unsaved work cannot be kept: the disk does not answer", file=self._folder.name)
            if self._problem:
                raise FileError(f"unsaved work cannot be kept: {self._problem}", file=self._folder.name)

    def close(self) -> None:
        """End the thread, and leave what is kept for the next start."""
        with self._wake:
            self._ends = True
            self._wake.notify_all()
        if self._thread is not None:
            self._thread.join(LONGEST_S)
        if self.held is not None:
            self.held.release()

    @property
    def file(self) -> Path | None:
        """Where unsaved work is, if there is any."""
        journal = self._journal
        return journal.file if journal is not None else None

    # ---- the thread ------------------------------------------------------------------------------------------

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        while True:
            with self._wake:
                while not (self._ends or self._asked or self._answered) and (wait_s := self._wait_s()) > 0:
                    self._wake.wait(wait_s)
                now = time.monotonic()
                asked, ends = self._asked, self._ends
                state, answered = self._state, self._answered
                due = state is not None and (asked or ends or now >= max(self._since + KEEP_AFTER_S, self._not_before))
                if due:
                    self._state = None
            if answered:
                self._forget()
            if due and state is not None:
                self._keep(state)
            if asked or answered:
                with self._wake:
                    self._asked = self._asked and not asked
                    self._answered = self._answered and not answered
                    self._wake.notify_all()
            if self._watch and not ends and now >= self._next_look:
                self._look(now)
            if ends:
                if self._journal is not None:
                    self._journal.close()
                return

    def _wait_s(self) -> float:
        """Tell how long there is nothing to do."""
        moments = [time.monotonic() + 3600.0]
        if self._watch:
            moments.append(self._next_look)
        if self._state is not None:
            moments.append(max(self._since + KEEP_AFTER_S, self._not_before))
        return min(moments) - time.monotonic()

    def _keep(self, state: State) -> None:
        base, make = state
        try:
            text = make()
            if text == base:
                self._forget()
            else:
                self._write(base, text)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is said, and the thread must go on
            self._failed(state, getattr(error, "strerror", None) or f"{type(error).__name__}: {error}")
        else:
            if self._problem:
                self._problem = ""
                self._tell("kept", "unsaved work is kept again")

    def _write(self, base: str, text: str) -> None:
        before = self._journal
        if before is None or before.base != base or before.has_grown or not before.file.exists():
            self._journal = Journal(self._folder, self._path, base, self._session)
        if self._journal is not None:
            self._journal.write(text)
        if before is not None and before is not self._journal:
            before.remove()

    def _failed(self, state: State, problem: str) -> None:
        """Go on, try again later, and say so once."""
        with self._wake:
            if self._state is None and not self._answered:
                self._state, self._since = state, time.monotonic()
            self._not_before = time.monotonic() + AGAIN_S
        if not self._problem:
            self._tell("kept", f"! unsaved work cannot be kept: {problem}; work goes on, save it soon")
        self._problem = problem

    def _forget(self) -> None:
        journal, self._journal = self._journal, None
        if journal is not None:
            try:
                journal.remove()
            except OSError as error:
                journal.close()
                self._tell("kept", f"! {journal.file} cannot be removed: {error.strerror}")

    def _look(self, now: float) -> None:
        """Renew the claim, and see what others did."""
        self._next_look = now + LOOK_S
        if self.held is not None:
            if now >= self._next_beat:
                self._next_beat = now + claims.BEAT_S
                if not self.held.beat():
                    self.held = None
                    self._tell("taken", self._who())
        else:
            other = self._who()
            if other != self._other:
                self._other = other
                self._tell("other", other)
        stamp = _stamp(self._path)
        if stamp != self._seen:
            self._seen = stamp
            self._tell("file", "")

    def _who(self) -> str:
        """Say who has the show; empty for nobody who is there."""
        try:
            other = claims.look(self._path)
        except OSError:
            return ""
        return f"{other.user} on {other.host}" if other is not None and other.alive else ""


def _stamp(path: Path) -> tuple[int, int, int]:
    """Fingerprint a version of a file without reading it; zeros for none."""
    try:
        status = path.stat()
    except OSError:
        return 0, 0, 0
    return status.st_mtime_ns, status.st_size, status.st_ino
