"""The entry of a run, its words in the order of the way: ``run SR-1.A 15m ML1 5m ML2``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fieldkit.planning.entry.known import KnownWords
from fieldkit.planning.entry.made import Made, new_label
from fieldkit.planning.entry.places import made
from fieldkit.planning.entry.slots import model_of_words, passed_over, unit_wanted
from fieldkit.planning.entry.words import EntryError, EntryWord, is_bare_number, read_measure
from fieldkit.show.document import Run
from fieldkit.text.words import nearest, printable
from fieldkit.units import Length

_KEYWORDS = ("label", "cable", "adaptor", "panel", "socket", "shared")
_MODELS = {"cable": "cables", "adaptor": "adaptors", "panel": "panels"}


class _Way:
    """A run as far as its words have been read."""

    def __init__(self, known: KnownWords) -> None:
        self.known = known
        self.label: str | None = None
        self.start: str | None = None
        self.cable: str | None = None
        self.length: Length | None = None
        self.path: list[dict[str, Any]] = []

    def take(self, word: EntryWord) -> None:
        """Take a word that stands by itself."""
        text, known = word.text, self.known
        length = read_measure(Length, text)
        if isinstance(length, Length):
            self._lay()
            self.length = length
        elif self.start is None and text in known.starts:
            self.start = text
        elif text in known.ids("boxes"):
            self._reach(text)
        elif is_bare_number(text):
            raise EntryError(unit_wanted(text, Length))
        elif not self._model(text):
            self._new_word(text)

    def take_named(self, name: str, text: str) -> None:
        """Take a word behind its name."""
        if name == "label":
            self.label = text
        elif name in _MODELS:
            model = self.known.model(text, (_MODELS[name],))
            if model is None:
                offered = nearest(text, self.known.models((_MODELS[name],)))
                raise EntryError(f"expected a model of {name} after '{name}', got '{printable(text)}'{offered}")
            self._put(name, model)
        else:
            self._lay()
            if not self.path or (name == "socket" and "panel" not in self.path[-1]):
                raise EntryError(f"'{name}' belongs behind a panel")
            self.path[-1][name] = text

    def end(self) -> dict[str, Any]:
        """Write what the file would say of it. Raises EntryError for a way that ends in the air."""
        if self.start is None:
            self._no_output(self.label or "")
            raise EntryError("from which connector? Write it first, such as SR-1.A")
        self._lay()
        if not any("box" in step for step in self.path):
            raise EntryError("to which box? Write the length of the lead and the box, such as 15m ML1")
        if "box" not in self.path[-1]:
            raise EntryError("the run ends without a box: write the box behind the last length")
        return {"from": self.start, "path": self.path}

    def _reach(self, box: str) -> None:
        if any(step.get("box") == box for step in self.path):
            raise EntryError(f"the run comes to {box} twice")
        if self.start is None:
            self._no_output(self.label or "")
            raise EntryError("from which connector? Write it before the first box, such as SR-1.A")
        if self.length is None and (not self.path or "box" in self.path[-1]):
            self.length = self._only_length(box)
        self._lay()
        self.path[-1]["box"] = box

    def _lay(self) -> None:
        """Lay the lead whose length was said."""
        if self.length is None:
            return
        if self.cable is None:
            self.cable = self._usual_cable(self.length)
        self.path.append({"cable": self.cable, "length": str(self.length)})
        self.length = None

    def _model(self, text: str) -> bool:
        for name, table in _MODELS.items():
            model = self.known.model(text, (table,))
            if model is not None:
                self._put(name, model)
                return True
        return False

    def put_model(self, model: str) -> None:
        """Take a cable, an adaptor or a panel by its id."""
        self._put(next(name for name, table in _MODELS.items() if model in self.known.models((table,))), model)

    def _put(self, name: str, model: str) -> None:
        if name == "cable":
            self.cable = model  # of the lead whose length is said next to it, and of those that follow
        else:
            self._lay()
            self.path.append({name: model})

    def _new_word(self, text: str) -> None:
        if self.label is None and self.start is None:
            self.label = text
            return
        self._no_output(text)
        near = nearest(text, [*self.known.ids("boxes"), *self.known.starts])
        near = near if "did you mean" in near else "; expected a length, a box, a cable or an adaptor"
        raise EntryError(f"'{printable(text)}' is not understood{near}")

    def _no_output(self, text: str) -> None:
        """Say which connector an output is on, where it stands for one."""
        for start in self.known.starts.values():
            if text in start.outputs:
                raise EntryError(f"a run begins at a connector: {printable(text)} is on {start.name}")

    def _only_length(self, box: str) -> Length:
        """Take the length that nobody said: that of the stock's leads, where it has one length only."""
        cables = self.known.models(("cables",))
        rows = [row for row in self.known.show.stock if row.length and row.model in cables]
        lengths = {row.length.value: row.length for row in rows if row.length and self.cable in (None, row.model)}
        if len(lengths) == 1:
            return next(iter(lengths.values()))
        name = printable(box)
        there = f"; the stock has {', '.join(str(lengths[at]) for at in sorted(lengths))}" if lengths else ""
        raise EntryError(f"how long is the lead to {name}? Write it before the box: 15m {name}{there}")

    def _usual_cable(self, length: Length) -> str:
        """Choose the cable that nobody named: the stock's of this length, else the last one laid, else the only one."""
        show = self.known.show
        cables = {model.id for model in show.cables}
        of_length = [row.model for row in show.stock if row.length and row.length.value == length.value]
        stocked = [row.model for row in show.stock if row.length]
        laid = [step.cable for run in reversed(show.runs) for step in reversed(run.path) if step.cable]
        found: str
        for found in (*of_length, *laid, *stocked, *(cables if len(cables) == 1 else ())):
            if found in cables or found in self.known.models(("cables",)):
                return found
        raise EntryError("which cable? Write it before the first length, such as 'cable four-core-2.5 15m'")


def run(known: KnownWords, words: Sequence[EntryWord]) -> Made:
    """Make a run. Raises EntryError for a word that fits nowhere."""
    way = _Way(known)
    waiting = ""
    left = list(words)
    while left:
        word = left.pop(0)
        model = model_of_words(known, [word, *left], tuple(_MODELS.values()))
        if waiting:
            way.take_named(waiting, word.text)
            waiting = ""
        elif word.text in _KEYWORDS and not word.quoted:
            waiting = word.text
        elif (passed_over(word, known) or word.text == "from") and word.text not in known.ids("boxes"):
            continue
        elif model is not None:
            way.put_model(model[0])
            del left[: model[1] - 1]
        else:
            way.take(word)
    if waiting:
        raise EntryError(f"expected something after '{waiting}'")
    plain = way.end()
    return Made("runs", (made({"id": new_label(known, "runs", way.label, "W")} | plain, Run),))


def offered_on(known: KnownWords, words: Sequence[EntryWord]) -> list[str]:
    """List the words that may come next: a connector first, then boxes, cables, adaptors and panels."""
    typed = {word.text for word in words}
    if not typed & set(known.starts):
        return list(known.starts)
    reached = {step.box for run in known.show.runs for step in run.path if step.box}
    boxes = sorted((box for box in known.ids("boxes") if box not in typed), key=lambda box: box in reached)
    return [*boxes, *known.models(tuple(_MODELS.values())), *_KEYWORDS]
