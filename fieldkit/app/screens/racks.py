"""Racks: the patch, one row a line, worst first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from textual.app import ComposeResult
from textual.containers import Horizontal

from fieldkit.app.screens.frame import SIGNS, MainScreen
from fieldkit.app.tasks.assigning import propose
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.gear.amplifier import Amplifier
from fieldkit.reports.cards import KnownLabel
from fieldkit.reports.text import watts_text
from fieldkit.rig.connect.outputs import permission_text
from fieldkit.rig.failures import failed_outputs
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import racks_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.explanation import line_figures, output_figures, traced_output
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.edits import changed, with_thing
from fieldkit.text.style import Style
from fieldkit.text.words import printable


class Racks(MainScreen):
    """The patch of the show."""

    PURPOSE = (
        "The patch: which output feeds which boxes, with which preset, at which load; what needs a look is on top."
    )
    WORDS = (
        ("output", "an amplifier channel, or two that work as one: SR-1.3, SR-1.3+4"),
        ("line", "one pin pair of a run: W1/2"),
        ("full", "sine watts with the amplifier at its rated limit"),
        ("clean", "watts that noise of 6 dB crest averages before it clips: half of full"),
        ("limited", "watts that the limiter which holds leaves; - where nothing limits"),
        ("rated", "continuous watts of the section: an amplifier of twice that has them clean"),
    )

    DEFAULT_CSS = """
    Racks Horizontal { height: 1fr; }
    Racks #faces { width: 40; height: 1fr; padding: 0 0 0 2; display: none; }
    Racks.-wide #faces { display: block; }
    """

    def body(self) -> ComposeResult:
        """Show the patch, with the rack faces beside it where there is room."""
        with Horizontal():
            yield Rows(
                [
                    ListColumn("", minimum=2),
                    ListColumn("from", minimum=6),
                    ListColumn("line"),
                    ListColumn("boxes", minimum=6, share=2),
                    ListColumn("section"),
                    ListColumn("preset", minimum=6, share=1),
                    ListColumn("load", right=True),
                    ListColumn("full/clean/lim/rated W", right=True),
                ],
                empty="no output drives a box yet: a adds a run",
            )
            yield TextLine(id="faces")
        yield Beside(classes="below")

    def fill(self) -> None:
        """Show the lines, those with the worst findings first."""
        session = self.session
        rows = []
        if session is not None:
            worst = _worst(session.findings)
            why_failed = failed_outputs(session.rig)
            failed = [item.id for item in session.present.failed]
            for output in session.rig.outputs:
                for solved in output.lines:
                    names = {
                        output.output.id,
                        solved.line.id,
                        solved.line.run.id,
                        *(load.box.id for load in solved.line.loads),
                    }
                    names.update(failed if output.output.id in why_failed else ())
                    severity = min((worst[name] for name in names if name in worst), default=len(SEVERITIES))
                    rows.append((severity, _row(output, solved, severity, self.bench.style, why_failed)))
        rows.sort(key=lambda item: item[0])
        free = list(self._free(session.rig)) if session is not None else []
        self.query_one(Rows).show([*(row for _, row in rows), *free])
        self.query_one("#faces", TextLine).say("\n".join(faces(session.rig)) if session is not None else "")

    def _free(self, rig: Rig) -> Iterator[Row]:
        """Show the outputs that drive nothing, and the processors: they are edited and used from here too."""
        safe = self.bench.safe
        why_failed = failed_outputs(rig)
        for output in rig.outputs:
            if not output.lines:
                cells = (
                    "",
                    output.output.id,
                    "",
                    "failed" if output.output.id in why_failed else "free",
                    "",
                    output.output.model.id,
                    "",
                    "",
                )
                yield Row(f"output {output.output.id}", tuple(safe(cell) for cell in cells), mark="quiet")
        for unit in rig.show_index.units.values():
            if not isinstance(rig.show_index.models[unit.model], Amplifier):
                inputs = ", ".join(f"{name}: {source}" for name, source in unit.inputs.items())
                text = f"   {unit.id}: {unit.model}" + (f"; inputs {inputs}" if inputs else "")
                yield Row(f"unit {unit.id}", (safe(text),), mark="quiet", wide=True)

    def labels_here(self) -> frozenset[str]:
        """Name the output, the line, the run and the boxes of this row, and what failed of it."""
        session, found = self.session, self._line()
        if session is None or found is None:
            name = self.query_one(Rows).key.partition(" ")[2]
            return frozenset({name, self._unit_here()} - {""})
        output, solved = found
        names = {output.output.id, solved.line.id, solved.line.run.id, *(load.box.id for load in solved.line.loads)}
        if output.output.id in failed_outputs(session.rig):
            names.update(item.id for item in session.present.failed)
        return frozenset(names)

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
            self.bench.show_card(KnownLabel("output", found[0].output.id, ""))
        elif name:
            self.bench.show_card(KnownLabel(kind, name, ""))

    def action_why(self) -> None:
        """Show the figures of the line, each with what it rests on."""
        session, found = self.session, self._line()
        if session is None or found is None:
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
        session, key = self.session, self.query_one(Rows).key
        return session.rig.line(key) if session is not None and key else None


def faces(rig: Rig) -> Iterator[str]:
    """Draw the front of each rack, from its top unit down; what has no place in a rack stands below."""
    units = rig.show_index.units.values()
    draws = supplies_of(rig).draws if rig.show.racks else ()  # a thousand boxes in no rack need no heat
    facts = {item.rack.id: item for item in racks_of(rig, draws)}
    for rack in rig.show.racks:
        built = rig.show_index.models.get(rack.as_built or "")
        inside = [unit for unit in units if unit.rack == rack.id]
        height = rack.units or getattr(built, "units", 0)
        yield printable(f"{rack.id}  {rack.as_built or ''}  {height or '?'} units")
        known = facts[rack.id]
        weight = f"{known.weight_kg:.0f} kg{' and more' if known.unweighed else ''}"
        yield f"{known.used} used, {weight}, {known.heat_w:.0f} W heat"
        yield "+" + "-" * 34 + "+"
        for unit in sorted(inside, key=lambda unit: -(unit.unit or 0)):
            size = getattr(rig.show_index.models[unit.model], "units", 1)
            yield "|" + printable(f"{unit.unit or '?':>2}  {unit.id}  {unit.model}", 34).ljust(34) + "|"
            yield from ("|" + " " * 34 + "|" for _ in range(1, size))
        yield "+" + "-" * 34 + "+"
        yield ""
    loose = [unit for unit in units if unit.rack is None]
    if loose:
        yield "in no rack"
        yield from (printable(f"  {unit.id}  {unit.model}", 38) for unit in loose)


def _worst(findings: tuple[Finding, ...]) -> dict[str, int]:
    worst: dict[str, int] = {}
    for item in findings:
        place = SEVERITIES.index(item.severity)
        worst[item.where.id] = min(place, worst.get(item.where.id, place))
    return worst


def _row(output: SolvedOutput, solved: SolvedLine, severity: int, style: Style, why_failed: Mapping[str, str]) -> Row:
    loads = solved.line.loads
    word = SEVERITIES[severity] if severity < len(SEVERITIES) else ""
    driven = max(solved.boxes, key=lambda box: box.full_w, default=None)
    watts = ""
    if driven is not None:
        mark = " assumed" if output.assumed else ""
        watts = watts_text(driven).replace(" ", "") + mark
    if output.output.id in why_failed:
        watts = "failed"
    return Row(
        solved.line.id,
        (
            SIGNS[word],
            output.output.id,
            solved.line.id,
            " ".join(dict.fromkeys(load.box.id for load in loads)),
            solved.line.section,
            " ".join(dict.fromkeys(load.choice.id or "none" for load in loads)),
            style.value(output.load_ohm, "ohm"),
            watts,
        ),
        mark=word if word in {"error", "warning"} else "",
    )
