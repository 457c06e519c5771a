"""Zones: every zone with its boxes, drive, low end, signal and preset, and why that preset."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

import msgspec
from textual.app import ComposeResult

from fieldkit.app.dialogs.windows import ChoiceRow
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.widgets.beside import Beside, Split
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.app.workbench import Workbench
from fieldkit.checks.checking import check
from fieldkit.reports.across import Across, abreast, across
from fieldkit.reports.cards import card, lines_by_box, lines_of_box
from fieldkit.rig.connect.uses import drive_text
from fieldkit.rig.signal.delays import ZoneDelay, zone_delays
from fieldkit.rig.solve.explanation import delay_figures
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.document import Box, Run, Show, Step, Zone
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import ShowError
from fieldkit.show.labels import another_like

Fed: TypeAlias = Mapping[str, Sequence[tuple[SolvedOutput, SolvedLine]]]
"""What feeds each box: outputs, each with its line."""

ROOMY = 150
"""Columns from which on left and right stand side by side where they mirror."""
ONE = (
    ListColumn("zone and box", minimum=8),
    ListColumn("side"),
    ListColumn("model", minimum=6, share=1),
    ListColumn("drive"),
    ListColumn("from", minimum=4),
    ListColumn("preset", minimum=8, share=1),
)
"""A box a row."""
TWO = (
    ListColumn("zone and box", minimum=8),
    ListColumn("from", minimum=4),
    ListColumn("across", minimum=8),
    ListColumn("from", minimum=4),
    ListColumn("model", minimum=6, share=1),
    ListColumn("drive"),
    ListColumn("preset", minimum=8, share=1),
)
"""Two boxes a row, with what is the same of both once."""


class Zones(MainScreen):
    """Zones and their boxes."""

    PURPOSE = "Where the boxes are, how each is driven, what gives it its low end, and the preset that follows from it."
    WORDS = (
        ("zone", "a place that boxes serve: mains, subs, wedges"),
        ("drive", "how a box is driven: passive, bi-amp, self-powered"),
        ("low end", "the zones whose subs play below this one; guessed where the show does not say"),
        ("preset", "the processing meant for a section of the box, in this use"),
    )

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self._across: dict[str, Across] = {}

    def body(self) -> ComposeResult:
        """Show the list of zones and boxes, with the card of the one under the cursor where there is room."""
        with Split():
            yield Rows(ONE, empty="no zones yet: a adds one")
            yield Beside()

    def fill(self) -> None:
        """Show zones with their boxes below them."""
        session = self.session
        rows: list[Row] = []
        table, both = self.query_one(Rows), self._abreast()
        table.columns, table.halves = (TWO, (range(2), range(2, 4))) if both else (ONE, (range(0), range(0)))
        if session is not None:
            fed = lines_by_box(session.rig)
            self._across = across(session.rig, fed)
            delays = zone_delays(session.rig)
            by_zone: dict[str, list[Box]] = {}
            for box in session.present.boxes:
                by_zone.setdefault(box.zone, []).append(box)
            for zone in session.present.zones:
                use = session.rig.show_index.uses[zone.id]
                low = "low end " + ", ".join(use.low_end_from) if use.low_end_from else "no low end"
                signals = ", ".join(f"{side}: {signal}" for side, signal in zone.signals.items())
                guess = " (guessed)" if use.guessed else ""
                text = "; ".join((f"{zone.id}: {use.text}", *_timing(zone, delays), f"{low}{guess}"))
                text += f"; {signals}" if signals else ""
                rows.append(Row(f"zones {zone.id}", (self.bench.safe(text),), mark="heading", wide=True))
                boxes = by_zone.get(zone.id, [])
                rows.extend(self._rows_abreast(boxes, fed) if both else (self._row(box, fed) for box in boxes))
        table.show(rows)

    def on_resize(self) -> None:
        """Put the sides beside each other where there is room now."""
        if (self.query_one(Rows).columns == TWO) != self._abreast():
            self.fill()
        super().on_resize()

    def _abreast(self) -> bool:
        return self.app.size.width >= ROOMY

    def told_here(self) -> tuple[str, ...]:
        """Say besides whether the box across is the same."""
        twin = self._across.get(self._here()[1])
        return (*((twin.says,) if twin is not None and self._here()[0] == "boxes" else ()), *super().told_here())

    def labels_here(self) -> frozenset[str]:
        """Name the zone or box of this row."""
        return frozenset({self._here()[1]} - {""})

    def details_here(self) -> tuple[str, ...]:
        """Write the card of the zone or box."""
        session = self.session
        table, name = self._here()
        if session is None or not name:
            return ()
        kind = "box" if table == "boxes" else "zone"
        return (f"{kind} {name}", "", *card(session.rig, (), kind, name, self.bench.style))

    def _row(self, box: Box, fed: Fed) -> Row:
        told = self._told_of(box, fed)
        cells = (f"  {box.id}", box.side, told["model"], told["drive"], told["from"], told["preset"])
        return Row(f"boxes {box.id}", tuple(map(self.bench.safe, cells)), mark="" if box.id in fed else "warning")

    def _rows_abreast(self, boxes: Sequence[Box], fed: Fed) -> Iterator[Row]:
        """Make a row of two boxes that mirror each other: what is theirs, then what is of both, or what differs."""
        rows = abreast(boxes, self._across)
        mirrored = {box.side for pair in rows if all(pair) for box in pair if box}
        for pair in rows:
            told = [self._told_of(box, fed) if box else None for box in pair]
            there = [{} if item is None else item for item in told]
            alone = next((box for box in pair if box), None) if None in pair else None
            lacks = "  none across" if alone is not None and alone.side in mirrored else ""
            halves = [
                cell
                for box, item in zip(pair, there, strict=True)
                for cell in ((f"  {box.id}  {box.side}".rstrip(), item["from"]) if box else (lacks, ""))
            ]
            if lacks == "" and len({item["amplifier"] for item in there if item}) > 1:
                halves[3] = f"≠ {halves[3]}"
            both = [_both([item[word] for item in there if item]) for word in ("model", "drive", "preset")]
            first, second = (f"boxes {box.id}" if box else "" for box in pair)
            silent = any(box and box.id not in fed for box in pair)
            cells = tuple(map(self.bench.safe, (*halves, *both)))
            yield Row(first, cells, mark="warning" if silent else "", second=second)

    def _told_of(self, box: Box, fed: Fed) -> dict[str, str]:
        session = self.session
        assert session is not None  # noqa: S101  (rows are only made with a session)
        feeds = fed.get(box.id, ())
        presets = [
            item.load.choice.id or "none" for _, line in feeds for item in line.boxes if item.load.box.id == box.id
        ]
        return {
            "model": box.model or "assumed, no sheet",
            "drive": drive_text(box, session.rig.show_index.speakers[box.id]),
            "from": _short([output.output.id for output, _ in feeds]) or "nothing",
            "preset": " ".join(dict.fromkeys(presets)),
            "amplifier": " ".join(dict.fromkeys(output.output.model.id for output, _ in feeds)),
        }

    def _here(self) -> tuple[str, str]:
        table, _, name = self.query_one(Rows).key.partition(" ")
        return table, name

    def action_open(self) -> None:
        """Edit the zone or box, or one field of all boxes that are picked out."""
        marked = self._marked()
        if marked:
            self.bench.edit_all("boxes", marked, self.query_one(Rows).clear_marks)
            return
        table, name = self._here()
        if name:
            self.bench.edit(table, name)

    def _marked(self) -> list[str]:
        return [key.removeprefix("boxes ") for key in self.query_one(Rows).marked_keys]

    def action_mark(self) -> None:
        """Pick this box out, or put it back."""
        if self._here()[0] == "boxes":
            self.query_one(Rows).toggle_mark()

    def action_weather(self) -> None:
        """Ask for today's temperature, with the delays before and after."""
        from fieldkit.app.tasks.weather import ask_for_weather

        ask_for_weather(self.bench)

    def action_card(self) -> None:
        """Show the card."""
        table, name = self._here()
        if name:
            self.bench.show_card("zone" if table == "zones" else "box", name)

    def action_why(self) -> None:
        """Say why this preset."""
        session = self.session
        table, name = self._here()
        if session is None or not name:
            return
        if table == "zones":
            why = session.rig.show_index.uses[name].why
            figures = list(delay_figures(session.rig, name))
            if figures:
                self.bench.explain(self.bench.safe(f"{name}: {why}"), figures)
            else:
                self.note(self.bench.safe(why))
            return
        reasons = [
            item.load.choice.why
            for _, line in lines_of_box(session.rig, name)
            for item in line.boxes
            if item.load.box.id == name
        ]
        self.note("; ".join(dict.fromkeys(reasons)) or "no line feeds it, so no preset was chosen")

    def action_failed(self) -> None:
        """Mark the box, or an amplifier that feeds it, failed, or put it back."""
        from fieldkit.app.tasks.failing_over import mark_failed

        session = self.session
        table, name = self._here()
        if session is None or table != "boxes":
            mark_failed(self.bench, [])
            return
        units = dict.fromkeys(output.output.unit.id for output, _ in lines_of_box(session.rig, name))
        mark_failed(self.bench, [name, *units])

    def action_remove(self) -> None:
        """Remove the zone or box, or all boxes that are picked out."""
        marked = self._marked()
        if marked:
            self.bench.remove_all("boxes", marked, self.query_one(Rows).clear_marks)
            return
        table, name = self._here()
        if name:
            self.bench.remove(table, name)

    def action_copy(self) -> None:
        """Make another box like this one on the other side, or one like each that is picked out."""
        from fieldkit.app.tasks.copying import copy_boxes

        table, name = self._here()
        if copy_boxes(self.bench, self._marked() or ([name] if table == "boxes" else [])):
            self.query_one(Rows).clear_marks()

    def action_mirror(self) -> None:
        """Copy the side of this box to the other one, or the boxes of it that are picked out."""
        session = self.session
        table, name = self._here()
        if session is not None and table == "boxes":
            from fieldkit.app.tasks.copying import mirror_side

            mirror_side(self.bench, name, self._marked())

    def action_add(self) -> None:
        """Choose a place, and link one more box like the last one there behind it; or add a zone, or a loose box."""

        def options() -> list[ChoiceRow]:
            session = self.session
            last = {(box.zone, box.side): box for box in session.present.boxes} if session else {}
            return [
                *(
                    ChoiceRow(f"like {box.id}", (f"{zone} {side}".strip(), f"like {box.id}", box.model or ""))
                    for (zone, side), box in last.items()
                ),
                ChoiceRow("new zones", ("new zone", "", "a place that boxes serve")),
                ChoiceRow("new boxes", ("new box", "", "of any model, on no run yet")),
            ]

        def chosen(key: str) -> None:
            verb, _, name = key.partition(" ")
            if verb == "like":
                self._preview(name)
            else:
                self.bench.add(name)

        self.bench.choose_or_type("one more box where, or what else", options, chosen)

    def _preview(self, name: str) -> None:
        """Show what one more box would do to the load, and take it on enter."""
        session = self.session
        if session is None:
            return
        like = session.rig.show_index.boxes[name]
        box = another_like(session.present, like)
        show = linked_behind(session.present, like, box)
        try:
            after = session.preview(show)
        except ShowError as error:
            self.note(f"! {error}")
            return
        style = self.bench.style
        lines = [
            f"{box.id}, {like.model or 'no data sheet'}, linked behind {name}"
            if show.runs != session.present.runs
            else f"{box.id}: {name} is on no run, so it is on none either"
        ]
        for output, _ in lines_of_box(session.rig, name):
            other = after.output(output.output.id)
            if other is not None:
                before, now = style.value(output.load_ohm, "ohm"), style.value(other.load_ohm, "ohm")
                minimum = style.value(output.output.minimum_ohm, "ohm")
                lines.append(f"{output.output.id}: load {before} before, {now} after; minimum {minimum}")
        known = {(item.rule, item.where) for item in session.findings}
        new = [item for item in check(after) if (item.rule, item.where) not in known]
        lines += [f"{item.severity}: {item.where.id}: {item.says}" for item in new] or ["no new findings"]
        self.bench.confirm(f"add {box.id}", lines, lambda: self._take_linked(box.id, name, show), "add it")

    def _take_linked(self, name: str, like: str, show: Show) -> None:
        self.bench.apply(f"box {name} added behind {like}", lambda: show)
        self.query_one(Rows).move_to(f"boxes {name}")


def linked_behind(show: Show, like: Box, box: Box) -> Show:
    """Add a box, linked behind another by a cable like the one that leads to that."""
    after = with_thing(show, "boxes", box)
    for run in show.runs:
        for place, step in enumerate(run.path):
            if step.box == like.id:
                link = _link(run, place)
                path = (*run.path[: place + 1], msgspec.structs.replace(link, box=box.id), *run.path[place + 1 :])
                return with_thing(after, "runs", msgspec.structs.replace(run, path=path))
    return after


def _link(run: Run, place: int) -> Step:
    """Choose the cable for a link: like another link of the run where there is one, else like the last lead."""
    cables = [step for step in run.path if step.cable is not None]
    links = [
        step for number, step in enumerate(run.path) if step.cable is not None and number > place - 1 and number > 0
    ]
    model = (links or cables)[-1]
    return msgspec.structs.replace(model, shared="", box=None)


def _timing(zone: Zone, delays: tuple[ZoneDelay, ...]) -> tuple[str, ...]:
    """Say delay, distance and level of a zone, where they are planned."""
    waits = dict.fromkeys(f"{1e3 * item.delay_s:.1f}" for item in delays if item.zone == zone.id and item.delay_s)
    parts = [f"{' / '.join(waits)} ms"] if waits else []
    guesses = dict.fromkeys(f"{1e3 * item.guess_s:.1f}" for item in delays if item.zone == zone.id and item.guess_s)
    parts += [f"guessed {' / '.join(guesses)} ms, not set"] if guesses else []
    if zone.reference_distance is not None:
        parts.append(f"{zone.reference_distance} - {zone.own_distance or 'not known'}")
    if zone.level is not None:
        parts.append(str(zone.level))
    return tuple(parts)


def _short(names: list[str]) -> str:
    """Write the outputs of one amplifier together: ``SR-1.1 .2 .3``."""
    text, last = "", ""
    for name in dict.fromkeys(names):
        unit, _, channels = name.partition(".")
        text += f" .{channels}" if unit == last else f" {name}"
        last = unit
    return text.strip()


def _both(texts: Sequence[str]) -> str:
    """Say once what is the same of two boxes, else what each has, behind a mark."""
    if len(set(texts)) == 1:
        return texts[0]
    return f"≠ {' / '.join(text or 'none' for text in texts)}"
