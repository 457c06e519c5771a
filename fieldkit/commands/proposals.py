"""What the program proposes: outputs, runs and inputs for the boxes; the way on when something failed."""

from __future__ import annotations

import _thread
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType

from fieldkit.commands.command import CommandLine, UsageError
from fieldkit.commands.output import DONE, FOUND, print_json, print_lines, style_of_output
from fieldkit.commands.shows import open_named, write_named
from fieldkit.errors import FieldkitError
from fieldkit.show.document import Show
from fieldkit.show.opening import Opened

AGAIN_AFTER_S = 0.15
"""Whoever swallowed a ctrl+c gets another one after this, until the work has ended."""


@contextmanager
def _interruptible() -> Iterator[Callable[[], bool]]:
    """Yield a function that the search calls at intervals; after ctrl+c it raises KeyboardInterrupt.

    The KeyboardInterrupt of Python itself can get lost: in the solver's library, which calls back into Python, and in
    whatever Python runs while it frees something. So it is raised again, at the next call and at intervals.
    """
    pressed, ended, lock = threading.Event(), threading.Event(), threading.Lock()

    def insist() -> None:
        while not ended.wait(AGAIN_AFTER_S):
            with lock:
                if not ended.is_set():
                    _thread.interrupt_main()

    def end() -> None:
        with lock:
            ended.set()
        signal.signal(signal.SIGINT, before)

    def hear(_number: int, _frame: FrameType | None) -> None:
        if not pressed.is_set():
            pressed.set()
            threading.Thread(target=insist, name="insisting", daemon=True).start()
        if not ended.is_set():
            raise KeyboardInterrupt

    def cancelled() -> bool:
        if pressed.is_set():
            raise KeyboardInterrupt
        return False

    before = signal.getsignal(signal.SIGINT)
    # Only the main thread hears a signal, and whoever started the command may have had it ignored.
    if before is not signal.default_int_handler or threading.current_thread() is not threading.main_thread():
        yield cancelled
        return
    signal.signal(signal.SIGINT, hear)
    try:
        yield cancelled
    finally:
        while not ended.is_set():
            with suppress(KeyboardInterrupt):  # one more, on the way out
                end()
    cancelled()


def assign(given: CommandLine) -> int:
    """Propose a plan for what nothing drives yet, and write it where asked; FOUND where it drives not all."""
    from fieldkit.planning.assign.judging import Wishes
    from fieldkit.planning.assign.plan import assign
    from fieldkit.reports.proposals import assign_object, assign_text

    wishes = Wishes(most_plugs=_plugs(given))
    opened = open_named(given.words[0])
    with _interruptible() as cancelled:
        proposal = assign(opened.show, wishes, cancelled=cancelled)
    written = [write_named(opened, proposal.show, name) for name in given.values("-o")[-1:]]
    if "--json" in given:
        print_json(assign_object(proposal))
    else:
        style = style_of_output()
        print_lines([*assign_text(proposal, style), *map(style.plain, written)])
    return DONE if proposal.holds else FOUND


def add(given: CommandLine) -> int:
    """Add what lines of words say, one after another, and write the show where asked."""
    from fieldkit.planning.entry.line import read_entry
    from fieldkit.reports.entries import entry_object, entry_text

    name, *lines = given.words
    opened = open_named(name)
    show = opened.show
    entries = []
    for number, line in enumerate(lines, 1):
        try:
            entry = read_entry(show, line)
        except FieldkitError as error:
            where = f"line {number}: " if len(lines) > 1 else ""
            raise UsageError(f"{where}{error}") from error
        entries.append(entry)
        show = entry.show
    written = [write_named(opened, show, out) for out in given.values("-o")[-1:]]
    if "--json" in given:
        print_json({"entries": [entry_object(entry) for entry in entries]})
    else:
        style = style_of_output()
        print_lines(
            [*(style.plain(text) for entry in entries for text in entry_text(entry)), *map(style.plain, written)]
        )
    return DONE


MOST_PLUGS = 10_000


def _plugs(given: CommandLine) -> int:
    """Read how many plugs may move."""
    for text in given.values("--moves")[-1:]:
        if not (text.isascii() and text.isdigit() and int(text) <= MOST_PLUGS):
            raise UsageError(f"--moves: expected a whole number from 0 to {MOST_PLUGS}, got '{text}'")
        return int(text)
    return 0


def failover(given: CommandLine) -> int:
    """Print how to go on after a failure, or the way back after a repair; FOUND where something stays silent."""
    from fieldkit.commands.table import FAILED
    from fieldkit.planning.failover.fail_over import fail_over
    from fieldkit.reports.failing_over import failover_object, failover_text

    if ("--failed" in given) == ("--back" in given):
        says = "not both of --failed and --back" if "--failed" in given else f"--failed ID, {FAILED}, or --back ID"
        raise UsageError(f"failover: expected {says}")
    opened = open_named(given.words[0])
    if "--back" in given:
        return _back(given, opened)
    with _interruptible() as cancelled:
        found = fail_over(opened.show, list(given.values("--failed")), cancelled)
    written = _written(given, opened, found.show)
    if written and "--take" in given:
        name = found.failed[-1]
        written.append(f"it is noted there under [[failed]]; undone by: fieldkit failover SHOW --back {name} --take")
    if "--json" in given:
        print_json({**failover_object(found), "written": _names(given)})
    else:
        style = style_of_output()
        print_lines([*failover_text(found, style), *map(style.plain, written)])
    return FOUND if found.stays_silent else DONE


def _back(given: CommandLine, opened: Opened) -> int:
    """Print the moves that put everything back; DONE."""
    from fieldkit.planning.failover.returning import way_back
    from fieldkit.reports.failing_over import back_object, back_text

    name = given.values("--back")[-1]
    way = way_back(opened.show, name)
    written = _written(given, opened, way.show)
    if "--json" in given:
        print_json({**back_object(name, way), "written": _names(given)})
    else:
        style = style_of_output()
        print_lines([*back_text(name, way, style), *map(style.plain, written)])
    return DONE


def _names(given: CommandLine) -> list[str]:
    """Name the files that a plan is written to: the one of -o, and the show itself where the plan is taken."""
    return [*given.values("-o")[-1:], *([given.words[0]] if "--take" in given else [])]


def _written(given: CommandLine, opened: Opened, show: Show) -> list[str]:
    return [write_named(opened, show, name) for name in _names(given)]
