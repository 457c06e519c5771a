"""The rig check at the rig: what every row should read, a reading and enter, what a pass of noise or polarity found."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain

from fieldkit.app.dialogs.answering import Letters
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, TextQuestion
from fieldkit.app.session import Session
from fieldkit.app.shell import Shell
from fieldkit.app.widgets.rows import Row
from fieldkit.app.widgets.scales import window_scale
from fieldkit.errors import UnusableError
from fieldkit.reports.triage_text import band_text
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.meters import Band
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Logged
from fieldkit.show.errors import ShowError
from fieldkit.show.keep.measured import Measured, keep
from fieldkit.show.reading_value import ReadingValue
from fieldkit.triage.advice.cautions import CLICKS, NOISE, before_metering
from fieldkit.triage.belief.observations import meter_value
from fieldkit.triage.model.odds import table
from fieldkit.triage.rig_check.meter_pass import NOT_READ, CheckedLine, combined, entries, known_items
from fieldkit.triage.rig_check.progress import passed
from fieldkit.triage.rig_check.recording import MeterPlace, now, with_pass, with_reading

PASSES = {
    "meter": "meter, plugs off the amplifiers",
    "noise": "quiet noise, one output at a time",
    "polarity": "polarity, box by box",
    "bench": "bench, each box by itself with nothing plugged in",
}
"""The passes in their order, and how each begins."""

READ_KINDS = {"dc": "DC ohms", "1khz": "impedance at 1 kHz", "load": "ohms that the amplifier reports itself"}
"""What can be read, in the turn of the key."""


def _scale(band: Band, value: ReadingValue) -> str:
    """Draw a reading beside its window."""
    return window_scale(band.low, band.high, 0.0 if value.word == "short" else value.ohm)


class RigCheck:
    """Where somebody is in the rig check: the pass, what is read, cold or warm coils."""

    def __init__(self, shell: Shell, go_on: Callable[[], None]) -> None:
        """``go_on`` puts the cursor on the next row: an answer was kept."""
        self.shell, self._go_on = shell, go_on
        self.round, self.warm, self.kind = "meter", False, "dc"

    @property
    def has_scales(self) -> bool:
        """Whether this pass reads a meter, whose readings stand on a scale."""
        return self.round in {"meter", "bench"}

    def next_pass(self) -> str:
        """Go on to the next pass; says which in words."""
        passes = list(PASSES)
        self.round = passes[(passes.index(self.round) + 1) % len(passes)]
        return PASSES[self.round]

    def next_kind(self) -> str:
        """Go on to the next kind of reading: DC, 1 kHz, what the amplifier reports itself; says which in words."""
        kinds = list(READ_KINDS)
        self.kind = kinds[(kinds.index(self.kind) + 1) % len(kinds)]
        return READ_KINDS[self.kind]

    # ---- the list ----------------------------------------------------------------------------------------------

    def rows(self, session: Session) -> Iterator[Row]:
        """List what this pass looks at, with what was found so far."""
        if self.round == "bench":
            for entry in entries(session.rig, table(), known=known_items(session.rig)):
                if entry.at.endswith(".alone"):
                    yield self._entry_row(entry)
            return
        if self.round == "meter":
            for entry in combined(entries(session.rig, table(), known=known_items(session.rig))):
                if entry.at == "amp" or entry.all_said:
                    yield self._entry_row(entry)
            return
        known = passed(session.present, self.round)
        words = {True: "as planned", False: "! not as planned", None: "not done yet"}
        if self.round == "noise":
            names = [
                (output.output.id, f"{heard_from(output)} alone") for output in session.rig.outputs if output.loads
            ]
        else:
            names = [(box.id, f"polarity as planned   {box.zone}") for box in session.present.boxes]
        for name, should in names:
            mark = "error" if known.get(name) is False else ""
            yield Row(f"{self.round} {name}", (name, "", should, "", "", words[known.get(name)]), mark)

    def _entry_row(self, entry: CheckedLine) -> Row:
        band, otherwise, said = {
            "dc": (entry.expected.dc, "open", entry.dc),
            "1khz": (entry.expected.z1k, "no verdict", entry.z1k),
            "load": (entry.reported, "nothing", entry.load),
        }[self.kind]
        should = band_text(band, otherwise, self.shell.style)
        read = str(said.reading.value) if said else ""
        verdict = NOT_READ if said is None else said.verdict.says
        if entry.exchanged and said is not None:
            verdict = f"exchanged with {entry.exchanged}? {verdict}"
        wrong = said is not None and said.verdict.ok is False
        scale = _scale(band, said.reading.value) if said and band and self.shell.style.bars else ""
        cells = (entry.line, entry.at, should, read, scale, ("! " if wrong else "") + verdict)
        return Row(f"read {entry.line} {entry.at}", cells, "error" if wrong else "")

    # ---- a reading ---------------------------------------------------------------------------------------------

    def ask_reading(self, line: str, at: str, typed: str = "") -> None:
        """Ask what the meter shows at a point of a line; ``typed`` is the digit that began it."""
        session = self.shell.session
        output = next((one.output for one in session.rig.lines if one.id == line), None) if session else None
        solved = session.rig.output(output.id) if session and output else None
        before = "" if self.kind == "load" else f"{before_metering([solved] if solved else [])}   "
        hint = f"{before}ohms or OL, enter   esc leaves"
        if self.kind == "load" and at != "amp":
            self.shell.note("an amplifier reports the load of an output: choose a row at amp, or another kind (i)")
            return
        pulled = "" if self.kind == "load" else ", plug pulled"
        screens = "   (screens from here: F1 to F8)" if typed else ""
        title = f"{line} at {at}: {READ_KINDS[self.kind]}{pulled}{screens}"
        self.shell.ask(
            TextQuestion(title, typed, look_at_reading, hint=hint, begun=bool(typed)),
            lambda text: self._keep_reading(line, at, text),
        )

    def ask_place(self, session: Session) -> None:
        """Meter at a place that the list does not show."""
        style = self.shell.style
        options = [
            ChoiceRow(
                f"{entry.line} {entry.at}",
                (entry.line, entry.at, f"pins {entry.pair}", band_text(entry.expected.dc, "open", style)),
            )
            for entry in entries(session.rig, table())
        ]

        def take(key: str) -> None:
            line, _, at = key.partition(" ")
            self.ask_reading(line, at)

        self.shell.choose("meter where, plug pulled there", options, take)

    def _keep_reading(self, line: str, at: str, text: str) -> None:
        session = self.shell.session
        if session is None:
            return
        kind, warm = self.kind, self.warm
        self.shell.apply(
            f"{line} at {at} reads {text.strip()}",
            lambda: with_reading(session.present, MeterPlace(line, at, kind, warm), text, now()),
        )
        run = line.rpartition("/")[0]
        try:
            found = entries(session.rig, table(), {run}, known_items(session.rig))
            entry = next((one for one in found if (one.line, one.at) == (line, at)), None)
            if entry is not None:
                box = f"{at.removesuffix('.alone')}, " if at.endswith(".alone") else ""  # there it is on no line yet
                self.shell.note(f"{box}{line}: {entry.says}{self._with_serial(session, entry)}")
        except ShowError as error:  # the user's own table, or what was kept by serial
            self.shell.note(f"! {error}")
        self._go_on()

    def _with_serial(self, session: Session, entry: CheckedLine) -> str:
        """Keep the reading of a box by itself with its serial; say so."""
        said = entry.dc if self.kind == "dc" else entry.z1k
        name, _, place = entry.at.rpartition(".")
        box = session.rig.show_index.boxes.get(name)
        if box is None or not box.serial or place != "alone" or said is None or self.warm:
            return ""
        reading = said.reading
        keep(
            Measured(
                model=box.model or "",
                serial=box.serial,
                pair=entry.pair,
                value=reading.value,
                kind="dc" if self.kind == "dc" else "1khz",
                time=reading.time,
                show=session.present.about.name,
                well=said.verdict.ok is not False,
            )
        )
        return f"   (kept with serial {box.serial})"

    # ---- noise and polarity ------------------------------------------------------------------------------------

    def ask_pass(self, kind: str, name: str) -> None:
        """Ask what quiet noise on an output, or a tester at a box, found."""

        def take(word: str | None) -> None:
            session = self.shell.session
            if word is None or session is None:
                return
            if word == "which":
                self._ask_which(session, name)
                return
            self._keep_pass(session, kind, name, ok=word == "right")

        right = {"y": ("right", "yes, as planned")}
        session = self.shell.session
        if kind == "noise" and session is not None:
            solved = session.rig.output(name)
            planned = f"from {heard_from(solved)} alone" if solved else "where it belongs"
            letters = right | {
                "n": ("wrong", "nothing plays"),
                "o": ("which", "other boxes play, or not all: say which"),
            }
            self.shell.push(Letters(f"{name}: quiet noise heard {planned}?", letters, NOISE), take)
        else:
            letters = right | {"r": ("wrong", "reversed")}
            self.shell.push(Letters(f"{name}: polarity as planned?", letters, CLICKS), take)

    def _ask_which(self, session: Session, output: str) -> None:
        """Ask which boxes played in place of the planned ones: all of another output, or one box and no other."""
        played = {row.key: (row, boxes) for row, boxes in instead_of(session.rig, output)}

        def take(said: str | None) -> None:
            if said is not None:
                self._keep_pass(session, "noise", output, ok=False, played=played[said][1])

        self.shell.push(Choose("which boxes played", [row for row, _ in played.values()], at_once=True), take)

    def _keep_pass(self, session: Session, kind: str, name: str, *, ok: bool, played: tuple[str, ...] = ()) -> None:
        found = "as planned" if ok else f"{' '.join(played) or 'not as planned'}"
        entry = Logged(kind="noise" if kind == "noise" else "polarity", at=name, ok=ok, played=played, time=now())
        self.shell.apply(f"{name}: {kind} {found}", lambda: with_pass(session.present, entry))
        if ok:
            self._go_on()
        else:
            self.shell.note(f"{name}: kept as evidence; keep it muted, and t looks for the fault")


def heard_from(output: SolvedOutput) -> str:
    """Name what plays with noise on one output: its boxes, and which of their sections."""
    boxes = " ".join(dict.fromkeys(load.box.id for load in output.loads))
    sections = " ".join(dict.fromkeys(load.section.section for load in output.loads))
    return boxes if sections == "full" else f"{boxes} {sections}"


def instead_of(rig: Rig, output: str) -> list[tuple[ChoiceRow, tuple[str, ...]]]:
    """List what may play in place of what an output drives: the boxes of the others together, and each by itself.

    What hangs on one output plays together, so a plug in the wrong socket is heard from all its boxes.
    """
    planned: tuple[str, ...] = ()
    driven: dict[tuple[str, ...], str] = {}
    for solved in rig.outputs:
        boxes = tuple(dict.fromkeys(load.box.id for load in solved.loads))
        if solved.output.id == output:
            planned = boxes
        elif len(boxes) > 1:
            driven.setdefault(boxes, solved.output.id)
    found = [(" ".join(boxes), f"what {name} drives", boxes) for boxes, name in driven.items() if boxes != planned]
    among = {*chain(*driven), *(planned if len(planned) > 1 else ())}
    found += [(f"{box.id} alone" if box.id in among else box.id, box.zone, (box.id,)) for box in rig.show.boxes]
    return [(ChoiceRow(says, (says, about)), boxes) for says, about, boxes in found]


def look_at_reading(text: str) -> str:
    """Echo what the meter shows. Raises UnusableError for what is no reading."""
    if not text.strip():
        raise UnusableError("what the meter shows, such as 3.4, or OL")
    ohm, word = meter_value(text)
    return f"= {word or f'{ohm:g} ohm'}"
