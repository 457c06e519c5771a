"""Taking a thing out of a show with what hangs on it, and saying first what that is.

What becomes of each text that names the thing stands at the field (``gear.names``): here it is only carried out.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from fieldkit.gear.names import Kind, Names
from fieldkit.show.contents import all_units
from fieldkit.show.document import MODEL_TABLES, Run, Show
from fieldkit.show.edits import find, without_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.usage import users
from fieldkit.show.walker import DROP, KIND_OF, Known, owner_of, rewritten
from fieldkit.text.words import Path

_WORDS = {"boxes": "box", "runs": "run", "rack_units": "unit"}


class Removal(msgspec.Struct, frozen=True):
    """A show without a thing, and all that goes or changes with it."""

    show: Show
    consequences: tuple[str, ...]
    """One line each, in words: ``box ML1 goes``, ``run W1 goes on without it``."""


def removed(show: Show, table: str, name: str) -> Removal:
    """Take a thing out, and what cannot be without it. Raises DocumentError for a model that is in use."""
    find(show, table, name)
    if table in MODEL_TABLES:
        using = [
            f"{label} in {other}" for other, label in users(show, table, name) if other not in {"stock", *MODEL_TABLES}
        ]
        if using:
            raise DocumentError(f"'{name}' is in use: {', '.join(using[:6])}", thing=name)
    return _Removing(show, table, name).removal()


class _Removing:
    """One thing on its way out: first the things that cannot be without it, then every text that names it."""

    def __init__(self, show: Show, table: str, name: str) -> None:
        self.show, self.table, self.name = show, table, name
        self.kind: Kind = KIND_OF[table]
        self.units = _brought(show, name) if table == "racks" else frozenset()
        """Units that a rack as built brings, and that no table of the file has: they go with it, unsaid."""
        self.said: dict[str, None] = {}
        self.later: dict[str, None] = {}
        """What is said behind the runs: texts that become empty, rows that go."""
        self.without_box: dict[str, None] = {}
        """Runs that lead to the box that goes."""

    def removal(self) -> Removal:
        for table, name in self._things_that_go():
            if any(thing.id == name for thing in getattr(self.show, table)):
                self.said[f"{_WORDS[table]} {name} goes"] = None
                rest = removed(self.show, table, name)
                self.show = rest.show
                self.said.update(dict.fromkeys(rest.consequences))
        self._walk(self._take_out)
        self._trim_runs()
        self.said.update(self.later)
        if any(thing.id == self.name for thing in getattr(self.show, self.table)):
            self.show = without_thing(self.show, self.table, self.name)
        return Removal(self.show, tuple(self.said))

    def _walk(self, visit: Callable[[str, Names, Path], object]) -> None:
        known = Known(self.show, {unit.id: unit for unit in all_units(self.show)})
        kinds: frozenset[Kind] = frozenset({self.kind, *(("unit",) if self.units else ())})

        def look(text: str, names: Names, path: Path) -> object:
            named = known.named(text, names)[1]
            hit = (named == self.name and self.kind in names.kinds) or (named in self.units and "unit" in names.kinds)
            return visit(text, names, path) if hit else text

        self.show = rewritten(self.show, kinds, look)

    def _things_that_go(self) -> list[tuple[str, str]]:
        """List the things with a label that cannot be without this one, in the order of the file."""
        found: dict[tuple[str, str], None] = {}

        def note(text: str, names: Names, path: Path) -> str:
            if names.gone == "row" and str(path[0]) in _WORDS:
                found[str(path[0]), owner_of(self.show, path)] = None
            return text

        self._walk(note)
        return list(found)

    def _take_out(self, text: str, names: Names, path: Path) -> object:
        """Say what becomes of a text that names what goes, and give what stands there then."""
        if names.gone == "step":
            self.without_box[owner_of(self.show, path)] = None
            return None
        if names.says:
            self.later[names.says.format(owner=owner_of(self.show, path), text=text)] = None
        if names.form == "pieces":
            return text  # an adaptor that a signal goes through stays written there, as a word
        return None if names.gone == "blank" else DROP

    def _trim_runs(self) -> None:
        """Let runs that led to the box end before it, and those that lead to nobody any more go."""
        runs: list[Run] = []
        gone: list[str] = []
        for run in self.show.runs:
            if run.id not in self.without_box:
                runs.append(run)
                continue
            path = list(run.path)
            while path and path[-1].box is None:
                path.pop()
            if path:
                self.said[f"run {run.id} goes on without it"] = None
                runs.append(msgspec.structs.replace(run, path=tuple(path)))
            else:
                self.said[f"run {run.id} goes, with its cables"] = None
                runs.append(run)
                gone.append(run.id)
        self.show = msgspec.structs.replace(self.show, runs=tuple(runs))
        for name in gone:
            self.show = removed(self.show, "runs", name).show


def _brought(show: Show, rack: str) -> frozenset[str]:
    """Name the units that are there only because a rack as built brings them."""
    return frozenset({unit.id for unit in all_units(show) if unit.rack == rack} - {unit.id for unit in show.rack_units})
