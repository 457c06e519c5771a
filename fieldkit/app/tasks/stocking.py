"""What can be done to the stock: how many, single items, out of service, unknown boxes, models of one's own."""

from __future__ import annotations

import msgspec

from fieldkit.app.addresses import Address, with_value, without_row
from fieldkit.app.dialogs.editor import Editor
from fieldkit.app.tasks.editing import Editing
from fieldkit.app.widgets.rows import Rows
from fieldkit.errors import UnusableError
from fieldkit.gear.library import LibraryError, every, keep
from fieldkit.gear.wording import to_plain
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Stock
from fieldkit.show.edits import with_thing

MOST = 100_000


class Stocking(Editing):
    """What the screen of the stock does; the row under the cursor says to what."""

    def _here(self) -> tuple[str, str, str]:
        """Give table, name and length of the row: of a stock entry, ``stock`` and its place."""
        table, _, rest = self._frame.query_one(Rows).key.partition(" ")
        model, _, length = rest.partition(" ")
        return table, model, length

    def _entries(self) -> list[tuple[int, Stock]]:
        """List the stock entries that the row under the cursor stands for, with their places."""
        session = self._frame.session
        table, name, length = self._here()
        if session is None or not name:
            return []
        if table == "stock":
            return [(int(name), session.present.stock[int(name)])]
        return [
            (place, item)
            for place, item in enumerate(session.present.stock)
            if item.model == name and (item.length or "") == length
        ]

    def _model(self) -> str:
        table, name, _ = self._here()
        entries = self._entries()
        return entries[0][1].model if table == "stock" and entries else name

    def action_single(self) -> None:
        """Add one single item by its serial."""
        session, model = self._frame.session, self._model()
        if session is None or not model:
            return

        def look(text: str) -> str:
            if not text.strip():
                raise UnusableError("expected what stands on the item: a serial or a shop number")
            if any(item.model == model and item.serial == text.strip() for item in session.present.stock):
                raise UnusableError("there is such an item already")
            return "one more in stock, by itself"

        def take(text: str) -> None:
            item = Stock(model=model, owned=1, serial=text.strip())
            self._frame.fieldkit.apply(
                f"item {text.strip()} of {model} added",
                lambda: msgspec.structs.replace(session.present, stock=(*session.present.stock, item)),
            )

        self._frame.fieldkit.ask(f"serial of the {model}", "", look, take)

    def action_out(self) -> None:
        """Take a single item out of service or back; of others, say how many are out."""
        session, entries = self._frame.session, self._entries()
        if session is None or not entries:
            self._frame.note("there is no stock of this yet: n says how many there are")
            return
        place, entry = next((pair for pair in entries if pair[1].serial == "" or len(entries) == 1), entries[0])
        if entry.serial:
            word = "back in service" if entry.out else "out of service"
            self._put(place, f"{entry.serial} of {entry.model} {word}", "out", 0 if entry.out else 1)
            return

        def look(text: str) -> str:
            total = entry.owned + entry.hired
            if not text.strip().isdecimal() or int(text) > total:
                raise UnusableError(f"expected a whole number up to {total}, got '{text[:40]}'")
            return f"of {total}"

        self._frame.fieldkit.ask(
            f"how many {entry.model} are out of service",
            str(entry.out),
            look,
            lambda text: self._put(place, f"{text.strip()} {entry.model} out of service", "out", int(text)),
        )

    def _put(self, place: int, label: str, name: str, value: object) -> None:
        session = self._frame.session
        if session is not None:
            self._frame.fieldkit.apply(
                label, lambda: with_value(session.present, Address("stock", str(place)), name, value)
            )

    def action_model(self) -> None:
        """Take a model in."""
        self.add("stock")

    def action_copy(self) -> None:
        """Make another model like this one, under another name."""
        session, name = self._frame.session, self._model()
        if session is None or not name:
            return
        models = models_by_id(session.present)
        model = models[name]
        home = next(table for table in MODEL_TABLES if model in getattr(session.present, table))

        def look(text: str) -> str:
            made = convert(to_plain(model) | {"id": text.strip()}, type(model))
            if made.id in models:
                raise UnusableError(f"there is a model '{made.id}' already")
            return f"like {name}; enter opens it"

        def take(text: str) -> None:
            made = convert(to_plain(model) | {"id": text.strip()}, type(model))
            if self._frame.fieldkit.apply(
                f"model {made.id} like {name}", lambda: with_thing(session.present, home, made)
            ):
                self._frame.app.push_screen(Editor(Address(home, made.id)))

        self._frame.fieldkit.ask(f"name of the model like {name}", f"{name}-2", look, take)

    def action_keep(self) -> None:
        """Keep the model in the user's own gear library."""
        session, name = self._frame.session, self._model()
        if session is None or not name:
            return
        model = models_by_id(session.present)[name]

        def keep_it(*, replace: bool) -> None:
            try:
                path = keep(model, replace=replace)
            except LibraryError as error:
                self._frame.note(f"! {error}")
            else:
                self._frame.note(f"{name} is in your gear library: {path}")

        if any(entry.own and entry.model.id == name for entry in every()):
            said = ["your gear library has a model of this name: it is replaced"]
            self._frame.fieldkit.confirm(f"keep {name}", said, lambda: keep_it(replace=True), "replace it")
        else:
            keep_it(replace=False)

    def action_remove(self) -> None:
        """Remove the model, or the entry of its stock."""
        session = self._frame.session
        table, name, _ = self._here()
        if session is None or not name:
            return
        if table == "stock":
            entry = session.present.stock[int(name)]
            what = f"item {entry.serial}" if entry.serial else "stock entry"
            self._frame.fieldkit.apply(
                f"{what} of {entry.model} removed", lambda: without_row(session.present, "stock", int(name))
            )
        else:
            self.remove_thing(table, name)

    def action_count(self) -> None:
        """Say how many are owned."""
        session, model = self._frame.session, self._model()
        if session is None or not model:
            return
        _, _, length = self._here()
        plain = next(((place, item) for place, item in self._entries() if not item.serial), None)

        def look(text: str) -> str:
            if not text.strip().isdecimal() or int(text) > MOST:
                raise UnusableError(f"expected a whole number up to {MOST}, got '{text[:40]}'")
            return "owned, hired ones not counted"

        def take(text: str) -> None:
            if plain is not None:
                self._put(plain[0], f"{model}: {text.strip()} owned", "owned", int(text))
                return
            item = convert({"model": model, "owned": int(text)} | ({"length": length} if length else {}), Stock)
            self._frame.fieldkit.apply(
                f"{model}: {text.strip()} owned",
                lambda: msgspec.structs.replace(session.present, stock=(*session.present.stock, item)),
            )

        self._frame.fieldkit.ask(f"how many {model} {length}".rstrip(), str(plain[1].owned if plain else 0), look, take)

    def action_unknown(self) -> None:
        """Add a box by ohms and watts."""
        self._ask_label("boxes", self.unknown_box)
