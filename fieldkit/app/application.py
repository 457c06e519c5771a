"""The application: one session, the screens as modes, and what works everywhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

from textual.binding import Binding

from fieldkit.app.actions import EVERYWHERE, bindings
from fieldkit.app.dialogs.deciding import Deciding
from fieldkit.app.dialogs.windows import Ask, ChoiceRow, Choose, Confirm, Effect, Help
from fieldkit.app.own_keys import own_keys
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.session import Session
from fieldkit.app.tape import TapeEntry
from fieldkit.app.tasks.everywhere import Everywhere
from fieldkit.app.terminal.background import Background, background, choose, theme
from fieldkit.app.terminal.capabilities import LEAST_COLUMNS, LEAST_ROWS, Terminal
from fieldkit.app.terminal.ending import BY_SIGNAL, FAULT, HANG_UP, Ending, say, told, wants_traceback
from fieldkit.app.terminal.in_turn import KeysInTurn
from fieldkit.app.terminal.painting import PaintedApp
from fieldkit.app.trouble import Doors, Trouble
from fieldkit.app.widgets.lines import TextLine
from fieldkit.errors import FieldkitError
from fieldkit.gear.library import find
from fieldkit.show.document import Show
from fieldkit.show.errors import ChangedError, ReadOnlyError, ShowError
from fieldkit.show.keep import claims, copies, recovery
from fieldkit.show.keep.journal import Kept
from fieldkit.show.opening import Opened, open_show
from fieldkit.show.versions.changes import differences
from fieldkit.show.versions.merging import merge
from fieldkit.text.style import Style

SCREENS = (
    ("1", "overview", "Overview"),
    ("2", "inventory", "Inventory"),
    ("3", "zones", "Zones"),
    ("4", "racks", "Racks"),
    ("5", "mains", "Mains"),
    ("6", "calculator", "Calculator"),
    ("7", "triage", "Triage"),
    ("8", "sheets", "Sheets"),
)
"""Key, mode and name; the numbers left out belong to screens that are not built yet."""


def _overview() -> MainScreen:
    from fieldkit.app.screens.overview import Overview

    return Overview()


def _inventory() -> MainScreen:
    from fieldkit.app.screens.inventory import Inventory

    return Inventory()


def _zones() -> MainScreen:
    from fieldkit.app.screens.zones import Zones

    return Zones()


def _racks() -> MainScreen:
    from fieldkit.app.screens.racks import Racks

    return Racks()


def _mains() -> MainScreen:
    from fieldkit.app.screens.mains import SupplyScreen

    return SupplyScreen()


def _calculator() -> MainScreen:
    from fieldkit.app.screens.calculator import Calculator

    return Calculator()


def _triage() -> MainScreen:
    from fieldkit.app.screens.triage import Triage

    return Triage()


def _sheets() -> MainScreen:
    from fieldkit.app.screens.sheets import Sheets

    return Sheets()


class FieldkitApp(Everywhere, KeysInTurn, PaintedApp):
    """The terminal application."""

    TITLE = "fieldkit"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (120, "-wide")]
    MODES: ClassVar[dict[str, Any]] = {
        "overview": _overview,
        "inventory": _inventory,
        "zones": _zones,
        "racks": _racks,
        "mains": _mains,
        "calculator": _calculator,
        "triage": _triage,
        "sheets": _sheets,
    }
    DEFAULT_MODE = "overview"
    CSS = """
    Screen { background: $background; }
    TopLines { background: $surface; }
    KeyBar { background: $surface; }
    .rows--head { text-style: bold; color: $text-muted; }
    .rows--cursor { text-style: reverse; }
    .rows--error { text-style: bold; color: $text-error; }
    .rows--warning { color: $text-warning; }
    .rows--quiet { text-style: dim; }
    Rows:light > .rows--warning { color: #5f5f00; }
    Rows:ansi:dark > .rows--error { color: ansi_bright_red; }
    Rows:ansi:light > .rows--warning { color: ansi_magenta; }
    Dialog Input { border: none; height: 1; padding: 0; background: $boost; }
    Dialog Input:focus { border: none; }
    .-ascii Dialog > Vertical { border: ascii $primary; }
    Dialog > Vertical:ansi { border: solid $foreground; }
    .-ascii Dialog > Vertical:ansi { border: ascii $foreground; }
    Dialog Input > .input--placeholder { color: $text-muted; }
    .-wide Beside { display: block; }
    #note { color: $text-muted; dock: bottom; margin-bottom: 1; }
    """
    BINDINGS: ClassVar = [
        *bindings("everywhere", EVERYWHERE),
        Binding("ctrl+l", "redraw", show=False, priority=True, id="everywhere.redraw", tooltip="paint all cells anew"),
        *(
            Binding(f"{key},f{key}", f"screen('{mode}')", name, show=False, id=f"everywhere.{mode}", tooltip=name)
            for key, mode, name in SCREENS
        ),
    ]

    def __init__(self, opened: Opened | None, terminal: Terminal, claimed: claims.ClaimAnswer | None = None) -> None:
        """``claimed`` is what became of claiming the show: where another has it, it is open to read only."""
        # Textual chooses how to take colours away as it is made, by the theme of that moment: with its own colours
        # it would make black on black of NO_COLOR. With the terminal's own it leaves the terminal's own two.
        super().__init__(ansi_color=True if terminal.plain else None)
        self.terminal = terminal
        self.style = Style(ascii_only=terminal.ascii_only)
        self.session = Session(opened, claimed, self._heard) if opened else None
        self.said = ""
        """What was said last at the foot."""
        self.tape: list[TapeEntry] = []
        """What was calculated, the newest last: the calculator shows it, and fields offer it."""
        self.trouble: Trouble | None = None
        """The fault that is being looked for."""
        self.doors = Doors()
        self.ending: Ending | None = None
        """Who hears the signals; nobody in a test."""
        self.fault: BaseException | None = None
        """What went wrong in the program itself, the first of it."""
        self.theme = theme(background(), plain=self.terminal.plain)
        if terminal.ascii_only:
            self.add_class("-ascii")
        self.animation_level = "none"

    # ---- beginning and end -----------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Follow the session."""
        if self.session is not None:
            self.session.subscribe(self.show_changed)
        self.set_keymap(own_keys())
        self.call_after_refresh(self._welcome)

    def _welcome(self) -> None:
        """Say what was found on opening, in the line at the foot: no window opens by itself."""
        frame = self.frame
        if frame is None:
            return
        claimed = self.session.claimed if self.session is not None else None
        if self.size.width < LEAST_COLUMNS or self.size.height < LEAST_ROWS:
            frame.note(f"this needs {LEAST_COLUMNS}×{LEAST_ROWS}; here are {self.size.width}×{self.size.height}")
        elif claimed is not None and claimed.other is not None:
            frame.note(f"read only: open by {claimed.other.says}; ctrl+t takes it over")
        elif self.kept_work():
            frame.note("there is unsaved work of an earlier time: press r to see what differs")
        elif claimed is not None and claimed.problem:
            frame.note(f"nobody can be told that you have this show open: {claimed.problem}")
        else:
            frame.note("? help    g find any label    ctrl+p all commands")

    def kept_work(self) -> tuple[Kept, ...]:
        """Find unsaved work of the open show, or of all shows where none is open; or say why it cannot be read."""
        try:
            return recovery.kept_for(self.session.path) if self.session else recovery.all_kept()
        except ShowError as error:
            self.say(f"! {error}")
            return ()

    def _heard(self, word: str, text: str) -> None:
        """Take word from the session's own thread, as long as there is somebody to tell."""
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._tell_of_others, word, text)

    def _tell_of_others(self, word: str, text: str) -> None:
        """Say what became of keeping, of the claim, or of the file, and follow what somebody else saved."""
        session = self.session
        if session is None:
            return
        if word == "kept":
            self.say(text)
        elif word == "taken":
            session.read_only = True
            who = text or "somebody else"
            self.say(f"{who} took this show over: here it is read only now; ctrl+t takes it back")
            self.show_changed()
        elif word == "other" and session.read_only:
            self.say("nobody else has this show open any more: ctrl+t takes it over" if not text else f"{text} has it")
        elif word == "file":
            self._follow(session)

    def _follow(self, session: Session) -> None:
        """Show what somebody else saved, or say how to merge it."""
        try:
            opened = open_show(session.path)
        except ShowError as error:
            self.say(f"! the file was changed by somebody else, and cannot be used now: {error}")
            return
        if opened.stored.text == session.stored.text:
            return
        if session.read_only and not session.dirty:
            what = tuple(change.says for change in differences(session.present, opened.show, find))
            session.follow(opened)
            self.say(f"saved just now: {'; '.join(what)[:200] or 'only the layout of the file'}")
        else:
            over = "ctrl+t takes the show over, then " if session.read_only else ""
            self.say(f"somebody else has saved this file: {over}ctrl+s merges")

    def action_take_over(self) -> None:
        """Become the one who may write this show."""
        session = self.session
        if session is None or not session.read_only:
            self.say("no show is open" if session is None else "this show is open to be edited already")
            return
        other = session.other()

        def take() -> None:
            says = session.take_over()
            if says:
                self.say(f"! it could not be taken over: {says}")
                return
            self.say("this show is yours to edit now")
            self._follow(session)

        if other is None:
            take()
            return
        lines = [f"It {'is' if other.alive else 'was'} open by {other.says}."]
        if other.alive:
            lines.append("They can only read from then on; what they have not saved is kept for them.")
        self.confirm("take this show over", lines, take, yes="take it over")

    def end_gently(self, number: int) -> None:
        """Keep unsaved work and leave, for a signal. From any thread; RuntimeError where no loop runs."""
        if self._loop is None:
            raise RuntimeError("not running")
        self._loop.call_soon_threadsafe(self._end_by_signal, number)

    def _end_by_signal(self, number: int) -> None:
        self.keep_unsaved()
        if self.session is not None:
            self.session.close()
        self.exit(return_code=BY_SIGNAL + number)

    def end_roughly(self) -> None:
        """Do what the event loop did not get round to: keep the work, give the show free and the terminal back."""
        try:
            if self.session is not None:
                self.session.keep_unsaved()
                self.session.close()
        finally:
            self._give_terminal_back()

    def _give_terminal_back(self) -> None:
        if self._driver is not None:
            self._driver.stop_application_mode()
            self._driver.close()

    def line_gone(self) -> None:
        """End as a hang-up does: the terminal is closed, whether or not a signal says so."""
        if self.ending is not None:
            self.ending.end(HANG_UP)

    def keep_unsaved(self) -> None:
        """Keep unsaved work aside now."""
        if self.session is not None:
            try:
                self.session.keep_unsaved()
            except ShowError as error:
                self.say(str(error))

    def _handle_exception(self, error: Exception) -> None:
        """Keep unsaved work before Textual ends the program; what is said of it is ``finish``'s."""
        if self.fault is None:
            self.fault = error
            self.keep_unsaved()
        super()._handle_exception(error)
        if not wants_traceback():
            self._exit_renderables.clear()

    def _fatal_error(self) -> None:
        if wants_traceback():
            super()._fatal_error()
        else:
            self._close_messages_no_wait()

    def finish(self) -> int:
        """Give the show free and the exit status; after a fault say where the work is, on standard error."""
        kept = "nothing was unsaved"
        if self.session is not None:
            if self.fault is not None and self.session.dirty:
                try:
                    self.session.keep_unsaved()
                    kept = f"unsaved work is in {recovery.folder()} and offered at the next start"
                except Exception as error:  # noqa: BLE001 - whatever it is, the line must come, and says it
                    kept = f"unsaved work could not be kept ({error})"
            self.session.close()
        if self.fault is not None:
            say(told(self.fault, kept))
            return FAULT
        return self.return_code or 0

    async def action_quit(self) -> None:
        """Leave as ``q`` does: Textual's own key leaves without asking."""
        self.action_leave()

    def action_help_quit(self) -> None:
        """Answer ctrl+c, which is a key here and ends nothing."""
        self.say("q leaves; it asks when something is not saved")

    # ---- what screens ask of it ------------------------------------------------------------------------------

    @property
    def frame(self) -> MainScreen | None:
        """The main screen that is shown, under any window."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, MainScreen)), None)

    def screens(self) -> tuple[tuple[str, str, str], ...]:
        """List key, mode and name of the screens."""
        return SCREENS

    def safe(self, text: str) -> str:
        """Make a text printable on this terminal."""
        return self.style.plain(text)

    def say(self, text: str) -> None:
        """Say something in the line at the foot, and in the window over it where that has a line for it."""
        self.said = text
        if self.frame is not None:
            self.frame.note(text)
        if self.screen is not self.frame:
            for line in self.screen.query("#said").results(TextLine):
                line.say(self.safe(text))

    def show_changed(self) -> None:
        """Show a change."""
        if self.frame is not None:
            self.frame.renew()

    def apply(self, label: str, make: Callable[[], Any], field: str = "") -> bool:
        """Make a new show and take it, or say why not."""
        if self.session is None:
            return False
        before = len(self.session.findings)
        try:
            done = self.session.apply(label, make(), field)
        except ShowError as error:
            self.say(f"! {error}")
            return False
        if done:
            more = len(self.session.findings) - before
            plural = "" if abs(more) == 1 else "s"
            found = f", {abs(more)} {'more' if more > 0 else 'fewer'} finding{plural}" if more else ""
            self.say(f"{label}{found}   (u takes it back)")
        return done

    def open(self, path: Path) -> None:
        """Open another show in place of this one."""
        try:
            opened = open_show(path)
        except ShowError as error:
            self.say(f"! {error}")
            return
        if self.session is not None:
            self.session.close()
        self.session = Session(opened, claims.claim(path), self._heard)
        self.session.subscribe(self.show_changed)
        if self.frame is not None:
            self.frame.renew()
        self._welcome()

    # ---- everywhere ------------------------------------------------------------------------------------------

    def action_screen(self, mode: str) -> None:
        """Go to a screen."""
        self.switch_mode(mode)

    def action_undo(self) -> None:
        """Take back the last change."""
        label = self.session.undo() if self.session else ""
        self.say(f"undone: {label}" if label else "nothing to undo")

    def action_redo(self) -> None:
        """Do again what was taken back."""
        label = self.session.redo() if self.session else ""
        self.say(f"done again: {label}" if label else "nothing to do again")

    def action_save(self) -> None:
        """Write the show, or say what stands in the way."""
        if self.session is None or self.session.read_only:
            self.say("this show is open to read only" if self.session else "no show is open")
            return
        self._save()

    def _save(self, *, read_only_too: bool = False) -> None:
        session = self.session
        if session is None:
            return
        try:
            session.save(read_only_too=read_only_too)
        except ChangedError:
            self._changed_underneath()
        except ReadOnlyError:
            lines = ["It is replaced all the same, and stays read only; the version before stands beside it as .bak."]
            self.confirm("the file is read only", lines, lambda: self._save(read_only_too=True), yes="save")
        except ShowError as error:
            self.say(f"! {error}")
        else:
            self.say(f"saved: {session.path.name}")

    def _changed_underneath(self) -> None:
        """Somebody else saved the file: make both one, or keep both, and ask which goes on."""
        session = self.session
        if session is None:
            return
        try:
            opened = open_show(session.path)
            merged = merge(session.stored.show, session.present, opened.show, find)
        except ShowError as error:
            self.say(f"! somebody else has saved this file, and it cannot be read now: {error}")
            return

        def decided(show: Show | None) -> None:
            if show is not None:
                session.take_merge(show, opened)
                self.action_save()

        def chosen(answer: str | None) -> None:
            try:
                if answer == "both":
                    self.push_screen(Deciding(merged, "mine, and what somebody else has saved"), decided)
                elif answer == "mine":
                    session.save_over(opened)
                    self.say("saved; their version stands beside it as .bak")
                elif answer == "theirs":
                    mine = copies.put_aside(session.path, session.text())
                    session.take_version(opened)
                    self.say(f"their version is open; yours stands beside it as {mine.parent.name}/{mine.name}")
            except (ShowError, OSError) as error:
                self.say(f"! {error}")

        collide = f"{len(merged.conflicts)} to decide" if merged.conflicts else "nothing collides"
        options = [
            ChoiceRow(
                "both", ("make both one", f"{len(merged.theirs)} of theirs, {len(merged.mine)} of mine; {collide}")
            ),
            ChoiceRow("mine", ("save mine", "theirs is kept beside it as .bak")),
            ChoiceRow("theirs", ("go on from theirs", "mine is kept in the folder of copies beside it")),
        ]
        self.push_screen(Choose("somebody else has saved this file since it was read", options, columns=2), chosen)

    def action_background(self) -> None:
        """Change between light and dark, and keep it for the next time."""
        word: Background = "dark" if self.theme.endswith("light") else "light"
        self.theme = theme(word, plain=self.terminal.plain)
        try:
            choose(word)
        except ShowError as error:
            self.say(f"! it is {word} now, and cannot be kept for the next time: {error}")
        else:
            self.say(f"{word} background")

    def action_leave(self) -> None:
        """Leave, asking when something is not saved."""
        if self.session is None or not self.session.dirty:
            self._leave()
            return

        def chosen(answer: str | None) -> None:
            if answer == "save":
                self.action_save()
                if self.session is not None and not self.session.dirty:
                    self._leave()
            elif answer == "drop":
                self._leave(drop=True)
            elif answer == "keep":
                self.keep_unsaved()
                self._leave()

        options = [
            ChoiceRow("save", ("save and leave",)),
            ChoiceRow("keep", ("leave; unsaved work is offered at the next start",)),
            ChoiceRow("drop", ("leave and drop what is not saved",)),
        ]
        self.push_screen(Choose("something is not saved", options), chosen)

    def _leave(self, *, drop: bool = False) -> None:
        if self.session is not None:
            if drop:
                self.session.forget_kept()
            self.session.close()
        self.exit()

    def ask(
        self,
        title: str,
        value: str,
        look: Callable[[str], str],
        then: Callable[[str], None],
        hint: str = "",
        help_with: Help | None = None,
        effect: Effect | None = None,
    ) -> None:
        """Ask for a line of text."""
        window = Ask(title, value, look, hint, help_with, effect)
        self.push_screen(window, lambda text: then(text) if text is not None else None)

    def foretold(self, make: Callable[[], Show]) -> tuple[str, ...]:
        """Say what a change would bring, without making it; nothing for one that cannot be made."""
        session = self.session
        if session is None:
            return ()
        try:
            return tuple(self.safe(line) for line in session.effects(make(), self.style))
        except FieldkitError:
            return ()  # the field itself says what is wrong with it

    def confirm(self, title: str, lines: list[str], then: Callable[[], None], yes: str = "do it") -> None:
        """Ask whether to go on."""
        self.push_screen(
            Confirm(title, [self.safe(line) for line in lines], yes), lambda answer: then() if answer else None
        )


def start(name: str | None) -> int:
    """Open a show, or none, in the application. Raises ShowError before the screen is taken over."""
    from fieldkit.app.terminal.capabilities import look

    ending = Ending()
    own_keys()
    opened = open_show(name) if name is not None else None
    claimed = claims.claim(Path(name)) if name is not None else None
    try:
        app = FieldkitApp(opened, look(), claimed)
    except Exception as error:  # noqa: BLE001 - told in one line, written whole into the report
        if claimed is not None and claimed.held is not None:
            claimed.held.release()
        say(told(error, "nothing was unsaved"))
        return FAULT
    app.ending = ending
    ending.follow(app.end_gently, app.end_roughly)
    try:
        app.run(mouse=not app.terminal.remote)
    except Exception as error:  # noqa: BLE001 - as above
        app.fault = app.fault or error
    return app.finish()
