"""What every main screen has in common: the lines on top, the note at the foot, the keys."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.timer import Timer
from textual.widget import Widget

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import Action, bindings
from fieldkit.app.screens import SCREENS
from fieldkit.app.session import Session
from fieldkit.app.terminal.painting import PaintedApp
from fieldkit.app.terminal.quiet import QuietScreen, made_now
from fieldkit.app.widgets import beside
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.key_bar import KeyBar
from fieldkit.app.widgets.lines import TextLine, TopLines
from fieldkit.app.widgets.rows import Rows
from fieldkit.app.workbench import Workbench
from fieldkit.checks.checking import counts
from fieldkit.checks.finding import Finding
from fieldkit.text.words import counted

SIGNS = {"error": "!!", "warning": "!", "note": "·", "": ""}
"""How a row says the worst finding about its thing: never by a colour alone."""

AROUND = 4
"""Lines of a screen round its table and what is said about the row: two on top, the note, the keys."""

MOST_NOTED = 3
"""Lines that what is said at the foot may take from the table."""


def finding_lines(item: Finding) -> tuple[str, str, str]:
    """Say a finding whole: what is so, why it matters, and the fix."""
    return (f"{SIGNS[item.severity]} {item.where.id}: {item.says}", f"   why: {item.why}", f"   fix: {item.fix}")


class MainScreen(QuietScreen[None]):
    """A main screen."""

    AUTO_FOCUS = ""

    MODE: ClassVar[str] = ""
    """The name of its file, by which ``screens`` declares it."""
    PURPOSE: ClassVar[str] = ""
    """What the screen is for, said in the help."""
    WORDS: ClassVar[tuple[tuple[str, str], ...]] = ()
    """The words that it uses, with their meaning."""
    FIELD_KEYS: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Keys, and what they do, while a field of the screen has the keys."""
    ACTIONS: ClassVar[tuple[Action, ...]] = ()
    """What can be done here, from the table of actions; each is a method ``action_`` and its name."""

    def __init_subclass__(cls, **options: Any) -> None:
        """Make the keys of a screen of its actions."""
        cls.MODE = cls.__module__.rpartition(".")[2]
        cls.ACTIONS = actions_at(cls.MODE)
        cls.BINDINGS = [*bindings(cls.MODE, cls.ACTIONS), *vars(cls).get("BINDINGS", ())]
        super().__init_subclass__(**options)

    def __init__(self, bench: Workbench) -> None:
        """``bench`` has the show that is open, and the tools to ask, choose, edit and change it."""
        super().__init__()
        made_now(self, bench.app)
        self.bench = bench
        self._telling: Timer | None = None
        """What waits to tell about the row under the cursor."""
        self.filled = False
        """Whether it has been filled since it came in sight: a key for it waits until then."""

    @property
    def session(self) -> Session | None:
        """The show that is open."""
        return self.bench.session

    def compose(self) -> ComposeResult:
        """Lay out the frame round the body, from the first look on as this width has it."""
        wide = self.app.size.width >= beside.WIDE
        self.set_class(wide, "-wide")
        self.set_class(not wide, "-narrow")
        yield TopLines()
        yield from self.body()
        yield TextLine(id="note")
        yield KeyBar()

    def body(self) -> ComposeResult:
        """Make the widgets of this screen."""
        raise NotImplementedError

    def fill(self) -> None:
        """Show the session as it is now."""
        raise NotImplementedError

    def show_new(self, table: str, name: str) -> None:
        """Put the cursor on something that was just added, where this screen shows it."""
        begins = {
            "runs": [f"{name}/"],
            "racks": [f"output {name}-", f"unit {name}-"],
            "rack_units": [f"output {name}.", f"unit {name}"],
        }
        for rows in self.query(Rows):
            keys = rows.keys
            found = [key for key in keys if key == f"{table} {name}"]
            for begin in begins.get(table, ()):  # an output before the heading of its amplifier
                found += [key for key in keys if key.startswith(begin)]
            if found:
                rows.move_to(found[0])
                return

    def row_kind(self) -> str:
        """Name what the row under the cursor is about, as the table of actions does: the first word of its key."""
        rows = self.main()
        return rows.key.partition(" ")[0] if isinstance(rows, Rows) else ""

    def on_rows_moved(self) -> None:
        """Show the keys that matter on this row, and what there is to say about it as soon as the keys are quiet."""
        if self._telling is not None:
            self._telling.stop()
        if beside.PAUSE_S:  # a key that is held costs the cursor's two lines, and not the text of each row besides
            self._telling = self.set_timer(beside.PAUSE_S, self._tell_when_seen)
        else:
            self.tell()

    def _tell_when_seen(self) -> None:
        """Tell once the rows are on the terminal: what is told takes lines from them, and moves them once more."""
        if isinstance(self.app, PaintedApp) and self.app.is_behind:
            self._telling = self.set_timer(beside.PAUSE_S, self._tell_when_seen)
        else:
            self.tell()

    def on_resize(self) -> None:
        """Find the lines that are free anew."""
        self.call_after_refresh(self.tell)

    def labels_here(self) -> frozenset[str]:
        """Name what the row under the cursor is about: findings about these things are told with it."""
        return frozenset()

    def told_here(self) -> tuple[str, ...]:
        """Say what must be read whole about the row under the cursor: what its cells cut off, and the worst finding."""
        found, table = self.findings_here(), self.main()
        cut = table.cut_off() if isinstance(table, Rows) else ()
        return (*cut, *(finding_lines(found[0]) if found else ()))

    def findings_here(self) -> list[Finding]:
        """List the findings about the row under the cursor, the worst first."""
        session, names = self.session, self.labels_here()
        return [item for item in session.findings if item.where.id in names] if session is not None and names else []

    def details_here(self) -> tuple[str, ...]:
        """Say what else there is to know of the row under the cursor, where there is room for it."""
        return ()

    def tell(self) -> None:
        """Say what there is to say about the row under the cursor, beside the table or below it."""
        table = self.main()
        if not isinstance(table, Rows) or self.app.return_code is not None:
            return
        self.query_one(KeyBar).follow()
        for pane in self.query(Beside):
            others = [line for item in self.findings_here()[1:] for line in finding_lines(item)]
            pane.say(map(self.bench.safe, self.told_here()), map(self.bench.safe, (*others, *self.details_here())))
            pane.fit(self.app.size.height - AROUND, table.natural_height)

    def on_rows_chosen(self) -> None:
        """Open what the row shows."""
        self.action_open()

    def action_open(self) -> None:
        """Open what the row shows; a screen whose rows lead nowhere leaves it at that."""

    def open_at(self, label: str) -> None:
        """Begin with a label; a screen that has nothing to do with one stays as it is."""

    def main(self) -> Widget | None:
        """Find the table of the screen."""
        return next(iter(self.query(Rows)), None)

    def on_mount(self) -> None:
        """Give the keys to what has them; what there is to show is shown as the screen comes in sight."""
        self.begin()

    def begin(self) -> None:
        """Give the keys to what has them on arrival."""
        widget = self.main()
        if widget is not None:
            self.set_focus(widget)

    def on_screen_resume(self) -> None:
        """Show what has changed meanwhile."""
        if not self.filled:
            self.renew()
        self.call_after_refresh(self.tell)

    def on_screen_suspend(self) -> None:
        """Go out of sight."""
        self.filled = False

    def renew(self) -> None:
        """Show the session as it is now, top lines included."""
        if not self.is_mounted or self.app.return_code is not None:  # its widgets go one by one when all ends
            return
        self.filled = True
        session = self.session
        safe = self.bench.safe
        screens = tuple((f"{key} {name}", mode == self.MODE) for key, mode, name in SCREENS)
        if session is None:
            self.query_one(TopLines).say("fieldkit: no show is open", "", "", screens)
        else:
            number = counts(session.findings)
            name = session.present.about.name or session.path.name
            mark = "  *" if session.dirty else ""
            mark += "  (read only)" if session.read_only else ""
            middle = f"{counted(number['errors'], 'error')}  {counted(number['warnings'], 'warning')}"
            temperature = session.rig.air_text
            tour = self._tour_line(session)
            said = (tour, "", "") if tour else (safe(name) + mark, middle, safe(temperature))
            self.query_one(TopLines).say(*said, screens)
        self.fill()
        self.query_one(KeyBar).follow()
        for pane in self.query(Beside):
            pane.forget()
        self.tell()

    def _tour_line(self, session: Session) -> str:
        """Say the next step of the tour, which takes the place of the show's name; empty where nobody is on it."""
        tour = self.bench.tour
        if tour is None:
            return ""
        tour.follow(session.present, self.MODE, dirty=session.dirty)
        if not tour.line:
            self.bench.tour = None
            self.bench.later(self.bench.say, "the tour is done: the hall is planned, proved and saved")
        return self.bench.safe(tour.line)

    def note(self, text: str) -> None:
        """Say something in the line at the foot; what is longer takes more lines, since its end may be the reason."""
        parts = broken(self.bench.safe(text), self.app.size.width)[:MOST_NOTED]
        for line in self.query("#note").results(TextLine):  # none before the first layout
            if line.styles.height is None or line.styles.height.value != len(parts):
                line.styles.height = len(parts)
            line.say("\n".join(parts))
