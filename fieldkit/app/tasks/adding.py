"""Adding a thing: its label, what it cannot be without, and the models that it needs from the gear library."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, cast

from fieldkit.app.addresses import WORDS
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Effect
from fieldkit.app.screens.frame import MainScreen
from fieldkit.gear.library import every
from fieldkit.gear.library import find as find_model
from fieldkit.reports.models import figures_text
from fieldkit.show.borrowing import borrowed
from fieldkit.show.connectors import starts
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Rack, RackUnit, Run, Show, Supply, Zone
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.labels import next_label

EMPTY = "?"
"""The choice of a rack that nothing is in; no model can have this name."""

NOT_IN_THE_LIBRARY = "?"
"""The choice of a box that no library knows; no model can have this name."""


class Adding:
    """What screens that add things have in common."""

    @property
    def _frame(self) -> MainScreen:
        return cast("MainScreen", self)

    def add_one_of(self, tables: Sequence[str]) -> None:
        """Choose what kind of thing to add."""
        options = [ChoiceRow(table, (WORDS[table],)) for table in tables]
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
            "supplies": lambda: convert({"id": label, "volts": "230 V", "rating": "16 A"}, Supply),
        }
        if table in simple:
            self._take(table, simple[table]())
        elif table == "boxes":
            self._add_box(label)
        elif table == "racks":
            self._add_rack(label)
        elif table == "rack_units":
            self.choose_model(
                ("amplifiers", "processors"), lambda model: self._take("rack_units", RackUnit(id=label, model=model))
            )
        else:
            self._add_run(label)

    def _add_rack(self, label: str) -> None:
        """Ask whether it is empty or arrives prewired; a rack as built comes with all its units and their models."""
        empty = ChoiceRow(EMPTY, ("empty", "", "its amplifiers are added one by one"))

        def rack(model: str) -> Rack:
            return Rack(id=label, as_built=None if model == EMPTY else model)

        def brings(model: str) -> tuple[str, ...]:
            session = self._frame.session
            if session is None:
                return ()
            return self._frame.fieldkit.foretold(lambda: self._with(session.present, "racks", rack(model)))

        self.choose_model(("built_racks",), lambda model: self._take("racks", rack(model)), (empty,), brings)

    def _add_box(self, label: str) -> None:
        """Ask for model, zone and side; a box that no library knows goes by the ohms and watts of its label."""
        unknown = ChoiceRow(NOT_IN_THE_LIBRARY, ("not in the library", "ohms and watts", "from the label on the box"))

        def with_model(model: str) -> None:
            if model == NOT_IN_THE_LIBRARY:
                self.unknown_box(label)
            else:
                self._choose("zones", "in which zone", lambda zone: self._ask_side(label, model, zone))

        self.choose_model(("loudspeakers",), with_model, (unknown,))

    def _ask_side(self, label: str, model: str, zone: str) -> None:
        """Ask for the side: boxes of one side may share an output, those of two are kept apart."""
        session = self._frame.session
        if session is None:
            return
        sides = [box.side for box in session.present.boxes if box.zone == zone]
        likely = ["", "left", "right"] if sides and not sides[-1] else ["left", "right", ""]
        if sides and sides[-1] == "left" and sides.count("right") < sides.count("left"):
            likely = ["right", "left", ""]
        options = [ChoiceRow(side or "none", (side or "no side",)) for side in dict.fromkeys((*likely, *sides))]

        def take(side: str | None) -> None:
            if side is not None:
                self._take("boxes", Box(id=label, model=model, zone=zone, side="" if side == "none" else side))

        self._frame.app.push_screen(Choose(f"{label}: on which side", options), take)

    def unknown_box(self, label: str) -> None:
        """Add a box by the ohms and watts that its label says."""

        def look(text: str) -> str:
            ohms, _, watts = text.partition(",")
            convert(
                {"id": label, "zone": "z", "unknown": {"impedance": ohms.strip(), "continuous": watts.strip()}}, Box
            )
            return "every figure that rests on it will say: assumed"

        def take(text: str) -> None:
            ohms, _, watts = (part.strip() for part in text.partition(","))
            plain = {"id": label, "unknown": {"impedance": ohms, "continuous": watts}}
            self._choose(
                "zones", "in which zone", lambda zone: self._take("boxes", convert(plain | {"zone": zone}, Box))
            )

        self._frame.fieldkit.ask(f"{label}: ohms, watts from its label", "8 ohm, 250 W", look, take)

    def _add_run(self, label: str) -> None:
        session = self._frame.session
        if session is None:
            return
        if not any(True for _ in starts(session.present)):
            self._frame.note("there is no amplifier with connectors yet: a, then amplifier or processor")
            return
        taken = {run.start: run.id for run in session.present.runs}
        options = [
            ChoiceRow(
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
                lambda box: self.choose_model(("cables",), lambda cable: self._ask_length(label, start, box, cable)),
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
        session, app = self._frame.session, self._frame.fieldkit
        if session is None:
            return
        done = app.apply(f"{WORDS[table]} {thing.id} added", lambda: self._with(session.present, table, thing))
        said = app.said
        if done:
            self._frame.show_new(table, thing.id)
        # The screen says something of its own when it comes back from the questions, and when the cursor moves.
        app.call_after_refresh(app.say, said)

    @staticmethod
    def _with(show: Show, table: str, thing: Any) -> Show:
        return borrowed(with_thing(show, table, thing), find_model)[0]

    def _choose(self, table: str, title: str, then: Callable[[str], None]) -> None:
        session = self._frame.session
        if session is None:
            return
        options = [
            ChoiceRow(thing.id, (thing.id, getattr(thing, "model", None) or ""))
            for thing in getattr(session.present, table)
        ]
        if not options:
            self._frame.note(f"there is no {WORDS[table]} yet: add one first")
            return
        self._frame.app.push_screen(Choose(title, options, columns=2), lambda key: then(key) if key else None)

    def choose_model(
        self,
        tables: Sequence[str],
        then: Callable[[str], None],
        first: Sequence[ChoiceRow] = (),
        effect: Effect | None = None,
    ) -> None:
        """Choose a model of the show or of the gear library; ``first`` are other choices, on top."""
        session = self._frame.session
        if session is None:
            return
        here = {model.id: model for table in tables for model in getattr(session.present, table)}
        library = {entry.model.id: entry.model for entry in every() if f"{entry.kind}s" in tables}
        options = [
            ChoiceRow(name, (name, figures_text(model), model.description))
            for name, model in (here | library | here).items()
        ]
        self._frame.app.push_screen(
            Choose("which model", [*first, *options], columns=3, effect=effect),
            lambda key: then(key) if key else None,
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

        self.choose_model(tables, take)


def _kind(table: str) -> type:
    from fieldkit.gear.model_file import KINDS

    return KINDS[table.removesuffix("s")]
