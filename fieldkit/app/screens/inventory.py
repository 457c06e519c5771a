"""Inventory: what there is of each model, what is used, and what is spare."""

from __future__ import annotations

from typing import ClassVar

import msgspec
from textual.app import ComposeResult
from textual.containers import Horizontal

from fieldkit.app.actions import Action, bindings
from fieldkit.app.addresses import WORDS, Address, with_value, without_row
from fieldkit.app.dialogs import Choose, Option
from fieldkit.app.editing import Editing
from fieldkit.app.editor import Editor
from fieldkit.app.screens.frame import Frame
from fieldkit.app.widgets.beside import Beside
from fieldkit.app.widgets.rows import Column, Row, Rows
from fieldkit.checks.stock import used_cables, used_models
from fieldkit.reports.model_facts import model_facts
from fieldkit.rig.evaluation import Rig
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Stock
from fieldkit.show.edits import with_thing

MOST = 100_000


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
        Action("edit", "enter", "edit", "See and edit the model, or one entry of its stock"),
        Action("count", "n", "how many", "Say how many are owned"),
        Action("single", "s", "single item", "Add one single item of this model by its serial"),
        Action(
            "out", "o", "out of service", "Take a single item out of service or back; of others, say how many are out"
        ),
        Action("unknown", "a", "unknown box", "A box without a data sheet: ohms and watts from its label"),
        Action("model", "m", "model", "Take a model in from the gear library"),
        Action("remove", "d", "remove", "Remove the model, if nothing uses it, or the single item"),
    )
    BINDINGS: ClassVar = bindings("inventory", ACTIONS)

    def body(self) -> ComposeResult:
        """Give the stock list, with what is known of a model beside it where there is room."""
        with Horizontal():
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
            yield Beside()

    def fill(self) -> None:
        """Show the models of every kind, with their stock and the single items below them."""
        session = self.session
        rows: list[Row] = []
        if session is not None:
            used = used_models(session.rig)
            cables = used_cables(session.rig)
            by_serial = _users_of_serials(session.rig)
            stock: dict[str, list[tuple[int, Stock]]] = {}
            for place, item in enumerate(session.present.stock):
                stock.setdefault(item.model, []).append((place, item))
            for table in MODEL_TABLES:
                for model in getattr(session.present, table):
                    lengths: dict[str | None, list[tuple[int, Stock]]] = {}
                    for place, entry in stock.get(model.id, ()):
                        lengths.setdefault(entry.length, []).append((place, entry))
                    for length, items in (lengths or {None: []}).items():
                        count = (
                            sum(text == length for _, text in cables.get(model.id, [])) if length else used[model.id]
                        )
                        rows.append(self._row(table, model.id, length, [item for _, item in items], count))
                        rows += [self._entry(place, item, by_serial) for place, item in items if _is_special(item)]
        self.query_one(Rows).show(rows)
        self._say_beside()

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

    def _entry(self, place: int, item: Stock, by_serial: dict[tuple[str, str], str]) -> Row:
        """Show a single item, or a part of the stock that is hired from somebody."""
        count = "" if item.serial else f"{item.owned + item.hired} "
        words = [f"serial {item.serial}"] if item.serial else []
        user = by_serial.get((item.model, item.serial)) if item.serial else None
        words += [f"in use as {user}"] if user else []
        words += ["out of service"] if item.serial and item.out else []
        if item.hired or item.hired_from:
            words.append(f"{count}hired" + (f" from {item.hired_from}" if item.hired_from else ""))
        words += [f"due back {item.due.isoformat()}"] if item.due else []
        words += [item.note] if item.note else []
        text = self.fieldkit.safe(f"    {', '.join(words)}")
        return Row(f"stock {place} ", (text,), mark="warning" if item.serial and item.out else "quiet", wide=True)

    def _here(self) -> tuple[str, str, str]:
        """Give table, name and length of the row: of a stock entry, ``stock`` and its place."""
        table, _, rest = self.query_one(Rows).key.partition(" ")
        model, _, length = rest.partition(" ")
        return table, model, length

    def _entries(self) -> list[tuple[int, Stock]]:
        """List the stock entries that the row under the cursor stands for, with their places."""
        session = self.session
        table, name, length = self._here()
        if session is None or not name:
            return []
        if table == "stock":
            return [(int(name), session.present.stock[int(name)])]
        return [
            (place, item)
            for place, item in enumerate(session.present.stock)
            if item.model == name and (item.length or "") == length
        ]

    def _model(self) -> str:
        table, name, _ = self._here()
        entries = self._entries()
        return entries[0][1].model if table == "stock" and entries else name

    def on_rows_moved(self) -> None:
        """Follow the cursor with the pane."""
        self._say_beside()

    def _say_beside(self) -> None:
        session, name = self.session, self._model()
        model = models_by_id(session.present).get(name) if session is not None else None
        lines = model_facts(model) if model is not None else ()
        self.query_one(Beside).say(self.fieldkit.safe(line) for line in lines)

    def on_rows_chosen(self) -> None:
        """Edit the model."""
        self.action_edit()

    def action_edit(self) -> None:
        """See and edit the model, or one entry of its stock."""
        table, name, _ = self._here()
        if not name:
            return
        entries = self._entries()
        if table == "stock":
            self.app.push_screen(Editor(Address("stock", name)))
        elif not entries:
            self.app.push_screen(Editor(Address(table, name)))
        else:
            options = [Option(f"{table} {name}", (WORDS[table], name))]
            options += [
                Option(f"stock {place}", ("stock", self.fieldkit.safe(_in_words(item)))) for place, item in entries
            ]

            def chosen(key: str | None) -> None:
                if key is not None:
                    where, _, which = key.partition(" ")
                    self.app.push_screen(Editor(Address(where, which)))

            self.app.push_screen(Choose("see and edit", options, columns=2), chosen)

    def action_single(self) -> None:
        """Add one single item by its serial."""
        session, model = self.session, self._model()
        if session is None or not model:
            return

        def look(text: str) -> str:
            if not text.strip():
                raise ValueError("expected what stands on the item: a serial or a shop number")
            if any(item.model == model and item.serial == text.strip() for item in session.present.stock):
                raise ValueError("there is such an item already")
            return "one more in stock, by itself"

        def take(text: str) -> None:
            item = Stock(model=model, owned=1, serial=text.strip())
            self.fieldkit.apply(
                f"item {text.strip()} of {model} added",
                lambda: msgspec.structs.replace(session.present, stock=(*session.present.stock, item)),
            )

        self.fieldkit.ask(f"serial of the {model}", "", look, take)

    def action_out(self) -> None:
        """Take a single item out of service or back; of others, say how many are out."""
        session, entries = self.session, self._entries()
        if session is None or not entries:
            self.note("there is no stock of this yet: n says how many there are")
            return
        place, entry = next((pair for pair in entries if pair[1].serial == "" or len(entries) == 1), entries[0])
        if entry.serial:
            word = "back in service" if entry.out else "out of service"
            self._put(place, f"{entry.serial} of {entry.model} {word}", "out", 0 if entry.out else 1)
            return

        def look(text: str) -> str:
            total = entry.owned + entry.hired
            if not text.strip().isdecimal() or int(text) > total:
                raise ValueError(f"expected a whole number up to {total}, got '{text[:40]}'")
            return f"of {total}"

        self.fieldkit.ask(
            f"how many {entry.model} are out of service",
            str(entry.out),
            look,
            lambda text: self._put(place, f"{text.strip()} {entry.model} out of service", "out", int(text)),
        )

    def _put(self, place: int, label: str, name: str, value: object) -> None:
        session = self.session
        if session is not None:
            self.fieldkit.apply(label, lambda: with_value(session.present, Address("stock", str(place)), name, value))

    def action_model(self) -> None:
        """Take a model in."""
        self.add("stock")

    def action_remove(self) -> None:
        """Remove the model, or the entry of its stock."""
        session = self.session
        table, name, _ = self._here()
        if session is None or not name:
            return
        if table == "stock":
            entry = session.present.stock[int(name)]
            what = f"item {entry.serial}" if entry.serial else "stock entry"
            self.fieldkit.apply(
                f"{what} of {entry.model} removed", lambda: without_row(session.present, "stock", int(name))
            )
        else:
            self.remove_thing(table, name)

    def action_count(self) -> None:
        """Say how many are owned."""
        session, model = self.session, self._model()
        if session is None or not model:
            return
        _, _, length = self._here()
        plain = next(((place, item) for place, item in self._entries() if not item.serial), None)

        def look(text: str) -> str:
            if not text.strip().isdecimal() or int(text) > MOST:
                raise ValueError(f"expected a whole number up to {MOST}, got '{text[:40]}'")
            return "owned, hired ones not counted"

        def take(text: str) -> None:
            if plain is not None:
                self._put(plain[0], f"{model}: {text.strip()} owned", "owned", int(text))
                return
            item = convert({"model": model, "owned": int(text)} | ({"length": length} if length else {}), Stock)
            self.fieldkit.apply(
                f"{model}: {text.strip()} owned",
                lambda: msgspec.structs.replace(session.present, stock=(*session.present.stock, item)),
            )

        self.fieldkit.ask(f"how many {model} {length}".rstrip(), str(plain[1].owned if plain else 0), look, take)

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


def _is_special(item: Stock) -> bool:
    """Tell whether a stock entry has more to say than a number."""
    return bool(item.serial or item.hired_from or item.due or item.note)


def _in_words(item: Stock) -> str:
    """Say in a few words what an entry of the stock is."""
    counts = [f"{number} {word}" for number, word in ((item.owned, "owned"), (item.hired, "hired"), (item.out, "out"))]
    words = [text for text in counts if not text.startswith("0 ")] or ["none"]
    serial = [f"serial {item.serial}"] if item.serial else []
    return ", ".join([*serial, *words, *([f"from {item.hired_from}"] if item.hired_from else [])])


def _users_of_serials(rig: Rig) -> dict[tuple[str, str], str]:
    """Find which box or unit is which single item."""
    units = rig.ground.units.values()
    found = {(unit.model, unit.serial): unit.id for unit in units if unit.serial}
    return found | {(box.model or "", box.serial): box.id for box in rig.show.boxes if box.serial}
