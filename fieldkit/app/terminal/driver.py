"""The line to the terminal: output that never holds the program up, and an end of the line that is noticed.

The stock driver of Textual writes through a queue of 30 places and waits when it is full. On a slow line the program
then trails its keys by many seconds, and when the line is gone it waits for ever, deaf to signals, while its input
thread reads the end of the file again and again. Here a thread writes, ``Flow`` says whether the line can take another
frame, and whoever paints (``painting``) leaves out the frames that it cannot.

Leans on these inner parts of Textual 8.2: ``LinuxDriver.run_input_thread`` (replaced: the same loop, with an end),
``_run_input_thread``, ``_writer_thread`` (not used), ``write``, ``close``, ``exit_event``, ``_file``; the answer to
``CSI ? 2026 $ p`` that its parser makes a message of; ``tests/test_app_driver.py`` looks after them.
"""

from __future__ import annotations

import codecs
import contextlib
import functools
import os
import select
import selectors
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message
from textual.messages import TerminalSupportsSynchronizedOutput

from fieldkit.app.terminal.key_parser import KeyParser

ASK = "\x1b[?2026$p"
"""Asks the terminal something that it answers at once: the answer says that it has read everything before."""
BEHIND_S = 0.1
"""A line may be so far behind its keys, beside the time that it needs for a question and its answer."""
FIRST_BYTES = 8_000
"""So much may be on its way before anything is known of the line: two full screens."""
PART_BYTES = 300
"""A part of a frame is no smaller, since each has a question of its own."""
ANSWER_WITHIN_S = 5.0
"""A terminal that takes longer is not waited for any more, until it answers again."""
LAST_WORDS_S = 0.4
"""The sequences that give the terminal back may take so long; a line that is stuck never ends."""
PIECE = 512
"""A frame is written in pieces, so that the rest of it can still be left out when the program ends [bytes]."""
MOST_WAITING = 65_536
"""Bells, questions and the like that wait for a line that is stuck are dropped above this [bytes]."""

_CANCEL = b"\x18"
"""Ends a sequence that was cut off (ECMA-48, CAN)."""


class Flow:
    """How much is on its way to a terminal that answers, and whether it can take more. Times are its caller's."""

    def __init__(self) -> None:
        self.answers = False
        """Whether the terminal answers, as far as is known."""
        self.asks = False
        """Whether it has ever answered."""
        self._questions: deque[tuple[float, int, int]] = deque()
        self._sent = self._arrived = 0
        self._shortest_s = ANSWER_WITHIN_S
        self._most = FIRST_BYTES

    def sent(self, now: float, size: int) -> None:
        """Note that so many bytes went out, a question at their end."""
        self._sent += size
        self._questions.append((now, self._sent, self._arrived))

    def answered(self, now: float) -> None:
        """Note the answer to the oldest question, and learn from it how fast the line is."""
        self.answers = self.asks = True
        if not self._questions:
            return
        then, up_to, arrived = self._questions.popleft()
        self._arrived = max(self._arrived, up_to)
        took = max(now - then, 1e-4)
        self._shortest_s = min(self._shortest_s, took)
        allowed_s = self._shortest_s + BEHIND_S
        most = round((up_to - arrived) / took * allowed_s)
        # An answer that came in time says only that the line is at least as fast as that.
        self._most = most if took > allowed_s else max(self._most, most)

    def open(self, now: float) -> bool:
        """Tell whether another frame may go out; one always may when none is on its way."""
        if self._questions and now - self._questions[0][0] > ANSWER_WITHIN_S:
            self.answers = False
            self._questions.clear()
            self._arrived = self._sent
        return not self._questions or self._sent - self._arrived < self._most

    @property
    def room(self) -> int:
        """So many bytes may go out at once; a frame that has more comes in parts, each drawn of the newest state."""
        return max(PART_BYTES, self._most - (self._sent - self._arrived)) if self.answers else sys.maxsize


class LineOutput(threading.Thread):
    """Writes to the terminal; nobody ever waits for it, but for the last words."""

    def __init__(self, fileno: int, drained: Callable[[], None], failed: Callable[[], None]) -> None:
        super().__init__(daemon=True, name="output")
        self._fileno = fileno
        self._drained, self._failed = drained, failed
        self._change = threading.Condition()
        self._waiting: deque[tuple[bytes, bool]] = deque()
        self._size = 0
        self._cut = False
        """Whether a part of the first frame that waits is written already."""
        self._busy = self._ended = self._gone = False

    @property
    def idle(self) -> bool:
        """Whether all is written."""
        return not (self._waiting or self._busy)

    def write(self, data: bytes, *, frame: bool = False) -> None:
        """Write soon; a frame may be left out in favour of the last words."""
        with self._change:
            if self._gone or (self._size > MOST_WAITING and not frame):
                return
            self._waiting.append((data, frame))
            self._size += len(data)
            self._change.notify_all()

    def drop_frames(self) -> None:
        """Leave out what has not been written of frames."""
        with self._change:
            kept = [(data, frame) for data, frame in self._waiting if not frame]
            if self._cut:
                kept.insert(0, (_CANCEL, False))
                self._cut = False
            self._waiting = deque(kept)
            self._size = sum(len(data) for data, _ in kept)

    def stop(self, longest_s: float) -> None:
        """Write what still waits, as far as that goes."""
        with self._change:
            self._ended = True
            self._change.notify_all()
        self.join(longest_s)

    def run(self) -> None:
        """Write piece by piece until it is stopped or the line fails."""
        while (piece := self._next()) is not None:
            try:
                _write_all(self._fileno, piece)
            except OSError:
                with self._change:
                    self._gone, self._busy = True, False
                    self._waiting.clear()
                self._failed()
                return
            with self._change:
                self._busy = False
                empty = not self._waiting
                self._change.notify_all()
            if empty:
                self._drained()

    def _next(self) -> bytes | None:
        with self._change:
            while not self._waiting and not self._ended:
                self._change.wait()
            if not self._waiting:
                return None
            data, frame = self._waiting.popleft()
            piece, rest = data[:PIECE], data[PIECE:]
            self._cut = frame and bool(rest)
            if rest:
                self._waiting.appendleft((rest, frame))
            self._size -= len(piece)
            self._busy = True
            return piece


def _write_all(fileno: int, data: bytes) -> None:
    """Write to a file that blocks, or to one that somebody else has told not to. Raises OSError."""
    while data:
        try:
            data = data[os.write(fileno, data) :]
        except BlockingIOError:
            select.select([], [fileno], [])


class SteadyDriver(LinuxDriver):
    """Input and output of a terminal on any line, fast, slow or gone."""

    def __init__(self, app: App[Any], **options: Any) -> None:
        super().__init__(app, **options)
        file = sys.__stderr__ or sys.stderr
        self._terminal, self._encoding = file.fileno(), file.encoding
        self._flow = Flow()
        self._output: LineOutput | None = None
        self.ready_again: Callable[[], None] = lambda: None
        """Called in the event loop when the line can take a frame again, perhaps oftener."""
        self.line_gone: Callable[[], None] = lambda: None
        """Called from any thread when nobody reads or writes at the other end any more."""
        self.resumed: Callable[[], None] = lambda: None
        """Called in the event loop when the terminal is ours again after a pause, and shows something else."""

    @property
    def ready(self) -> bool:
        """Whether the line can take a frame now."""
        if self._flow.answers and self._flow.open(time.monotonic()):
            return True
        return not self._flow.answers and self._output is not None and self._output.idle

    @property
    def room(self) -> int:
        """How many bytes the line can take now."""
        return self._flow.room

    def write(self, data: str) -> None:
        """Write a sequence soon."""
        if self._output is not None:
            self._output.write(data.encode(self._encoding, "replace"))

    def write_frame(self, data: str) -> None:
        """Write a frame soon; one that is ``ready`` for it should come before the next."""
        if self._output is not None:
            frame = (data + ASK if self._flow.asks else data).encode(self._encoding, "replace")
            if self._flow.asks:
                self._flow.sent(time.monotonic(), len(frame))
            self._output.write(frame, frame=True)

    def start_application_mode(self) -> None:
        """Take the terminal over, with an output of our own in place of the stock thread."""
        again = self._output is not None
        self._flow = Flow()
        self._output = LineOutput(self._terminal, lambda: self._in_loop(self.ready_again), self.line_gone)
        self._output.start()
        super().start_application_mode()  # type: ignore[no-untyped-call]
        if again:
            self._in_loop(self.resumed)

    def _request_terminal_sync_mode_support(self) -> None:
        super()._request_terminal_sync_mode_support()
        self._flow.sent(time.monotonic(), len(ASK))

    def stop_application_mode(self) -> None:
        """Restore the terminal, and drop the frames that it has not shown yet."""
        if self._output is not None:
            self._output.drop_frames()
        super().stop_application_mode()

    def close(self) -> None:
        """Let the last words out, and end the thread."""
        if self._output is not None:
            self._output.stop(LAST_WORDS_S)
        super().close()

    def process_message(self, message: Message) -> None:
        """Take the answers to our own questions out of the input."""
        if isinstance(message, TerminalSupportsSynchronizedOutput):
            known, now = self._flow.asks, time.monotonic()
            self._in_loop(lambda: self._answered(now))
            if known:
                return
        super().process_message(message)

    def send_message(self, message: Message) -> None:
        """Post a message to the application, without a task for each key: the task takes longer than the key."""
        self._in_loop(lambda: self._app.post_message(message))

    def _answered(self, now: float) -> None:
        self._flow.answered(now)
        self.ready_again()

    def _in_loop(self, call: Callable[[], object]) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended: nothing is painted any more
            self._loop.call_soon_threadsafe(call)

    def _run_input_thread(self) -> None:
        try:
            self.run_input_thread()
        except (OSError, EOFError):
            self.line_gone()
        except Exception as error:  # noqa: BLE001 - a fault of the program: it ends as any other
            self._in_loop(functools.partial(self._app._handle_exception, error))  # noqa: SLF001

    def run_input_thread(self) -> None:
        """Read keys until the application ends. Raises OSError or EOFError where the line ends."""
        parser = KeyParser(self._debug)
        decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                if selector.select(0.1):
                    data = os.read(self.fileno, 4096)
                    if not data:
                        raise EOFError("the terminal is closed")
                    for event in parser.feed(decode(data)):
                        self.process_message(event)
                for event in parser.tick():
                    self.process_message(event)
