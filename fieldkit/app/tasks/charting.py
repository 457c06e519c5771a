"""What drives what, on the screen: the chart to walk through, sets, what carries a list, and taking it along."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

import msgspec
from textual.app import ComposeResult
from textual.containers import Vertical

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import bindings
from fieldkit.app.dialogs.answering import Accept
from fieldkit.app.dialogs.windows import ChoiceRow, Dialog, TextQuestion
from fieldkit.app.shell import Shell
from fieldkit.app.tasks.explaining import explain
from fieldkit.app.tasks.saving import make_show
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.errors import UnusableError
from fieldkit.formulas.figures import Figure
from fieldkit.gear.library import every
from fieldkit.planning.chart.adding import AmplifierPart, add_to_show, part_of_cell, part_of_fill
from fieldkit.planning.chart.asking import read_cable, read_wanted
from fieldkit.planning.chart.carrying import Carrying, carry
from fieldkit.planning.chart.cells import Cell, chart
from fieldkit.planning.chart.question import Library, Terms, library_of
from fieldkit.planning.chart.sets import sets_of
from fieldkit.reports.chart import cell_lines, glance, hosting_text, lead_text
from fieldkit.reports.chart_sets import answer_text, plan_lines, set_text
from fieldkit.rig.solve.evaluation import DEFAULT_PREFERRED_OHM
from fieldkit.rig.solve.explanation import line_figures, output_figures, traced_under
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import Show, UnknownBox
from fieldkit.text.words import counted

COLUMNS = (
    ListColumn("amplifier", minimum=10, share=2),
    ListColumn("mode"),
    ListColumn("box", minimum=10, share=2),
    ListColumn("drive"),
    ListColumn("amp · out head · set by"),
    ListColumn("preset"),
)
BELOW = 7
"""Lines below the table that say the row under the cursor in full."""
MOST_SETS = 200


def library_for(shell: Shell) -> Library:
    """Gather the models of the open show, then those of the gear library, and the unknown boxes of the show."""
    show = shell.session.present if shell.session is not None else Show()
    labels: dict[tuple[str, str], UnknownBox] = {}
    for box in show.boxes:
        if box.unknown is not None:
            labels.setdefault((str(box.unknown.impedance), str(box.unknown.continuous)), box.unknown)
    models = [*models_by_id(show).values(), *(entry.model for entry in every())]
    return library_of(models, tuple(labels.values()))


def terms_for(shell: Shell) -> Terms:
    """Take the preferred load and the temperature of the open show."""
    if shell.session is None:
        return Terms(preferred_ohm=DEFAULT_PREFERRED_OHM)
    rig = shell.session.rig
    return Terms(preferred_ohm=rig.preferred_ohm, conditions=rig.conditions)


def show_chart(shell: Shell, model: str = "") -> None:
    """Open the chart, of one model where one is named."""
    shell.push(ChartWindow(shell, library_for(shell), terms_for(shell), model))


class ChartWindow(Dialog[str]):
    """The chart: a row for each amplifier, mode and box; the row under the cursor in full below."""

    DEFAULT_CSS = """
    ChartWindow > Vertical { width: 100%; max-width: 100%; height: 100%; border: none; padding: 0; }
    ChartWindow #full { height: 7; color: $text-muted; }
    """
    WHOLE = True
    BINDINGS: ClassVar = bindings("chart", actions_at("chart"))

    def __init__(self, shell: Shell, library: Library, terms: Terms, model: str) -> None:
        """``model`` is the one that the chart is opened at; empty for all."""
        super().__init__()
        self.shell, self.library, self.terms = shell, library, terms
        self.words = model
        self.cells: tuple[Cell, ...] = ()
        self.worked_out: dict[str, Cell] = {}

    def compose(self) -> ComposeResult:
        """Lay out title, table, the row in full, and the keys."""
        with Vertical():
            yield TextLine(classes="title", id="heading")
            yield Rows(COLUMNS, empty="no amplifier and box by these words: / changes them", filters=False)
            yield TextLine(id="full")
            yield TextLine(
                "enter all  e why  a take along  v sets  p what carries  l lead  / filter  esc",
                classes="hint",
                id="said",
            )

    def on_mount(self) -> None:
        """Work the chart out and begin in the table."""
        self.set_focus(self.query_one(Rows))
        self._work_out()

    def _work_out(self) -> None:
        self.cells = chart(self._of_the_words(), self.terms)
        self._show()

    def _of_the_words(self) -> Library:
        """Leave out kinds of models that a whole name among the words rules out: the chart is then small."""
        words = self.words.split()
        amplifiers = tuple(model for model in self.library.amplifiers if model.id in words)
        speakers = tuple(model for model in self.library.loudspeakers if model.id in words)
        return msgspec.structs.replace(
            self.library,
            amplifiers=amplifiers or self.library.amplifiers,
            loudspeakers=speakers or self.library.loudspeakers,
            unknown=() if speakers else self.library.unknown,
        )

    def _show(self) -> None:
        words = self.words.casefold().split()
        self.worked_out = {}
        for place, cell in enumerate(self.cells):
            name = f"{cell.amplifier.id} {cell.mode} {cell.candidate.title} {cell.hosting}"
            if all(word in name.casefold() for word in words):
                self.worked_out[f"{place} {name}"] = cell
        shown = list(self.worked_out.values())
        # What is the same in every row stands in none of them: the other names then have room.
        several = [
            len({cell.amplifier.id for cell in shown}) != 1,
            True,
            len({cell.candidate.name for cell in shown}) != 1,
            len({cell.candidate.title for cell in shown}) != 1,
            True,
            True,
        ]
        rows = []
        for key, cell in self.worked_out.items():
            assumed = " *" if cell.is_assumed else ""
            every_cell = (
                cell.amplifier.id,
                cell.mode,
                cell.candidate.name + assumed,
                cell.candidate.drive,
                glance(cell),
                hosting_text(cell),
            )
            cells = tuple(self.shell.safe(text) for text, some in zip(every_cell, several, strict=True) if some)
            rows.append(Row(key, cells, mark="quiet" if not cell.per_amplifier else ""))
        table = self.query_one(Rows)
        table.columns = tuple(column for column, some in zip(COLUMNS, several, strict=True) if some)
        table.show(rows)
        same = [cell.amplifier.id for cell in shown[:1] if not several[0]]
        same += [cell.candidate.name for cell in shown[:1] if not several[2] and several[3]]
        same += [cell.candidate.title for cell in shown[:1] if not several[3]]
        of = " with ".join(same) or self.words or "what drives what"
        lead = f"lead {self.terms.length_m:g} m {self.terms.cable.id}" if self.terms.cable else "no cable"
        self.query_one("#heading", TextLine).say(self.shell.safe(f"{of}: {counted(len(rows), 'row')}, {lead}"))
        self._say_full()

    @property
    def cell(self) -> Cell | None:
        """The cell under the cursor."""
        return self.worked_out.get(self.query_one(Rows).key)

    def on_rows_moved(self) -> None:
        """Say the row under the cursor in full."""
        self._say_full()

    def _say_full(self) -> None:
        cell = self.cell
        width = max(40, self.size.width - 2)
        said = tuple(cell_lines(cell))[1:] if cell else ()
        lines = [part for line in said for part in broken(self.shell.safe(line), width)]
        if len(lines) > BELOW:
            lines = [*lines[: BELOW - 1], f"and {len(lines) - BELOW + 1} lines more: enter"]
        self.query_one("#full", TextLine).say("\n".join(lines))

    def on_rows_chosen(self) -> None:
        """Show the cell in full."""
        if self.cell is not None:
            self.shell.read("what drives what", tuple(cell_lines(self.cell)))

    def action_filter(self) -> None:
        """Ask for words that the rows are to hold."""

        def take(text: str) -> None:
            self.words = text.strip()
            self._work_out()

        look = "parts of names: an amplifier, a box, bi-amp, bridged, hosted; nothing shows all"
        self.shell.ask(TextQuestion("show rows with", self.words, lambda _: look), take)

    def action_lead(self) -> None:
        """Ask for the lead that the chart is for."""
        models = [entry.model for entry in every()]
        terms = self.terms
        start = f"{terms.cable.id} {terms.length_m:g} m" if terms.cable else ""

        def with_lead(text: str) -> Terms:
            cable, length_m = read_cable(text, models) if text.strip() else (None, 0.0)
            return msgspec.structs.replace(terms, cable=cable, length_m=length_m)

        def take(text: str) -> None:
            self.terms = with_lead(text)
            self._work_out()

        question = TextQuestion(
            "lead to the first box", start, lambda text: lead_text(with_lead(text)), "nothing: none"
        )
        self.shell.ask(question, take)

    def action_why(self) -> None:
        """Show where the figures of this cell come from, down to the formula."""
        cell = self.cell
        if cell is not None and cell.sections:
            title = f"{cell.boxes} on one output of {cell.amplifier.id}, {cell.mode}"
            explain(self.shell, self.shell.safe(title), figures_of(cell, self.terms))

    def action_add(self) -> None:
        """Make this row part of the show: the amplifier full, or fewer boxes."""
        cell = self.cell
        if cell is None or not cell.per_amplifier:
            self._say("nothing to take along: this amplifier carries none of them")
            return

        def look(text: str) -> str:
            number = int(text) if text.strip().isdecimal() else 0
            if not 1 <= number <= cell.per_amplifier:
                wanted = f"expected a whole number from 1 to {cell.per_amplifier}"
                raise UnusableError(f"{wanted}, got '{text[:40]}'")
            return f"{cell.amplifier.id}, {cell.mode}, with {number} {cell.candidate.title}, and their runs"

        question = TextQuestion("how many boxes to take along", str(cell.per_amplifier), look)
        self.shell.ask(question, lambda text: take_along(self, [part_of_cell(cell, int(text))]))

    def action_view(self) -> None:
        """List the sets that fill the amplifier of this row."""
        cell = self.cell
        if cell is None:
            return
        asked = msgspec.structs.replace(self.library, amplifiers=(cell.amplifier,))
        found = sets_of(chart(asked, self.terms), self.terms, named=False).sets
        options = [
            ChoiceRow(str(place), (self.shell.safe(set_text(item)), f"{item.free} free" if item.free else ""))
            for place, item in enumerate(found[:MOST_SETS])
        ]

        def chosen(key: str) -> None:
            item = found[int(key)]
            take_along(self, [part_of_fill(item.amplifier, item.fill)])

        more = f", the first {MOST_SETS} of {len(found)}" if len(found) > MOST_SETS else ""
        self.shell.choose(f"sets that fill {cell.amplifier.id}{more}; enter takes one along", options, chosen)

    def action_propose(self) -> None:
        """Ask for a list of boxes, and list what carries it."""
        cell = self.cell
        start = f"4 {cell.candidate.title}" if cell else ""

        def look(text: str) -> str:
            wanted = read_wanted(text, self.library, self.terms)
            return ", ".join(f"{item.count} {item.candidate.title} ({item.candidate.use})" for item in wanted)

        def take(text: str) -> None:
            wanted = read_wanted(text, self.library, self.terms)
            self._answers(carry(wanted, self.library, self.terms))

        self.shell.ask(TextQuestion("what carries: 4 two-way-12-inch bi-amp, 2 sub-…", start, look), take)

    def _answers(self, answers: Sequence[Carrying]) -> None:
        if not answers:
            self._say("nothing carries them all, alone or with one other model")
            return
        options = [ChoiceRow(str(place), (self.shell.safe(answer_text(item)),)) for place, item in enumerate(answers)]

        def chosen(key: str) -> None:
            item = answers[int(key)]
            parts = [part_of_fill(unit.amplifier, unit.fill) for unit in item.units]
            lines = [("", self.shell.safe(line)) for line in plan_lines(item)]
            window = Accept(
                self.shell.safe(answer_text(item)), lines, "enter takes it along   arrows scroll   esc leaves"
            )
            self.shell.push(window, lambda answer: take_along(self, parts) if answer else None)

        self.shell.choose("what carries them, fewest rack units first", options, chosen)

    def _say(self, text: str) -> None:
        self.query_one("#said", TextLine).say(self.shell.safe(text))


def take_along(window: ChartWindow, parts: Sequence[AmplifierPart]) -> None:
    """Put amplifiers, boxes and runs into the open show as one step of undo; without a show, into a new one."""
    shell = window.shell

    def apply() -> None:
        session = shell.session
        if session is None:
            return
        made = add_to_show(session.present, parts, window.library)
        if shell.apply(f"{made.says} taken along", lambda: made.show):
            window.dismiss("")

    if shell.session is None:
        make_show(shell, then=apply)
    else:
        apply()


def figures_of(cell: Cell, terms: Terms) -> list[Figure]:
    """Calculate the figures of a cell again, with the inputs of each; those of boxes alike are listed once."""
    found: list[Figure] = []
    for section in cell.sections:
        traced = traced_under(terms.conditions, section.solved)
        found += [figure for _, figure in output_figures(traced)]
        of_first: dict[str, Figure] = {}
        for _, name, figure in line_figures(traced.lines[0]):
            of_first.setdefault(name, figure)
        found += of_first.values()
    return found
