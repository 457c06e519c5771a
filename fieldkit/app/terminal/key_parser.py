"""The parser of what a terminal sends, for keys that arrive together.

The stock one takes an escape and the key behind it for one key with alt, or swallows what follows. No action has such
a key, so here they are two. It also executes what is pasted once an escape is in it, and ends the program where a
sequence names a character that there is not.

Leans on these inner parts of Textual 8.2: ``XTermParser.feed``, ``tick``, ``_timeout_time`` and
``_sequence_to_key_events``; ``tests/test_app_bursts.py`` looks after them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from textual import events
from textual._xterm_parser import BRACKETED_PASTE_END, BRACKETED_PASTE_START, XTermParser
from textual.keys import Keys
from textual.message import Message

_LONE_ESCAPE = re.compile(r"(?<=\x1b)(?=[^\x1b\[O])")
"""Behind an escape that begins no sequence: ``[`` and ``O`` begin those of the other keys."""


class KeyParser(XTermParser):
    """Makes events of what arrives: each key one, a paste one."""

    def __init__(self, debug: bool = False) -> None:  # noqa: FBT001, FBT002  (as the driver calls it)
        super().__init__(debug)
        self._pasted: str | None = None
        """What a paste has brought until now; None while there is none."""
        self._open_escape = False
        """Whether the last character was an escape."""

    def feed(self, data: str) -> Iterable[Message]:
        """Convert the text that arrived to events; empty text ends the input."""
        if not data:
            yield from super().feed(data)
            return
        while data:
            if self._pasted is None:
                keys, begin, data = data.partition(BRACKETED_PASTE_START)
                yield from self._keys(keys)
                self._pasted = "" if begin else None
            else:
                text, end, data = (self._pasted + data).partition(BRACKETED_PASTE_END)
                self._pasted = None if end else text
                if end:
                    yield events.Paste(text)

    def _sequence_to_key_events(self, sequence: str, alt: bool = False) -> Iterable[events.Key]:  # noqa: FBT001, FBT002
        """Convert a sequence to keys; to a key that is ignored where the sequence names no character."""
        try:
            return list(super()._sequence_to_key_events(sequence, alt))
        except (ValueError, OverflowError):
            return [events.Key(Keys.Ignore, sequence)]

    def _keys(self, data: str) -> Iterable[Message]:
        if data and self._open_escape and data[0] not in "\x1b[O":
            yield from self._end_escape()
        for place, piece in enumerate(_LONE_ESCAPE.split(data)):
            if place:
                yield from self._end_escape()
            if piece:
                yield from super().feed(piece)
                self._open_escape = piece.endswith("\x1b")

    def _end_escape(self) -> Iterable[Message]:
        """Let the parser take an escape that it waits with for what it is."""
        if self._open_escape and self._timeout_time is not None:
            self._timeout_time = 0.0
            yield from self.tick()
        self._open_escape = False
