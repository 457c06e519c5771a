"""Mains: what hangs on which supply, line by line, with its drop, leakage and heat; balance and order."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
from textual.app import ComposeResult

from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read
from fieldkit.app.screens.frame import SIGNS, MainScreen
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.checks.finding import SEVERITIES
from fieldkit.reports.supply import bar, heading, supply_text
from fieldkit.rig.power.consumption import Draw
from fieldkit.rig.power.loaded import LoadedSupply, limit_a, line_names, load_shares
from fieldkit.rig.power.supplies import supplies_of

BAR, LONGEST_BAR = 8, 60
"""Cells of a bar at 80 columns, and at the most; behind the percent that it shows."""
NONE = "no supply"


class SupplyScreen(MainScreen):
    """The supplies of the show."""

    PURPOSE = (
        "The mains: what each phase of each supply carries at the duty of the programme, how many volts are lost on "
        "the way, how much leaks to earth, how hot it gets; which amplifier goes where, and in which order all is "
        "switched on. A licensed electrician connects feeders and generators; local codes rule."
    )
    WORDS = (
        ("supply", "a circuit with its breaker, a three-phase feed, or a generator's outlet"),
        ("phase", "L1, L2, L3: what is loaded against the rating, or 80 % of it by NFPA 70"),
        ("duty", "average over rated power: 1/8 unless a zone says otherwise, 1/3 for subs"),
        ("drop", "volts lost from the origin to here, of the nominal volts (IEC 60364-5-52 annex G)"),
        ("leak", "earth leakage of all below it; at most 30 % of a residual-current device"),
    )

    def body(self) -> ComposeResult:
        """Show the table of supplies."""
        yield Rows(
            [
                ListColumn("", minimum=2),
                ListColumn("supply", minimum=8),
                ListColumn("phase", minimum=2),
                ListColumn("load", minimum=BAR + 6, share=1),
                ListColumn("A", right=True, decimal=True),
                ListColumn("of", right=True, decimal=True),
                ListColumn("drop", right=True),
                ListColumn("leak mA", right=True),
                ListColumn("heat W", right=True),
            ],
            empty="no supply is planned: a adds one",
        )
        yield Beside(classes="below")

    def fill(self) -> None:
        """Show the supplies, each with its lines and with what is plugged into it."""
        rows: list[Row] = []
        session = self.session
        if session is not None:
            found = supplies_of(session.rig)
            nfpa = session.present.about.electrical_rules == "nfpa"
            for item in found.loaded:
                rows += self._supply_rows(item, nfpa=nfpa)
                rows += [self._draw_row(draw, item) for draw in item.draws]
            if found.unplanned:
                rows.append(Row("heading", (f"    on {NONE}",), mark="heading", wide=True))
                rows += [self._draw_row(draw, None) for draw in found.unplanned]
        self.query_one(Rows).show([self._safe(row) for row in rows])

    def on_resize(self) -> None:
        """Draw bars as long as there is room for."""
        self.call_after_refresh(self.renew)

    def _safe(self, row: Row) -> Row:
        return msgspec.structs.replace(row, cells=tuple(map(self.bench.safe, row.cells)))

    def _supply_rows(self, item: LoadedSupply, *, nfpa: bool) -> Iterator[Row]:
        """Make a row for each line of a supply; the first also has the values of the whole supply."""
        supply, style = item.supply, self.bench.style
        severity = self._worst(supply.id)
        most = limit_a(supply, nfpa=nfpa)
        shares = load_shares(item, nfpa=nfpa)
        cells = max(BAR, min(LONGEST_BAR, self.app.size.width - 80 + BAR))
        rows = zip(line_names(supply), item.line_a, item.drop_share, shares, strict=False)
        for place, (name, amps, drop, share) in enumerate(rows):
            first = place == 0
            yield Row(
                f"supply {supply.id} {place}",
                (
                    SIGNS[severity] if first else "",
                    supply.id if first else "",
                    name,
                    f"{share:4.0%}  {bar(share, cells, ascii_only=style.ascii_only) if style.bars else ''}".rstrip(),
                    f"{amps:.1f}",
                    f"{round(most, 1):g}",
                    f"{100.0 * drop:.1f} %",
                    f"{1000.0 * item.leakage_a:.1f}" if first else "",
                    f"{item.heat_w:.0f}" if first else "",
                ),
                mark=severity if severity in {"error", "warning"} else "",
                heavy=True,
            )

    def _draw_row(self, draw: Draw, item: LoadedSupply | None) -> Row:
        """Make the row of a unit or box."""
        severity = self._worst(draw.id)
        line = f"L{draw.phase}" if item is not None and item.supply.phases == 3 and draw.phase else ""
        return Row(
            f"draw {draw.id}",
            (
                SIGNS[severity],
                f"  {draw.id}",
                line,
                draw.model + (" (partly assumed)" if draw.assumed else ""),
                f"{draw.current_a:.1f}" if draw.current_a is not None else "",
                "",
                "",
                f"{1000.0 * draw.leakage_a:.1f}" if draw.leakage_a is not None else "?",
                f"{draw.heat_w:.0f}",
            ),
            mark=severity if severity in {"error", "warning"} else "",
        )

    def _worst(self, name: str) -> str:
        session = self.session
        found = {item.severity for item in session.findings if item.where.id == name} if session else set()
        return next((severity for severity in SEVERITIES if severity in found), "")

    def labels_here(self) -> frozenset[str]:
        """Name the supply, unit or box of this row."""
        return frozenset({self._row()[1]} - {""})

    def details_here(self) -> tuple[str, ...]:
        """Say what kind of supply it is, or what the unit or box takes."""
        session, (_, name) = self.session, self._row()
        if session is None:
            return ()
        found = supplies_of(session.rig)
        item = found.supply(name)
        if item is not None:
            return (heading(item, self.bench.style),)
        draw = next((draw for draw in found.draws if draw.id == name), None)
        if draw is None:
            return ()
        value = self.bench.style.value
        surge = f", surge {value(draw.inrush_a, 'A')}" if draw.inrush_a is not None else ""
        assumed = f"; assumed: {', '.join(draw.assumed)}" if draw.assumed else ""
        return (f"{draw.id}: {value(draw.power_w, 'W')}, {value(draw.apparent_va, 'VA')}{surge}{assumed}",)

    def _row(self) -> tuple[str, str]:
        """Find what the cursor is on: ``supply`` or ``draw``, and its label; both empty on a heading."""
        kind, _, rest = self.query_one(Rows).key.partition(" ")
        return (kind, rest.partition(" ")[0]) if rest else ("", "")

    def _place(self) -> tuple[str, str] | None:
        """Find table and label of the row under the cursor."""
        kind, name = self._row()
        if not kind or self.session is None:
            return None
        if kind == "supply":
            return "supplies", name
        return ("boxes" if name in self.session.rig.show_index.boxes else "rack_units"), name

    def action_open(self) -> None:
        """Edit the supply, unit or box; in an empty table begin with a supply."""
        place = self._place()
        if place is not None:
            self.bench.edit(*place)
        elif self.session is not None and not self.query_one(Rows).rows:
            self.bench.add("supplies")

    def action_failed(self) -> None:
        """Mark the supply, unit or box of this row failed, or put it back."""
        from fieldkit.app.tasks.failing_over import mark_failed

        _, name = self._row()
        mark_failed(self.bench, [name] if name else [])

    def action_card(self) -> None:
        """Show the card."""
        place = self._place()
        if place is not None:
            kind = {"supplies": "supply", "boxes": "box", "rack_units": "unit"}[place[0]]
            self.bench.show_card(kind, place[1])

    def action_add(self) -> None:
        """Choose what to add."""
        self.bench.add_one_of(("supplies", "rack_units"))

    def action_remove(self) -> None:
        """Remove the supply or unit."""
        place = self._place()
        session = self.session
        if place is None or session is None:
            return
        if place[0] == "rack_units" and all(unit.id != place[1] for unit in session.present.rack_units):
            self.note(f"{place[1]} came with its rack: o pulls its plug, the Racks screen removes the rack")
            return
        self.bench.remove(*place)

    def action_outlet(self) -> None:
        """Choose a supply, and its line where it has three, for the unit or box."""
        session, (kind, name) = self.session, self._row()
        if session is None or kind != "draw":
            self.note("o plugs a unit or box: put the cursor on one")
            return
        is_box = name in session.rig.show_index.boxes
        options: list[ChoiceRow] = []
        for supply in session.present.supplies:
            load = f"{supply.volts}, {supply.rating}"
            if supply.phases == 3 and not is_box:
                options += [
                    ChoiceRow(f"{supply.id} {line}", (f"{supply.id} L{line}", f"{load}, three-phase"))
                    for line in (1, 2, 3)
                ]
            else:
                options.append(ChoiceRow(f"{supply.id} ", (supply.id, load)))
        options.append(ChoiceRow(" ", (NONE, "pull its plug")))

        def chosen(answer: str | None) -> None:
            from fieldkit.planning.supply.phases import plugged

            if answer is None:
                return
            supply, _, line = answer.partition(" ")
            where = f"{supply} L{line}" if line else supply or NONE
            self.bench.apply(
                f"{name} on {where}",
                lambda: plugged(session.present, session.rig, name, supply or None, int(line) if line else None),
            )

        shown = [ChoiceRow(option.key, tuple(map(self.bench.safe, option.cells))) for option in options]
        self.bench.push(Choose(f"plug {name} into", shown), chosen)

    def action_propose(self) -> None:
        """Propose where to plug what; ``enter`` takes it as one step."""
        from fieldkit.app.dialogs.answering import Accept
        from fieldkit.planning.supply.phases import balance

        session = self.session
        if session is None:
            return
        found = balance(session.present)
        if not found.moves:
            self.note(found.says)
            return
        style = self.bench.style
        lines = [found.says, ""]
        for name, before, after in zip(("L1", "L2", "L3"), found.before_a, found.after_a, strict=True):
            lines.append(f"{name}  {style.value(before, 'A'):>7} before, {style.value(after, 'A'):>7} after")
        lines += ["", *(f"{move.unit}: {move.was} → {move.becomes}" for move in found.moves)]
        lines += ["", "switch off before any plug is moved; a licensed electrician moves feeders"]
        number = len(found.moves)

        def answered(answer: str | None) -> None:
            if answer == "take":
                label = f"{number} plug{'' if number == 1 else 's'} moved, phases balanced"
                self.bench.later(self.bench.apply, label, lambda: found.show)
            else:
                self.bench.later(self.note, "nothing was changed")

        self.bench.push(
            Accept(
                f"{number} to plug elsewhere",
                [("", self.bench.safe(line)) for line in lines],
                "enter takes it, one step to undo   esc leaves",
            ),
            answered,
        )

    def action_view(self) -> None:
        """Show the page of the mains."""
        session = self.session
        if session is not None:
            lines = [("", line) for line in supply_text(session.rig, self.bench.style)]
            self.bench.push(Read("supply: loads, order, what to meter first", lines))

    def action_why(self) -> None:
        """Show the figures of the row, each with what it rests on."""
        session, (kind, name) = self.session, self._row()
        if session is None or not kind:
            return
        from fieldkit.rig.power.supply_figures import supply_figures

        self.bench.explain(f"{name}: where the numbers come from", list(supply_figures(session.rig, kind, name)))
