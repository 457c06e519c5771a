"""Where in the text of a file a place of the document stands: tomllib keeps no lines, so they are found again."""

from __future__ import annotations

import re
import tomllib

from fieldkit.text.words import Path

TOKEN = re.compile(
    r"""
    (?P<text>  \"{3}(?:[^\\]|\\.)*?\"{3,5} | '{3}.*?'{3,5} | "(?:[^"\\\n]|\\.)*" | '[^'\n]*' )
    | (?P<mark>  [\[\]{}=,.\n] )
    | (?P<remark> \#[^\n]* )
    | (?P<word>  [^\s\[\]{}=,.\#"']+ )
    """,
    re.DOTALL | re.VERBOSE,
)
_END = ""
"""The token behind the last one."""


def line_of(text: str, path: Path) -> int | None:
    """Find the line, from 1, of a place in the document: ``("boxes", 3, "zone")``; None where it cannot be told.

    The text is one that tomllib accepts. The deepest part that can be found counts, so that a key that is missing
    gives its table's line.
    """
    return _Search(text, path).line if path else None


class _Search:
    """One walk over the tokens of a text, which notes the line of every part of one path."""

    def __init__(self, text: str, path: Path) -> None:
        self._path = path
        self._lines: dict[int, int] = {}
        self._rows: dict[Path, int] = {}
        self._ahead = TOKEN.finditer(text.removeprefix("\ufeff"))
        self._line = 1
        self._next_line = 1
        self._piece = _END
        self._advance()
        self._document()

    @property
    def line(self) -> int | None:
        """Line of the deepest part that was met."""
        return self._lines[max(self._lines)] if self._lines else None

    def _advance(self) -> None:
        """Go to the next token; remarks are none. Once the whole path is met, what follows is of no interest."""
        for match in self._ahead if len(self._path) not in self._lines else ():
            if match.lastgroup == "remark":
                continue
            self._piece = match.group()
            self._line = self._next_line
            if match.lastgroup in {"text", "mark"}:
                self._next_line += self._piece.count("\n")
            return
        self._piece = _END

    def _note(self, path: Path) -> bool:
        """Note the line of a place if it lies on the way that is sought; tell whether it does."""
        sought = self._path[: len(path)] == path
        if sought:
            self._lines.setdefault(len(path), self._line)
        return sought

    def _document(self) -> None:
        table: Path = ()
        while self._piece != _END:
            if self._piece == "\n":
                self._advance()
            elif self._piece == "[":
                table = self._header()
            else:
                self._pair(table)

    def _header(self) -> Path:
        """Read ``[a.b]`` or ``[[a.b]]`` and give the table's place; rows of tables are counted."""
        self._advance()
        many = self._piece == "["
        if many:
            self._advance()
        parts = self._key("]")
        place: Path = ()
        for number, part in enumerate(parts):
            place = (*place, part)
            if many and number == len(parts) - 1:
                self._rows[place] = self._rows.get(place, -1) + 1
            self._note(place)
            if place in self._rows:
                place = (*place, self._rows[place])
                self._note(place)
        while self._piece == "]":
            self._advance()
        return place

    def _key(self, end: str) -> list[str]:
        """Read the parts of a dotted key up to a mark, which is left."""
        parts = []
        while self._piece not in {end, _END}:
            if self._piece != ".":
                parts.append(tomllib.loads(f"x = {self._piece}")["x"] if self._piece[0] in "\"'" else self._piece)
            self._advance()
        return parts

    def _pair(self, table: Path) -> None:
        """Read ``key = value``."""
        place = table
        sought = True
        for part in self._key("="):
            # Beside the way nothing is noted, and no long places are made of long keys.
            place = (*place, part) if sought else place
            sought = sought and self._note(place)
        self._advance()
        self._value(place if sought else None)

    def _value(self, place: Path | None) -> None:
        """Read a value of any depth; without a place it lies beside the way."""
        if self._piece == "[":
            self._advance()
            row = 0
            while self._piece not in {"]", _END}:
                if self._piece in {"\n", ","}:
                    self._advance()
                    continue
                item = None if place is None else (*place, row)
                self._value(item if item and self._note(item) else None)
                row += 1
            self._advance()
        elif self._piece == "{":
            self._advance()
            while self._piece not in {"}", _END}:
                if self._piece in {"\n", ","}:
                    self._advance()
                elif place is None:
                    self._key("=")
                    self._advance()
                    self._value(None)
                else:
                    self._pair(place)
            self._advance()
        else:
            while self._piece not in {"\n", ",", "]", "}", _END}:
                self._advance()
