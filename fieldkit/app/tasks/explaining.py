"""What a thing is, and where its numbers come from, down to what was typed and to the source."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.app.addresses import WORDS
from fieldkit.app.dialogs.windows import Read
from fieldkit.app.shell import Shell
from fieldkit.app.tasks.editing import edit
from fieldkit.formulas.figures import Figure
from fieldkit.reports.cards import card, places_of


def explain(shell: Shell, title: str, figures: Sequence[Figure]) -> None:
    """List figures; enter follows one to its own explanation."""
    style = shell.style
    lines = []
    for place, figure in enumerate(figures):
        value = style.value(figure.value, figure.unit, 4)
        assumed = ", assumed" if figure.assumed else ""
        lines.append((str(place), style.plain(f"{figure.label} = {value}{assumed}   [{figure.source}]")))

    def follow(key: str | None) -> None:
        if key is None:
            return
        figure = figures[int(key)]
        if figure.inputs:
            how = style.plain(f"{figure.label} = {style.value(figure.value, figure.unit, 6)}")
            explain(
                shell,
                f"{how}   {style.plain(figure.formula)}   [{style.plain(figure.source)}]",
                [item for _, item in figure.inputs],
            )
        else:
            shell.note(f"{figure.label}: {figure.source}")

    hint = "enter follows a number to where it comes from   esc goes back"
    shell.push(Read(title, lines, hint), follow)


def show_card(shell: Shell, kind: str, name: str) -> None:
    """Show the card of a thing, by what it is and its label."""
    session = shell.session
    if session is None:
        return
    lines = card(session.rig, session.findings, kind, name, shell.style)
    if not lines:
        shell.note(f"{kind} {name} has no card of its own".replace("  ", " "))
        return
    places = places_of(session.rig, kind, name)
    shown = [("", shell.safe(line)) for line in lines]
    # At the end, so that an enter after a label that was found while one typed does not open anything.
    shown += [("", "")] if places else []
    arrows = [shell.safe(f"→ edit {WORDS[table]} {name}") for table, name in places]
    shown += [(f"edit {number}", text) for number, text in enumerate(arrows)]

    def chosen(key: str | None) -> None:
        if key:
            edit(shell, *places[int(key.removeprefix("edit "))])

    hint = f"{'end, enter on → edits   ' if places else ''}arrows scroll   esc leaves"
    shell.push(Read(f"{name}: {kind}", shown, hint), chosen)
