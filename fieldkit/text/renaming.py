"""Words of a TOML file that became other words: the same list changes parsed values, and the text of the file.

In the text remarks, order and spacing stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from fieldkit.text.toml_pieces import pieces
from fieldkit.text.words import Path


class Renaming(NamedTuple):
    """One word that was another one."""

    place: str
    """The table of a key, or where a value stands, with dots; ``*`` is every row of a list."""
    old: str
    new: str
    is_key: bool = True
    """False for a value."""

    def below(self, place: str) -> Renaming:
        """The same for what stands deeper in another file."""
        return self._replace(place=f"{place}.{self.place}")

    def fits(self, path: Path) -> bool:
        """Tell whether a place of a document, a key's own name included, is the one that is meant."""
        wanted = self.place.split(".") if self.place else []
        found = path[:-1] if self.is_key else path
        return len(found) == len(wanted) and all(
            isinstance(part, int) if want == "*" else part == want for part, want in zip(found, wanted, strict=True)
        )


def renamed(value: Any, rules: Sequence[Renaming], path: Path = ()) -> Any:
    """Rename parsed values; where a table has both words, the old one stays and the check of the file refuses it."""
    if isinstance(value, dict):
        result = {}
        for key, item in value.items():
            rule = next((one for one in rules if one.is_key and one.old == key and one.fits((*path, key))), None)
            name = rule.new if rule is not None and rule.new not in value else key
            result[name] = renamed(item, rules, (*path, key))
        return result
    if isinstance(value, list):
        return [renamed(item, rules, (*path, row)) for row, item in enumerate(value)]
    rule = next((one for one in rules if not one.is_key and one.old == value and one.fits(path)), None)
    return value if rule is None else rule.new


def renamed_text(text: str, rules: Sequence[Renaming]) -> str:
    """Rename words in a text that tomllib accepts and that has no byte order mark."""
    parts, done = [], 0
    for piece in pieces(text):
        word = text[piece.start : piece.end]
        for rule in rules:
            if rule.is_key != piece.is_key or not rule.fits(piece.path):
                continue
            if piece.is_key and piece.path[-1] == rule.old:
                parts += [text[done : piece.start], rule.new]
                done = piece.end
            elif not piece.is_key and word.strip("\"'") == rule.old:
                parts += [text[done : piece.start], rule.new if word == rule.old else f'"{rule.new}"']
                done = piece.end
    return "".join([*parts, text[done:]])
