"""Triage: the rig check before the doors, and the search for a fault: suspects, the next test, the fixes."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
from textual import events
from textual.app import ComposeResult

from fieldkit.app.dialogs.answering import Letters
from fieldkit.app.dialogs.windows import Read
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.session import Session
from fieldkit.app.tasks.closing_case import ask_fixed, ask_useless, show_learned
from fieldkit.app.tasks.fault_search import ask_doors, ask_note, ask_other, ask_test, ask_without, search_rows
from fieldkit.app.tasks.rig_check import PASSES, RigCheck
from fieldkit.app.trouble import Trouble
from fieldkit.app.widgets.beside import WIDE, Beside, Split
from fieldkit.app.widgets.beside import WIDTH as PANE_WIDTH
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.widgets.scales import SCALE_CELLS
from fieldkit.app.workbench import Workbench
from fieldkit.errors import NoAnswerError
from fieldkit.reports.text import way_text
from fieldkit.show.errors import ShowError
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.advice.cautions import ALWAYS, HIGH_TIER
from fieldkit.triage.advice.menu import Test
from fieldkit.triage.belief.observations import Observation, Tried
from fieldkit.triage.belief.saying import spoken
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.odds import origin
from fieldkit.triage.rig_check.recording import notes_on

CHECK_COLUMNS = (
    ListColumn("line", minimum=8),
    ListColumn("at", minimum=6),
    ListColumn("should read", minimum=12),
    ListColumn("read", minimum=7, decimal=True),
    ListColumn("scale", minimum=SCALE_CELLS),
    ListColumn("verdict", minimum=8, share=1),
)
SCALE = next(place for place, column in enumerate(CHECK_COLUMNS) if column.title == "scale")
SEARCH_COLUMNS = (ListColumn("fault search   (v: back to the rig check)", share=1),)

NO_SEARCH = "t and a label begin to look for a fault"

CONTINUED = "\0"
"""Behind it, a key names a further part of a row that was too long for one line."""


def _parts(row: Row, width: int) -> list[Row]:
    """Break a row of one text at its words; all its parts answer for it."""
    if not row.wide or width <= 0:
        return [row]
    texts = broken(row.cells[0], width)
    return [
        Row(row.key if place == 0 else f"{row.key}{CONTINUED}{place}", (text,), row.mark, wide=True)
        for place, text in enumerate(texts)
    ]


class Triage(MainScreen):
    """Rig check and fault-finding."""

    PURPOSE = (
        "Before the doors: meter every line, then quiet noise one output at a time, then polarity. When something is "
        "silent: t, its label and one letter; the suspects, the next test and the fixes follow."
    )
    WORDS = (
        ("rig check", "meter pass with the plugs off, quiet-noise pass, polarity pass"),
        (
            "scale",
            "what a good line reads is in the middle; the dot is the reading, four times as much at the end",
        ),
        ("suspect", "a fault that would explain what was heard, seen and metered"),
        ("next test", "the one that tells most about what to do, for each minute that it takes"),
        ("odds", "estimates, common practice, no source; your own triage.toml changes them"),
    )

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.searching = False
        self._left_at = ""
        self._check = RigCheck(bench, lambda: self.query_one(Rows).action_step(1))
        self._advice: Advice | None = None
        self.trouble: Trouble | None = None
        """The fault that is being looked for."""

    def body(self) -> ComposeResult:
        """Show the list, with the details of a row beside it where there is room."""
        with Split():
            yield Rows(CHECK_COLUMNS, empty="no loudspeaker line yet: runs are made on screen Racks")
            yield Beside()

    def fill(self) -> None:
        """Show the rig check, or the search."""
        session = self.session
        rows: list[Row] = []
        self._advice = None
        searching = session is not None and self.searching and self.trouble is not None
        if session is not None:
            try:
                rows = list(self._searched(session) if searching else self._check.rows(session))
            except (ShowError, ObservationError, NoAnswerError) as error:  # a table of odds that cannot be used, too
                rows = [Row("why", (f"! {error}",), "error", wide=True)]
        safe, table_of_rows = self.bench.safe, self.query_one(Rows)
        columns: tuple[ListColumn, ...] = SEARCH_COLUMNS if searching else CHECK_COLUMNS
        if not (searching or (self.bench.style.bars and self._check.has_scales)):
            columns = (*CHECK_COLUMNS[:SCALE], *CHECK_COLUMNS[SCALE + 1 :])
            cells = [(*row.cells[:SCALE], *row.cells[SCALE + 1 :]) for row in rows]
            rows = [
                row if row.wide else msgspec.structs.replace(row, cells=cut)
                for row, cut in zip(rows, cells, strict=True)
            ]
        table_of_rows.columns = columns
        shown = [msgspec.structs.replace(row, cells=tuple(map(safe, row.cells))) for row in rows]
        # At first the pane still stands beside the table, also where it goes below: the width is that of the screen.
        room = self.app.size.width - (0 if self.app.size.width < WIDE else PANE_WIDTH)
        width = table_of_rows.scrollable_content_region.width
        table_of_rows.show([part for row in shown for part in _parts(row, width if width >= room - 2 else room)])

    def _searched(self, session: Session) -> Iterable[Row]:
        """Work the advice out; its rows."""
        trouble, doors = self.trouble, self.bench.doors
        if trouble is None:
            return ()
        trouble.running, trouble.left_min = doors.running, doors.left_min()
        self._advice = trouble.advice(session.rig)
        notes = notes_on(session.present, trouble.what)
        return search_rows(self._advice, trouble, doors, notes, self.bench.style)

    def on_resize(self) -> None:
        """Break long lines anew."""
        self.call_after_refresh(self.renew)

    def told_here(self) -> tuple[str, ...]:
        """Say the row of a reading whole, with its verdict."""
        rows = self.query_one(Rows)
        row = next((row for row in rows.rows if row.key == rows.key), None)
        if row is None or row.wide:  # a row of the search
            return ()
        told = {column.title: " ".join(cell.split()) for column, cell in zip(rows.columns, row.cells, strict=True)}
        line, at, should, read, verdict = (told[word] for word in ("line", "at", "should read", "read", "verdict"))
        if self._check.round in {"noise", "polarity"}:  # listened to, not read
            return (f"{line}: should be {should}: {verdict}",)
        says = (f"{line} {at}: should read {should}, reads {read or 'not yet'}", *((verdict,) if verdict else ()))
        session = self.session
        found = session.rig.line(line) if session is not None else None
        return (way_text(found[1].line.run), *says) if found is not None else says

    def details_here(self) -> tuple[str, ...]:
        """Say what to be careful of."""
        if self._advice is not None:
            return (*self._advice.cautions, f"odds: {origin()}")
        return (HIGH_TIER, ALWAYS) if self._check.round == "meter" else ()

    def _under_cursor(self) -> tuple[str, str]:
        """Return what the row under the cursor is, and what of."""
        verb, _, rest = self.query_one(Rows).key.partition(CONTINUED)[0].partition(" ")
        return verb, rest

    def on_key(self, event: events.Key) -> None:
        """Let a digit begin a reading where one is due: it never leaves the meter pass, the function keys do."""
        if event.character is None or not event.character.isdecimal():
            return
        verb, rest = self._under_cursor()
        following = self._advice.next if self._advice is not None else None
        if verb == "read":
            event.stop()
            line, _, at = rest.partition(" ")
            self._check.ask_reading(line, at, event.character)
        elif following is not None and following.test.kind == "meter":
            event.stop()
            self._ask_test(following.test, event.character)

    def action_open(self) -> None:
        """Type the reading of this row, or answer the next test."""
        verb, rest = self._under_cursor()
        if verb == "read":
            line, _, at = rest.partition(" ")
            self._check.ask_reading(line, at)
        elif verb in PASSES:
            self._check.ask_pass(verb, rest)
        elif verb == "suspect" and self._advice is not None:
            fault = self._advice.suspects[int(rest)].fault
            lines = [fault.says, "", f"fix: {fault.fix}", "", f"odds: {origin()}"]
            self.bench.push(Read(f"suspect: {fault.name}", [("", self.bench.safe(line)) for line in lines]))
        elif verb == "fix" and self._advice is not None:
            self._ask_done(self._advice.plan[int(rest) - 1].fix)
        elif verb == "seen":
            self._again(int(rest))
        elif verb == "doors":
            self.action_doors()
        elif self._advice is not None and self._advice.next is not None:
            self._ask_test(self._advice.next.test)

    # ---- rig check -------------------------------------------------------------------------------------------

    def action_next(self) -> None:
        """Go on to the next pass of the rig check, or choose another test of the search."""
        if self.searching:
            if self.trouble:
                ask_other(self.bench, self.trouble, self._ask_test)
            return
        begins = self._check.next_pass()
        self.renew()
        self.query_one(Rows).action_edge(0)
        self.note(f"pass: {begins}")

    def action_warm(self) -> None:
        """Change between cold and warm coils."""
        self._check.warm = not self._check.warm
        self.note(f"readings from now on: {'coils have just played' if self._check.warm else 'cold coils'}")

    def action_instrument(self) -> None:
        """Go on to the next kind of reading."""
        says = self._check.next_kind()
        self.renew()
        self.note(says)

    def action_place(self) -> None:
        """Meter at a place that the list does not show."""
        if self.session is not None:
            self._check.ask_place(self.session)

    def show_new(self, table: str, name: str) -> None:
        """Go to a row of the rig check, in the pass that has it."""
        if table in {"read", *PASSES}:
            self._check.round = "meter" if table == "read" else table
            self.searching = False
            self.renew()
        super().show_new(table, name)

    # ---- the search ------------------------------------------------------------------------------------------

    def open_at(self, label: str) -> None:
        """Begin to look for a fault at a label: what it does is the first question."""
        if not self.searching:
            self._left_at = self.query_one(Rows).key
        without = self.trouble.without if self.trouble else frozenset()
        self.trouble = self.bench.trouble = trouble = Trouble(label, without)
        self.searching = True
        self.renew()
        heard = self.session is not None and (
            label in self.session.rig.show_index.boxes or label in {zone.id for zone in self.session.present.zones}
        )
        if heard and not trouble.has_evidence:
            # What is known already, and no test: nothing is played for it.
            self._ask_test(Test("listen", label, f"what does {label} do?", 0.0))

    def _ask_test(self, test: Test, typed: str = "") -> None:
        ask_test(self.bench, test, self._note_answer, typed)

    def _note_answer(self, item: Observation) -> None:
        trouble = self.trouble
        if trouble is not None:
            earlier = trouble.say(item)
            self.renew()
            if trouble.changed:
                self.note(trouble.changed)
            if earlier is not None and earlier != item:
                self.note(f"in place of what was said before: {spoken(earlier)}")
            self.query_one(Rows).action_edge(0)
            self.query_one(Rows).action_step(1)

    def _again(self, place: int) -> None:
        """Take one answer back, so that its test can be done again."""
        trouble = self.trouble
        if trouble is not None and place < len(trouble.seen):
            item = trouble.seen.pop(place)
            self.renew()
            self.note(f"taken back, measure or listen again: {spoken(item)}")

    def action_undo(self) -> None:
        """Take back the last answer of the search; of the rig check, the last change."""
        if self.searching and self.trouble and self.trouble.seen:
            self._again(len(self.trouble.seen) - 1)
        else:
            self.bench.undo()

    def action_card(self) -> None:
        """Show the card of the output or box of this row."""
        verb, name = self._under_cursor()
        session = self.session
        if session is None or verb not in {"read", *PASSES}:
            return
        found = session.rig.line(name.partition(" ")[0]) if verb == "read" else None
        kind = "output" if found is not None or verb == "noise" else "box"
        self.bench.show_card(kind, found[0].output.id if found else name)

    def _ask_done(self, fix: str) -> None:
        """Ask whether a fix that was done has helped."""

        def take(word: str | None) -> None:
            if word == "useless":
                self._note_answer(Tried(fix))
            elif word is not None and self._advice is not None and self.session is not None:
                ask_fixed(self.bench, self.session, self._advice, self._close, fix)

        letters = {"y": ("fixed", "done, and it helped"), "n": ("useless", "done, and it did not help")}
        self.bench.push(Letters(self.bench.safe(fix), letters), take)

    def action_note(self) -> None:
        """Write something down on what is looked for, or on the thing of this row."""
        _, name = self._under_cursor()
        searched = self.trouble.what if self.searching and self.trouble else ""
        at = searched or name.partition(" ")[0].partition("/")[0]
        if at:
            ask_note(self.bench, at)

    def action_without(self) -> None:
        """Say what there is not."""
        if self.trouble is None:
            self.note(NO_SEARCH)
        else:
            ask_without(self.bench, self.trouble)

    def action_noise(self) -> None:
        """Go to the pass of quiet noise, one output at a time."""
        self._check.round = "noise"
        self.searching = False
        self.renew()
        self.note(f"{PASSES['noise']}: mute all others, enter says what plays")

    def action_view(self) -> None:
        """Change between the rig check and the search."""
        self.searching = not self.searching and self.trouble is not None
        self.renew()
        if not self.searching and self._left_at:
            self.query_one(Rows).move_to(self._left_at)
        if self.trouble is None:
            self.note(NO_SEARCH)

    def action_worked(self) -> None:
        """Say whether it worked earlier."""
        if self.trouble:
            self.trouble.worked_before = not self.trouble.worked_before
            self.renew()

    def action_running(self) -> None:
        """Say whether the show is on."""
        doors = self.bench.doors
        doors.show_is_on, doors.asked = not doors.show_is_on, True
        self.renew()
        self.note("the show is on: nothing is pulled, no tones" if doors.show_is_on else "the show is not on")

    def action_doors(self) -> None:
        """Ask how long it is until the doors."""
        ask_doors(self.bench)

    def action_useless(self) -> None:
        """Say which fix was done and did not help."""
        if self._advice is None:
            self.note(NO_SEARCH)
        else:
            ask_useless(self.bench, self._advice, self._note_answer)

    def action_fixed(self) -> None:
        """Say what it was: the log, the fault tag, out of service."""
        if self._advice is None or self.session is None:
            self.note(NO_SEARCH)
        else:
            ask_fixed(self.bench, self.session, self._advice, self._close)

    def _close(self) -> None:
        self.trouble = self.bench.trouble = None
        self.searching = False
        self.renew()

    def action_learned(self) -> None:
        """List what closed cases have counted in; enter takes one case back."""
        show_learned(self.bench)
