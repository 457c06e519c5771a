"""Inventory: what there is of each model, what is used, and what is spare."""

from __future__ import annotations

from textual.app import ComposeResult

from fieldkit.app.addresses import WORDS, Address
from fieldkit.app.dialogs.windows import ChoiceRow, Read
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.tasks import stocking
from fieldkit.app.tasks.stocking import StockRow
from fieldkit.app.widgets.beside import Beside, Split
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.checks.stock import used_cables, used_models
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.reports.model_facts import model_facts
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import models_by_id
from fieldkit.show.document import MODEL_TABLES, Show, Stock
from fieldkit.show.errors import ShowError
from fieldkit.show.keep.measured import latest


class Inventory(MainScreen):
    """Stock by kind."""

    PURPOSE = "What there is: owned, hired, out of service, used, spare; each model with all that is known of it."
    WORDS = (
        ("stock", "how many there are of a model, or of a length of cable"),
        ("out", "of these, out of service"),
        ("spare", "in stock, working, and not used by the plan"),
    )

    def body(self) -> ComposeResult:
        """Show the stock list, with the details of a model beside it where there is room."""
        with Split():
            yield Rows(
                [
                    ListColumn("kind", minimum=6),
                    ListColumn("model", minimum=10, share=1),
                    ListColumn("length", right=True, decimal=True),
                    ListColumn("owned", right=True),
                    ListColumn("hired", right=True),
                    ListColumn("out", right=True),
                    ListColumn("used", right=True),
                    ListColumn("spare", right=True),
                ],
                empty="no models yet: a adds one from the gear library, or an unknown box",
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
            read = self._readings(session.present)
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
                        rows += [
                            self._entry(place, item, by_serial, read) for place, item in items if _is_special(item)
                        ]
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
        return Row(f"{table} {model} {length or ''}", tuple(self.bench.safe(cell) for cell in cells), mark=mark)

    def _readings(self, show: Show) -> dict[tuple[str, str], list[str]]:
        """Find the readings of single items, here or at earlier shows; notes where their file cannot be read."""
        found: dict[tuple[str, str], list[str]] = {}
        if any(item.serial for item in show.stock):
            try:
                for one in latest().values():
                    found.setdefault((one.model, one.serial), []).append(one.says)
            except ShowError as error:
                self.note(f"! {error}")
        return found

    def _entry(
        self,
        place: int,
        item: Stock,
        by_serial: dict[tuple[str, str], str],
        read: dict[tuple[str, str], list[str]],
    ) -> Row:
        """Show a single item, or a part of the stock that is hired from somebody."""
        count = f"{item.hired} " if item.hired and not item.serial else ""
        words = [f"serial {item.serial}"] if item.serial else []
        user = by_serial.get((item.model, item.serial)) if item.serial else None
        words += [f"in use as {user}"] if user else []
        words += ["out of service"] if item.serial and item.out else []
        if item.hired or item.hired_from:
            words.append(f"{count}hired" + (f" from {item.hired_from}" if item.hired_from else ""))
        words += [f"due back {item.due.isoformat()}"] if item.due else []
        words += read.get((item.model, item.serial), []) if item.serial else []
        words += [item.note] if item.note else []
        text = self.bench.safe(f"    {', '.join(words)}")
        return Row(f"stock {place} ", (text,), mark="warning" if item.serial and item.out else "quiet", wide=True)

    def _here(self) -> StockRow:
        """Find the stock row under the cursor."""
        return StockRow.of(self.query_one(Rows).key)

    def _model(self) -> str:
        session = self.session
        return self._here().model(session.present) if session is not None else ""

    def labels_here(self) -> frozenset[str]:
        """Name the model of this row."""
        return frozenset({self._model()} - {""})

    def details_here(self) -> tuple[str, ...]:
        """Say what is known of the model."""
        session = self.session
        model = models_by_id(session.present).get(self._model()) if session is not None else None
        return tuple(model_facts(model)) if model is not None else ()

    def action_open(self) -> None:
        """See and edit the model, or one entry of its stock."""
        session, row = self.session, self._here()
        if session is None or not row.name:
            return
        table, name, entries = row.table, row.name, row.entries(session.present)
        if row.is_entry:
            self.bench.edit_at(Address(table, name))
        elif not entries:
            self._show_page(table, name)
        else:
            options = [ChoiceRow(f"{table} {name}", (WORDS[table], name))]
            options += [
                ChoiceRow(f"stock {place}", ("stock", self.bench.safe(_in_words(item)))) for place, item in entries
            ]

            options.append(ChoiceRow("page", ("page", "all that is known of it")))

            def chosen(key: str) -> None:
                where, _, which = key.partition(" ")
                if where == "page":
                    self._show_page(table, name)
                else:
                    self.bench.edit_at(Address(where, which))

            self.bench.choose("see and edit", options, chosen)

    def action_card(self) -> None:
        """Show all that is known of the model."""
        name, session = self._model(), self.session
        if name and session is not None:
            table = next(t for t in MODEL_TABLES if any(model.id == name for model in getattr(session.present, t)))
            self._show_page(table, name)

    def action_stock(self) -> None:
        """Say how many are owned."""
        stocking.say_owned(self.bench, self._here())

    def action_returns(self) -> None:
        """Tick off what came back at load-out."""
        if self.session is None:
            self.note("no show is open")
        else:
            from fieldkit.app.tasks.returning import Returns

            self.bench.push(Returns(self.bench))

    def action_failed(self) -> None:
        """Take a single item out of service or back; of others, say how many are out."""
        stocking.say_out(self.bench, self._here())

    def action_add(self) -> None:
        """Choose what to add: a model, a box by ohms and watts, or a single item of the model under the cursor."""
        if self.session is None:
            self.note("no show is open")
            return
        name = self._model()
        options = [ChoiceRow("model", ("model", "from the gear library"))]
        options.append(ChoiceRow("unknown", ("unknown box", "without a data sheet: ohms and watts from its label")))
        if name:
            options.append(ChoiceRow("single", ("single item", f"one {name}, by its serial")))

        def chosen(key: str) -> None:
            if key == "model":
                self.bench.add("stock")
            elif key == "unknown":
                from fieldkit.app.tasks.adding import ask_label, unknown_box

                ask_label(self.bench, "boxes", lambda label: unknown_box(self.bench, label))
            else:
                stocking.add_single(self.bench, self._here())

        self.bench.choose_or_type("add", lambda: options, chosen)

    def action_view(self) -> None:
        """Show what drives what, of the model under the cursor."""
        from fieldkit.app.tasks.charting import show_chart

        session, name = self.session, self._model()
        model = models_by_id(session.present).get(name) if session is not None else None
        show_chart(self.bench, name if isinstance(model, (Amplifier, Loudspeaker)) else "")

    def _show_page(self, table: str, name: str) -> None:
        """Show all that is known of a model, with the ways on: to its editor, and to the chart."""
        from fieldkit.gear.library import every
        from fieldkit.reports.model_page import model_page

        session = self.session
        if session is None:
            return
        models = [*models_by_id(session.present).values(), *(entry.model for entry in every())]
        page = model_page(models_by_id(session.present)[name], models)
        ways = [("edit", f"→ edit {WORDS[table]} {name}")]
        if table in ("loudspeakers", "amplifiers"):
            ways.append(("chart", "→ what drives it" if table == "loudspeakers" else "→ what it drives"))
        lines = [(key, self.bench.safe(text)) for key, text in (*ways, *(("", line) for line in page))]

        def chosen(key: str | None) -> None:
            if key == "edit":
                self.bench.edit_at(Address(table, name))
            elif key == "chart":
                self.action_view()

        self.bench.push(
            Read(f"{WORDS[table]} {name}", lines, "enter on → goes there   arrows scroll   esc leaves"), chosen
        )

    def action_copy(self) -> None:
        """Make another model like this one, under another name."""
        stocking.copy_model(self.bench, self._model())

    def action_keep(self) -> None:
        """Keep the model in the user's own gear library."""
        stocking.keep_model(self.bench, self._model())

    def action_remove(self) -> None:
        """Remove the model, or the entry of its stock."""
        stocking.remove_row(self.bench, self._here())


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
    units = rig.show_index.units.values()
    found = {(unit.model, unit.serial): unit.id for unit in units if unit.serial}
    return found | {(box.model or "", box.serial): box.id for box in rig.show.boxes if box.serial}
