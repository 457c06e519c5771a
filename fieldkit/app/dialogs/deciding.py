"""What two sides did to one show, change by change: each is taken as the one or the other has it.

``Deciding(merged, title)`` takes what ``show.merging.merge`` gives, and answers with the show as decided; nothing for
``esc``. It takes no show by itself: whoever asks applies the answer, as one step of undo.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical

from fieldkit.app.action_table import actions_at
from fieldkit.app.actions import bindings
from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.widgets.foretold import broken
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.show.document import Show
from fieldkit.show.versions.changes import Change
from fieldkit.show.versions.merging import Conflict, Merged, Names, Pick, settled

TO_DECIDE = "to decide"
LINES = 5
"""Of the change under the cursor, in full."""


class Deciding(Dialog[Show]):
    """The changes of two sides, what collides first."""

    DEFAULT_CSS = f"Deciding #whole {{ height: {LINES}; }}"
    BINDINGS: ClassVar = bindings("merge", actions_at("merge"))

    def __init__(self, merged: Merged, title: str, *, mine: str = "mine", theirs: str = "theirs") -> None:
        """``mine`` and ``theirs`` are what the sides are called: the unsaved work, say, and the file."""
        super().__init__()
        self.merged = merged
        self.heading = title
        self.sides = {"mine": mine, "theirs": theirs, "both": "both", TO_DECIDE: TO_DECIDE}
        self._conflicts: dict[str, Conflict] = {}
        """All that came up, in the order in which it did, so that no row goes from under the cursor."""

    def compose(self) -> ComposeResult:
        """Lay out title, list, the row in full, and the keys."""
        with Vertical():
            yield TextLine(self.heading, classes="title")
            yield Rows([ListColumn("taken"), ListColumn("change", share=1)], empty="both are the same")
            yield TextLine(id="whole")
            yield TextLine(id="said")
            yield TextLine("← mine  → theirs  < > all that is open  enter take  esc leave", classes="hint")

    def on_mount(self) -> None:
        """Begin at what is to be decided."""
        self.set_focus(self.query_one(Rows))
        self.call_after_refresh(self._fill)

    def on_resize(self) -> None:
        """Break the lines anew."""
        self.call_after_refresh(self._whole)

    def on_rows_moved(self) -> None:
        """Say the change under the cursor in full."""
        self._whole()

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Take the show as decided, unless something is open."""
        event.stop()
        left = len(self.merged.conflicts)
        if left:
            self.query_one("#said", TextLine).say(f"! {left} still to decide: ← takes mine, → theirs")
            self.query_one(Rows).move_to(self.merged.conflicts[0].name)
        else:
            self.dismiss(self.merged.show)

    def action_mine(self) -> None:
        """Take the change under the cursor as mine has it."""
        self._pick("mine")

    def action_theirs(self) -> None:
        """Take the change under the cursor as theirs has it."""
        self._pick("theirs")

    def action_all_mine(self) -> None:
        """Take all that is to be decided as mine has it."""
        self._pick_all("mine")

    def action_all_theirs(self) -> None:
        """Take all that is to be decided as theirs has it."""
        self._pick_all("theirs")

    def _pick(self, pick: Pick) -> None:
        """Take the change under the cursor as one side has it."""
        key = self.query_one(Rows).key
        if key in self._conflicts:
            self._settle({**self.merged.picks, key: pick}, self.merged.without)
            return
        change = self._changes().get(key)
        if change is not None and change.side != "both":
            out = {change.name} if change.side != pick else set()
            self._settle(self.merged.picks, (self.merged.without - {change.name}) | out)

    def _pick_all(self, pick: Pick) -> None:
        """Take all that is to be decided as one side has it."""
        while self.merged.conflicts:  # one decided may bring up another
            more = dict.fromkeys((conflict.name for conflict in self.merged.conflicts), pick)
            self._settle({**self.merged.picks, **more}, self.merged.without)

    def _settle(self, picks: Mapping[str, Pick], without: Names) -> None:
        self.merged = settled(self.merged, picks, without)
        self._fill()

    def _changes(self) -> dict[str, Change]:
        """List the changes that collide with nothing, by the keys of their rows."""
        colliding = {name for one in self._conflicts.values() for name in (*one.of_mine, *one.of_theirs)}
        return {"\0".join(change.name): change for change in self.merged.changes if change.name not in colliding}

    def _taken(self, key: str) -> str:
        """Say whose version of a row is taken."""
        if key in self._conflicts:
            return self.merged.picks.get(key, TO_DECIDE)
        change = self._changes().get(key)
        if change is None or change.side == "both":
            return "both"
        out = change.name in self.merged.without
        return {"mine": "theirs", "theirs": "mine"}[change.side] if out else change.side

    def _fill(self) -> None:
        present = {conflict.name: conflict for conflict in (*self.merged.conflicts, *self.merged.decided)}
        self._conflicts = {name: present[name] for name in (*self._conflicts, *present) if name in present}
        rows = [
            Row(name, (self.sides[self._taken(name)], conflict.says), "" if name in self.merged.picks else "error")
            for name, conflict in self._conflicts.items()
        ]
        for key, change in self._changes().items():
            taken = self._taken(key)
            left_out = change.side not in {taken, "both"}
            rows.append(Row(key, (self.sides[taken], f"{'not: ' if left_out else ''}{change.says}")))
        rows += [Row(f"remark {place}", ("note", text), "quiet") for place, text in enumerate(self.merged.remarks)]
        self.query_one(Rows).show(rows)
        left = len(self.merged.conflicts)
        self.query_one("#said", TextLine).say(f"{left} to decide" if left else "nothing is left to decide")
        self._whole()

    def _whole(self) -> None:
        """Show the row under the cursor in full, as far as there is room."""
        rows = self.query_one(Rows)
        key, width = rows.key, max(20, rows.size.width)
        conflict = self._conflicts.get(key)
        if conflict is not None:
            head = f"{conflict.thing} {conflict.field}".strip() + f": {conflict.why}"
            mine, theirs = (f"{self.sides[side]}:" for side in ("mine", "theirs"))
            was = [f"was:  {conflict.base}"] if conflict.base else []
            texts = [head, *was, f"{mine}  {conflict.mine}", f"{theirs}  {conflict.theirs}"]
        else:
            texts = [row.cells[1] for row in rows.rows if row.key == key]
        lines = [part for text in texts for part in broken(text, width)]
        if len(lines) > LINES:
            lines = [*lines[: LINES - 1], f"{lines[LINES - 1][: width - 2]} …"]
        self.query_one("#whole", TextLine).say("\n".join(lines))
