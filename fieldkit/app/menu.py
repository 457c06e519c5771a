"""The menu of all that can be done: here first, then on every other screen; found by any word for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import msgspec
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input

from fieldkit import guide
from fieldkit.app.action_table import EVERYWHERE, NAMES, actions_at
from fieldkit.app.actions import Action, function_key, key_text
from fieldkit.app.dialogs.windows import ChoiceRow, Choose, Read
from fieldkit.app.screens import SCREENS
from fieldkit.app.screens.frame import MainScreen
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Rows
from fieldkit.app.workbench import Workbench
from fieldkit.reports.cards import labels
from fieldkit.show.document import MODEL_TABLES
from fieldkit.text.words import folded

HERE, ALL_SCREENS = "here", "everywhere"
ABOUT_LINES = 3
"""Lines of help below the list, where there is no room beside it."""
BESIDE = 44
FARTHER = 2
"""So much better must something elsewhere fit than what can be done here, to stand before it."""
SHORTEST_SEARCH = 2
"""Labels, findings and models join in from so many letters on."""


class MenuEntry(msgspec.Struct, frozen=True):
    """A line of the menu: something that can be done, or looked at."""

    name: str
    """What it is known by in the list, and in tests."""
    keys: str
    label: str
    where: str
    help: str
    do: Callable[[], object]
    words: str = ""
    """Other words by which it is found."""

    def rank(self, typed: list[str]) -> int | None:
        """Say how well it fits what is typed, 0 best; None where it does not."""
        label, words, rest = folded(self.label), folded(self.words).split(), folded(f"{self.help} {self.where}")
        worst = 0
        for part in typed:
            if part == folded(self.keys) or label.startswith(part):
                fit = 0
            elif part in words or any(word.startswith(part) for word in label.split()):
                fit = 1
            elif any(word.startswith(part) for word in words):
                fit = 2
            elif any(word.startswith(part) for word in rest.split()):
                fit = 3
            elif len(part) > SHORTEST_SEARCH and part in f"{label} {' '.join(words)} {rest}":
                fit = 4
            else:
                return None
            worst = max(worst, fit)
        return worst if self.where in {HERE, ALL_SCREENS} else worst + FARTHER


class ActionMenu(Choose):
    """The list of all that can be done, with the help of the line under the cursor."""

    DEFAULT_CSS = f"""
    ActionMenu #about {{ height: {ABOUT_LINES}; color: $text-muted; }}
    ActionMenu Horizontal {{ height: 1fr; }}
    ActionMenu #beside {{ width: {BESIDE}; height: 1fr; padding: 0 0 0 2; display: none; }}
    ActionMenu.-wide #about {{ display: none; }}
    ActionMenu.-wide #beside {{ display: block; }}
    """

    def __init__(self, title: str, entries: list[MenuEntry], found: Callable[[], list[MenuEntry]]) -> None:
        """``found`` gives the labels, findings and models of the show, once somebody has typed."""
        self.entries = {entry.name: entry for entry in entries}
        self._actions, self._found = tuple(self.entries), found
        super().__init__(title, [_row(entry) for entry in entries])

    def compose(self) -> ComposeResult:
        """Lay out field, list and help."""
        with Vertical():
            yield TextLine(self.heading, classes="title")
            yield Input(placeholder="any word for it: quit, print, bridge, weather, hire, broken", id="filter")
            with Horizontal():
                yield Rows(
                    [ListColumn("", minimum=6), ListColumn("", share=1), ListColumn("")],
                    empty="nothing by that word; try another",
                )
                yield TextLine(id="beside")
            yield TextLine(id="about")
            yield TextLine("enter does it   esc leaves", classes="hint", id="said")

    def lines_wanted(self) -> int:
        """Take what there is: the list is longer than any screen."""
        return 0

    def matching(self, typed: str) -> list[ChoiceRow]:
        """List what fits, the best first; of what fits alike, what is here comes first."""
        parts = folded(typed).split()
        if not parts:
            return [_row(self.entries[name]) for name in self._actions]
        if len(self.entries) == len(self._actions) and len(typed.strip()) >= SHORTEST_SEARCH:
            self.entries |= {entry.name: entry for entry in self._found()}
        ranked = [(rank, entry) for entry in self.entries.values() if (rank := entry.rank(parts)) is not None]
        return [_row(entry) for _, entry in sorted(ranked, key=lambda pair: pair[0])]

    def on_rows_moved(self) -> None:
        """Say what the line under the cursor does."""
        self.say_about()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Make the list shorter, and say what its first line does."""
        super().on_input_changed(event)
        self.say_about()

    def on_resize(self) -> None:
        """Break the help anew."""
        self.call_after_refresh(self.say_about)

    def say_about(self) -> None:
        """Show the help of the line under the cursor, beside the list or below it."""
        entry = self.entries.get(self.query_one(Rows).key)
        text = entry.help if entry else ""
        beside = self.query_one("#beside", TextLine)
        beside.say("\n".join(broken(text, BESIDE - 3)))
        width = max(20, self.query_one("#about").size.width - 1)
        self.query_one("#about", TextLine).say("\n".join(broken(text, width)[:ABOUT_LINES]))


def _row(entry: MenuEntry) -> ChoiceRow:
    return ChoiceRow(entry.name, (entry.keys, entry.label, entry.where))


def show_menu(here: MainScreen) -> None:
    """Open the menu on a screen."""
    entries = entries_for(here)
    window = ActionMenu(f"what can be done: {NAMES[here.MODE]}", entries, lambda: list(_things(here.bench)))

    def chosen(name: str | None) -> object:
        return window.entries[name].do() if name is not None else None

    here.bench.push(window, chosen)


def entries_for(here: MainScreen) -> list[MenuEntry]:
    """List what can be done: on this screen, on every screen, then on the others; then what there is to read."""
    bench, name = here.bench, NAMES[here.MODE]
    entries = [MenuEntry("about", "", f"what {name} is for", HERE, here.PURPOSE, partial(_read_about, here), "help")]
    entries += [_action(here, action, "screen", HERE) for action in here.ACTIONS]
    own = {action.name for action in here.ACTIONS}
    entries += [_action(here, action, "app", ALL_SCREENS) for action in EVERYWHERE if action.name not in own]
    entries += [_screen(bench, *screen) for screen in SCREENS if screen[1] != here.MODE]
    entries += [
        _elsewhere(bench, mode, action)
        for _, mode, _ in SCREENS
        if mode != here.MODE
        for action in actions_at(mode)
        if action not in EVERYWHERE
    ]
    entries += [
        MenuEntry(f"guide {topic}", "", title, "guide", "A page to read", partial(_read_guide, bench, topic), topic)
        for topic, title in guide.topics().items()
    ]
    return entries


def _action(here: MainScreen, action: Action, scope: str, where: str) -> MenuEntry:
    async def do() -> None:
        await here.app.run_action(f"{scope}.{action.name}", here)

    keys = " ".join(key_text(key) for key in action.keys.split(","))
    return MenuEntry(action.name, keys, action.label, where, action.help, do, action.words)


def _screen(bench: Workbench, key: str, mode: str, name: str) -> MenuEntry:
    return MenuEntry(
        f"go {mode}",
        f"{key} {function_key(key).upper()}",
        name,
        "screen",
        f"Go to the screen {name}",
        lambda: bench.go_to(mode),
    )


def _elsewhere(bench: Workbench, mode: str, action: Action) -> MenuEntry:
    """Make the line of an action of another screen: it goes there, and does it at the row where the cursor stands."""
    name = NAMES[mode]
    return MenuEntry(
        f"{mode} {action.name}",
        key_text(action.key),
        action.label,
        name,
        f"{action.help} (it goes to {name} and does it there)",
        lambda: bench.go_to(mode, then=lambda screen: getattr(screen, f"action_{action.name}")()),
        f"{action.words} {name}",
    )


def _read_guide(bench: Workbench, topic: str) -> None:
    bench.push(Read(f"guide: {topic}", [("", bench.safe(line)) for line in guide.page(topic).splitlines()]))


def _read_about(here: MainScreen) -> None:
    """Say what this screen is for, its keys and its words."""
    lines = [here.PURPOSE, "", "keys here"]
    lines += [f"  {key_text(action.key):<9} {action.help}" for action in here.ACTIONS if action.key]
    lines += ["  arrows, page up, page down, home, end: move", "  enter, esc: open; back"]
    if here.WORDS:
        lines += ["", "words", *(f"  {word:<16} {meaning}" for word, meaning in here.WORDS)]
    here.bench.read(f"what {NAMES[here.MODE]} is for", lines)


def _things(bench: Workbench) -> Iterator[MenuEntry]:
    """List labels, findings and models of the show that is open: choosing one shows it."""
    session = bench.session
    if session is None:
        return
    for label in labels(session.rig):
        yield MenuEntry(
            f"label {label.key}",
            "",
            label.id,
            label.kind,
            label.about or label.kind,
            partial(bench.show_card, label.kind, label.id),
        )
    for place, item in enumerate(session.findings):
        yield MenuEntry(
            f"finding {place}",
            "",
            bench.safe(f"{item.where.id}: {item.says}"),
            item.severity,
            bench.safe(f"{item.why} Fix: {item.fix}"),
            partial(bench.show_finding, item),
        )
    for table in MODEL_TABLES:
        for model in getattr(session.present, table):
            yield MenuEntry(
                f"model {table} {model.id}",
                "",
                model.id,
                "model",
                f"Change this model ({table.replace('_', ' ')})",
                partial(bench.edit, table, model.id),
                table,
            )
