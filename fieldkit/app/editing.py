"""What screens that edit have in common: open, add, copy, remove, and change several things at once."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Any, cast

from fieldkit.app.addresses import WORDS, Address, with_value
from fieldkit.app.dialogs import Choose, Option, Read
from fieldkit.app.editor import Editor
from fieldkit.app.fields import Field, fields_of, taken
from fieldkit.app.screens.frame import Frame
from fieldkit.checks.finding import Finding
from fieldkit.gear.library import every
from fieldkit.gear.library import find as find_model
from fieldkit.planning.cures import cures_for
from fieldkit.show.borrowing import borrowed
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Rack, RackUnit, Run, Show, Supply, Zone
from fieldkit.show.edits import find, with_thing
from fieldkit.show.errors import DocumentError, ShowError
from fieldkit.show.labels import next_label
from fieldkit.show.removal import removed


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
        """Show a finding whole; ``enter`` on an arrow takes a cure, or edits the thing that it is about."""
        frame = self._frame
        session = frame.session
        if session is None:
            return
        place = cause_of(item, session.present)
        cures = cures_for(session.rig, session.findings, item)
        lines = [
            (f"cure {number}", f"→ {cure.label}   (then {cure.left[0]} errors, {cure.left[1]} warnings)")
            for number, cure in enumerate(cures)
        ]
        if place is not None:
            lines.append(("edit", f"→ edit {WORDS[place[0]]} {place[1]}"))
        lines += [("", ""), ("", item.says), ("", ""), ("", f"why: {item.why}"), ("", f"cure: {item.cure}")]
        shown = [(key, part) for key, text in lines for part in textwrap.wrap(frame.fieldkit.safe(text), 72) or [""]]
        hint = "enter on → does it   esc leaves" if cures else "enter on → goes there   esc leaves"

        def follow(key: str | None) -> None:
            if key == "edit" and place is not None:
                self.edit(*place)
            elif key:
                cure = cures[int(key.removeprefix("cure "))]
                frame.fieldkit.apply(cure.label, lambda: cure.show)

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
