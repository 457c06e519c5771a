"""What a screen is given: the open show, windows that ask, and what is done alike on every screen.

A screen types against this and needs nothing else of the application: ``self.bench.edit("boxes", "ML2")`` opens the
editor, ``self.bench.apply("what was done", lambda: show)`` takes a new show as one step of undo. Each tool is imported
when it is first used: the first screen needs none of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fieldkit.app.addresses import Address
from fieldkit.app.dialogs.windows import ChoiceRow
from fieldkit.app.shell import Shell, ShownScreen
from fieldkit.checks.finding import Finding
from fieldkit.formulas.figures import Figure


class Workbench(Shell):
    """A shell with the tools that every screen has at hand."""

    def go_to(self, mode: str, label: str = "", then: Callable[[ShownScreen], object] | None = None) -> None:
        """Go to a screen, by the name of its file; ``label`` is what it is opened at, ``then`` what is done there."""
        self.app.switch_mode(mode)
        if label:
            self.later(self._there, mode, lambda screen: screen.open_at(label))
        if then is not None:
            self.later(self._there, mode, then)

    def _there(self, mode: str, what: Callable[[ShownScreen], object]) -> None:
        if self.shown is not None and mode == self.shown.MODE:
            what(self.shown)
        else:  # it is still on its way
            self.later(self._there, mode, what)

    def edit(self, table: str, name: str) -> None:
        """Open a thing of the show, by its table and label, in the editor."""
        from fieldkit.app.tasks import editing

        editing.edit(self, table, name)

    def edit_at(self, address: Address) -> None:
        """Open what has no label of its own, such as an entry of the stock or the show itself, in the editor."""
        from fieldkit.app.dialogs.editor import Editor

        self.push(Editor(self, address))

    def edit_one_of(self, things: Sequence[tuple[str, str]]) -> None:
        """Choose which of several things, each by table and label, to edit."""
        from fieldkit.app.tasks import editing

        editing.edit_one_of(self, things)

    def edit_all(self, table: str, names: Sequence[str], then: Callable[[], object]) -> None:
        """Change one field of several things at once, as one step of undo; ``then`` comes after it."""
        from fieldkit.app.tasks import editing

        editing.edit_all(self, table, names, then)

    def add(self, table: str) -> None:
        """Ask for what a new thing cannot be without, and add it."""
        from fieldkit.app.tasks import adding

        adding.add(self, table)

    def add_one_of(self, tables: Sequence[str]) -> None:
        """Choose what kind of thing to add, by the tables of the show."""
        from fieldkit.app.tasks import adding

        adding.add_one_of(self, tables)

    def choose_or_type(
        self, title: str, options: Callable[[], Sequence[ChoiceRow]], chosen: Callable[[str], object]
    ) -> None:
        """Choose what to add from rows, or type lines that add it."""
        from fieldkit.app.tasks import entering

        entering.choose_or_type(self, title, options, chosen)

    def remove(self, table: str, name: str) -> None:
        """Remove a thing, after showing what goes with it."""
        from fieldkit.app.tasks import editing

        editing.remove(self, table, name)

    def remove_all(self, table: str, names: Sequence[str], then: Callable[[], object]) -> None:
        """Remove several things as one step, after showing what goes with them; ``then`` comes after it."""
        from fieldkit.app.tasks import editing

        editing.remove_all(self, table, names, then)

    def show_finding(self, item: Finding) -> None:
        """Show a finding whole, with the ways on from it: its fixes, and the things that it is about."""
        from fieldkit.app.tasks import editing

        editing.show_finding(self, item)

    def show_card(self, kind: str, name: str) -> None:
        """Show the card of a thing, by what it is and its label: what it is, what feeds it, what is on it."""
        from fieldkit.app.tasks import explaining

        explaining.show_card(self, kind, name)

    def explain(self, title: str, figures: Sequence[Figure]) -> None:
        """List figures, each followed down to what was typed and to its source."""
        from fieldkit.app.tasks import explaining

        explaining.explain(self, title, figures)
