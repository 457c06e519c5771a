"""Inventory: what there is of each model, what is used, and what is spare."""

from __future__ import annotations

from typing import ClassVar

import msgspec
from textual.app import ComposeResult

from fieldkit.app.actions import Action, bindings
from fieldkit.app.addresses import WORDS, Address
from fieldkit.app.dialogs import Choose, Option
from fieldkit.app.editing import Editing
from fieldkit.app.editor import Editor
from fieldkit.app.screens.frame import Frame
from fieldkit.app.widgets.rows import Column, Row, Rows
from fieldkit.checks.stock import used_cables, used_models
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Stock
from fieldkit.show.edits import with_thing


class Inventory(Editing, Frame):
    """Stock by kind."""

    NAME = "Inventory"
    PURPOSE = "What there is: owned, hired, out of service, used, spare; each model with all that is known of it."
    WORDS = (
        ("stock", "how many there are of a model, or of a length of cable"),
        ("out", "of these, out of service"),
        ("spare", "in stock, working, and not used by the plan"),
    )
    ACTIONS = (
        Action("edit", "enter", "edit", "See and edit the model"),
        Action("count", "n", "how many", "Say how many are owned"),
        Action("unknown", "a", "unknown box", "A box without a data sheet: ohms and watts from its label"),
        Action("model", "m", "model", "Take a model in from the gear library"),
        Action("remove", "d", "remove", "Remove the model, if nothing uses it"),
    )
    BINDINGS: ClassVar = bindings("inventory", ACTIONS)

    def body(self) -> ComposeResult:
        """Give the stock list."""
        yield Rows(
            [
                Column("kind", least=6),
                Column("model", least=10, share=1),
                Column("length", right=True),
                Column("owned", right=True),
                Column("hired", right=True),
                Column("out", right=True),
                Column("used", right=True),
                Column("spare", right=True),
            ],
            empty="no models yet: m takes one from the gear library, a adds an unknown box",
        )

    def fill(self) -> None:
        """Show the models of every kind, with their stock."""
        session = self.session
        rows: list[Row] = []
        if session is not None:
            used = used_models(session.rig)
            cables = used_cables(session.rig)
            for table in MODEL_TABLES:
                for model in getattr(session.present, table):
                    entries = [item for item in session.present.stock if item.model == model.id]
                    lengths: dict[str | None, list[Stock]] = {}
                    for entry in entries:
                        lengths.setdefault(entry.length, []).append(entry)
                    for length, items in (lengths or {None: []}).items():
                        count = (
                            sum(text == length for _, text in cables.get(model.id, [])) if length else used[model.id]
                        )
                        rows.append(self._row(table, model.id, length, items, count))
        self.query_one(Rows).show(rows)

    def _row(self, table: str, model: str, length: str | None, items: list[Stock], used: int) -> Row:
        owned, hired, out = (sum(getattr(item, key) for item in items) for key in ("owned", "hired", "out"))
        spare = owned + hired - out - used
        counted = bool(items)
        cells = (
            WORDS[table],
            model,
            length or "",
            str(owned) if counted else "",
            str(hired) if hired else "",
            str(out) if out else "",
            str(used) if used else "",
            str(spare) if counted else "",
        )
        mark = "error" if counted and spare < 0 else ""
        return Row(f"{table} {model} {length or ''}", tuple(self.fieldkit.safe(cell) for cell in cells), mark=mark)

    def _here(self) -> tuple[str, str, str]:
        table, _, rest = self.query_one(Rows).key.partition(" ")
        model, _, length = rest.partition(" ")
        return table, model, length

    def on_rows_chosen(self) -> None:
        """Edit the model."""
        self.action_edit()

    def action_edit(self) -> None:
        """See and edit the model."""
        table, model, _ = self._here()
        if model:
            self.app.push_screen(Editor(Address(table, model)))

    def action_model(self) -> None:
        """Take a model in."""
        self.add("stock")

    def action_remove(self) -> None:
        """Remove the model."""
        table, model, _ = self._here()
        if model:
            self.remove_thing(table, model)

    def action_count(self) -> None:
        """Say how many are owned."""
        session = self.session
        _, model, length = self._here()
        if session is None or not model:
            return
        entry = next(
            (item for item in session.present.stock if item.model == model and (item.length or "") == length), None
        )

        def make(text: str) -> Stock:
            plain = {"model": model, "owned": int(text)} | ({"length": length} if length else {})
            if entry is not None:
                return msgspec.structs.replace(entry, owned=convert({"model": model, "owned": int(text)}, Stock).owned)
            return convert(plain, Stock)

        def look(text: str) -> str:
            if not text.strip().isdecimal():
                raise ValueError(f"expected a whole number, got '{text[:40]}'")
            make(text)
            return "owned, hired ones not counted"

        def take(text: str) -> None:
            stock = [item for item in session.present.stock if item is not entry]
            self.fieldkit.apply(
                f"{model}: {text.strip()} owned",
                lambda: msgspec.structs.replace(session.present, stock=(*stock, make(text))),
            )

        self.fieldkit.ask(f"how many {model} {length}".rstrip(), str(entry.owned if entry else 0), look, take)

    def action_unknown(self) -> None:
        """Add a box by ohms and watts."""
        self._ask_label("boxes", self._unknown_ohms)

    def _unknown_ohms(self, label: str) -> None:
        def look(text: str) -> str:
            ohms, _, watts = text.partition(",")
            convert(
                {"id": label, "zone": "z", "unknown": {"impedance": ohms.strip(), "continuous": watts.strip()}}, Box
            )
            return "every figure that rests on it will say: assumed"

        self.fieldkit.ask(
            f"{label}: ohms, watts from its label", "8 ohm, 250 W", look, lambda text: self._unknown_zone(label, text)
        )

    def _unknown_zone(self, label: str, text: str) -> None:
        session = self.session
        if session is None:
            return
        ohms, _, watts = (part.strip() for part in text.partition(","))
        options = [Option(zone.id, (zone.id, zone.use)) for zone in session.present.zones]

        def take(zone: str | None) -> None:
            if zone is not None:
                box = convert({"id": label, "zone": zone, "unknown": {"impedance": ohms, "continuous": watts}}, Box)
                self.fieldkit.apply(f"unknown box {label} added", lambda: with_thing(session.present, "boxes", box))

        if not options:
            self.note("there is no zone yet: add one on the screen Zones")
            return
        self.app.push_screen(Choose("in which zone", options, columns=2), take)
