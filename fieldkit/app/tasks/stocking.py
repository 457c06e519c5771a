"""What can be done to the stock: how many, single items, out of service, unknown boxes, models of one's own."""

from __future__ import annotations

import msgspec

from fieldkit.app.addresses import Address, with_value, without_row
from fieldkit.app.dialogs.windows import TextQuestion
from fieldkit.app.shell import Shell
from fieldkit.errors import UnusableError
from fieldkit.gear.library import LibraryError, every, keep
from fieldkit.gear.wording import to_plain
from fieldkit.show.contents import models_by_id
from fieldkit.show.decoding import convert
from fieldkit.show.document import MODEL_TABLES, Show, Stock
from fieldkit.show.edits import with_thing

MOST = 100_000


class StockRow(msgspec.Struct, frozen=True):
    """What a row of the inventory stands for: a model, a length of a cable, or one entry of the stock."""

    table: str = ""
    """The table of the model; ``stock`` for an entry."""
    name: str = ""
    """The model; of an entry its place. Empty where there is no row."""
    length: str = ""

    @classmethod
    def of(cls, key: str) -> StockRow:
        """Read the key of a row."""
        table, _, rest = key.partition(" ")
        name, _, length = rest.partition(" ")
        return cls(table, name, length)

    @property
    def is_entry(self) -> bool:
        """Whether it is one entry of the stock."""
        return self.table == "stock"

    def entries(self, show: Show) -> list[tuple[int, Stock]]:
        """List the stock entries that it stands for, with their places."""
        if not self.name:
            return []
        if self.is_entry:
            return [(int(self.name), show.stock[int(self.name)])]
        return [
            (place, item)
            for place, item in enumerate(show.stock)
            if item.model == self.name and (item.length or "") == self.length
        ]

    def model(self, show: Show) -> str:
        """Name its model."""
        return show.stock[int(self.name)].model if self.is_entry and self.name else self.name


def add_single(shell: Shell, row: StockRow) -> None:
    """Add one single item by its serial."""
    session = shell.session
    if session is None or not row.name:
        return
    model = row.model(session.present)

    def look(text: str) -> str:
        if not text.strip():
            raise UnusableError("expected what stands on the item: a serial or a shop number")
        if any(item.model == model and item.serial == text.strip() for item in session.present.stock):
            raise UnusableError("there is such an item already")
        return "one more in stock, by itself"

    def take(text: str) -> None:
        item = Stock(model=model, owned=1, serial=text.strip())
        _add(shell, f"item {text.strip()} of {model} added", item)

    shell.ask(TextQuestion(f"serial of the {model}", "", look), take)


def say_out(shell: Shell, row: StockRow) -> None:
    """Take a single item out of service or back; of others, say how many are out."""
    session = shell.session
    entries = row.entries(session.present) if session is not None else []
    if not entries:
        shell.note("there is no stock of this yet: s says how many there are")
        return
    place, entry = next((pair for pair in entries if pair[1].serial == "" or len(entries) == 1), entries[0])
    if entry.serial:
        word = "back in service" if entry.out else "out of service"
        _put(shell, place, f"{entry.serial} of {entry.model} {word}", "out", 0 if entry.out else 1)
        return

    def look(text: str) -> str:
        total = entry.owned + entry.hired
        if not text.strip().isdecimal() or int(text) > total:
            raise UnusableError(f"expected a whole number up to {total}, got '{text[:40]}'")
        return f"of {total}"

    def take(text: str) -> None:
        _put(shell, place, f"{text.strip()} {entry.model} out of service", "out", int(text))

    shell.ask(TextQuestion(f"how many {entry.model} are out of service", str(entry.out), look), take)


def say_owned(shell: Shell, row: StockRow) -> None:
    """Say how many are owned."""
    session = shell.session
    if session is None or not row.name:
        return
    model = row.model(session.present)
    plain = next(((place, item) for place, item in row.entries(session.present) if not item.serial), None)

    def look(text: str) -> str:
        if not text.strip().isdecimal() or int(text) > MOST:
            raise UnusableError(f"expected a whole number up to {MOST}, got '{text[:40]}'")
        return "owned, hired ones not counted"

    def take(text: str) -> None:
        label = f"{model}: {text.strip()} owned"
        if plain is not None:
            _put(shell, plain[0], label, "owned", int(text))
            return
        length = {"length": row.length} if row.length else {}
        _add(shell, label, convert({"model": model, "owned": int(text)} | length, Stock))

    title = f"how many {model} {row.length}".rstrip()
    shell.ask(TextQuestion(title, str(plain[1].owned if plain else 0), look), take)


def _add(shell: Shell, label: str, item: Stock) -> None:
    session = shell.session
    if session is not None:
        shell.apply(label, lambda: msgspec.structs.replace(session.present, stock=(*session.present.stock, item)))


def _put(shell: Shell, place: int, label: str, name: str, value: int) -> None:
    """Change one value of an entry."""
    session = shell.session
    if session is not None:
        shell.apply(label, lambda: with_value(session.present, Address("stock", str(place)), name, value))


def copy_model(shell: Shell, name: str) -> None:
    """Make another model like this one, under another name."""
    session = shell.session
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
        if shell.apply(f"model {made.id} like {name}", lambda: with_thing(session.present, home, made)):
            from fieldkit.app.dialogs.editor import Editor

            shell.push(Editor(shell, Address(home, made.id)))

    shell.ask(TextQuestion(f"name of the model like {name}", f"{name}-2", look), take)


def keep_model(shell: Shell, name: str) -> None:
    """Keep the model in the user's own gear library."""
    session = shell.session
    if session is None or not name:
        return
    model = models_by_id(session.present)[name]

    def keep_it(*, replace: bool) -> None:
        try:
            path = keep(model, replace=replace)
        except LibraryError as error:
            shell.note(f"! {error}")
        else:
            shell.note(f"{name} is in your gear library: {path}")

    if any(entry.own and entry.model.id == name for entry in every()):
        said = ["your gear library has a model of this name: it is replaced"]
        shell.confirm(f"keep {name}", said, lambda: keep_it(replace=True), "replace it")
    else:
        keep_it(replace=False)


def remove_row(shell: Shell, row: StockRow) -> None:
    """Remove the model, or the entry of its stock."""
    session = shell.session
    if session is None or not row.name:
        return
    if not row.is_entry:
        from fieldkit.app.tasks.editing import remove

        remove(shell, row.table, row.name)
        return
    place = int(row.name)
    entry = session.present.stock[place]
    what = f"item {entry.serial}" if entry.serial else "stock entry"
    shell.apply(f"{what} of {entry.model} removed", lambda: without_row(session.present, "stock", place))
