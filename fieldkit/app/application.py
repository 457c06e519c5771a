"""The application: the screens as modes, the keys that work everywhere, and how it begins and ends.

The first screen waits for all that is imported here, so that what a key asks for is imported with the key.
"""

from __future__ import annotations

import gc
import importlib
from functools import partial
from pathlib import Path
from typing import ClassVar

import msgspec
from textual.binding import Binding

from fieldkit.app.action_table import EVERYWHERE
from fieldkit.app.actions import bindings, function_key
from fieldkit.app.own_choices import Background, background, choose, choose_bars, own_keys, theme, usable_keys
from fieldkit.app.screens import SCREENS
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.session import Session
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.app.terminal.ending import BY_SIGNAL, FAULT, HANG_UP, Ending, EndingApp, say, told
from fieldkit.app.terminal.in_turn import KeysInTurn
from fieldkit.app.terminal.painting import PaintedApp
from fieldkit.app.widgets.beside import WIDE
from fieldkit.app.widgets.rows import Rows
from fieldkit.app.workbench import Workbench
from fieldkit.show.errors import ShowError
from fieldkit.show.keep import claims
from fieldkit.show.opening import Opened, open_show
from fieldkit.text.folders import state_folder


def screen_class(mode: str) -> type[MainScreen]:
    """Import a screen by the name of its file."""
    module = importlib.import_module(f"fieldkit.app.screens.{mode}")
    return next(
        found
        for found in vars(module).values()
        if isinstance(found, type) and issubclass(found, MainScreen) and mode == found.MODE
    )


class FieldkitApp(EndingApp, KeysInTurn, PaintedApp):
    """The terminal application."""

    TITLE = "fieldkit"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (WIDE, "-wide")]
    DEFAULT_MODE = SCREENS[0][1]
    CSS = """
    Screen { background: $background; }
    TopLines { background: $surface; }
    KeyBar { background: $surface; }
    .rows--head { text-style: bold; color: $text-muted; }
    .rows--cursor { text-style: reverse; }
    .rows--error { text-style: bold; color: $text-error; }
    .rows--warning { color: $text-warning; }
    .rows--quiet { text-style: dim; }
    .rows--heading { text-style: bold; }
    Rows:light > .rows--warning { color: #5f5f00; }
    Rows:ansi:dark > .rows--error { color: ansi_bright_red; }
    Rows:ansi:light > .rows--warning { color: ansi_magenta; }
    Dialog { background: transparent; }
    Dialog Input, TypedLine Input { border: none; height: 1; padding: 0; background: $boost; }
    Dialog Input:focus, TypedLine Input:focus { border: none; }
    Dialog > Vertical:ansi { border-top: solid $foreground; }
    .-ascii Dialog > Vertical { border-top: ascii $primary; }
    .-ascii Dialog > Vertical:ansi { border-top: ascii $foreground; }
    Dialog Input > .input--placeholder { color: $text-muted; }
    .-narrow Split { layout: vertical; }
    .-narrow Beside, Beside.below { width: 100%; height: 0; padding: 0; }
    #note { color: $text-muted; dock: bottom; margin-bottom: 1; }
    """
    BINDINGS: ClassVar = [
        *bindings("everywhere", EVERYWHERE),
        Binding("ctrl+l", "redraw", show=False, priority=True, id="everywhere.redraw", tooltip="paint all cells anew"),
        *(
            Binding(
                f"{key},{function_key(key)}",
                f"screen('{mode}')",
                name,
                show=False,
                id=f"screens.{mode}",
                tooltip=name,
            )
            for key, mode, name in SCREENS
        ),
    ]

    def __init__(self, opened: Opened | None, terminal: Terminal, claimed: claims.ClaimAnswer | None = None) -> None:
        """``claimed`` is what became of claiming the show: where another has it, it is open to read only."""
        # Textual chooses how to take colours away as it is made, by the theme of that moment: with its own colours
        # it would make black on black of NO_COLOR. With the terminal's own it leaves the terminal's own two.
        super().__init__(ansi_color=True if terminal.plain else None)
        self.terminal = terminal
        self.bench = Workbench(self, terminal, lambda: self.frame, self._heard)
        if opened is not None:
            self.bench.begin(opened, claimed)
        for _, mode, _ in SCREENS:
            self.add_mode(mode, partial(self._make_screen, mode))
        self.ending: Ending | None = None
        """Who hears the signals; nobody in a test."""
        self.theme = theme(background(), plain=self.terminal.plain)
        self.stylesheet.set_variables(self.get_css_variables())  # the first screen is made before Textual does it
        if terminal.ascii_only:
            self.add_class("-ascii")
        self.set_class(not self.bench.style.bars, "-no-bars")
        self.animation_level = "none"

    def _make_screen(self, mode: str) -> MainScreen:
        return screen_class(mode)(self.bench)

    @property
    def session(self) -> Session | None:
        """The show that is open."""
        return self.bench.session

    @property
    def frame(self) -> MainScreen | None:
        """The main screen that is shown, under any window."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, MainScreen)), None)

    # ---- beginning and end -----------------------------------------------------------------------------------

    def on_mount(self) -> None:
        """Take the user's own keys, and say what was found."""
        keys, problem = usable_keys(own_keys())
        self.set_keymap(keys)
        self.call_after_refresh(self._begun, problem)

    def _begun(self, problem: str) -> None:
        """Say what was found, now that the first screen stands."""
        self.bench.welcome(problem)
        if not gc.isenabled():  # as the command line starts it
            gc.freeze()  # all of it is in use until the end: it is not gone through again
            gc.enable()

    def say(self, text: str) -> None:
        """Say something in the line at the foot."""
        self.bench.say(text)

    def _heard(self, word: str, text: str) -> None:
        """Take word from the session's own thread, as long as there is somebody to tell."""
        from fieldkit.app.tasks.saving import tell_of_others

        self.in_loop(tell_of_others, self.bench, word, text)

    def end_gently(self, number: int) -> None:
        """Keep unsaved work and leave, for a signal. From any thread; RuntimeError where no loop runs."""
        if not self.in_loop(self._end_by_signal, number):
            raise RuntimeError("not running")

    def _end_by_signal(self, number: int) -> None:
        self.keep_work()
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
            self.give_terminal_back()

    def keep_work(self) -> None:
        """Keep what is not saved."""
        self.bench.keep_unsaved()

    def line_gone(self) -> None:
        """End as a hang-up does: the terminal is closed, whether or not a signal says so."""
        if self.ending is not None:
            self.ending.end(HANG_UP)

    def finish(self) -> int:
        """Close the show and return the exit status; after a fault say on standard error where the unsaved work is."""
        kept = "nothing was unsaved"
        if self.session is not None:
            if self.fault is not None and self.session.dirty:
                try:
                    self.session.keep_unsaved()
                    kept = f"unsaved work is in {state_folder()} and offered at the next start"
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

    # ---- everywhere ------------------------------------------------------------------------------------------

    def action_screen(self, mode: str) -> None:
        """Go to a screen."""
        self.switch_mode(mode)

    def action_undo(self) -> None:
        """Take back the last change."""
        self.bench.undo()

    def action_redo(self) -> None:
        """Do again what was taken back."""
        label = self.session.redo() if self.session else ""
        self.say(f"done again: {label}" if label else "nothing to do again")

    def action_save(self) -> None:
        """Write the show, or say what stands in the way."""
        from fieldkit.app.tasks import saving

        saving.save(self.bench)

    def action_take_over(self) -> None:
        """Become the one who may write this show."""
        from fieldkit.app.tasks import saving

        saving.take_over(self.bench)

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

    def action_bars(self) -> None:
        """Draw bars and scales, or leave them out, and keep it for the next time."""
        drawn = not self.bench.style.bars
        self.bench.style = msgspec.structs.replace(self.bench.style, bars=drawn)
        self.set_class(not drawn, "-no-bars")
        self.bench.show_changed()
        word = "drawn" if drawn else "left out"
        try:
            choose_bars(drawn=drawn)
        except ShowError as error:
            self.say(f"! bars and scales are {word} now, and that cannot be kept for the next time: {error}")
        else:
            self.say(f"bars and scales are {word}")

    def action_leave(self) -> None:
        """Leave, asking when something is not saved."""
        from fieldkit.app.tasks import saving

        saving.leave(self.bench)

    def action_go_to(self) -> None:
        """Find a label and show its card."""
        from fieldkit.app import everywhere

        everywhere.go_to(self.bench)

    def action_findings(self) -> None:
        """List the findings; enter goes to the cause."""
        from fieldkit.app import everywhere

        everywhere.findings(self.bench)

    def action_triage(self) -> None:
        """Look for a fault at the thing under the cursor, or at a label that is typed."""
        from fieldkit.app import everywhere

        if self.frame is not None:
            everywhere.triage(self.frame)

    def action_menu(self) -> None:
        """Find anything that can be done, here and on every other screen."""
        from fieldkit.app import menu

        if self.frame is not None:
            menu.show_menu(self.frame)

    def action_filter(self) -> None:
        """Show only the rows of the table that hold what is typed."""
        rows = self.frame.main() if self.frame is not None else None
        if isinstance(rows, Rows):
            rows.action_filter()


def start(name: str | None) -> int:
    """Open a show, or none, in the application. Raises ShowError before the screen is taken over."""
    from fieldkit.app.terminal.capabilities import look

    ending = Ending()
    _, problem = usable_keys(own_keys())
    if problem:
        say(f"fieldkit: {problem}")  # seen again when the program has ended
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
