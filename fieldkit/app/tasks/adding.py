"""Adding a thing: its label, what it cannot be without, and the models that it needs from the gear library."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from fieldkit.app.addresses import WORDS
from fieldkit.app.dialogs.windows import ChoiceRow, Effect, TextQuestion
from fieldkit.app.fields import likely_units
from fieldkit.app.shell import Shell
from fieldkit.app.tasks.entering import choose_or_type
from fieldkit.gear.library import every
from fieldkit.gear.library import find as find_model
from fieldkit.planning.entry.writing import line_of
from fieldkit.reports.models import figures_text
from fieldkit.show.borrowing import borrowed
from fieldkit.show.connectors import Start, starts
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Box, Rack, RackUnit, Run, Show, Supply, Zone
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.labels import next_label, side_of_label

EMPTY = "?"
"""The choice of a rack that nothing is in; no model can have this name."""

NO_SIDE, ANOTHER_SIDE = "-", "?"
"""Choices beside the sides that there are."""

NOT_IN_THE_LIBRARY = "?"
"""The choice of a box that no library knows; no model can have this name."""


def add_one_of(shell: Shell, tables: Sequence[str]) -> None:
    """Choose what kind of thing to add, or type lines."""
    options = [ChoiceRow(table, (WORDS[table], "step by step")) for table in tables]
    choose_or_type(shell, "add", lambda: options, lambda table: add(shell, table))


def add(shell: Shell, table: str) -> None:
    """Ask for what a new thing cannot be without, and add it."""
    if table in MODEL_TABLES or table == "stock":
        _add_model(shell, table)
    else:
        ask_label(shell, table, lambda label: _with_label(shell, table, label))


def ask_label(shell: Shell, table: str, then: Callable[[str], None]) -> None:
    """Ask for the label of a new thing; the next one of its table is proposed."""
    session = shell.session
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

    shell.ask(TextQuestion(f"label of the new {WORDS[table]}", start, look), lambda text: then(text.strip()))


def _with_label(shell: Shell, table: str, label: str) -> None:
    session = shell.session
    if session is None:
        return
    simple: dict[str, Callable[[], Any]] = {
        "zones": lambda: Zone(id=label),
        "supplies": lambda: convert({"id": label, "volts": "230 V", "rating": "16 A"}, Supply),
    }
    if table in simple:
        _take(shell, table, simple[table]())
    elif table == "boxes":
        _add_box(shell, label)
    elif table == "racks":
        _add_rack(shell, label)
    elif table == "rack_units":
        choose_model(
            shell,
            ("amplifiers", "processors"),
            lambda model: _take(shell, "rack_units", RackUnit(id=label, model=model)),
            effect=lambda model: _by_a_line(session.present, RackUnit(id=label, model=model)),
        )
    else:
        _add_run(shell, label)


def _add_rack(shell: Shell, label: str) -> None:
    """Ask whether it is empty or arrives prewired; a rack as built comes with all its units and their models."""
    empty = ChoiceRow(EMPTY, ("empty", "", "its amplifiers are added one by one"))

    def rack(model: str) -> Rack:
        return Rack(id=label, as_built=None if model == EMPTY else model)

    def brings(model: str) -> tuple[str, ...]:
        session = shell.session
        if session is None:
            return ()
        return shell.foretold(lambda: _with(session.present, "racks", rack(model)))

    choose_model(shell, ("built_racks",), lambda model: _take(shell, "racks", rack(model)), (empty,), brings)


def _add_box(shell: Shell, label: str) -> None:
    """Ask for model, zone and side; a box that no library knows goes by the ohms and watts of its label."""
    unknown = ChoiceRow(NOT_IN_THE_LIBRARY, ("not in the library", "ohms and watts", "from the label on the box"))

    def with_model(model: str) -> None:
        if model == NOT_IN_THE_LIBRARY:
            unknown_box(shell, label)
        else:
            _choose(shell, "zones", "in which zone", lambda zone: _ask_side(shell, label, model, zone))

    choose_model(shell, ("loudspeakers",), with_model, (unknown,))


def _ask_side(shell: Shell, label: str, model: str, zone: str) -> None:
    """Ask for the side: boxes of one side may share an output, those of two are kept apart."""
    session = shell.session
    if session is None:
        return
    show = session.present
    sides = [box.side for box in show.boxes if box.zone == zone]
    signals = [side for item in show.zones if item.id == zone for side in item.signals]
    likely = ["", "left", "right"] if sides and not sides[-1] else ["left", "right", ""]
    if sides and sides[-1] == "left" and sides.count("right") < sides.count("left"):
        likely = ["right", "left", ""]
    spoken = side_of_label(show, label)
    first = [spoken] if spoken else []
    options = [
        ChoiceRow(side or NO_SIDE, (side or "no side", f"{label} looks like it" if side == spoken else ""))
        for side in dict.fromkeys((*first, *likely, *sides, *signals))
    ]
    options.append(ChoiceRow(ANOTHER_SIDE, ("another", "type its name")))

    def made(side: str) -> Box:
        return Box(id=label, model=model, zone=zone, side="" if side == NO_SIDE else side)

    def take(side: str) -> None:
        if side == ANOTHER_SIDE:
            shell.ask(TextQuestion(f"{label}: name of the side", "", _side_echo), lambda text: take(text.strip()))
        else:
            _take(shell, "boxes", made(side))

    shell.choose(
        f"{label}: on which side",
        options,
        take,
        lambda side: () if side == ANOTHER_SIDE else _by_a_line(show, made(side)),
    )


def _by_a_line(show: Show, thing: Any) -> tuple[str, ...]:
    """Say the line that would have added it, so that it is learned."""
    return (f"the same by a line: {line_of(show, thing)}",)


def _side_echo(text: str) -> str:
    """Say a side back before it is used. Raises DocumentError for a name that the file could not hold."""
    made = convert({"id": "B", "zone": "z", "side": text.strip()}, Box)
    if not made.side:
        raise DocumentError("expected the name of a side, such as north")
    return f"a side of its own: '{made.side}'"


def unknown_box(shell: Shell, label: str) -> None:
    """Add a box by the ohms and watts that its label says."""

    def look(text: str) -> str:
        ohms, _, watts = text.partition(",")
        convert({"id": label, "zone": "z", "unknown": {"impedance": ohms.strip(), "continuous": watts.strip()}}, Box)
        return "every figure that rests on it will say: assumed"

    def take(text: str) -> None:
        ohms, _, watts = (part.strip() for part in text.partition(","))
        plain = {"id": label, "unknown": {"impedance": ohms, "continuous": watts}}
        _choose(
            shell, "zones", "in which zone", lambda zone: _take(shell, "boxes", convert(plain | {"zone": zone}, Box))
        )

    shell.ask(TextQuestion(f"{label}: ohms, watts from its label", "8 ohm, 250 W", look), take)


def _add_run(shell: Shell, label: str) -> None:
    session = shell.session
    if session is None:
        return
    if not any(True for _ in starts(session.present)):
        shell.note("there is no amplifier with connectors yet: a, then amplifier or processor")
        return
    show = session.present
    taken = {run.start: run.id for run in show.runs}
    options = [
        ChoiceRow(
            start.name,
            (start.name, _outputs_text(start), f"{taken[start.name]} is on it" if start.name in taken else "free"),
        )
        for start in sorted(starts(show), key=lambda start: start.name in taken)
    ]
    fed = {step.box: run.id for run in show.runs for step in run.path if step.box}
    boxes = [
        ChoiceRow(
            box.id,
            (
                box.id,
                f"{box.zone} {box.side}".strip(),
                f"on {fed[box.id]}" if box.id in fed else "nothing feeds it yet",
            ),
        )
        for box in sorted(show.boxes, key=lambda box: box.id in fed)
    ]

    def from_here(start: str) -> None:
        if not boxes:
            shell.note("there is no box yet: add one first")
            return
        shell.choose(
            f"{start}: to which box",
            boxes,
            lambda box: choose_model(shell, ("cables",), lambda cable: _ask_length(shell, label, start, box, cable)),
        )

    shell.choose("from which connector", options, from_here)


def _outputs_text(start: Start) -> str:
    """Name the outputs that a connector carries, a pin pair each."""
    return f"{start.model}: {', '.join(start.outputs) or 'no output'}"


def _ask_length(shell: Shell, label: str, start: str, box: str, cable: str) -> None:
    def make(text: str) -> Run:
        return convert(
            {"id": label, "from": start, "path": [{"cable": cable, "length": text.strip(), "box": box}]}, Run
        )

    def look(text: str) -> str:
        session = shell.session
        run = make(text)
        return _by_a_line(session.present, run)[0] if session else ""

    units = likely_units(shell.session.present, "length") if shell.session else ("m", "ft")
    question = TextQuestion(f"length of {cable} to {box}", "10 m" if units[0] == "m" else "30 ft", look, units=units)
    shell.ask(question, lambda text: _take(shell, "runs", make(text)))


def _take(shell: Shell, table: str, thing: Any) -> None:
    """Add a thing, with the models that it needs from the library."""
    session = shell.session
    if session is None:
        return
    before = session.present
    done = shell.apply(f"{WORDS[table]} {thing.id} added", lambda: _with(before, table, thing))
    said = shell.said
    if done:
        shell.show_new(table, thing.id)
    # The screen says something of its own when it comes back from the questions, and when the cursor moves.
    shell.later(shell.say, said)


def _with(show: Show, table: str, thing: Any) -> Show:
    return borrowed(with_thing(show, table, thing), find_model)[0]


def _choose(shell: Shell, table: str, title: str, then: Callable[[str], None]) -> None:
    session = shell.session
    if session is None:
        return
    options = [
        ChoiceRow(thing.id, (thing.id, getattr(thing, "model", None) or ""))
        for thing in getattr(session.present, table)
    ]
    if not options:
        shell.note(f"there is no {WORDS[table]} yet: add one first")
        return
    shell.choose(title, options, then)


def choose_model(
    shell: Shell,
    tables: Sequence[str],
    then: Callable[[str], None],
    first: Sequence[ChoiceRow] = (),
    effect: Effect | None = None,
) -> None:
    """Choose a model of the show or of the gear library; ``first`` are other choices, on top."""
    session = shell.session
    if session is None:
        return
    here = {model.id: model for table in tables for model in getattr(session.present, table)}
    library = {entry.model.id: entry.model for entry in every() if f"{entry.kind}s" in tables}
    options = [
        ChoiceRow(name, (name, figures_text(model), model.description))
        for name, model in (here | library | here).items()
    ]
    shell.choose("which model", [*first, *options], then, effect)


def _add_model(shell: Shell, table: str) -> None:
    tables = MODEL_TABLES if table == "stock" else (table,)

    def take(model: str) -> None:
        session = shell.session
        if session is None:
            return
        found = models_by_id(session.present).get(model) or find_model(model)
        if found is None:
            return
        home = next(name for name in MODEL_TABLES if isinstance(found, _kind(name)))
        shell.apply(f"model {model} taken in", lambda: with_thing(session.present, home, found))

    choose_model(shell, tables, take)


def _kind(table: str) -> type:
    from fieldkit.gear.model_file import KINDS

    return KINDS[table.removesuffix("s")]
