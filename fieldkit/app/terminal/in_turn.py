"""Keys one after the other: a key is handled only when all that the one before it began has come to its end.

A paste, a double press on a slow line or a fast hand bring several keys in one read. Textual sends each of them to
whatever has the focus at that moment, while windows open and close, modes change and focus moves by messages of their
own, and so keys go astray. Here they wait in one queue, and each finds the screen that it was meant for.

This file leans on these parts of Textual 8.2 and asyncio: ``MessagePump._message_queue`` with its ``values`` and the
``_waiters`` of its ``ready_event``, ``_next_callbacks``, ``_closing``, ``_closed``; ``Screen._callbacks``,
``_layout_required``, ``_binding_chain``; ``App._batch_count``, ``_exit``; ``Event.is_forwarded``.
``tests/test_app_bursts.py`` looks after them.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Iterable
from typing import Any, TypeAlias

from textual import events
from textual.app import App
from textual.message import Message
from textual.message_pump import MessagePump
from textual.widgets import Input

Pressed: TypeAlias = events.Key | events.Paste

LONGEST_WAIT_S = 10.0
"""A key waits no longer than this for what the one before it began, unless a window says that it is at work."""
_AT_ONCE = 100
"""So many turns of the event loop pass without a pause; most keys are done within ten."""
_PAUSE_S = 0.002
MOST_PASTED = 10_000
"""Characters of a paste that go into a field."""


class KeysInTurn(App[None]):
    """An application that handles one key at a time."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self._keys: deque[Pressed] = deque()
        """Keys that wait for their turn."""
        self._turn: Pressed | None = None
        """The one whose turn it is, on its way through the application's own queue."""
        self._typed = False
        """Whether that one is a text that was typed, not pasted."""
        self._turns: asyncio.Task[None] | None = None

    def say(self, text: str) -> None:
        """Say something to the user."""
        raise NotImplementedError

    async def on_event(self, event: events.Event) -> None:
        """Handle a key now if nothing is going on, else when its turn comes."""
        if not isinstance(event, Pressed) or event.is_forwarded:
            await super().on_event(event)
        elif event is self._turn:
            self._turn = None
            await self._press(event)
        elif isinstance(event, events.Key) and event.key == "escape" and self._at_work():
            # Whoever stops the work of a window does not want what was typed before, for its result, either.
            self._keys.clear()
            await self._press(event)
        elif self.keys_wait or not self._settled(inside=True):
            self._keys.append(event)
            if self._turns is None or self._turns.done():
                self._turns = asyncio.create_task(self._take_turns())
                self._turns.add_done_callback(self._turns_ended)
        else:
            await self._press(event)

    @property
    def keys_wait(self) -> bool:
        """Whether there are keys whose turn has not come yet."""
        return bool(self._keys) or self._turn is not None

    async def keys_done(self) -> None:
        """Wait until no key waits any more, and the last one has come to its end."""
        await self._until_settled()
        while self.keys_wait and not self._closed:  # nobody takes keys any more after a fault
            await asyncio.sleep(_PAUSE_S)
            await self._until_settled()

    # ---- whose turn it is ------------------------------------------------------------------------------------

    async def _take_turns(self) -> None:
        while self._keys:
            await self._until_settled()
            if self._exit:
                self._keys.clear()
                return
            if self._keys:  # an escape may have cleared them
                self._turn, self._typed = self._next()
                self.post_message(self._turn)

    def _turns_ended(self, task: asyncio.Task[None]) -> None:
        error = None if task.cancelled() else task.exception()
        if isinstance(error, Exception):
            self._handle_exception(error)

    def _next(self) -> tuple[Pressed, bool]:
        """Take the first key; with it all text behind it, where that goes into one field."""
        first = self._keys.popleft()
        if not isinstance(self.focused, Input) or not getattr(self.screen, "takes_whole_text", True):
            return first, False
        # Not even in a field is a key text where an action has it with priority.
        actions = {
            key
            for _, bindings in self.screen._binding_chain
            for key, bound in bindings.key_to_bindings.items()
            if any(binding.priority for binding in bound)
        }
        text = ""
        while isinstance(first, events.Key) and first.is_printable and first.key not in actions:
            text += first.character or ""
            if not self._keys:
                return events.Paste(text), True
            first = self._keys.popleft()
        if not text:
            return first, False
        self._keys.appendleft(first)
        return events.Paste(text), True

    # ---- whether anything is going on ------------------------------------------------------------------------

    async def _until_settled(self) -> None:
        loop = asyncio.get_running_loop()
        end, turns = loop.time() + LONGEST_WAIT_S, 0
        while not self._settled() and (loop.time() < end or self._at_work()):
            await asyncio.sleep(0 if turns < _AT_ONCE else _PAUSE_S)
            turns += 1

    def _settled(self, *, inside: bool = False) -> bool:
        """Tell whether nothing is going on; ``inside``: asked by the application while it handles a message."""
        if self._exit:
            return True
        if not self.screen_stack:
            return False
        if inside:
            waiting: Iterable[Message | None] = self._message_queue.values
            idle = not self._next_callbacks and all(isinstance(item, Pressed) for item in waiting)
        else:
            idle = _idle(self)
        top = self.screen
        return (
            idle
            and getattr(top, "filled", True)
            and not top._callbacks
            # A window stands beside the row that it is about, and a page is as long as the list is high: both are known
            # once the screen was laid out. While a line is behind nothing is: then a list that has a height will do.
            and (bool(self._batch_count) or not top._layout_required)
            and (top.focused is None or top.focused.size.height > 0 or not (top._layout_required or self._batch_count))
            and not self._at_work()
            and all(_idle(node) for screen in self.screen_stack for node in screen.walk_children(with_self=True))
        )

    def _at_work(self) -> bool:
        """Tell whether the window on top waits for work of its own; the screens below write beside the keys."""
        stack = self.screen_stack
        return len(stack) > 1 and any(worker.node is stack[-1] and not worker.is_finished for worker in self.workers)

    # ---- what it does ----------------------------------------------------------------------------------------

    async def _press(self, event: Pressed) -> None:
        if isinstance(event, events.Key):
            await super().on_event(event)
        elif self._typed:
            self._typed = False
            await super().on_event(event)
        else:
            await self._paste(event.text)

    async def _paste(self, text: str) -> None:
        """Put the first line of a paste into the field that has the focus; nothing of a paste is ever a key."""
        if not isinstance(self.focused, Input) and not getattr(self.focused, "typing", False):
            self.say("a paste goes into a field, and none is open: nothing was done with it")
            return
        lines = [line for line in text.splitlines() if line.strip()]
        line = "".join(mark for mark in (lines[0] if lines else "").replace("\t", " ") if mark.isprintable())
        await super().on_event(events.Paste(line[:MOST_PASTED]))
        if len(lines) > 1:
            self.say(f"a field is one line: the first of the {len(lines)} lines pasted is in it")
        elif len(line) > MOST_PASTED:
            self.say(f"the first {MOST_PASTED} of the {len(line)} characters pasted are in the field")


def _idle(pump: MessagePump) -> bool:
    """Tell whether a widget, a screen or the application waits for its next message, or is on its way out."""
    if pump._closing or pump._closed:
        return True
    if not pump._message_queue.empty() or pump._next_callbacks:
        return False
    arrival: Any = pump._message_queue.ready_event
    return bool(arrival._waiters)
