"""What a task works with: the show that is open, the line at the foot, and windows that ask.

It knows no screen, no task and no application of ours, so that all of them may know it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar, Protocol

from textual.app import App
from textual.screen import ModalScreen, Screen

from fieldkit.app.dialogs.answering import Confirm
from fieldkit.app.dialogs.windows import Ask, ChoiceRow, Choose, Effect, Read, TextQuestion
from fieldkit.app.own_choices import bars
from fieldkit.app.session import Session
from fieldkit.app.tape import TapeEntry
from fieldkit.app.terminal.capabilities import MINIMUM_COLUMNS, MINIMUM_ROWS, Terminal
from fieldkit.app.tour import Tour
from fieldkit.app.widgets.lines import TextLine
from fieldkit.checks.checking import counts
from fieldkit.errors import FieldkitError
from fieldkit.show.document import Show
from fieldkit.show.errors import ShowError
from fieldkit.show.keep import claims, recovery
from fieldkit.show.keep.journal import Kept
from fieldkit.show.opening import Opened, open_show
from fieldkit.text.style import Style
from fieldkit.text.words import counted
from fieldkit.triage.belief.doors import Doors


class ShownScreen(Protocol):
    """The main screen under any window, as far as a task needs to know it."""

    MODE: ClassVar[str]
    """The name of its file."""

    def note(self, text: str) -> None:
        """Say something in the line at the foot."""

    def renew(self) -> None:
        """Show the session as it is now."""

    def show_new(self, table: str, name: str) -> None:
        """Put the cursor on something that was just added."""

    def open_at(self, label: str) -> None:
        """Begin with a label, where the screen has something to do with one."""


class FaultLookedFor(Protocol):
    """A fault that is being looked for, as far as leaving needs to know it; what it means is imported with ``t``."""

    @property
    def what(self) -> str:
        """What is asked about, by its label."""

    @property
    def seen(self) -> Sequence[object]:
        """The answers so far, which leaving would drop."""


class Shell:
    """The open show and the ways to talk about it with whoever sits there."""

    def __init__(
        self,
        app: App[None],
        terminal: Terminal,
        shown: Callable[[], ShownScreen | None],
        heard: Callable[[str, str], None],
    ) -> None:
        """``shown`` gives the main screen that is seen, under any window; none before the first.

        ``heard`` is told by a session's own thread what became of keeping, of the claim, of the file.
        """
        self.app = app
        self.terminal = terminal
        self.style = Style(ascii_only=terminal.ascii_only, bars=bars())
        self.session: Session | None = None
        self.said = ""
        """What was said last at the foot."""
        self.tape: list[TapeEntry] = []
        """What was calculated, the newest last: the calculator shows it, and fields offer it."""
        self.trouble: FaultLookedFor | None = None
        """The fault that is being looked for."""
        self.doors = Doors()
        self.tour: Tour | None = None
        """The tour, while somebody is on it."""
        self._find_shown, self._heard = shown, heard

    @property
    def shown(self) -> ShownScreen | None:
        """The main screen that is seen, under any window; none before the first."""
        return self._find_shown()

    # ---- the show that is open -------------------------------------------------------------------------------

    def begin(self, opened: Opened, claimed: claims.ClaimAnswer | None) -> None:
        """Work on a show from now on; ``claimed`` is what became of claiming it."""
        self.session = Session(opened, claimed, self._heard)
        self.session.subscribe(self.show_changed)

    def open(self, path: Path) -> None:
        """Open another show in place of this one."""
        try:
            opened = open_show(path)
        except ShowError as error:
            self.say(f"! {error}")
            return
        if self.session is not None:
            self.session.close()
        self.begin(opened, claims.claim(path))
        self.show_changed()
        self.welcome()

    def welcome(self, problem: str = "") -> None:
        """Say what was found on opening, in the line at the foot: no window opens by itself.

        ``problem`` is what else is wrong, said where nothing is that concerns the show.
        """
        claimed = self.session.claimed if self.session is not None else None
        size = self.app.size
        if size.width < MINIMUM_COLUMNS or size.height < MINIMUM_ROWS:
            self.note(f"this needs {MINIMUM_COLUMNS}×{MINIMUM_ROWS}; here are {size.width}×{size.height}")
        elif claimed is not None and claimed.other is not None:
            self.note(f"read only: open by {claimed.other.says}; ctrl+t takes it over")
        elif self.kept_work():
            self.note("there is unsaved work of an earlier time: press r to see what differs")
        elif claimed is not None and claimed.problem:
            self.note(f"nobody can be told that you have this show open: {claimed.problem}")
        elif problem:
            self.note(f"! {problem}")
        else:
            self.note("? finds anything that can be done, by any word for it; g finds any label")

    def kept_work(self) -> tuple[Kept, ...]:
        """Find unsaved work of the open show, or of all shows where none is open; or say why it cannot be read."""
        try:
            return recovery.kept_for(self.session.path) if self.session else recovery.all_kept()
        except ShowError as error:
            self.say(f"! {error}")
            return ()

    def apply(self, label: str, make: Callable[[], Show], field: str = "") -> bool:
        """Make a new show and take it as one step of undo, or say why not."""
        if self.session is None:
            return False
        before = counts(self.session.findings)
        try:
            done = self.session.apply(label, make(), field)
        except ShowError as error:
            self.say(f"! {error}")
            return False
        if done:
            self.say(f"{label}{changed_counts(before, counts(self.session.findings))}   (u takes it back)")
        return done

    def keep_unsaved(self) -> None:
        """Keep unsaved work aside now, or say why not."""
        if self.session is not None:
            try:
                self.session.keep_unsaved()
            except ShowError as error:
                self.say(str(error))

    def undo(self) -> None:
        """Take back the last change, and say which it was."""
        label = self.session.undo() if self.session else ""
        self.say(f"undone: {label}" if label else "nothing to undo")

    def foretold(self, make: Callable[[], Show]) -> tuple[str, ...]:
        """Say what a change would bring, without making it; nothing for one that cannot be made."""
        if self.session is None:
            return ()
        try:
            return tuple(self.safe(line) for line in self.session.effects(make(), self.style))
        except FieldkitError:
            return ()  # the field itself says what is wrong with it

    # ---- what is shown and said ------------------------------------------------------------------------------

    def safe(self, text: str) -> str:
        """Make a text printable on this terminal."""
        return self.style.plain(text)

    def say(self, text: str) -> None:
        """Say something in the line at the foot, and in the window over it where that has a line for it."""
        self.said = text
        self.note(text)
        screen = self.app.screen
        if isinstance(screen, ModalScreen):
            for line in screen.query("#said").results(TextLine):
                line.say(self.safe(text))

    def note(self, text: str) -> None:
        """Say something in the line at the foot only."""
        if self.shown is not None:
            self.shown.note(text)

    def show_changed(self) -> None:
        """Show a change."""
        if self.shown is not None:
            self.shown.renew()

    def show_new(self, table: str, name: str) -> None:
        """Put the cursor on something that was just added, where it is seen."""
        if self.shown is not None:
            self.shown.show_new(table, name)

    def later(self, what: Callable[..., object], *arguments: object) -> None:
        """Do something once the window that is about to close is gone: the screen below may say something itself."""
        self.app.call_after_refresh(what, *arguments)

    # ---- windows ---------------------------------------------------------------------------------------------

    def push(self, window: Screen[Any], then: Callable[[Any], object] | None = None) -> None:
        """Open a window; ``then`` gets its answer, None where it was left without one."""
        if self.tour is not None and self.shown is not None:
            self.tour.opened(self.shown.MODE)
        self.app.push_screen(window, then)  # type: ignore[arg-type]  # Textual drops whatever a callback returns

    def ask(self, question: TextQuestion, then: Callable[[str], object]) -> None:
        """Ask for a line of text."""
        self.push(Ask(question), lambda text: then(text) if text is not None else None)

    def choose(
        self,
        title: str,
        options: Sequence[ChoiceRow],
        then: Callable[[str], object],
        effect: Effect | None = None,
    ) -> None:
        """Choose from a list that gets shorter as one types; ``effect`` says what the row under the cursor brings."""
        self.push(Choose(title, options, effect=effect), lambda key: then(key) if key is not None else None)

    def read(self, title: str, lines: Sequence[str]) -> None:
        """Show a page to read."""
        self.push(Read(title, [("", self.safe(line)) for line in lines]))

    def confirm(self, title: str, lines: Sequence[str], then: Callable[[], object], yes: str = "do it") -> None:
        """Ask whether to go on."""
        window = Confirm(title, [self.safe(line) for line in lines], yes)
        self.push(window, lambda answer: then() if answer else None)


def changed_counts(before: Mapping[str, int], after: Mapping[str, int]) -> str:
    """Say how many findings of each severity there are more or fewer: an error that comes is no note that goes."""
    differ = [(after[name] - before[name], name.removesuffix("s")) for name in after if after[name] != before[name]]
    return "".join(f", {counted(abs(by), name)} {'more' if by > 0 else 'fewer'}" for by, name in differ)
