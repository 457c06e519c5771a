"""What can be asked from any screen: a label, the findings, all commands, help."""

from __future__ import annotations

from fieldkit import guide
from fieldkit.app.actions import EVERYWHERE, Action, function_key, key_text
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read
from fieldkit.app.screens import NAMES, SCREENS
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.widgets.rows import Rows
from fieldkit.app.workbench import Workbench
from fieldkit.reports.cards import labels
from fieldkit.reports.text import well
from fieldkit.show.document import MODEL_TABLES

TROUBLED = {"box", "run", "output", "unit", "zone", "rack", "cable end"}
"""Kinds of labels that a fault can be looked for at."""


def go_to(bench: Workbench) -> None:
    """Find a label and show its card."""
    if bench.session is None:
        bench.say("no show is open")
        return
    known = {label.key: label for label in labels(bench.session.rig)}
    options = [ChoiceRow(label.key, (label.id, label.kind, label.about)) for label in known.values()]
    bench.push(
        Choose("go to a label", options, at_once=True),
        lambda key: bench.show_card(known[key]) if key else None,
    )


def triage(here: MainScreen) -> None:
    """Look for a fault: at the thing of this row where that has a label, else at a label that is typed."""
    bench = here.bench
    if bench.session is None:
        bench.say("no show is open")
        return
    wanted = {label.id: label for label in labels(bench.session.rig) if label.kind in TROUBLED}
    row = here.main()
    words = row.key.split() if isinstance(row, Rows) else []
    name = next((part for word in words[::-1] for part in (word, word.partition("/")[0]) if part in wanted), None)
    if name is not None:
        _look_for(bench, name)
        return
    options = [ChoiceRow(label.id, (label.id, label.kind, label.about)) for label in wanted.values()]
    bench.push(
        Choose("something is wrong with", options, at_once=True),
        lambda name: _look_for(bench, name) if name else None,
    )


def _look_for(bench: Workbench, name: str) -> None:
    bench.go_to("triage", name)


def findings(bench: Workbench) -> None:
    """List the findings; enter goes to the cause."""
    if bench.session is None:
        bench.say("no show is open")
        return
    found = bench.session.findings
    if not found:
        bench.say(well(bench.session.rig))
        return
    options = [
        ChoiceRow(str(place), (item.severity, item.where.id, bench.safe(item.says))) for place, item in enumerate(found)
    ]
    bench.choose(f"{len(found)} findings, worst first", options, lambda key: bench.show_finding(found[int(key)]))


def palette(here: MainScreen) -> None:
    """Find any command, screen or label."""
    bench = here.bench
    actions = commands_here(here)
    options = [ChoiceRow(f"do {name}", (text, keys, help_text)) for name, text, keys, help_text in actions]
    if bench.session is not None:
        options += [
            ChoiceRow(f"to {label.key}", (label.id, label.kind, label.about)) for label in labels(bench.session.rig)
        ]
    session = bench.session
    known = {label.key: label for label in labels(session.rig)} if session else {}
    findings = session.findings if session else ()
    options += [
        ChoiceRow(f"see {place}", (item.where.id, item.severity, bench.safe(item.says)))
        for place, item in enumerate(findings)
    ]
    models = (
        [(table, model.id) for table in MODEL_TABLES for model in getattr(session.present, table)] if session else []
    )
    options += [ChoiceRow(f"edit {table} {name}", (name, "model", table)) for table, name in models]

    async def chosen(key: str | None) -> None:
        verb, _, rest = (key or "").partition(" ")
        if verb == "to":
            bench.show_card(known[rest])
        elif verb == "see":
            bench.show_finding(findings[int(rest)])
        elif verb == "edit":
            bench.edit(*rest.split(" ", 1))
        elif verb:
            await bench.app.run_action(rest, here)

    bench.push(Choose("any command, screen or label", options), chosen)


def commands_here(here: MainScreen) -> list[tuple[str, str, str, str]]:
    """List what can be done here: action, word, keys, help."""
    own = [("screen", action) for action in here.ACTIONS]
    everywhere = [("app", action) for action in EVERYWHERE]
    listed = [
        (f"{scope}.{action.name}", action.label, key_text(action.key), action.help)
        for scope, action in (*own, *everywhere)
    ]
    listed += [(f"app.screen('{mode}')", name, key, f"go to the screen {name}") for key, mode, name in SCREENS]
    return listed


def help_here(here: MainScreen) -> None:
    """Say what this screen is for, its keys and its words."""
    bench = here.bench
    lines = [here.PURPOSE, "", "keys here"]
    lines += [f"  {_keys(action):<16} {action.help}" for action in here.ACTIONS]
    lines += ["", "keys everywhere"]
    lines += [f"  {_keys(action):<16} {action.help}" for action in EVERYWHERE]
    lines += [f"  {f'{key} {function_key(key).upper()}':<16} {name}" for key, _, name in SCREENS]
    lines += ["  arrows h j k l   move; page up and down, home, end too", "  enter esc        open or edit; back"]
    if here.WORDS:
        lines += ["", "words", *(f"  {word:<16} {meaning}" for word, meaning in here.WORDS)]
    pages = [(topic, f"→ {title}") for topic, title in guide.topics().items()]
    shown = [("", line) for line in lines] + [("", ""), ("", "the guide: a page a task"), *pages]
    hint = "end, enter on → reads a page of the guide   arrows scroll   esc leaves"
    bench.push(Read(f"help: {NAMES[here.MODE]}", shown, hint), lambda topic: _read_guide(here, topic))


def _read_guide(here: MainScreen, topic: str | None) -> None:
    """Show a page of the guide; leaving it leads back to the help."""
    bench = here.bench
    if topic is None:
        return
    lines = [("", bench.safe(line)) for line in guide.page(topic).splitlines()]
    bench.push(Read(f"guide: {topic}", lines), lambda _: help_here(here))


def _keys(action: Action) -> str:
    return " ".join(key_text(key) for key in action.keys.split(","))
