"""How the application ends when nobody pressed ``q``: by a signal, with its line, or on a fault of its own.

Work is kept, the show is free for others and the terminal is as it was, whatever the event loop is doing: signals
are heard by a thread of their own, and what the loop has not done within ``PATIENCE_S`` that thread does itself.

Leans on these inner parts of Textual 8.2: ``App._loop``, ``_driver``, ``_handle_exception``, ``_fatal_error``,
``_exit_renderables``, ``_close_messages_no_wait``; ``tests/test_app_ending.py`` looks after them.
"""

from __future__ import annotations

import contextlib
import os
import platform
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from textual.app import App

from fieldkit import __version__
from fieldkit.text.folders import state_folder

FAULT = 70
"""The exit status after a fault of the program: what ``sysexits.h`` calls EX_SOFTWARE."""
BY_SIGNAL = 128
"""Added to the number of a signal gives the exit status, as shells count."""
HANG_UP = int(getattr(signal, "SIGHUP", 1))
PATIENCE_S = 0.6
"""The event loop has so long to end the program in good order."""
TIDY_S = 0.7
"""Then work is kept, the claim released and the terminal restored within this, a hung disk or not."""
MOST_REPORTS = 10

_NAMES = ("SIGHUP", "SIGINT", "SIGQUIT", "SIGTERM")
_LONGEST_WORD = 100


class Ending:
    """Hears the signals that end a program, from the moment it is made to the end of the process.

    They are blocked in every thread that starts later, so that only the one here takes them. A signal that the caller
    ignores (``nohup``) stays ignored.
    """

    def __init__(self) -> None:
        self._asked = threading.Event()
        self._gently: Callable[[int], None] = lambda _: None
        self._roughly: Callable[[], None] = lambda: None
        if hasattr(signal, "pthread_sigmask"):
            numbers = {getattr(signal, name) for name in _NAMES}
            signal.pthread_sigmask(signal.SIG_BLOCK, numbers)
            threading.Thread(target=self._hear, args=(numbers,), name="signals", daemon=True).start()

    def follow(self, gently: Callable[[int], None], roughly: Callable[[], None]) -> None:
        """Say how to end: ``gently`` asks the event loop, from any thread; ``roughly`` does what it did not do."""
        self._gently, self._roughly = gently, roughly

    def end(self, number: int) -> None:
        """End the program as that signal does, without waiting for it: the line is gone, for one."""
        threading.Thread(target=self._end, args=(number,), name="ending", daemon=True).start()

    def _hear(self, numbers: set[int]) -> None:
        while True:
            self.end(signal.sigwait(numbers))

    def _end(self, number: int) -> None:
        if self._asked.is_set():
            return
        self._asked.set()
        with contextlib.suppress(RuntimeError):  # the loop has ended already, or has not begun
            self._gently(number)
        time.sleep(PATIENCE_S)  # the process is gone by then, unless something hangs
        tidying = threading.Thread(target=self._roughly, name="tidying", daemon=True)
        tidying.start()
        tidying.join(TIDY_S)
        os._exit(BY_SIGNAL + number)


class EndingApp(App[None]):
    """An application that can be called from any thread, and keeps its work before a fault ends it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.fault: BaseException | None = None
        """What went wrong in the program itself, the first of it."""

    def keep_work(self) -> None:
        """Keep what is not saved; called once, before a fault ends the program."""

    def in_loop(self, call: Callable[..., object], *arguments: object) -> bool:
        """Have something done by the event loop, from any thread; False where none runs."""
        loop = self._loop
        if loop is None or loop.is_closed():
            return False
        loop.call_soon_threadsafe(call, *arguments)
        return True

    def give_terminal_back(self) -> None:
        """Leave the terminal as it was, without the event loop."""
        if self._driver is not None:
            self._driver.stop_application_mode()
            self._driver.close()

    def _handle_exception(self, error: Exception) -> None:
        """Keep unsaved work before Textual ends the program; what is said of it is ``told``'s."""
        if self.fault is None:
            self.fault = error
            self.keep_work()
        super()._handle_exception(error)
        if not wants_traceback():
            self._exit_renderables.clear()

    def _fatal_error(self) -> None:
        if wants_traceback():
            super()._fatal_error()
        else:
            self._close_messages_no_wait()


def wants_traceback() -> bool:
    """Tell whether a fault is to be shown whole on the terminal: ``FIELDKIT_TRACEBACK`` asks for it."""
    return bool(os.environ.get("FIELDKIT_TRACEBACK"))


def told(fault: BaseException, kept: str) -> str:
    """Say in one line what happened, where the work is and how to report it; ``kept`` is the part on the work."""
    word = f"{type(fault).__name__}: {fault}" if str(fault) else type(fault).__name__
    word = " ".join("".join(sign if sign.isprintable() else " " for sign in word).split())
    if len(word) > _LONGEST_WORD:
        word = word[:_LONGEST_WORD] + "…"
    try:
        report = f"to report it, send {_write_report(fault)}"
    except OSError as error:
        report = f"no report could be written ({error.strerror}): FIELDKIT_TRACEBACK=1 shows it here"
    return f"fieldkit: it stopped on a fault of its own ({word}); {kept}; {report}"


def _write_report(fault: BaseException) -> Path:
    """Write where the fault happened: lines of the program and versions, no values of the show. Raises OSError."""
    from importlib.metadata import version  # a tenth of the way to the first screen, and no use before a fault

    folder = state_folder()
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / time.strftime("fault-%Y%m%d-%H%M%S.txt")
    versions = (
        f"fieldkit {__version__}, textual {version('textual')}, "
        f"Python {platform.python_version()}, {platform.system()}, TERM={os.environ.get('TERM', '')}"
    )
    file.write_text("\n".join([versions, "", *traceback.format_exception(fault)]), encoding="utf-8", errors="replace")
    for older in sorted(folder.glob("fault-*.txt"))[:-MOST_REPORTS]:
        older.unlink(missing_ok=True)
    return file


def say(text: str) -> None:
    """Write a line to standard error, which may be gone with its terminal."""
    with contextlib.suppress(OSError, ValueError):
        print(text, file=sys.__stderr__, flush=True)
