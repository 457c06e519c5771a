"""Triage: the rig check before the doors, and the search for a fault: suspects, the next test, the fixes."""

from __future__ import annotations

from collections.abc import Iterator

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal

from fieldkit.app.actions import Action
from fieldkit.app.dialogs.answering import Letters
from fieldkit.app.dialogs.windows import Ask, ChoiceRow, Choose, Read, TextQuestion
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.session import Session
from fieldkit.app.trouble import LETTERS, MISSING_LETTERS, Trouble, answered, read_at
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.workbench import Workbench
from fieldkit.errors import NoAnswerError, UnusableError
from fieldkit.reports.triage_text import band_text, bar, odds_words
from fieldkit.show.document import Logged
from fieldkit.show.errors import ShowError
from fieldkit.show.keep.measured import Measured, keep
from fieldkit.triage.advice.advice import Advice
from fieldkit.triage.advice.cautions import ALWAYS, CLICKS, HIGH_TIER, NOISE, before_metering
from fieldkit.triage.advice.menu import Test
from fieldkit.triage.belief.doors import clock, doors_at
from fieldkit.triage.belief.learning import count_in, learned, more, take_back
from fieldkit.triage.belief.observations import Metered, ObservationError, Tried, meter_value
from fieldkit.triage.belief.saying import SAID, spoken
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING, Fault
from fieldkit.triage.model.odds import OWN_NAME, origin, table
from fieldkit.triage.rig_check.meter_pass import NOT_READ, CheckedLine, combined, entries, known_items
from fieldkit.triage.rig_check.recording import MeterPlace, fault_tag, now, passed, with_fixed, with_pass, with_reading

PASSES = ("meter", "noise", "polarity")

CHECK_COLUMNS = (
    ListColumn("line", minimum=8),
    ListColumn("at", minimum=6),
    ListColumn("should read", minimum=12),
    ListColumn("read", minimum=7),
    ListColumn("verdict", minimum=8, share=1),
)
SEARCH_COLUMNS = (ListColumn("fault search   (b: back to the rig check)", share=1),)

READ_KINDS = {"dc": "DC ohms", "1khz": "impedance at 1 kHz", "load": "ohms that the amplifier reports itself"}
"""What can be read, in the turn of the key."""

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
        ("suspect", "a fault that would explain what was heard, seen and metered"),
        ("next test", "the one that tells most about what to do, for each minute that it takes"),
        ("odds", "estimates, common practice, no source; your own triage.toml changes them"),
    )
    ACTIONS = (
        Action("answer", "enter", "answer", "Type the reading, or answer the test under the cursor by one letter"),
        Action("passes", "p", "pass", "Go on to the next pass of the rig check: meter, quiet noise, polarity"),
        Action("warm", "w", "cold/warm", "Say whether the coils have just played, for the readings that follow"),
        Action(
            "kind", "i", "what is read", "DC ohms, impedance at 1 kHz, or the load that the amplifier reports itself"
        ),
        Action("place", "v", "other place", "Meter at another place: at a box, at its link, a box alone", shown=False),
        Action("back", "b", "rig check", "Change between the rig check and the fault that is being looked for"),
        Action("other", "o", "other test", "Do another test than the one that is proposed", shown=False),
        Action("take_back", "z", "undo answer", "Take back the last answer of the search", shown=False),
        Action("worked", "y", "worked before", "Say whether it worked earlier", shown=False),
        Action("running", "r", "show is on", "Say whether the show is on: no tones, nothing pulled", shown=False),
        Action("doors", "s", "how soon", "Say how long it is until the doors: what takes longer waits", shown=False),
        Action("learned", "L", "learned", "What closed cases counted in your own odds; take one back", shown=False),
        Action("without", "W", "not there", "Say what there is not: meter, tester, spares, help", shown=False),
        Action("useless", "n", "did not help", "A fix was done and did not help", shown=False),
        Action("fixed", "m", "fixed", "Fixed: say what it was; log, fault tag, out of service", shown=False),
    )

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.searching = False
        self._left_at = ""
        self._round, self._warm, self._kind = "meter", False, "dc"
        self._advice: Advice | None = None

    def body(self) -> ComposeResult:
        """Show the list, with the details of a row beside it where there is room."""
        with Horizontal():
            yield Rows(CHECK_COLUMNS, empty="no loudspeaker line yet: runs are made on screen Racks")
            yield Beside()

    def fill(self) -> None:
        """Show the rig check, or the search."""
        session = self.session
        rows: list[Row] = []
        self._advice = None
        searching = session is not None and self.searching and self.bench.trouble is not None
        if session is not None:
            try:
                rows = list(self._search_rows(session) if searching else self._check_rows(session))
            except ShowError as error:  # the user's own table of odds cannot be used
                rows = [Row("why", (f"! {error}",), "error", wide=True)]
        safe, table_of_rows = self.bench.safe, self.query_one(Rows)
        table_of_rows.columns = SEARCH_COLUMNS if searching else CHECK_COLUMNS
        shown = [Row(row.key, tuple(map(safe, row.cells)), row.mark, row.wide) for row in rows]
        table_of_rows.show(
            [part for row in shown for part in _parts(row, table_of_rows.scrollable_content_region.width)]
        )
        self._say_beside()

    def on_resize(self) -> None:
        """Break long lines anew."""
        self.call_after_refresh(self.renew)

    def on_rows_moved(self) -> None:
        """Follow the cursor with the pane."""
        self._say_beside()

    def _say_beside(self) -> None:
        rows = self.query_one(Rows)
        row = next((row for row in rows.rows if row.key == rows.key), None)
        lines = [cell for cell in row.cells if cell] if row else []
        if self._advice is not None:
            lines += ["", *self._advice.cautions, "", f"odds: {origin()}"]
        elif self._round == "meter":
            lines += ["", HIGH_TIER, ALWAYS]
        self.query_one(Beside).say(lines)

    # ---- rig check -------------------------------------------------------------------------------------------

    def _check_rows(self, session: Session) -> Iterator[Row]:
        if self._round == "meter":
            for entry in combined(entries(session.rig, table(), known=known_items(session.rig))):
                if entry.at == "amp" or entry.all_said:
                    yield self._entry_row(entry)
            return
        known = passed(session.present, self._round)
        words = {True: "as planned", False: "! not as planned", None: "not done yet"}
        if self._round == "noise":
            task = "quiet noise here alone"
            names = [
                (output.output.id, " ".join(dict.fromkeys(load.box.id for load in output.loads)))
                for output in session.rig.outputs
                if output.loads
            ]
        else:
            task = "polarity as planned"
            names = [(box.id, box.zone) for box in session.present.boxes]
        for name, about in names:
            mark = "error" if known.get(name) is False else ""
            yield Row(f"{self._round} {name}", (name, "", task, "", f"{words[known.get(name)]}   {about}"), mark)

    def _entry_row(self, entry: CheckedLine) -> Row:
        band, otherwise, said = {
            "dc": (entry.expected.dc, "open", entry.dc),
            "1khz": (entry.expected.z1k, "no verdict", entry.z1k),
            "load": (entry.reported, "nothing", entry.load),
        }[self._kind]
        should = band_text(band, otherwise, self.bench.style)
        read = str(said.reading.value) if said else ""
        verdict = NOT_READ if said is None else said.verdict.says
        if entry.exchanged and said is not None:
            verdict = f"exchanged with {entry.exchanged}? {verdict}"
        wrong = said is not None and said.verdict.ok is False
        cells = (entry.line, entry.at, should, read, ("! " if wrong else "") + verdict)
        return Row(f"read {entry.line} {entry.at}", cells, "error" if wrong else "")

    def action_passes(self) -> None:
        """Go on to the next pass."""
        self._round = PASSES[(PASSES.index(self._round) + 1) % len(PASSES)]
        self.searching = False
        self.renew()
        self.query_one(Rows).action_edge(0)
        words = {
            "meter": "meter, plugs off the amplifiers",
            "noise": "quiet noise, one output at a time",
            "polarity": "polarity, box by box",
        }
        self.note(f"pass: {words[self._round]}")

    def action_warm(self) -> None:
        """Change between cold and warm coils."""
        self._warm = not self._warm
        self.note("readings from now on: coils have just played" if self._warm else "readings from now on: cold coils")

    def action_kind(self) -> None:
        """Go on to the next kind of reading: DC, 1 kHz, what the amplifier reports itself."""
        kinds = list(READ_KINDS)
        self._kind = kinds[(kinds.index(self._kind) + 1) % len(kinds)]
        self.renew()
        self.note(READ_KINDS[self._kind])

    def on_key(self, event: events.Key) -> None:
        """Let a digit begin a reading where one is due: it never leaves the meter pass, the function keys do."""
        if event.character is None or not event.character.isdecimal():
            return
        verb, _, rest = self.query_one(Rows).key.partition(CONTINUED)[0].partition(" ")
        following = self._advice.next if self._advice is not None else None
        if verb == "read":
            event.stop()
            line, _, at = rest.partition(" ")
            self._ask_reading(line, at, event.character)
        elif following is not None and following.test.kind == "meter":
            event.stop()
            self._ask_test(following.test, event.character)

    def _ask_reading(self, line: str, at: str, typed: str = "") -> None:
        output = next((one.output for one in self.session.rig.lines if one.id == line), None) if self.session else None
        solved = self.session.rig.output(output.id) if self.session and output else None
        before = "" if self._kind == "load" else f"{before_metering([solved] if solved else [])}   "
        hint = f"{before}ohms or OL, enter   esc leaves"
        if self._kind == "load" and at != "amp":
            self.note("an amplifier reports the load of an output: choose a row at amp, or another kind (i)")
            return
        pulled = "" if self._kind == "load" else ", plug pulled"
        title = f"{line} at {at}: {READ_KINDS[self._kind]}{pulled}"
        self.bench.ask(
            TextQuestion(title, typed, _look_at_reading, hint=hint, begun=bool(typed)),
            lambda text: self._keep_reading(line, at, text),
        )

    def action_place(self) -> None:
        """Meter at a place that the list does not show."""
        session = self.session
        if session is None:
            return
        style = self.bench.style
        options = [
            ChoiceRow(
                f"{entry.line} {entry.at}",
                (entry.line, entry.at, f"pins {entry.pair}", band_text(entry.expected.dc, "open", style)),
            )
            for entry in entries(session.rig, table())
        ]

        def take(key: str | None) -> None:
            if key is not None:
                line, _, at = key.partition(" ")
                self._ask_reading(line, at)

        self.bench.push(Choose("meter where, plug pulled there", options), take)

    def _keep_reading(self, line: str, at: str, text: str) -> None:
        session = self.session
        if session is None:
            return
        kind, warm = self._kind, self._warm
        self.bench.apply(
            f"{line} at {at} reads {text.strip()}",
            lambda: with_reading(session.present, MeterPlace(line, at, kind, warm), text, now()),
        )
        run = line.rpartition("/")[0]
        try:
            found = entries(session.rig, table(), {run}, known_items(session.rig))
            entry = next((one for one in found if (one.line, one.at) == (line, at)), None)
            if entry is not None:
                self.note(f"{line}: {entry.says}{self._with_serial(entry)}")
        except ShowError as error:  # the user's own table, or what was kept by serial
            self.note(f"! {error}")
        self.query_one(Rows).action_step(1)

    def _with_serial(self, entry: CheckedLine) -> str:
        """Keep the reading of a box by itself with its serial; say so."""
        session, said = self.session, entry.dc if self._kind == "dc" else entry.z1k
        name, _, place = entry.at.rpartition(".")
        box = session.rig.show_index.boxes.get(name) if session is not None else None
        if session is None or box is None or not box.serial or place != "alone" or said is None or self._warm:
            return ""
        reading = said.reading
        keep(
            Measured(
                model=box.model or "",
                serial=box.serial,
                pair=entry.pair,
                value=reading.value,
                kind="dc" if self._kind == "dc" else "1khz",
                time=reading.time,
                show=session.present.about.name,
                well=said.verdict.ok is not False,
            )
        )
        return f"   (kept with serial {box.serial})"

    def _ask_pass(self, kind: str, name: str) -> None:
        def take(word: str | None) -> None:
            session = self.session
            if word is None or session is None:
                return
            if word == "which":
                self._ask_which(session, name)
                return
            self._keep_pass(session, kind, name, ok=word == "right")

        right = {"y": ("right", "yes, as planned")}
        if kind == "noise":
            letters = right | {"n": ("wrong", "nothing plays"), "o": ("which", "another box plays: say which")}
            self.bench.push(Letters(f"{name}: quiet noise heard where it belongs?", letters, NOISE), take)
        else:
            letters = right | {"r": ("wrong", "reversed")}
            self.bench.push(Letters(f"{name}: polarity as planned?", letters, CLICKS), take)

    def _ask_which(self, session: Session, output: str) -> None:
        """Ask which box played in place of the planned ones."""
        options = [ChoiceRow(box.id, (box.id, box.zone)) for box in session.present.boxes]

        def take(box: str | None) -> None:
            if box is not None:
                self._keep_pass(session, "noise", output, ok=False, played=(box,))

        self.bench.push(Choose("which box played", options, at_once=True), take)

    def _keep_pass(self, session: Session, kind: str, name: str, *, ok: bool, played: tuple[str, ...] = ()) -> None:
        found = "as planned" if ok else f"{' '.join(played) or 'not as planned'}"
        entry = Logged(kind="noise" if kind == "noise" else "polarity", at=name, ok=ok, played=played, time=now())
        self.bench.apply(f"{name}: {kind} {found}", lambda: with_pass(session.present, entry))
        if ok:
            self.query_one(Rows).action_step(1)
        else:
            self.note(f"{name}: kept as evidence; keep it muted, and t looks for the fault")

    # ---- the search ------------------------------------------------------------------------------------------

    def open_at(self, label: str) -> None:
        """Begin to look for a fault at a label: what it does is the first question."""
        if not self.searching:
            self._left_at = self.query_one(Rows).key
        without = self.bench.trouble.without if self.bench.trouble else frozenset()
        self.bench.trouble = trouble = Trouble(label, without)
        self.searching = True
        self.renew()
        if self.session is not None and label in self.session.rig.show_index.boxes and not trouble.has_evidence:
            # What is known already, and no test: nothing is played for it.
            self._ask_test(Test("listen", label, f"what does {label} do?", 0.0))

    def _tests(self) -> tuple[Test, ...]:
        trouble, session = self.bench.trouble, self.session
        if trouble is None or session is None:
            return ()
        try:
            return trouble.tests(session.rig)
        except (ObservationError, NoAnswerError):
            return ()  # the rows say why

    def _search_rows(self, session: Session) -> Iterator[Row]:
        trouble = self.bench.trouble
        if trouble is None:
            return
        doors = self.bench.doors
        trouble.running, trouble.left_min = doors.running, doors.left_min()
        try:
            advice = trouble.advice(session.rig)
        except (ObservationError, NoAnswerError) as error:
            yield Row("why", (f"! {error}",), "error", wide=True)
            return
        self._advice = advice
        state = ["worked before"] if trouble.worked_before else []
        state += [doors.says] if doors.says else []
        more = "".join(f", {word}" for word in state)
        yield Row("head", (f"fault at {trouble.what}{more}: next test, suspects, fixes, what was said",), wide=True)
        yield from self._next_rows(advice)
        if not doors.asked:
            yield Row(
                "doors", ("how long to the doors? s: minutes, or the time; r: the show is on",), "quiet", wide=True
            )
        for place, item in enumerate(advice.suspects[:7]):
            words = odds_words(item.share, fits=not advice.misfits)
            odds = f"{bar(item.share, self.bench.style, 10)} {item.share:4.0%} {words}"
            mark = "quiet" if item.share < 0.03 else ""
            yield Row(f"suspect {place}", (f"{odds}: {item.fault.says}",), mark, wide=True)
        for place, act in enumerate(advice.plan[:4], start=1):
            yield Row(f"fix {place}", (f"fix {place}: {act.fix} ({act.share:.0%}, {act.minutes:g} min)",), wide=True)
        for place, said in enumerate(trouble.seen):
            more = f"   ({trouble.compared(said)})" if isinstance(said, Metered) else ""
            yield Row(f"seen {place}", (f"said: {spoken(said)}{more}",), wide=True)
        for place, text in enumerate(advice.misfits[:2]):
            yield Row(f"misfit {place}", (f"! does not fit the likeliest, ask again: {text}",), "warning", wide=True)
        for place, text in enumerate(advice.cannot_tell[:2]):
            yield Row(f"cannot {place}", (f"cannot tell: {text}",), "quiet", wide=True)

    def _next_rows(self, advice: Advice) -> Iterator[Row]:
        for place, mute in enumerate(advice.first):
            yield Row(f"mute {place}", (f"! first: {mute.says}",), "error", wide=True)
        following = advice.next
        if following is None:
            yield Row(
                "fixes", ("no test is worth its minutes: do the fixes in this order   (m when fixed)",), wide=True
            )
            return
        yield Row("next", (f"next, {following.test.minutes:g} min: {following.test.says}   (enter)",), wide=True)
        for place, text in enumerate(advice.cautions):
            yield Row(f"caution {place}", (f"! {text}",), "warning", wide=True)
        yield Row("because", (f"  {following.why}",), "quiet", wide=True)
        for place, outcome in enumerate(following.outcomes[:3]):
            said = SAID.get(outcome.answer, outcome.answer)
            yield Row(f"outcome {place}", (f"  {said} ({outcome.chance:.0%}): {outcome.means}",), "quiet", wide=True)
        for place, move in enumerate(advice.moves):
            yield Row(f"move {place}", (f"  {place + 1}. {move}",), "warning", wide=True)

    def on_rows_chosen(self) -> None:
        """Answer."""
        self.action_answer()

    def action_answer(self) -> None:
        """Type the reading of this row, or answer the next test."""
        verb, _, rest = self.query_one(Rows).key.partition(CONTINUED)[0].partition(" ")
        if verb == "read":
            line, _, at = rest.partition(" ")
            self._ask_reading(line, at)
        elif verb in PASSES:
            self._ask_pass(verb, rest)
        elif verb == "suspect" and self._advice is not None:
            fault = self._advice.suspects[int(rest)].fault
            lines = [fault.says, "", f"fix: {fault.fix}", "", f"odds: {origin()}"]
            self.bench.push(Read(f"suspect: {fault.name}", [("", self.bench.safe(line)) for line in lines]))
        elif verb == "seen":
            self._again(int(rest))
        elif verb == "doors":
            self.action_doors()
        elif self._advice is not None and self._advice.next is not None:
            self._ask_test(self._advice.next.test)

    def action_without(self) -> None:
        """Say what there is not: set once, for this fault and those after it."""
        trouble = self.bench.trouble
        if trouble is None:
            self.note("t and a label begin to look for a fault")
            return
        letters = {letter: (word, f"{said}{': no' if word in trouble.without else ''}")
                   for letter, (word, said) in MISSING_LETTERS.items()}  # fmt: skip

        def take(word: str | None) -> None:
            if word is not None:
                trouble.without ^= {word}
                self.renew()
                self.note(f"no {', no '.join(sorted(trouble.without))}" if trouble.without else "all there")

        self.bench.push(Letters("what is not there, or there again", letters), take)

    def _ask_test(self, test: Test, typed: str = "") -> None:
        if test.kind == "meter":
            outputs = [out for out in self.session.rig.outputs if out.loads] if self.session else []
            hint = f"{before_metering(outputs)}   ohms or OL, enter   esc leaves"
            self.bench.ask(
                TextQuestion(test.says, typed, _look_at_reading, hint=hint, begun=bool(typed)),
                lambda text: self._note_answer(read_at(test, *meter_value(text))),
            )
            return

        def take(word: str | None) -> None:
            if word is not None:
                self._note_answer(answered(test, word))

        letters = {letter: (word, SAID.get(word, word)) for letter, word in LETTERS[test.kind].items()}
        caution = CLICKS if test.kind == "polarity" else ""
        self.bench.push(Letters(self.bench.safe(test.says), letters, caution), take)

    def _note_answer(self, item: object) -> None:
        trouble = self.bench.trouble
        if trouble is not None:
            earlier = trouble.say(item)  # type: ignore[arg-type]  # observations only come here
            self.renew()
            if trouble.changed:
                self.note(trouble.changed)
            if earlier is not None and earlier != item:
                self.note(f"in place of what was said before: {spoken(earlier)}")
            self.query_one(Rows).action_edge(0)
            self.query_one(Rows).action_step(1)

    def _again(self, place: int) -> None:
        """Take one answer back, so that its test can be done again."""
        trouble = self.bench.trouble
        if trouble is not None and place < len(trouble.seen):
            item = trouble.seen.pop(place)
            self.renew()
            self.note(f"taken back, measure or listen again: {spoken(item)}")

    def action_take_back(self) -> None:
        """Take back the last answer."""
        if self.bench.trouble and self.bench.trouble.seen:
            self._again(len(self.bench.trouble.seen) - 1)
        else:
            self.note("no answer to take back")

    def action_other(self) -> None:
        """Choose another test."""
        tests = {str(place): test for place, test in enumerate(self._tests())}
        options = [ChoiceRow(key, (f"{test.minutes:g} min", self.bench.safe(test.says))) for key, test in tests.items()]
        if options:
            self.bench.push(Choose("which test", options), lambda key: self._ask_test(tests[key]) if key else None)

    def action_back(self) -> None:
        """Change between the rig check and the search."""
        self.searching = not self.searching and self.bench.trouble is not None
        self.renew()
        if not self.searching and self._left_at:
            self.query_one(Rows).move_to(self._left_at)
        if self.bench.trouble is None:
            self.note("t and a label begin to look for a fault")

    def action_worked(self) -> None:
        """Say whether it worked earlier."""
        if self.bench.trouble:
            self.bench.trouble.worked_before = not self.bench.trouble.worked_before
            self.renew()

    def action_running(self) -> None:
        """Say whether the show is on."""
        doors = self.bench.doors
        doors.show_is_on, doors.asked = not doors.show_is_on, True
        self.renew()
        self.note("the show is on: nothing is pulled, no tones" if doors.show_is_on else "the show is not on")

    def action_doors(self) -> None:
        """Ask how long it is until the doors; no answer is one too, and it is not asked again."""
        doors = self.bench.doors
        doors.asked = True

        def look(text: str) -> str:
            return f"= {doors_at(text, clock()):%H:%M}" if text.strip() else "nobody knows"

        def take(text: str | None) -> None:
            if text is not None:
                doors.at = doors_at(text, clock()) if text.strip() else None
            self.renew()

        self.bench.push(Ask(TextQuestion("how long to the doors: 20 min, or 19:45", "", look)), take)

    def action_useless(self) -> None:
        """Say which fix was done and did not help."""
        if self._advice is None:
            self.note("t and a label begin to look for a fault")
            return
        real = [item.fault for item in self._advice.suspects if item.fault.kind not in {NOTHING, NONE_OF_THESE}]
        fixes = list(dict.fromkeys(fault.fix for fault in real))
        options = [ChoiceRow(str(place), (self.bench.safe(fix),)) for place, fix in enumerate(fixes)]

        def take(key: str | None) -> None:
            if key is not None:
                self._note_answer(Tried(fixes[int(key)]))

        if options:
            self.bench.push(Choose("done, and it did not help", options), take)

    def action_fixed(self) -> None:
        """Say what it was: the log, the fault tag, out of service."""
        advice, session = self._advice, self.session
        if advice is None or session is None:
            self.note("t and a label begin to look for a fault")
            return
        faults = [item.fault for item in advice.suspects if item.fault.kind not in {NOTHING, NONE_OF_THESE}]
        options = [ChoiceRow(str(place), (fault.at, self.bench.safe(fault.says))) for place, fault in enumerate(faults)]

        def take(key: str | None) -> None:
            if key is None:
                return
            fault, time = faults[int(key)], now()
            tag = fault_tag(session.rig, fault, fault.fix, time)
            self.bench.apply(f"fixed: {fault.says}", lambda: with_fixed(session.present, fault, fault.fix, time=time))
            self.bench.trouble = None
            self.searching = False
            self.renew()
            shown = [("", self.bench.safe(line)) for line in tag]
            self.bench.push(Read("fault tag", shown), lambda _: self._ask_to_count(fault))

        if options:
            self.bench.push(Choose("fixed: what was it", options), take)

    def action_learned(self) -> None:
        """List what closed cases have counted in: what, how often, since when; enter takes one case back."""
        try:
            found = learned()
        except ShowError as error:
            self.note(f"! {error}")
            return
        if not found:
            self.note("no closed case is counted in your odds yet")
            return
        options = [
            ChoiceRow(item.kind, (item.kind.replace("-", " "), f"{item.cases}", f"since {item.since.isoformat()}"))
            for item in found
        ]

        def take(kind: str | None) -> None:
            if kind is None:
                return
            try:
                take_back(kind)
            except ShowError as error:
                self.note(f"! {error}")
                return
            self.renew()
            self.note(f"one case taken back from your odds: {kind.replace('-', ' ')}")

        self.bench.push(Choose("counted in your odds; enter takes one case back", options), take)

    def _ask_to_count(self, fault: Fault) -> None:
        """Ask whether a closed case moves the user's own odds; it does so only for a yes."""

        def take() -> None:
            try:
                count_in(fault.counted_as)
            except ShowError as error:
                self.note(f"! {error}")
                return
            self.renew()
            self.note(f"counted in your {OWN_NAME}: {fault.name}")

        try:
            odds = more(fault.counted_as)
        except ShowError as error:
            self.note(f"! {error}")
            return
        if odds is not None:
            lines = [
                f"{fault.counted_as.replace('-', ' ')}: {odds[0]:g} now, {odds[1]:g} then, in your {OWN_NAME}",
                f"odds so far: {origin()}",
            ]
            self.bench.confirm("let this case count in your own odds?", lines, take, "count it in")


def _look_at_reading(text: str) -> str:
    if not text.strip():
        raise UnusableError("what the meter shows, such as 3.4, or OL")
    ohm, word = meter_value(text)
    return f"= {word or f'{ohm:g} ohm'}"
