"""The editor: the fields of one thing in a list, each changed in place, and the rows inside a thing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

import msgspec
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import bindings
from fieldkit.app.addresses import Address, attribute, thing_at, with_rows, with_value
from fieldkit.app.dialogs.windows import Ask, ChoiceRow, Choose, Dialog, Help, TextQuestion
from fieldkit.app.fields import Field, fields_of, likely_units, must_stay, required_of, taken
from fieldkit.app.shell import Shell
from fieldkit.app.tape import quantity_help
from fieldkit.app.tasks.adding import choose_model
from fieldkit.app.widgets.key_bar import KeyBar
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.errors import UnusableError
from fieldkit.gear.library import find as find_model
from fieldkit.gear.wording import to_plain
from fieldkit.show.borrowing import borrowed
from fieldkit.show.decoding import convert
from fieldkit.show.document import Show, Step
from fieldkit.show.errors import DocumentError
from fieldkit.units.measures import measure_class


def calculated(field: Field, text: str) -> str:
    """Calculate an expression that begins with ``=`` in a field for a number; return any other text unchanged.

    Raises CalculatorError for an expression that has no result.
    """
    if field.kind not in {"quantity", "number"} or not text.lstrip().startswith("="):
        return text
    from fieldkit.calculator import evaluate

    expression, word, unit = text.strip().removeprefix("=").rpartition(" in ")
    result = evaluate(expression, unit.strip()) if word else evaluate(text.strip().removeprefix("="))
    return f"{result.value:.6g} {result.unit}".rstrip()


class ThingDialog(Dialog[str]):
    """A window about one thing of the show, which may be gone after an undo."""

    def __init__(self, shell: Shell, address: Address) -> None:
        super().__init__()
        self.shell = shell
        self.address = address

    def thing(self) -> Any:
        """Find the thing as it is now; None when it is gone."""
        session = self.shell.session
        try:
            return thing_at(session.present, self.address) if session is not None else None
        except (DocumentError, IndexError, TypeError, AttributeError):
            return None

    def begin(self, name: str, then: Callable[[dict[str, Any]], None]) -> None:
        """Ask for what a new row or inner table cannot be without, one field after the other."""
        session, thing = self.shell.session, self.thing()
        if session is None or thing is None:
            return
        fields = list(required_of(thing, name, self.address.table, session.present))
        plain: dict[str, Any] = {}

        def ask_next() -> None:
            if not fields:
                then(plain)
                return
            field = fields.pop(0)
            title = f"new {name.replace('_', ' ')}: {field.name.replace('_', ' ')}"

            def take(text: str | None) -> None:
                if text is not None:
                    plain[field.name] = taken(field, text)
                    ask_next()

            def look(text: str) -> str:
                if taken(field, text) is None:
                    raise UnusableError(f"expected {field.wanted}")
                return f"= {measure_class(field.dimension)(text)}" if field.dimension else field.wanted

            if field.choices:
                self.app.push_screen(Choose(title, [ChoiceRow(choice, (choice,)) for choice in field.choices]), take)
            else:
                units = likely_units(session.present, field.dimension)
                self.app.push_screen(Ask(TextQuestion(title, "", look, units=units)), take)

        ask_next()


class Editor(ThingDialog):
    """The fields of one thing."""

    BINDINGS: ClassVar = [*bindings("editor", actions_at("editor")), Binding("escape", "leave", "back", show=True)]

    def compose(self) -> ComposeResult:
        """Lay out title and fields."""
        with Vertical():
            yield TextLine(self.address.title, classes="title")
            yield Rows([ListColumn("key", minimum=12), ListColumn("value", share=1)])
            yield TextLine(id="said")
            yield KeyBar()

    def lines_wanted(self) -> int:
        """Count the fields, with title, column heads, what is said and the keys."""
        return len(self.fields()) + 5

    def on_mount(self) -> None:
        """Show the fields."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def on_screen_resume(self) -> None:
        """Show what has changed."""
        if self.is_mounted:
            self._fill()

    def fields(self) -> tuple[Field, ...]:
        """Read the fields as they are now; none when the thing is gone."""
        session, thing = self.shell.session, self.thing()
        return (
            fields_of(thing, self.address.table, session.present) if session is not None and thing is not None else ()
        )

    def _fill(self) -> None:
        fields = self.fields()
        if not fields:
            if self.is_current:
                self.dismiss(None)
            return
        safe = self.shell.safe
        rows = [Row(field.name, (field.name.replace("_", " "), safe(field.shown))) for field in fields]
        self.query_one(Rows).show(rows)

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Change a field."""
        field = next((item for item in self.fields() if item.name == event.key), None)
        if field is None:
            self._fill()
        else:
            self.edit(field)

    def edit(self, field: Field) -> None:
        """Change a field in the way of its kind."""
        session = self.shell.session
        if session is None:
            return
        title = f"{self.address.title}: {field.name.replace('_', ' ')}"
        if field.kind == "rows":
            self.app.push_screen(RowList(self.shell, self.address, field.name), lambda _: self._fill())
        elif field.kind == "table":
            if field.value is None:
                self.begin(field.name, lambda plain: self._take_table(field.name, plain))
            else:
                inner = Address(self.address.table, self.address.name, (*self.address.inner, field.name))
                self.app.push_screen(Editor(self.shell, inner), lambda _: self._fill())
        elif field.models:
            choose_model(
                self.shell,
                field.models,
                lambda text: self._take(field, text),
                effect=lambda text: self._foretell(field, text),
            )
        elif field.kind in {"choice", "flag"} and field.choices:
            options = [ChoiceRow(choice, (choice,)) for choice in field.choices]
            self.app.push_screen(
                Choose(title, options, effect=lambda text: self._foretell(field, text)),
                lambda text: self._take(field, text) if text is not None else None,
            )
        else:
            hint = "enter takes it   esc leaves   = calculates   up: results of the calculator"
            help_with = quantity_help(self.shell.tape, field.dimension) if field.dimension else Help()
            self.shell.ask(
                TextQuestion(
                    title,
                    field.shown,
                    lambda text: self._look(field, text),
                    hint=hint if field.dimension else "",
                    help=help_with,
                    units=likely_units(session.present, field.dimension),
                    effect=lambda text: self._foretell(field, text),
                ),
                lambda text: self._take(field, text),
            )

    def _take_table(self, name: str, plain: dict[str, Any]) -> None:
        """Take a new inner table, and open it."""
        session = self.shell.session
        if session is None:
            return
        label = f"{name.replace('_', ' ')} of {self.address.title}"
        if self.shell.apply(label, lambda: with_value(session.present, self.address, name, plain)):
            inner = Address(self.address.table, self.address.name, (*self.address.inner, name))
            self.app.push_screen(Editor(self.shell, inner), lambda _: self._fill())

    def _look(self, field: Field, text: str) -> str:
        """Echo what a text would be, or raise UnusableError with what was expected."""
        session = self.shell.session
        text = calculated(field, text)
        value = taken(field, text)
        if session is not None:
            with_value(session.present, self.address, field.name, value)
        if value is None:
            return "(left out)"
        return f"= {text.strip()}" + (f"   {field.wanted}" if field.wanted else "")

    def _with(self, field: Field, text: str) -> Show:
        """Return the show with a field changed and with the models that it names. Raises FieldkitError."""
        session = self.shell.session
        assert session is not None  # noqa: S101  (there is a field, so there is a show)
        return borrowed(with_value(session.present, self.address, field.name, taken(field, text)), find_model)[0]

    def _foretell(self, field: Field, text: str) -> tuple[str, ...]:
        """Say what a text in a field would bring to the plan."""
        return self.shell.foretold(lambda: self._with(field, calculated(field, text)))

    def _take(self, field: Field, text: str) -> None:
        text = calculated(field, text)
        address = self.address
        label = f"{field.name.replace('_', ' ')} of {address.title}"
        done = self.shell.apply(
            label,
            lambda: self._with(field, text),
            field=f"{address.table}.{address.name}.{address.inner}.{field.name}",
        )
        if done and field.name == "id" and not address.inner:
            self.address = Address(address.table, text.strip())
            self.query_one(".title", TextLine).say(self.address.title)
        self._fill()

    def action_undo(self) -> None:
        """Take back the last change."""
        self.shell.undo()

    def action_remove(self) -> None:
        """Take a field back to its default."""
        rows = self.query_one(Rows)
        field = next((item for item in self.fields() if item.name == rows.key), None)
        if field is None:
            return
        refusal = must_stay(self.thing(), field.name)
        if refusal:
            self.query_one("#said", TextLine).say(f"! {refusal}")
        else:
            self._take(field, "")


class RowList(ThingDialog):
    """A list of rows inside a thing: the steps of a run, the sections of a loudspeaker."""

    BINDINGS: ClassVar = [*bindings("rows", actions_at("rows")), Binding("escape", "leave", "back", show=True)]

    def __init__(self, shell: Shell, address: Address, field: str) -> None:
        super().__init__(shell, address)
        self.field = field

    def compose(self) -> ComposeResult:
        """Lay out title and rows."""
        with Vertical():
            yield TextLine(f"{self.address.title}: {self.field}", classes="title")
            yield Rows([ListColumn("", right=True), ListColumn("", share=1)], empty="no rows yet: a adds one")
            yield TextLine(id="said")
            yield KeyBar()

    def on_mount(self) -> None:
        """Show the rows."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def rows(self) -> tuple[Any, ...]:
        """Read the rows as they are now; none when the thing is gone."""
        thing = self.thing()
        rows: tuple[Any, ...] = getattr(thing, attribute(type(thing), self.field)) if thing is not None else ()
        return rows

    def _fill(self) -> None:
        safe = self.shell.safe
        shown = [
            Row(str(place), (str(place + 1), safe(", ".join(f"{key} {value}" for key, value in to_plain(row).items()))))
            for place, row in enumerate(self.rows())
        ]
        self.query_one(Rows).show(shown)

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Edit a row."""
        if not event.key:
            return
        inner = Address(self.address.table, self.address.name, (*self.address.inner, self.field, int(event.key)))
        self.app.push_screen(Editor(self.shell, inner), lambda _: self._fill())

    def action_add(self) -> None:
        """Add a row like the one under the cursor, behind it; the first one is asked for."""
        rows = list(self.rows())
        key = self.query_one(Rows).key
        label = f"row added to {self.field} of {self.address.title}"
        if not key:
            self.begin(self.field, lambda plain: self._take(label, [plain]))
            return
        place = int(key) + 1
        like = rows[int(key)]
        if isinstance(like, Step):
            self._add_step(label, rows, place, like)
        else:
            self._insert(label, rows, place, like)

    def _add_step(self, label: str, rows: list[Any], place: int, like: Step) -> None:
        """Ask what the new step of a run is: a cable like the one before, an adaptor, a panel."""

        def chosen(kind: str | None) -> None:
            if kind == "cable":
                # The same box twice on one run would be fed twice: the new step waits for a box of its own.
                self._insert(label, rows, place, msgspec.structs.replace(like, box=None))
            elif kind is not None:
                choose_model(
                    self.shell,
                    (f"{kind}s",),
                    lambda model: self._insert(
                        label, rows, place if like.box is None else place - 1, convert({kind: model}, Step)
                    ),
                )

        kinds = ["cable"] if like.cable else []
        options = [ChoiceRow("cable", ("cable", "like this one, to another box"))] if kinds else []
        options += [
            ChoiceRow("adaptor", ("adaptor", "in front of this step")),
            ChoiceRow("panel", ("panel", "in front of this step")),
        ]
        self.app.push_screen(Choose("add what to the path", options), chosen)

    def _insert(self, label: str, rows: list[Any], place: int, row: Any) -> None:
        rows.insert(place, row)
        self._take(label, rows)
        self.query_one(Rows).move_to(str(place))

    def action_remove(self) -> None:
        """Take a row out."""
        rows = list(self.rows())
        key = self.query_one(Rows).key
        if key:
            del rows[int(key)]
            self._take(f"row taken out of {self.field} of {self.address.title}", rows)

    def _take(self, label: str, rows: list[Any]) -> None:
        session = self.shell.session
        if session is not None:
            self.shell.apply(
                label, lambda: borrowed(with_rows(session.present, self.address, self.field, rows), find_model)[0]
            )
            self._fill()
