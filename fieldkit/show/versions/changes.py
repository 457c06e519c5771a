"""What changed between two versions of a show, by thing and field, each change said in the words of the trade.

``differences(old, new, library)`` lists it. ``library`` is ``gear.library.find``: a model that the program copied out
of the gear library into one of the two is no change that anybody made. Without it every model is compared.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Literal

import msgspec

from fieldkit.show.borrowing import borrowed, look_up
from fieldkit.show.document import MODEL_TABLES, TABLE_WORDS, Model, Show
from fieldkit.show.versions.renames import Rename, followed, renames
from fieldkit.show.versions.tree import TABLES, NamedRows, Node, Planted

Library = Callable[[str], Model | None]
Kind = Literal["added", "removed", "changed", "renamed", "order"]
Side = Literal["mine", "theirs", "both"]

ORDER = "\0order"
"""In place of a name at the end of a path: the order of the rows there, as a list of their names."""

"""What one thing of a table is called."""

NOTHING = "nothing"
NOT_SAID = "not said"


class Change(msgspec.Struct, frozen=True):
    """One thing or one field that differs."""

    path: tuple[str, ...]
    """Where: table, name of the row, field, and on inwards; of a rename: nothing, table, earlier label."""
    kind: Kind
    thing: str
    """In words: ``box ML2``."""
    field: str
    """In words: ``presets low``; empty where it is the whole thing."""
    before: Node
    """Plain value, tree or row; None where there was nothing."""
    after: Node
    side: Side = "mine"

    @property
    def name(self) -> tuple[str, ...]:
        """Names it among the changes of both sides."""
        return (self.side, *self.path)

    @property
    def is_element(self) -> bool:
        """Whether it is a name in a list of names."""
        return self.kind in {"added", "removed"} and self.path[-1].partition("\0")[0] in (self.before, self.after)

    @property
    def says(self) -> str:
        """One line: ``box ML2: level -3 dB → -6 dB``."""
        if self.kind == "renamed":
            return f"{self.thing}: renamed to {self.after}"
        if self.kind == "order":
            return f"{self.thing}: other order of {self.field}"
        if not self.field:
            held = self.after if self.kind == "added" else self.before
            return f"{self.thing} {self.kind}" + (f": {words(held)}" if self.kind == "added" else "")
        if self.path[-1].startswith("gap "):
            return f"{self.thing}: {self.field} comes {words(self.after)}"
        if self.path[-1].startswith("step ") and self.after is None:
            return f"{self.thing}: {self.field} goes: {words(self.before)}"
        if self.is_element:
            return f"{self.thing}: {self.field} {self.kind}"
        before, after = words(self.before), words(self.after)
        if before == after:  # an empty list says something, a field that is left out leaves it to be guessed
            before, after = (
                NOT_SAID if side is None else said for side, said in ((self.before, before), (self.after, after))
            )
        return f"{self.thing}: {self.field} {before} → {after}"


def differences(old: Show, new: Show, library: Library | None = None) -> tuple[Change, ...]:
    """List what changed, in the order of the file: renamed things first, then the changes beside their new names.

    Where references do not hold in ``old`` or ``new`` nothing is said of it: they are compared as they are.
    """
    if library is not None:
        old, new, _ = levelled(old, new, new, library)
    names = renames(old, new)
    planted = Planted()
    base = planted.tree(followed(old, names))
    return (*map(renaming, names), *changed(base, planted.tree(new, base)))


def renaming(name: Rename, side: Side = "mine") -> Change:
    """Write a rename as a change."""
    thing = f"{TABLE_WORDS[name.table]} {name.old}"
    return Change(("", name.table, name.old), "renamed", thing, "label", name.old, name.new, side)


def levelled(base: Show, mine: Show, theirs: Show, library: Library) -> tuple[Show, Show, Show]:
    """Let three versions carry the same copies of the gear library, as if they had from the first.

    A model that the base does not carry, and that stands in another version word for word as the library has it, was
    copied there by the program. What somebody made of it afterwards is a change to the copy. Raises FileError where the
    library's file of a model cannot be used.
    """
    shows = [borrowed(show, library)[0] for show in (base, mine, theirs)]
    for table in MODEL_TABLES:
        had = {model.id for model in getattr(shows[0], table)}
        copies: dict[str, Any] = {}
        for show in shows[1:]:
            for model in getattr(show, table):
                if model.id not in had and look_up(model.id, library) == model:
                    copies.setdefault(model.id, model)
        if copies:
            for place, show in enumerate(shows):
                here = getattr(show, table)
                lacking = [model for name, model in copies.items() if name not in {item.id for item in here}]
                shows[place] = msgspec.structs.replace(show, **{table: (*here, *lacking)})
    return shows[0], shows[1], shows[2]


def changed(old: dict[str, Node], new: dict[str, Node], side: Side = "mine") -> Iterator[Change]:
    """List the changes between two trees."""
    for table in ("show", *TABLES):
        if old[table] is not new[table]:
            yield from _between(old[table], new[table], (table,), (), side)


def _between(old: Node, new: Node, path: tuple[str, ...], around: tuple[Node, ...], side: Side) -> Iterator[Change]:
    if old is new or (old == new and not isinstance(old, dict)):
        return
    if not (
        isinstance(old, dict) and isinstance(new, dict) and isinstance(old, NamedRows) == isinstance(new, NamedRows)
    ):
        yield _field_change(path, old, new, around, side)
        return
    for key in (*old, *(key for key in new if key not in old)):
        yield from _between(old.get(key), new.get(key), (*path, key), (*around, old or new), side)
    if isinstance(old, NamedRows):
        one = [key for key in old if key in new]
        other = [key for key in new if key in old]
        if one != other:
            yield _order_change((*path, ORDER), one, other, (*around, old), side)


def _order_change(path: tuple[str, ...], old: Node, new: Node, around: tuple[Node, ...], side: Side) -> Change:
    table = path[0]
    inner = path[1:-1] if table == "show" else path[2:-1]
    field = " ".join(map(_field, inner)) or f"the {table.replace('_', ' ')}"
    return Change(path, "order", thing_words(path, around), field, old, new, side)


def _field_change(path: tuple[str, ...], old: Node, new: Node, around: tuple[Node, ...], side: Side) -> Change:
    kind: Kind = "added" if old is None else "removed" if new is None else "changed"
    whole = new if len(path) == 2 and old is None else old
    inside = (*around, whole)
    return Change(path, kind, thing_words(path, inside), field_words(path), old, new, side)


def thing_words(path: tuple[str, ...], around: Sequence[Node]) -> str:
    """Name the thing on a path: ``box ML2``, ``stock 20 m four-core-2.5``, ``reading W1/1 at amp``."""
    table = path[0]
    if table == "show" or len(path) < 2 or path[1] == ORDER:
        return "the show"
    row = around[1] if len(around) > 1 and isinstance(around[1], dict) else {}
    return f"{TABLE_WORDS[table]} {_row_words(table, path[1], row)}"


def _row_words(table: str, name: str, row: Node) -> str:
    if table == "stock":
        serial = f"no. {row['serial']}" if row.get("serial") else ""
        return " ".join(filter(None, (str(row.get("length", "")), str(row.get("model", "")), serial)))
    if table in {"readings", "log"}:
        what = f"{row.get('line', '')} at {row.get('at', '')}" if table == "readings" else f"of {row.get('at', '')}"
        time = row.get("time")
        return f"{what}, {words(row.get('kind'))}" + (f", {words(time)}" if time else "")
    return name.partition("\0")[0]


def field_words(path: tuple[str, ...]) -> str:
    """Name the field on a path: ``step 2 length``, ``presets low``."""
    inner = path[1:] if path[0] == "show" else path[2:]
    return " ".join(_field(part) for part in inner if part != "path")


def _field(part: str) -> str:
    if part.startswith("gap "):
        number = part.removeprefix("gap ")
        return "before the first step" if number == "0" else f"behind step {number}"
    name, *more = part.split("\0")
    return " ".join([name.replace("_", " "), *more]).strip()


def words(value: Node, longest: int = 160) -> str:
    """Write a value for people, on one line."""
    text = _words(value)
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _words(value: Node) -> str:
    if value is None or value in ("", {}, []):
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, list):
        return "; ".join(map(_words, value)) if any(isinstance(item, dict) for item in value) else " ".join(value)
    if isinstance(value, NamedRows):
        return _words([part for item in value.values() for part in (item if isinstance(item, list) else [item])])
    if isinstance(value, dict):
        said = {key: inner for key, inner in value.items() if inner not in ("", False, None) and inner not in ({}, [])}
        return ", ".join(f"{key.replace('_', ' ')} {_words(inner)}" for key, inner in said.items() if key != "id")
    return str(value)
