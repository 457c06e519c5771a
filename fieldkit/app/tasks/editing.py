"""What screens that edit have in common: open, add, copy, remove, and change several things at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from fieldkit.app.addresses import WORDS, Address, with_value
from fieldkit.app.dialogs.editor import Editor
from fieldkit.app.dialogs.windows import ChoiceRow, Read, TextQuestion
from fieldkit.app.fields import Field, fields_of, likely_units, taken
from fieldkit.app.shell import Shell
from fieldkit.checks.finding import Finding
from fieldkit.planning.entry.words import row_of_labels
from fieldkit.planning.fixes.single_edits import ProvedFix, fixes_for
from fieldkit.reports.effects import NOTHING
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import MODEL_TABLES, RackUnit, Show
from fieldkit.show.edits import find, with_thing
from fieldkit.show.errors import ShowError
from fieldkit.show.removal import removed
from fieldkit.show.usage import relabelled
from fieldkit.text.words import counted

MOST_CONSEQUENCES = 14
"""Lines of a window that asks whether to remove something, on 24 lines of screen."""
MOST_BROUGHT = 1
"""Lines about what a fix does to figures."""
MOST_PLACES = 2
"""Ways on from a finding: more would push its text out of the window."""


def cause_of(item: Finding, show: Show) -> tuple[str, str] | None:
    """Find table and label of the thing that a finding is about; None where there is nothing to edit."""
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


def _on_output(rig: Rig, item: Finding) -> list[tuple[str, str]]:
    """List the runs and boxes on the output that a finding is about, since the fix is often there."""
    output = rig.output(item.where.id) if item.where.kind == "output" else None
    if output is None:
        return []
    runs = dict.fromkeys(("runs", solved.line.run.id) for solved in output.lines)
    boxes = dict.fromkeys(("boxes", load.box.id) for load in output.loads)
    return [*runs, *boxes][:MOST_PLACES]


def edit(shell: Shell, table: str, name: str) -> None:
    """Open a thing in the editor."""
    session = shell.session
    if session is None:
        return
    if table == "rack_units" and name not in {unit.id for unit in session.present.rack_units}:
        # A unit that a rack as built brings gets a table of its own once somebody changes it.
        unit = next(unit for unit in all_units(session.present) if unit.id == name)
        own = RackUnit(id=unit.id, model=unit.model)
        shell.apply(f"{name} written out", lambda: with_thing(session.present, "rack_units", own))
    shell.push(Editor(shell, Address(table, name)))


def show_finding(shell: Shell, item: Finding) -> None:
    """Show a finding whole; ``enter`` on an arrow takes a fix, or edits the thing that it is about."""
    session = shell.session
    if session is None:
        return
    place = cause_of(item, session.present)
    fixes = fixes_for(session.rig, session.findings, item)
    lines: list[tuple[str, str]] = []
    for number, fix in enumerate(fixes):
        lines.append((f"fix {number}", f"→ {fix.label}   (then {_left(fix)})"))
        lines += [(f"fix {number}", f"   {text}") for text in _brings(shell, fix)]
    places = [place] if place is not None else []
    places += [other for other in _on_output(session.rig, item) if other not in places]
    lines += [(f"edit {number}", f"→ edit {WORDS[table]} {name}") for number, (table, name) in enumerate(places)]
    lines += [("", ""), ("", item.says), ("", ""), ("", f"why: {item.why}"), ("", f"fix: {item.fix}")]
    shown = [(key, shell.safe(text)) for key, text in lines]
    hint = "enter on → does it   esc leaves" if fixes else "enter on → goes there   esc leaves"

    def follow(key: str | None) -> None:
        if key and key.startswith("edit "):
            edit(shell, *places[int(key.removeprefix("edit "))])
        elif key:
            fix = fixes[int(key.removeprefix("fix "))]
            shell.apply(fix.label, lambda: fix.show)

    shell.push(Read(f"{item.where.id}: {item.severity}", shown, hint), follow)


def _brings(shell: Shell, fix: ProvedFix) -> list[str]:
    """Say what a fix does to figures, in a few lines; the findings that are left are said beside it."""
    told = shell.foretold(lambda: fix.show)
    figures = [line for line in told if line != NOTHING and not line.startswith(("new ", "no more"))]
    return [line for line in figures if not line.endswith((" more note", " more notes"))][:MOST_BROUGHT]


def edit_all(shell: Shell, table: str, names: Sequence[str], then: Callable[[], object]) -> None:
    """Change one field of several things at once: one step to undo."""
    session = shell.session
    if session is None or not names:
        return
    fields = list(fields_of(find(session.present, table, names[0]), table, session.present))

    def with_all(field: Field, text: str) -> Show:
        show = session.present
        if field.name == "id":
            return relabelled(show, table, names, row_of_labels(text, len(names)))
        for name in names:
            show = with_value(show, Address(table, name), field.name, taken(field, text))
        return show

    def take(field: Field, text: str) -> None:
        label = (
            f"{field.name.replace('_', ' ')} of {len(names)} {WORDS[table]}es"
            if table == "boxes"
            else f"{field.name} of {len(names)}"
        )
        if shell.apply(label, lambda: with_all(field, text)):
            then()

    def foretell(field: Field, text: str) -> tuple[str, ...]:
        return shell.foretold(lambda: with_all(field, text))

    def look(field: Field, text: str) -> str:
        with_all(field, text)
        if field.name == "id":
            return ", ".join(f"{old} → {new}" for old, new in zip(names, row_of_labels(text, len(names)), strict=True))
        return f"= {text.strip() or '(left out)'}, for {', '.join(names)}"

    def chosen(name: str) -> None:
        field = next(item for item in fields if item.name == name)
        title = f"{field.name.replace('_', ' ')} of {', '.join(names)}"
        if field.choices:
            options = [ChoiceRow(choice, (choice,)) for choice in field.choices]
            shell.choose(title, options, lambda text: take(field, text), lambda text: foretell(field, text))
        else:
            shell.ask(
                TextQuestion(
                    title,
                    field.shown,
                    lambda text: look(field, text),
                    effect=lambda text: foretell(field, text),
                    units=likely_units(session.present, field.dimension),
                ),
                lambda text: take(field, text),
            )

    options = [
        ChoiceRow(field.name, (field.name.replace("_", " "), field.shown))
        for field in fields
        if field.kind not in {"rows", "table"}
    ]
    shell.choose(f"change what of {len(names)}", options, chosen)


def edit_one_of(shell: Shell, things: Sequence[tuple[str, str]]) -> None:
    """Choose which of several things to edit."""
    options = [ChoiceRow(f"{table} {name}", (name, WORDS[table])) for table, name in things]

    def chosen(key: str) -> None:
        table, _, name = key.partition(" ")
        edit(shell, table, name)

    shell.choose("edit", options, chosen)


def remove(shell: Shell, table: str, name: str) -> None:
    """Remove a thing, after showing what goes with it."""
    session = shell.session
    if session is None:
        return
    try:
        result = removed(session.present, table, name)
    except ShowError as error:
        shell.note(f"! {error}")
        return
    lines = _consequences(shell, result.consequences, result.show, "nothing else depends on it")
    shell.confirm(
        f"remove {WORDS[table]} {name}",
        lines,
        lambda: shell.apply(f"{WORDS[table]} {name} removed", lambda: result.show),
        "remove it",
    )


def remove_all(shell: Shell, table: str, names: Sequence[str], then: Callable[[], object]) -> None:
    """Remove several things as one step, after showing what goes with them."""
    session = shell.session
    if session is None:
        return
    show = session.present
    lines: list[str] = []
    for name in names:
        result = removed(show, table, name)
        show = result.show
        lines += result.consequences

    def take() -> None:
        if shell.apply(f"{', '.join(names)} removed", lambda: show):
            then()

    shown = _consequences(shell, dict.fromkeys(lines), show, "nothing else depends on them")
    shell.confirm(f"remove {', '.join(names)}", shown, take, "remove them")


def _consequences(shell: Shell, found: Iterable[str], show: Show, nothing: str) -> list[str]:
    """List what goes with what is removed, and what that does to the plan; no more than a window holds."""
    lines = list(found) or [nothing]
    told = [f"then {line}" for line in shell.foretold(lambda: show) if line != NOTHING]
    half = MOST_CONSEQUENCES // 2
    room = MOST_CONSEQUENCES - min(len(told), half)
    return [*_first(lines, room), *_first(told, MOST_CONSEQUENCES - min(len(lines), room))]


def _left(fix: ProvedFix) -> str:
    return f"{counted(fix.left[0], 'error')}, {counted(fix.left[1], 'warning')}"


def _first(lines: list[str], room: int) -> list[str]:
    """Return the first lines, and how many more there are."""
    return lines if len(lines) <= room else [*lines[: room - 1], f"and {len(lines) - room + 1} more"]
