"""Let the program propose the plan: choose what to plan, see it work, look at the change, take it or leave it."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.message import Message

from fieldkit.app.dialogs.answering import Accept
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Dialog, Effect, Read
from fieldkit.app.shell import Shell
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import Rows
from fieldkit.planning.assign.judging import Proposal, Wishes
from fieldkit.planning.fixes.feeding import feedings
from fieldkit.reports.proposals import first_lines, preview_lines
from fieldkit.show.document import Show
from fieldkit.text.words import counted

FEED, FEED_PLACE = "feed", 5
"""What leads to the processors, after the ways to plan the whole show."""


def propose(shell: Shell) -> None:
    """Ask what to plan, and go on from there."""
    session = shell.session
    if session is None:
        shell.say("no show is open")
        return
    choices = choices_for(session.present)
    options = [ChoiceRow(key, (text, shell.safe(more))) for key, (text, more, _) in choices.items()]
    options.insert(
        FEED_PLACE, ChoiceRow(FEED, ("inputs and processor outputs", "what shares one, and what that costs"))
    )

    def chosen(key: str | None) -> None:
        if key == FEED:
            _feed(shell)
        elif key is not None:
            _, _, wishes = choices[key]
            shell.push(Working(session.present, wishes), lambda proposal: _show(shell, proposal))

    shell.push(Choose("propose outputs and runs for", options), chosen)


def choices_for(show: Show) -> dict[str, tuple[str, str, Wishes]]:
    """List what somebody may ask for: a word, what it means, and the wishes."""
    choices = {
        "rest": ("what has no run yet", "and what moving some plugs would bring", Wishes()),
        "free": (
            "the same, drives free",
            "drives that nobody wrote down may change",
            Wishes(free_drives=True),
        ),
        "shared": ("the same, sides may share", "one amplifier may carry both sides of a zone", Wishes(mirrored=False)),
        "loads": ("the same, easy loads", "the preferred load counts before rack units", Wishes(preferred_first=True)),
        "again": ("everything anew", "the fewest plugs move that make it better", Wishes(again=True)),
    }
    for zone in show.zones:
        wishes = Wishes(again=True, zones=frozenset({zone.id}))
        choices[f"zone {zone.id}"] = (f"zone {zone.id} anew", "the runs of other zones stay", wishes)
    return choices


def _show(shell: Shell, proposal: Proposal | None) -> None:
    """Ask how many plugs may move, where that makes a difference; then show what changes."""
    if proposal is None:
        shell.later(shell.say, "nothing was changed")
        return
    if not proposal.ladder:
        _preview(shell, proposal)
        return
    proposed = str(proposal.replugged)
    plans = {str(rung.plugs): rung.proposal for rung in proposal.ladder} | {proposed: proposal}
    options = [
        ChoiceRow(
            str(rung.plugs),
            (
                f"{'*' if str(rung.plugs) == proposed else ' '} {counted(rung.plugs, 'plug')}",
                counted(rung.rack_units, "unit"),
                shell.safe("; ".join(rung.brings)),
            ),
        )
        for rung in proposal.ladder
    ]

    def taken(key: str | None) -> None:
        if key is None:
            shell.later(shell.say, "nothing was changed")
        else:
            _preview(shell, plans[key])

    shell.push(ChoosePlugs(options, proposed, lambda key: shell.foretold(lambda: plans[key].show)), taken)


class ChoosePlugs(Choose):
    """The ladder to choose from: each step against the one above, the cursor on what is proposed."""

    def __init__(self, options: Sequence[ChoiceRow], proposed: str, effect: Effect) -> None:
        super().__init__("how many plugs move, * as proposed; each step against the one above", options, effect=effect)
        self.proposed = proposed

    def _narrow(self, typed: str) -> None:
        """Begin on what is proposed."""
        super()._narrow(typed)
        if not typed.strip():
            self.query_one(Rows).move_to(self.proposed)


def _preview(shell: Shell, proposal: Proposal) -> None:
    """Show what a proposal changes, and take it on enter."""
    session = shell.session
    if session is None:
        return
    if not proposal.moves:
        if proposal.undriven:  # what is short is the answer, and longer than a line
            missing = [*first_lines(proposal), *(f"note: {note}" for note in proposal.notes)]
            title = f"no plan for {counted(len(proposal.undriven), 'box')}: nothing was changed"
            shell.push(Read(title, [("", shell.safe(line)) for line in missing]))
            return
        # Only once the screen below is back, which says something of its own when it comes.
        shell.later(shell.say, proposal.proof.says)
        return
    number = len(proposal.moves)
    boxes = counted(number, "box")
    moved = f", {counted(proposal.replugged, 'plug')} moved" if proposal.replugged else ""
    title = f"{boxes} to plug{moved}" + ("" if proposal.holds else ": not a sound plan yet, see below")
    lines = [("", shell.safe(line)) for line in preview_lines(session.rig, proposal, shell.style)]

    def answered(answer: str | None) -> None:
        if answer == "take":
            shell.later(shell.apply, f"plan for {boxes} taken", lambda: proposal.show)
        else:
            shell.later(shell.say, "nothing was changed")

    shell.push(Accept(title, lines, "enter takes the plan, one step to undo   arrows scroll   esc leaves"), answered)


def _feed(shell: Shell) -> None:
    """Show the ways to give every output its processing, each with what it would bring; ``enter`` takes one."""
    session = shell.session
    if session is None:
        return
    ways = {str(number): way for number, way in enumerate(feedings(session.rig))}
    if not ways:
        says = "every output has what its preset needs, or none needs a processor"
        shell.later(shell.say, f"nothing to feed: {says}")
        return

    def taken(key: str | None) -> None:
        if key is not None:
            way = ways[key]
            shell.later(shell.apply, way.label, lambda: way.show)

    options = [ChoiceRow(key, (shell.safe(way.label),)) for key, way in ways.items()]
    title = "feed the outputs that need a processor's: which way"
    shell.push(Choose(title, options, effect=lambda key: shell.foretold(lambda: ways[key].show)), taken)


class Working(Dialog[Proposal]):
    """A window over the work of a thread: what it is at, and ``esc`` to stop it with the best found so far."""

    BINDINGS: ClassVar = [Binding("escape", "leave", "leave", show=False)]

    class At(Message):
        """The work has come to another goal."""

        def __init__(self, goal: str) -> None:
            super().__init__()
            self.goal = goal

    class Done(Message):
        """The work is done."""

        def __init__(self, proposal: Proposal) -> None:
            super().__init__()
            self.proposal = proposal

    def __init__(self, show: Show, wishes: Wishes) -> None:
        super().__init__()
        self.show_before, self.wishes = show, wishes
        self._stop = threading.Event()

    def compose(self) -> ComposeResult:
        """Lay out title, what it is at, and the keys."""
        with Vertical(classes="small"):
            yield TextLine("planning", classes="title")
            yield TextLine("beginning", id="at")
            yield TextLine("esc stops and keeps the best found", classes="hint", id="how")

    def on_mount(self) -> None:
        """Begin the work beside the screen."""
        self.run_worker(self._work, thread=True, exclusive=True)

    def _work(self) -> None:
        from fieldkit.planning.assign.plan import assign

        proposal = assign(
            self.show_before,
            self.wishes,
            cancelled=self._stop.is_set,
            progress=self._tell,
        )
        self.post_message(self.Done(proposal))

    def _tell(self, goal: str) -> None:
        self.post_message(self.At(goal))

    def on_unmount(self) -> None:
        """Stop the work with the window, as when the program is left."""
        self._stop.set()

    def on_working_at(self, event: At) -> None:
        """Say what it is at."""
        self.query_one("#at", TextLine).say(f"bringing to its best: {event.goal}")

    def on_working_done(self, event: Done) -> None:
        """Close the dialog with the proposal as its result."""
        self.dismiss(event.proposal)

    def action_leave(self) -> None:
        """Stop the work; what was found until then is laid and shown. Asked again, leave without it."""
        if self._stop.is_set():
            self.dismiss(None)
            return
        self._stop.set()
        self.query_one("#how", TextLine).say("stopping; laying the best found   esc again leaves without it")
