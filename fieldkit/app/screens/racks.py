"""Racks: the patch, grouped by amplifier, what needs a look on top."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec
from textual.app import ComposeResult
from textual.containers import Horizontal

from fieldkit.app.screens.frame import SIGNS, MainScreen
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.widgets.scales import load_scale
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.gear.amplifier import Amplifier
from fieldkit.reports.fronts import amplifier_heading, faces
from fieldkit.reports.text import line_drawn
from fieldkit.rig.connect.outputs import permission_text
from fieldkit.rig.failures import failed_outputs
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.explanation import line_figures, output_figures, traced_output
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.edits import changed, with_thing
from fieldkit.units import format_value

COLUMNS = (
    ListColumn("", minimum=2),
    ListColumn("out", minimum=3),
    ListColumn("line"),
    ListColumn("boxes", minimum=6),
    ListColumn("preset", minimum=6, share=1),
    ListColumn("load", right=True, decimal=True),
    ListColumn("scale"),
    ListColumn("clips/limit/bears W", right=True),
)
SCALE = 6
"""The place of the column that is left out where no bars are drawn."""


class Racks(MainScreen):
    """The patch of the show."""

    PURPOSE = (
        "The patch by amplifier: which output feeds which boxes, with which preset, at which load; the amplifier that "
        "needs a look most is on top."
    )
    WORDS = (
        ("output", "an amplifier channel, or two that work as one: SR-1.3, SR-1.3+4"),
        ("line", "one pin pair of a run: W1/2"),
        ("scale", "the load from the output's minimum at the left end to 16 ohm; the preferred load is marked"),
        ("clips", "sine watts with the amplifier at its rated limit; half of that is clean noise of 6 dB crest"),
        ("limit", "watts that the limiter which holds leaves; - where nothing limits"),
        ("bears", "continuous watts of the section: an amplifier of twice that has them clean"),
    )

    DEFAULT_CSS = """
    Racks Horizontal { height: 1fr; }
    Racks #faces { width: 40; height: 1fr; padding: 0 0 0 2; display: none; }
    Racks.-wide #faces { display: block; }
    """

    def body(self) -> ComposeResult:
        """Show the patch, with the rack faces beside it where there is room."""
        with Horizontal():
            yield Rows(COLUMNS, empty="no output drives a box yet: a adds a run")
            yield TextLine(id="faces")
        yield Beside(classes="below")

    def fill(self) -> None:
        """Show the amplifiers with their outputs, those with the worst findings first; the processors come last."""
        session = self.session
        rows: list[Row] = []
        if session is not None:
            groups = list(self._groups(session.rig, session.findings))
            groups.sort(key=lambda group: group[0])
            rows = [row for _, group in groups for row in group]
            rows += self._processors(session.rig)
        table = self.query_one(Rows)
        if not self.bench.style.bars:
            rows = [row if row.wide else _without_scale(row) for row in rows]
        table.columns = COLUMNS if self.bench.style.bars else COLUMNS[:SCALE] + COLUMNS[SCALE + 1 :]
        begins = not table.rows
        table.show(rows)
        if begins:  # on a line rather than on the heading above it
            table.move_to(next((row.key for row in rows if row.mark != "heading"), ""))
        self.query_one("#faces", TextLine).say(
            "\n".join(faces(session.rig, framed=self.bench.style.bars)) if session is not None else ""
        )

    def on_resize(self) -> None:
        """Draw bars as long as there is room for."""
        self.call_after_refresh(self.renew)

    def _groups(self, rig: Rig, findings: tuple[Finding, ...]) -> Iterator[tuple[int, list[Row]]]:
        """Make the rows of each amplifier: a heading, then its outputs; with the place of its worst finding."""
        worst, why_failed = _worst(findings), failed_outputs(rig)
        failed = [item.id for item in rig.show.failed]
        draws = {draw.id: draw for draw in supplies_of(rig).draws}
        by_unit: dict[str, list[SolvedOutput]] = {}
        for output in rig.outputs:
            by_unit.setdefault(output.output.unit.id, []).append(output)
        for unit, outputs in by_unit.items():
            group, places = [], [worst.get(unit, len(SEVERITIES))]
            for output in outputs:
                if not output.lines:
                    group.append(self._free(output, why_failed))
                for solved in output.lines:
                    names = {*_names(output, solved), *(failed if output.output.id in why_failed else ())}
                    place = min((worst[name] for name in names if name in worst), default=len(SEVERITIES))
                    places.append(place)
                    word = SEVERITIES[place] if place < len(SEVERITIES) else ""
                    group.append(_row(rig, (output, solved), word, self._scale_width))
            text = amplifier_heading(outputs[0], draws.get(unit))
            heading = Row(f"unit {unit}", (self.bench.safe(text),), mark="heading", wide=True)
            yield min(places), [heading, *map(self._safe, group)]

    @property
    def _scale_width(self) -> int:
        """Cells of a scale: more where there is room beside the faces of the racks."""
        return max(9, min(33, (self.app.size.width - 100) // 3))

    def _safe(self, row: Row) -> Row:
        return msgspec.structs.replace(row, cells=tuple(self.bench.safe(cell) for cell in row.cells))

    def _free(self, output: SolvedOutput, why_failed: Mapping[str, str]) -> Row:
        """Show an output that drives nothing: it is edited and used from here too."""
        name = output.output.id
        said = "failed" if name in why_failed else "free"
        return Row(f"output {name}", ("", _channels(name), "", said, "", "", "", ""), mark="quiet", words=name)

    def _processors(self, rig: Rig) -> Iterator[Row]:
        """Show the processors, with what goes into them."""
        for unit in rig.show_index.units.values():
            if not isinstance(rig.show_index.models[unit.model], Amplifier):
                inputs = ", ".join(f"{name}: {source}" for name, source in unit.inputs.items())
                text = f"{unit.id}  {unit.model}" + (f"  inputs {inputs}" if inputs else "")
                yield Row(f"unit {unit.id}", (self.bench.safe(text),), mark="heading", wide=True)

    def labels_here(self) -> frozenset[str]:
        """Name the output, the line, the run and the boxes of this row, and what failed of it."""
        session, found = self.session, self._line()
        if session is None or found is None:
            name = self.query_one(Rows).key.partition(" ")[2]
            return frozenset({name, self._unit_here()} - {""})
        output, solved = found
        names = _names(output, solved)
        if output.output.id in failed_outputs(session.rig):
            names.update(item.id for item in session.present.failed)
        return frozenset(names)

    def details_here(self) -> tuple[str, ...]:
        """Draw the line of this row end to end."""
        found = self._line()
        if found is None:
            return ()
        return tuple(line_drawn(*found, self.bench.style, self.app.size.width))

    def action_open(self) -> None:
        """Choose what of this line to edit; of a free output or a processor, edit the unit."""
        found = self._line()
        unit = self._unit_here()
        if unit:
            self.bench.edit("rack_units", unit)
        if found is None:
            return
        output, solved = found
        things = [("runs", solved.line.run.id), *(("boxes", load.box.id) for load in solved.line.loads)]
        things.append(("rack_units", output.output.unit.id))
        self.bench.edit_one_of(list(dict.fromkeys(things)))

    def action_card(self) -> None:
        """Show the card of the output or unit."""
        found = self._line()
        kind, _, name = self.query_one(Rows).key.partition(" ")
        if found is not None:
            self.bench.show_card("output", found[0].output.id)
        elif name:
            self.bench.show_card(kind, name)

    def action_why(self) -> None:
        """Show the figures of the line, each with what it rests on."""
        session, found = self.session, self._line()
        if session is None or found is None:
            self.note("no line on this row: the numbers of a line are explained on the row of its boxes")
            return
        output, solved = found
        shown = traced_output(session.rig, output)
        line = next(item for item in shown.lines if item.line.id == solved.line.id)
        figures = [figure for _, figure in output_figures(shown)] + [figure for _, _, figure in line_figures(line)]
        self.bench.explain(f"{solved.line.id}: where the numbers come from", figures)

    def action_bridge(self) -> None:
        """Bridge or take apart the pair of this output."""
        session, found = self.session, self._line()
        kind, _, name = self.query_one(Rows).key.partition(" ")
        solved = found[0] if found else session.rig.output(name) if session and kind == "output" else None
        if session is None or solved is None:
            return
        output = solved.output
        unit = next((item for item in session.present.rack_units if item.id == output.unit.id), output.unit)
        if output.mode == "bridged":
            pair = "+".join(map(str, output.channels))
            left = [item for item in unit.bridged if item != pair]
            self.bench.apply(
                f"{unit.id}: {pair} taken apart",
                lambda: with_thing(session.present, "rack_units", changed(unit, bridged=left)),
            )
            return
        refusal = permission_text(output.model, "bridged")
        if refusal:
            self.bench.say(f"{output.id} stays as it is: {refusal}")
            return
        first = output.channels[0] - (output.channels[0] - 1) % 2
        pair = f"{first}+{first + 1}"
        self.bench.apply(
            f"{unit.id}: {pair} bridged",
            lambda: with_thing(session.present, "rack_units", changed(unit, bridged=[*unit.bridged, pair])),
        )

    def action_propose(self) -> None:
        """Let the program propose outputs and runs."""
        from fieldkit.app.tasks.assigning import propose

        propose(self.bench)

    def action_failed(self) -> None:
        """Mark the unit, output or a box of this row failed, or put it back."""
        from fieldkit.app.tasks.failing_over import mark_failed

        found, unit = self._line(), self._unit_here()
        if found is not None:
            output, solved = found
            boxes = dict.fromkeys(load.box.id for load in solved.line.loads)
            mark_failed(self.bench, [output.output.unit.id, output.output.id, *boxes])
        else:
            mark_failed(self.bench, [unit] if unit else [])

    def action_add(self) -> None:
        """Choose what to add."""
        self.bench.add_one_of(("runs", "rack_units", "racks", "supplies"))

    def action_remove(self) -> None:
        """Remove the run of this line, or the unit of this free output."""
        found = self._line()
        unit = self._unit_here()
        if found is not None:
            self.bench.remove("runs", found[1].line.run.id)
        elif unit:
            self.bench.remove("rack_units", unit)

    def row_kind(self) -> str:
        """Tell the row of a line, whose key is its label, from a free output and a processor."""
        return "line" if self._line() is not None else super().row_kind()

    def _unit_here(self) -> str:
        """Name the unit of a row without a line; empty for the row of a line."""
        kind, _, name = self.query_one(Rows).key.partition(" ")
        return name.partition(".")[0] if kind in {"output", "unit"} else ""

    def _line(self) -> tuple[SolvedOutput, SolvedLine] | None:
        # The key bar asks by itself, and may do so as the screen is taken down.
        session, rows = self.session, self.main()
        key = rows.key if isinstance(rows, Rows) else ""
        return session.rig.line(key) if session is not None and key else None


def _without_scale(row: Row) -> Row:
    return msgspec.structs.replace(row, cells=row.cells[:SCALE] + row.cells[SCALE + 1 :])


def _worst(findings: tuple[Finding, ...]) -> dict[str, int]:
    worst: dict[str, int] = {}
    for item in findings:
        place = SEVERITIES.index(item.severity)
        worst[item.where.id] = min(place, worst.get(item.where.id, place))
    return worst


def _names(output: SolvedOutput, solved: SolvedLine) -> set[str]:
    """Name all that a finding about a line may be at."""
    line = solved.line
    return {output.output.id, line.id, line.run.id, *(load.box.id for load in line.loads)}


def _channels(output: str) -> str:
    """Write an output under the heading of its amplifier: ``.1+2``."""
    return f".{output.rpartition('.')[2]}"


def _row(rig: Rig, found: tuple[SolvedOutput, SolvedLine], word: str, scale_width: int) -> Row:
    output, solved = found
    line, name = solved.line, output.output.id
    driven = max(solved.boxes, key=lambda box: box.full_w, default=None)
    watts = ""
    if driven is not None:
        limited = "-" if driven.limited_w is None else f"{driven.limited_w:.0f}"
        watts = f"{driven.full_w:.0f}/{limited}/{driven.load.continuous_w:.0f}" + (" ?" if output.assumed else "")
    if name in failed_outputs(rig):
        watts = "failed"
    load = output.load_ohm
    scale = load_scale(load, output.output.minimum_ohm, rig.preferred_ohm, scale_width) if load else ""
    boxes = " ".join(dict.fromkeys(load.box.id for load in line.loads))
    return Row(
        line.id,
        (
            SIGNS[word],
            _channels(name),
            line.id,
            boxes if line.section == "full" else f"{boxes} {line.section}",
            " ".join(dict.fromkeys(load.choice.id or "none" for load in line.loads)),
            format_value(load, "ohm") if load else "",
            scale,
            watts,
        ),
        mark=word if word in {"error", "warning"} else "",
        words=name,
    )
