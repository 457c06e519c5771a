"""Editing any thing of the show: its fields in a list, each changed in place; adding, copying, removing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Any, ClassVar, cast

import msgspec
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical

from fieldkit.app.dialogs import Choose, Dialog, Option, Read
from fieldkit.app.fields import Field, fields_of, put, taken
from fieldkit.app.screens.frame import Frame
from fieldkit.app.widgets.key_bar import KeyBar
from fieldkit.app.widgets.lines import Line
from fieldkit.app.widgets.rows import Column, Row, Rows
from fieldkit.checks.finding import Finding
from fieldkit.gear.library import every
from fieldkit.gear.library import find as find_model
from fieldkit.gear.wording import to_plain
from fieldkit.show.borrowing import borrowed
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Rack, RackUnit, Run, Show, Supply, Zone
from fieldkit.show.edits import find, with_thing
from fieldkit.show.errors import DocumentError, ShowError
from fieldkit.show.labels import next_label
from fieldkit.show.removal import removed
from fieldkit.show.usage import renamed

WORDS = {
    "boxes": "box",
    "zones": "zone",
    "racks": "rack",
    "rack_units": "amplifier or processor",
    "runs": "run",
    "supplies": "supply",
    "stock": "stock",
    "loudspeakers": "loudspeaker",
    "amplifiers": "amplifier",
    "processors": "processor",
    "cables": "cable",
    "adaptors": "adaptor",
    "panels": "panel",
    "built_racks": "rack as built",
}


class Address(msgspec.Struct, frozen=True):
    """Where a thing stands: its table, its label, and the way into it through lists of rows."""

    table: str
    name: str
    inner: tuple[str | int, ...] = ()

    @property
    def title(self) -> str:
        """The address in words."""
        inside = " ".join(str(part + 1) if isinstance(part, int) else part for part in self.inner)
        return f"{WORDS.get(self.table, self.table)} {self.name} {inside}".strip()


def thing_at(show: Show, address: Address) -> Any:
    """Find the thing at an address. Raises DocumentError where there is none."""
    thing: Any = show.about if address.table == "show" else find(show, address.table, address.name)
    for part in address.inner:
        thing = thing[part] if isinstance(part, int) else getattr(thing, _attribute(type(thing), part))
    return thing


def with_value(show: Show, address: Address, name: str, value: Any) -> Show:
    """Give a show with one key of the thing at an address changed. Raises DocumentError."""
    if name == "id" and not address.inner:
        return renamed(show, address.table, address.name, str(value))
    thing = thing_at(show, Address(address.table, address.name))
    if not address.inner:
        return _with(show, address.table, put(thing, name, value))
    plain = _lists(to_plain(thing))
    here = plain
    for part in address.inner:
        here = here[part]
    if isinstance(here, list):
        here[:] = value
    elif value is None:
        here.pop(name, None)
    else:
        here[name] = value
    return _with(show, address.table, convert(plain, type(thing)))


def with_rows(show: Show, address: Address, field: str, rows: Sequence[Any]) -> Show:
    """Give a show in which a list of rows of the thing at an address is another."""
    return with_value(show, address, field, _lists([to_plain(row) for row in rows]))


def _with(show: Show, table: str, thing: Any) -> Show:
    return msgspec.structs.replace(show, about=thing) if table == "show" else with_thing(show, table, thing)


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, (list, tuple)) else value


def _attribute(kind: type, key: str) -> str:
    return next(field.name for field in msgspec.structs.fields(kind) if field.encode_name == key)


def calculated(text: str) -> str:
    """Give the result of a text that begins with ``=`` and is an expression; any other as it is.

    Raises CalculatorError, a ValueError, for an expression that gives nothing.
    """
    if not text.lstrip().startswith("="):
        return text
    from fieldkit.calculator import evaluate

    expression, word, unit = text.strip().removeprefix("=").rpartition(" in ")
    result = evaluate(expression, unit.strip()) if word else evaluate(text.strip().removeprefix("="))
    return f"{result.value:.6g} {result.unit}".rstrip()


class Editor(Dialog[str]):
    """The fields of one thing."""

    BINDINGS: ClassVar = [
        Binding("d", "clear", "clear", show=True),
        Binding("u", "app.undo", "undo", show=True),
        Binding("escape", "leave", "back", show=True),
    ]

    def __init__(self, address: Address) -> None:
        super().__init__()
        self.address = address

    @property
    def frame(self) -> Frame:
        """The main screen below."""
        return next(screen for screen in reversed(self.app.screen_stack) if isinstance(screen, Frame))

    def compose(self) -> ComposeResult:
        """Lay out title and fields."""
        with Vertical():
            yield Line(self.address.title, classes="title")
            yield Rows([Column("key", least=12), Column("value", share=1)])
            yield Line(id="said", classes="hint")
            yield KeyBar()

    def on_mount(self) -> None:
        """Show the fields."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def on_screen_resume(self) -> None:
        """Show what has changed."""
        if self.is_mounted:
            self._fill()

    def fields(self) -> tuple[Field, ...]:
        """Read the fields as they are now; none when an undo or a rename took the thing away."""
        session = self.frame.session
        if session is None:
            return ()
        try:
            thing = thing_at(session.present, self.address)
        except (DocumentError, IndexError, TypeError, AttributeError):
            return ()
        return fields_of(thing, self.address.table, session.present)

    def _fill(self) -> None:
        fields = self.fields()
        if not fields:
            if self.is_current:
                self.dismiss(None)
            return
        safe = self.frame.fieldkit.safe
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
        session = self.frame.session
        if session is None:
            return
        title = f"{self.address.title}: {field.name.replace('_', ' ')}"
        if field.kind == "rows":
            self.app.push_screen(RowList(self.address, field.name), lambda _: self._fill())
        elif field.kind == "table":
            if field.value is None:
                self._say("this one is written in the file; the program only changes what is there")
            else:
                inner = Address(self.address.table, self.address.name, (*self.address.inner, field.name))
                self.app.push_screen(Editor(inner), lambda _: self._fill())
        elif field.kind in {"choice", "flag"} and field.choices:
            options = [Option(choice, (choice,)) for choice in field.choices]
            self.app.push_screen(
                Choose(title, options), lambda text: self._take(field, text) if text is not None else None
            )
        else:
            hint = "enter takes it   esc leaves   = begins a calculation"
            self.frame.fieldkit.ask(
                title, field.shown, lambda text: self._look(field, text), lambda text: self._take(field, text), hint
            )

    def _look(self, field: Field, text: str) -> str:
        """Echo what a text would be, or raise ValueError with what was expected."""
        session = self.frame.session
        text = calculated(text)
        value = taken(field, text)
        if session is not None:
            with_value(session.present, self.address, field.name, value)
        if value is None:
            return "(left out)"
        return f"= {text.strip()}" + (f"   {field.wanted}" if field.wanted else "")

    def _take(self, field: Field, text: str) -> None:
        session = self.frame.session
        if session is None:
            return
        text = calculated(text)
        address = self.address
        label = f"{field.name.replace('_', ' ')} of {address.title}"
        done = self.frame.fieldkit.apply(
            label,
            lambda: with_value(session.present, address, field.name, taken(field, text)),
            field=f"{address.table}.{address.name}.{address.inner}.{field.name}",
        )
        if done and field.name == "id" and not address.inner:
            self.address = Address(address.table, text.strip())
            self.query_one(".title", Line).say(self.address.title)
        self._fill()

    def action_clear(self) -> None:
        """Take a field back to its default."""
        rows = self.query_one(Rows)
        field = next((item for item in self.fields() if item.name == rows.key), None)
        if field is not None:
            self._take(field, "")

    def _say(self, text: str) -> None:
        self.query_one("#said", Line).say(text)


class RowList(Dialog[str]):
    """A list of rows inside a thing: the steps of a run, the sections of a loudspeaker."""

    BINDINGS: ClassVar = [
        Binding("a", "add", "add like this", show=True),
        Binding("d", "remove", "remove", show=True),
        Binding("escape", "leave", "back", show=True),
    ]

    def __init__(self, address: Address, field: str) -> None:
        super().__init__()
        self.address, self.field = address, field

    @property
    def frame(self) -> Frame:
        """The main screen below."""
        return next(screen for screen in reversed(self.app.screen_stack) if isinstance(screen, Frame))

    def compose(self) -> ComposeResult:
        """Lay out title and rows."""
        with Vertical():
            yield Line(f"{self.address.title}: {self.field}", classes="title")
            yield Rows([Column("", right=True), Column("", share=1)], empty="no rows")
            yield KeyBar()

    def on_mount(self) -> None:
        """Show the rows."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def rows(self) -> tuple[Any, ...]:
        """Read the rows as they are now; none when the thing is gone."""
        session = self.frame.session
        if session is None:
            return ()
        try:
            thing = thing_at(session.present, self.address)
        except (DocumentError, IndexError, TypeError, AttributeError):
            return ()
        rows: tuple[Any, ...] = getattr(thing, _attribute(type(thing), self.field))
        return rows

    def _fill(self) -> None:
        safe = self.frame.fieldkit.safe
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
        self.app.push_screen(Editor(inner), lambda _: self._fill())

    def action_add(self) -> None:
        """Add a row like the one under the cursor, behind it."""
        rows = list(self.rows())
        key = self.query_one(Rows).key
        if key:
            rows.insert(int(key) + 1, rows[int(key)])
            self._take(f"row added to {self.field} of {self.address.title}", rows)

    def action_remove(self) -> None:
        """Take a row out."""
        rows = list(self.rows())
        key = self.query_one(Rows).key
        if key:
            del rows[int(key)]
            self._take(f"row taken out of {self.field} of {self.address.title}", rows)

    def _take(self, label: str, rows: list[Any]) -> None:
        session = self.frame.session
        if session is not None:
            self.frame.fieldkit.apply(label, lambda: with_rows(session.present, self.address, self.field, rows))
            self._fill()


def cause_of(item: Finding, show: Show) -> tuple[str, str] | None:
    """Give table and label of the thing that a finding is about; None where there is none to edit."""
    name = item.where.id
    tables = {
        "box": ("boxes", name),
        "run": ("runs", name),
        "line": ("runs", name.partition("/")[0]),
        "output": ("rack_units", name.partition(".")[0]),
        "host": ("rack_units", name.partition(".")[0]),
        "unit": ("rack_units", name),
        "zone": ("zones", name),
        "rack": ("racks", name),
        "supply": ("supplies", name),
    }
    if item.where.kind == "model":
        home = next((table for table in MODEL_TABLES if any(model.id == name for model in getattr(show, table))), None)
        return (home, name) if home else None
    return tables.get(item.where.kind)


class Editing:
    """What screens that edit have in common."""

    @property
    def _frame(self) -> Frame:
        return cast("Frame", self)

    def edit(self, table: str, name: str) -> None:
        """Open a thing in the editor."""
        session = self._frame.session
        if session is None:
            return
        if table == "rack_units" and name not in {unit.id for unit in session.present.rack_units}:
            # A unit that a rack as built brings gets a table of its own once somebody changes it.
            unit = next(unit for unit in all_units(session.present) if unit.id == name)
            own = RackUnit(id=unit.id, model=unit.model)
            self._frame.fieldkit.apply(f"{name} written out", lambda: with_thing(session.present, "rack_units", own))
        self._frame.app.push_screen(Editor(Address(table, name)))

    def show_finding(self, item: Finding) -> None:
        """Show a finding whole; ``enter`` on its arrow edits the thing that it is about."""
        frame = self._frame
        place = cause_of(item, frame.session.present) if frame.session else None
        lines = [("", item.says), ("", ""), ("", f"why: {item.why}"), ("", f"cure: {item.cure}")]
        if place is not None:
            lines.insert(0, ("edit", f"→ edit {WORDS[place[0]]} {place[1]}"))
        shown = [(key, part) for key, text in lines for part in textwrap.wrap(frame.fieldkit.safe(text), 72) or [""]]
        hint = "enter on → goes there   esc leaves"

        def follow(key: str | None) -> None:
            if key and place is not None:
                self.edit(*place)

        frame.app.push_screen(Read(f"{item.where.id}: {item.severity}", shown, hint), follow)

    def edit_all(self, table: str, names: Sequence[str], then: Callable[[], None]) -> None:
        """Change one field of several things at once: one step to undo."""
        session = self._frame.session
        if session is None or not names:
            return
        fields = [
            field
            for field in fields_of(find(session.present, table, names[0]), table, session.present)
            if field.name != "id"
        ]

        def with_all(field: Field, text: str) -> Show:
            show = session.present
            for name in names:
                show = with_value(show, Address(table, name), field.name, taken(field, text))
            return show

        def take(field: Field, text: str) -> None:
            label = (
                f"{field.name.replace('_', ' ')} of {len(names)} {WORDS[table]}es"
                if table == "boxes"
                else f"{field.name} of {len(names)}"
            )
            if self._frame.fieldkit.apply(label, lambda: with_all(field, text)):
                then()

        def look(field: Field, text: str) -> str:
            with_all(field, text)
            return f"= {text.strip() or '(left out)'}, for {', '.join(names)}"

        def chosen(name: str | None) -> None:
            field = next((item for item in fields if item.name == name), None)
            if field is None:
                return
            title = f"{field.name.replace('_', ' ')} of {', '.join(names)}"
            if field.choices:
                options = [Option(choice, (choice,)) for choice in field.choices]
                self._frame.app.push_screen(
                    Choose(title, options), lambda text: take(field, text) if text is not None else None
                )
            else:
                self._frame.fieldkit.ask(
                    title, field.shown, lambda text: look(field, text), lambda text: take(field, text)
                )

        options = [
            Option(field.name, (field.name.replace("_", " "), field.shown))
            for field in fields
            if field.kind not in {"rows", "table"}
        ]
        self._frame.app.push_screen(Choose(f"change what of {len(names)}", options, columns=2), chosen)

    def edit_one_of(self, things: Sequence[tuple[str, str]]) -> None:
        """Choose which of several things to edit."""
        options = [Option(f"{table} {name}", (name, WORDS[table])) for table, name in things]

        def chosen(key: str | None) -> None:
            if key is not None:
                table, _, name = key.partition(" ")
                self.edit(table, name)

        self._frame.app.push_screen(Choose("edit", options, columns=2), chosen)

    def add_one_of(self, tables: Sequence[str]) -> None:
        """Choose what kind of thing to add."""
        options = [Option(table, (WORDS[table],)) for table in tables]
        self._frame.app.push_screen(Choose("add", options), lambda table: self.add(table) if table else None)

    def add(self, table: str) -> None:
        """Ask for what a new thing cannot be without, and add it."""
        if table in MODEL_TABLES or table == "stock":
            self._add_model(table)
        else:
            self._ask_label(table, lambda label: self._with_label(table, label))

    def _ask_label(self, table: str, then: Callable[[str], None]) -> None:
        session = self._frame.session
        if session is None:
            return
        things = getattr(session.present, table)
        stem = {"boxes": "B", "zones": "zone", "racks": "R", "rack_units": "A", "runs": "W", "supplies": "X"}[table]
        start = next_label(session.present, things[-1].id if things else f"{stem}0")

        def look(text: str) -> str:
            made = convert({"id": text.strip(), "zone": "z"}, Box)
            names = {
                thing.id
                for name in ("boxes", "zones", "racks", "rack_units", "runs", "supplies")
                for thing in getattr(session.present, name)
            }
            if made.id in names:
                raise DocumentError(f"the label '{made.id}' is already used")
            return "what stands on its label"

        self._frame.fieldkit.ask(f"label of the new {WORDS[table]}", start, look, lambda text: then(text.strip()))

    def _with_label(self, table: str, label: str) -> None:
        simple: dict[str, Callable[[], Any]] = {
            "zones": lambda: Zone(id=label),
            "racks": lambda: Rack(id=label),
            "supplies": lambda: convert({"id": label, "volts": "230 V", "rating": "16 A"}, Supply),
        }
        if table in simple:
            self._take(table, simple[table]())
        elif table == "boxes":
            self._choose_model(
                ("loudspeakers",),
                lambda model: self._choose(
                    "zones", "in which zone", lambda zone: self._take("boxes", Box(id=label, model=model, zone=zone))
                ),
            )
        elif table == "rack_units":
            self._choose_model(
                ("amplifiers", "processors"), lambda model: self._take("rack_units", RackUnit(id=label, model=model))
            )
        else:
            self._add_run(label)

    def _add_run(self, label: str) -> None:
        session = self._frame.session
        if session is None:
            return
        models = models_by_id(session.present)
        starts = [
            Option(f"{unit.id}.{name}", (f"{unit.id}.{name}", unit.model))
            for unit in all_units(session.present)
            for name in {
                **getattr(models.get(unit.model), "connectors", {}),
                **getattr(models.get(unit.model), "connectors_bridged", {}),
            }
        ]
        racks = {model.id: model for model in session.present.built_racks}
        starts += [
            Option(f"{rack.id}.{name}", (f"{rack.id}.{name}", rack.as_built or ""))
            for rack in session.present.racks
            for name in (racks[rack.as_built].panel if rack.as_built in racks else {})
        ]

        def from_here(start: str | None) -> None:
            if start is None:
                return
            self._choose(
                "boxes",
                "to which box",
                lambda box: self._choose_model(("cables",), lambda cable: self._ask_length(label, start, box, cable)),
            )

        self._frame.app.push_screen(Choose("from which connector", starts, columns=2), from_here)

    def _ask_length(self, label: str, start: str, box: str, cable: str) -> None:
        def make(text: str) -> Run:
            return convert(
                {"id": label, "from": start, "path": [{"cable": cable, "length": text.strip(), "box": box}]}, Run
            )

        def look(text: str) -> str:
            make(text)
            return "one way along the cable"

        self._frame.fieldkit.ask(
            f"length of {cable} to {box}", "10 m", look, lambda text: self._take("runs", make(text))
        )

    def _take(self, table: str, thing: Any) -> None:
        """Add a thing, with the models that it needs from the library."""
        session = self._frame.session
        if session is not None:
            self._frame.fieldkit.apply(
                f"{WORDS[table]} {thing.id} added",
                lambda: borrowed(with_thing(session.present, table, thing), find_model)[0],
            )

    def _choose(self, table: str, title: str, then: Callable[[str], None]) -> None:
        session = self._frame.session
        if session is None:
            return
        options = [
            Option(thing.id, (thing.id, getattr(thing, "model", None) or ""))
            for thing in getattr(session.present, table)
        ]
        if not options:
            self._frame.note(f"there is no {WORDS[table]} yet: add one first")
            return
        self._frame.app.push_screen(Choose(title, options, columns=2), lambda key: then(key) if key else None)

    def _choose_model(self, tables: Sequence[str], then: Callable[[str], None]) -> None:
        """Choose a model of the show or of the gear library."""
        session = self._frame.session
        if session is None:
            return
        here = [
            Option(model.id, (model.id, model.description, "in the show"))
            for table in tables
            for model in getattr(session.present, table)
        ]
        known = {option.key for option in here}
        library = [
            Option(
                entry.model.id,
                (entry.model.id, entry.model.description, "own library" if entry.own else "demonstration"),
            )
            for entry in every()
            if f"{entry.kind}s" in tables and entry.model.id not in known
        ]
        self._frame.app.push_screen(
            Choose("which model", [*here, *library], columns=3), lambda key: then(key) if key else None
        )

    def _add_model(self, table: str) -> None:
        tables = MODEL_TABLES if table == "stock" else (table,)

        def take(model: str) -> None:
            session = self._frame.session
            if session is None:
                return
            found = models_by_id(session.present).get(model) or find_model(model)
            if found is None:
                return
            home = next(name for name in MODEL_TABLES if isinstance(found, _kind(name)))
            self._frame.fieldkit.apply(f"model {model} taken in", lambda: with_thing(session.present, home, found))

        self._choose_model(tables, take)

    def remove_thing(self, table: str, name: str) -> None:
        """Remove a thing, after showing what goes with it."""
        session = self._frame.session
        if session is None:
            return
        try:
            result = removed(session.present, table, name)
        except ShowError as error:
            self._frame.note(f"! {error}")
            return
        lines = list(result.consequences) or ["nothing else hangs on it"]
        self._frame.fieldkit.confirm(
            f"remove {WORDS[table]} {name}",
            lines[:14],
            lambda: _ignore(self._frame.fieldkit.apply(f"{WORDS[table]} {name} removed", lambda: result.show)),
            "remove it",
        )


def _ignore(_done: object) -> None:
    """Take an answer that nobody needs."""


def _kind(table: str) -> type:
    from fieldkit.gear.model_file import KINDS

    return KINDS[table.removesuffix("s")]
