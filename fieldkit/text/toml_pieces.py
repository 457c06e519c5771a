"""Every key and every plain value in the text of a TOML file, each with its place in the document and in the text.

What is renamed in a file is renamed in its text with this, so that remarks, order and spacing stay.
"""

from __future__ import annotations

import tomllib
from collections.abc import Generator, Iterator
from typing import NamedTuple

from fieldkit.text.toml_places import TOKEN
from fieldkit.text.words import Path


class TomlPiece(NamedTuple):
    """A key, or a value that holds no others."""

    path: Path
    """Of a key with the key last, of a value the place where it stands."""
    start: int
    end: int
    is_key: bool


def pieces(text: str) -> Iterator[TomlPiece]:
    """List keys and plain values in the order of the text: one that tomllib accepts, without a byte order mark."""
    return _Reading(text).document()


class _Reading:
    """One walk over the tokens, remarks left out."""

    def __init__(self, text: str) -> None:
        self._tokens = [match for match in TOKEN.finditer(text) if match.lastgroup != "remark"]
        self._next = 0
        self._rows: dict[Path, int] = {}

    def _piece(self) -> str:
        return self._tokens[self._next].group() if self._next < len(self._tokens) else ""

    def document(self) -> Iterator[TomlPiece]:
        table: Path = ()
        while self._piece():
            if self._piece() == "\n":
                self._next += 1
            elif self._piece() == "[":
                table = yield from self._header()
            else:
                yield from self._pair(table)

    def _header(self) -> Generator[TomlPiece, None, Path]:
        self._next += 1
        many = self._piece() == "["
        self._next += many
        keys = list(self._keys("]"))
        place: Path = ()
        for number, (name, start, end) in enumerate(keys):
            place = (*place, name)
            yield TomlPiece(place, start, end, is_key=True)
            if many and number == len(keys) - 1:
                self._rows[place] = self._rows.get(place, -1) + 1
            if place in self._rows:
                place = (*place, self._rows[place])
        while self._piece() == "]":
            self._next += 1
        return place

    def _keys(self, end: str) -> Iterator[tuple[str, int, int]]:
        while self._piece() not in {end, ""}:
            match = self._tokens[self._next]
            if match.group() != ".":
                name = match.group()
                plain = tomllib.loads(f"x = {name}")["x"] if name[0] in "\"'" else name
                yield plain, match.start(), match.end()
            self._next += 1

    def _pair(self, table: Path) -> Iterator[TomlPiece]:
        place = table
        for name, start, end in self._keys("="):
            place = (*place, name)
            yield TomlPiece(place, start, end, is_key=True)
        self._next += 1
        yield from self._value(place)

    def _value(self, place: Path) -> Iterator[TomlPiece]:
        if self._piece() == "[":
            self._next += 1
            row = 0
            while self._piece() not in {"]", ""}:
                if self._piece() in {"\n", ","}:
                    self._next += 1
                else:
                    yield from self._value((*place, row))
                    row += 1
            self._next += 1
        elif self._piece() == "{":
            self._next += 1
            while self._piece() not in {"}", ""}:
                if self._piece() in {"\n", ","}:
                    self._next += 1
                else:
                    yield from self._pair(place)
            self._next += 1
        else:
            first = self._next
            while self._piece() not in {"\n", ",", "]", "}", ""}:
                self._next += 1
            if self._next > first:
                yield TomlPiece(place, self._tokens[first].start(), self._tokens[self._next - 1].end(), is_key=False)
