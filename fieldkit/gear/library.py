"""The gear library: models that a show can take from, one TOML file each, named by the model's id.

Two places: the user's own folder, which comes first, and the demonstration library in this package. The user's
is the folder that the environment variable ``FIELDKIT_GEAR`` names, else ``gear`` in the platform's data folder
for fieldkit. A file that cannot be used harms only who asks for that model.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.gear.model_file import Model, ModelFileError, kind_of, parse, text_of
from fieldkit.text.files import replace_file
from fieldkit.text.folders import GEAR, gear_folder
from fieldkit.text.words import printable

DEMONSTRATION = Path(__file__).with_name("demonstration")
LARGEST_BYTES = 256_000
"""The largest model there is has a few thousand bytes."""

_NAME = re.compile(r"[^\W_](?:[\w.+-]{0,62}[\w+-])?")
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


class LibraryError(UnusableError):
    """A model's file that cannot be read or written; its text is one line: the file's name and the reason."""

    def __init__(self, problem: str, *, file: str, line: int | None = None) -> None:
        """Keep the parts: the reason, the file's name without its folder, the line from 1."""
        super().__init__(problem)
        self.problem = problem
        self.file = file
        self.line = line

    def __str__(self) -> str:
        return printable(f"{self.file}{f':{self.line}' if self.line else ''}: {self.problem}", 400)


class LibraryEntry(msgspec.Struct, frozen=True):
    """A model in the library, and where it is from."""

    kind: str
    """As its table is named: ``loudspeaker``, ``built_rack``."""
    model: Model
    own: bool
    """True in the user's own library."""


def trouble() -> str:
    """Say what is wrong with the folder that somebody named as their gear library; empty where nothing is."""
    named = os.environ.get(GEAR)
    if not named:
        return ""
    problem = ""
    try:
        with os.scandir(named):
            pass
    except (FileNotFoundError, NotADirectoryError):
        problem = "which is no folder"
    except (OSError, ValueError) as error:
        problem = f"which cannot be read ({getattr(error, 'strerror', None) or error})"
    return f"{GEAR} names '{named}', {problem}; only the demonstration models are known" if problem else ""


def find(model_id: str) -> Model | None:
    """Find a model by its id, the user's own first. Only its file is read.

    None where the library has no such model. Raises LibraryError where its file cannot be used.
    """
    name = _file_name(model_id)
    if name is None:
        return None
    for folder in (gear_folder(), DEMONSTRATION):
        path = folder / name
        if path.is_file():
            return _read(path)
    return None


def known_names(*kinds: str) -> tuple[str, ...]:
    """List the names of all models of some kinds, ``loudspeaker`` or ``built_rack``; of all where none is said."""
    return tuple(entry.model.id for entry in every() if not kinds or entry.kind in kinds)


def every() -> tuple[LibraryEntry, ...]:
    """List all models by kind and id; the user's own stand in place of those of the same id.

    Files that cannot be used are left out; ``broken`` says which.
    """
    found: dict[str, LibraryEntry] = {}
    for folder, own in ((DEMONSTRATION, False), (gear_folder(), True)):
        for path in _files(folder):
            result = _try_read(path)
            if not isinstance(result, LibraryError):
                found[result.id] = LibraryEntry(kind_of(result), result, own)
    return tuple(sorted(found.values(), key=lambda entry: (entry.kind, entry.model.id)))


def broken() -> tuple[LibraryError, ...]:
    """List what is wrong with the user's own files that cannot be used."""
    results = (_try_read(path) for path in _files(gear_folder()))
    return tuple(result for result in results if isinstance(result, LibraryError))


def keep(model: Model, *, replace: bool = False) -> Path:
    """Write a model to the user's own library, as a whole or not at all, and give its file.

    Raises LibraryError for an id that cannot name a file, where it is there already and ``replace`` is not
    said, and where it cannot be written.
    """
    name = _file_name(model.id)
    if name is None:
        wanted = "expected letters, digits, '.', '+', '-' and '_' in the id of a model that the library keeps"
        raise LibraryError(f"{wanted}, got '{model.id}'", file="gear library")
    path = gear_folder() / name
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists() and not replace:
            raise LibraryError("there is such a model already; it was left as it is", file=name)
        replace_file(path, text_of(model).encode(), follow=False)
    except OSError as error:
        raise LibraryError(f"the file cannot be written: {error.strerror}", file=name) from error
    return path


def _file_name(model_id: str) -> str | None:
    """Name a model's file; None for an id that must never be part of a path."""
    if not _NAME.fullmatch(model_id) or _RESERVED.fullmatch(model_id) or len(model_id.encode()) > 200:
        return None
    return f"{model_id}.toml"


def _files(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from sorted(path for path in folder.glob("*.toml") if not path.name.startswith("."))


def _try_read(path: Path) -> Model | LibraryError:
    try:
        return _read(path)
    except LibraryError as error:
        return error


def _read(path: Path) -> Model:
    """Read one file, again only when it has changed. Raises LibraryError."""
    try:
        state = path.stat()
    except OSError as error:
        raise LibraryError(f"the file cannot be read: {error.strerror}", file=path.name) from error
    return _read_once(path, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=1024)
def _read_once(path: Path, _changed: int, _size: int) -> Model:
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise LibraryError(f"the file cannot be read: {error.strerror}", file=path.name) from error
    except UnicodeDecodeError as error:
        raise LibraryError("the file is not UTF-8 text", file=path.name) from error
    if len(raw) > LARGEST_BYTES:
        raise LibraryError("the file is too large to be a model", file=path.name)
    try:
        model = parse(text)
    except ModelFileError as error:
        raise LibraryError(str(error), file=path.name, line=error.line) from error
    if f"{model.id}.toml" != path.name:
        raise LibraryError(f"expected the id '{path.stem}', as the file is named, got '{model.id}'", file=path.name)
    return model
