"""Errors of the show and its file, a branch of the tree in ``fieldkit.errors``."""

from __future__ import annotations

from fieldkit.errors import FieldkitError
from fieldkit.text.words import printable


class ShowError(FieldkitError):
    """Something that cannot be used; its text is one line: ``show.toml:84: ML2: unknown key 'nota'``."""

    def __init__(self, problem: str, *, file: str = "", line: int | None = None, thing: str = "") -> None:
        """Keep the parts: the file's name, the line counted from 1, the thing by its id."""
        super().__init__(problem)
        self.problem = problem
        self.file = file
        self.line = line
        self.thing = thing

    def __str__(self) -> str:
        place = printable(self.file, longest=300) + (f":{self.line}" if self.line else "")
        parts = (place, printable(self.thing), printable(self.problem, longest=400))
        return ": ".join(part for part in parts if part)


class FileError(ShowError):
    """The file cannot be read or written."""


class ReadOnlyError(FileError):
    """The file is marked read only; whoever may replace it all the same says so."""


class DocumentError(ShowError):
    """The file can be read, but what it says cannot be used."""


class ChangedError(ShowError):
    """The file is no longer the one that was read."""
