"""Adding a thing: its label, what it cannot be without, and the models that it needs from the gear library."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

from fieldkit.app.addresses import WORDS
from fieldkit.app.dialogs import Choose, Option
from fieldkit.app.screens.frame import Frame
from fieldkit.gear.library import every
from fieldkit.gear.library import find as find_model
from fieldkit.show.borrowing import borrowed
from fieldkit.show.connectors import starts
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Rack, RackUnit, Run, Supply, Zone
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.labels import next_label


class Adding:
    """What screens that add things have in common."""

    @property
    def _frame(self) -> Frame:
        return cast("Frame", self)

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
        taken = {run.start: run.id for run in session.present.runs}
        options = [
            Option(
                start.name, (start.name, start.model, f"{taken[start.name]} is on it" if start.name in taken else "")
            )
            for start in starts(session.present)
        ]

        def from_here(start: str | None) -> None:
            if start is None:
                return
            self._choose(
                "boxes",
                "to which box",
                lambda box: self._choose_model(("cables",), lambda cable: self._ask_length(label, start, box, cable)),
            )

        self._frame.app.push_screen(Choose("from which connector", options, columns=3), from_here)

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


def _kind(table: str) -> type:
    from fieldkit.gear.model_file import KINDS

    return KINDS[table.removesuffix("s")]
