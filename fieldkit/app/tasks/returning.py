"""Load-out: what came back is ticked off, row by row, with a key or a number; what is broken is put aside."""

from __future__ import annotations

from typing import Any, ClassVar

import msgspec
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical

from fieldkit.app.addresses import Address, with_value
from fieldkit.app.dialogs.windows import Dialog
from fieldkit.app.shell import Shell
from fieldkit.app.widgets.lines import TextLine
from fieldkit.app.widgets.rows import ListColumn, Row, Rows
from fieldkit.sheets.material import Material
from fieldkit.sheets.packing import goes_to, gone, pieces
from fieldkit.show.document import Show, Stock
from fieldkit.text.words import counted

KEYS = "space: all of it   a number, enter: so many   x: one is broken   esc leaves"


class Due(msgspec.Struct, frozen=True):
    """A row of the stock that is on the truck."""

    place: int
    item: Stock
    count: int

    @property
    def name(self) -> str:
        """What it is, in words."""
        return " ".join(filter(None, (self.item.model, self.item.length or "", self.item.serial)))


class Returns(Dialog[None]):
    """The stock that went out, and what came back of it."""

    BINDINGS: ClassVar[list[Any]] = []

    def __init__(self, shell: Shell) -> None:
        super().__init__()
        self.shell, self._typed = shell, ""

    def compose(self) -> ComposeResult:
        """Lay out title, list and keys."""
        numbers = (ListColumn(title, right=True) for title in ("out", "in", "missing", "broken"))
        with Vertical():
            yield TextLine("", classes="title", id="title")
            yield Rows(
                [ListColumn("what", minimum=20, share=1), *numbers, ListColumn("goes to", minimum=8)],
                empty="nothing of the stock is on the truck",
            )
            yield TextLine(id="whole")
            yield TextLine(KEYS, classes="hint", id="said")

    def on_mount(self) -> None:
        """Begin at the first row."""
        self._fill()
        self.set_focus(self.query_one(Rows))

    def _due(self) -> list[Due]:
        """List what is on the truck."""
        session = self.shell.session
        if session is None:
            return []
        material = Material(session.rig, session.findings)
        found = enumerate(gone(material, pieces(material)))
        return [Due(place, item, count) for place, (item, count) in found if count or item.out]

    def _fill(self) -> None:
        due = self._due()
        number = sum(item.item.back is not None for item in due)
        missing = sum(max(0, one.count - one.item.back) for one in due if one.item.back is not None)
        self.query_one("#title", TextLine).say(
            f"what came back: {number} of {len(due)} rows counted, {counted(missing, 'piece')} missing"
        )
        self.query_one(Rows).show([self._row(one) for one in due])
        self.on_rows_moved()

    def on_rows_moved(self) -> None:
        """Say whole what the row under the cursor has no room for, such as whose it is."""
        self.query_one("#whole", TextLine).say("; ".join(self.query_one(Rows).cut_off()))

    def on_resize(self) -> None:
        """Find anew what there is no room for."""
        self.call_after_refresh(self.on_rows_moved)

    def _row(self, one: Due) -> Row:
        item = one.item
        missing = "" if item.back is None else str(max(0, one.count - item.back))
        typed = self._typed if self._typed and self.query_one(Rows).key == str(one.place) else ""
        back = f"{typed}_" if typed else "" if item.back is None else str(item.back)
        cells = (one.name, str(one.count), back, missing, str(item.out or ""), goes_to(item))
        mark = "error" if missing not in {"", "0"} else "" if item.back is None else "quiet"
        return Row(str(one.place), tuple(map(self.shell.safe, cells)), mark)

    def _here(self) -> Due | None:
        key = self.query_one(Rows).key
        return next((one for one in self._due() if str(one.place) == key), None)

    def on_key(self, event: events.Key) -> None:
        """Tick a row, take a number, or put one aside."""
        one = self._here()
        if one is None or event.key in {"escape", "up", "down"}:
            self._typed = ""
            return
        if event.character is not None and event.character.isdecimal():
            self._typed = (self._typed + event.character)[:5]
        elif event.key == "backspace":
            self._typed = self._typed[:-1]
        elif event.key == "space":
            self._count(one, one.count)
        elif event.key == "x":
            self._put(one, f"{one.name}: one is broken", out=min(one.item.out + 1, one.item.owned + one.item.hired))
        else:
            return
        event.stop()
        self._fill()

    def on_rows_chosen(self, event: Rows.Chosen) -> None:
        """Take the number that was typed."""
        event.stop()
        one = self._here()
        if one is None:
            return
        if not self._typed:
            self.query_one("#said", TextLine).say("! type how many came back, then enter; space where all did")
            return
        if int(self._typed) > one.count:
            self.query_one("#said", TextLine).say(f"! {one.count} went out, {self._typed} cannot come back   {KEYS}")
            self._typed = ""
        else:
            self._count(one, int(self._typed))
        self._fill()

    def _count(self, one: Due, number: int) -> None:
        """Keep how many came back, and go on to the next row."""
        self._typed = ""
        self._put(one, f"{one.name}: {number} of {one.count} came back", back=number)
        self.query_one("#said", TextLine).say(KEYS)
        self.query_one(Rows).action_step(1)

    def _put(self, one: Due, label: str, **values: int) -> None:
        session = self.shell.session
        if session is None:
            return

        def changed() -> Show:
            show = session.present
            for name, value in values.items():
                show = with_value(show, Address("stock", str(one.place)), name, value)
            return show

        self.shell.apply(label, changed)
