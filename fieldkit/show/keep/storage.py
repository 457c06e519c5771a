"""The show file on disk: read it with care, write it so that nothing is ever lost."""

from __future__ import annotations

from pathlib import Path as FilePath

import msgspec

from fieldkit.show import references
from fieldkit.show.decoding import decode
from fieldkit.show.document import Show
from fieldkit.show.errors import ChangedError, DocumentError, FileError, ReadOnlyError
from fieldkit.show.keep.copies import keep_previous
from fieldkit.show.patch_references import Offered, nothing_offered
from fieldkit.show.writing import BYTE_ORDER_MARK, canonical, updated
from fieldkit.text.files import OddFileError, PartFile, odd_kind
from fieldkit.text.toml_places import line_of
from fieldkit.text.toml_text import TomlError, read_toml

LARGEST_BYTES = 4_000_000
"""A show of 10,000 boxes is about half of this; more is not a show, and parsing it would take seconds."""

MOST_DOTS = 100
"""Parts of a dotted key: far more than a show has, and far fewer than would keep the parser busy for minutes."""


class Stored(msgspec.Struct, frozen=True):
    """A show as it was read: its value, and the file's text, by which a change underneath is noticed."""

    path: FilePath
    text: str
    show: Show


def load(path: FilePath | str) -> Stored:
    """Read and check a show file, without the gear library. Raises ShowError; nothing is written."""
    stored = read(path)
    check_references(stored.show, stored.text, stored.path.name)
    return stored


def read(path: FilePath | str) -> Stored:
    """Read a show file whose ids are not yet checked, since the gear library may still add models."""
    path = FilePath(path)
    text = read_text(path)
    name = path.name
    _check_keys(text, name)
    try:
        data = read_toml(text.removeprefix(BYTE_ORDER_MARK))
    except TomlError as error:
        _refuse_conflict_marks(text, name)
        raise FileError(error.problem, file=name, line=error.line) from error
    except RecursionError as error:
        raise FileError("nested too deeply to be a show", file=name) from error
    if not data:
        raise FileError("the file is empty; 'fieldkit new' makes a show to start from", file=name)
    return Stored(path, text, decode(data, text, name))


def _refuse_conflict_marks(text: str, name: str) -> None:
    """Say so where git left two versions in the file."""
    for number, line in enumerate(text.split("\n"), start=1):
        if line.startswith("<<<<<<< "):
            says = "git left two versions here, between <<<<<<< and >>>>>>>; keep one, or merge by 'fieldkit merge'"
            raise FileError(says, file=name, line=number)


def _check_keys(text: str, name: str) -> None:
    """Refuse a dotted key of thousands of parts: the time that tomllib takes for one grows with their square."""
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") < MOST_DOTS:
            continue
        import re

        bare = re.sub(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*', "x", line)
        if re.search(rf"(?<![\w-])(?:[\w-]+\s*\.\s*){{{MOST_DOTS}}}", bare):
            raise FileError("nested too deeply to be a show", file=name, line=number)


def check_references(show: Show, text: str, name: str, offered: Offered = nothing_offered) -> None:
    """Raise DocumentError for the first id that stands twice or points nowhere.

    ``offered`` names the models of some kinds that could be had from elsewhere; it is asked only when one is missing.
    """
    for path, thing, says in references.problems(show, offered):
        raise DocumentError(says, file=name, line=line_of(text, path), thing=thing)


def read_text(path: FilePath) -> str:
    """Read a file as text, line ends untouched. Raises FileError."""
    name = path.name or str(path)
    try:
        raw = _read_bytes(path)
    except FileError:
        raise
    except FileNotFoundError as error:
        raise FileError("there is no such file", file=name) from error
    except OSError as error:
        raise FileError(f"the file cannot be read: {error.strerror}", file=name) from error
    except ValueError as error:  # a name that no file can have, with a NUL in it
        raise FileError(f"the file cannot be read: {error}", file=name) from error
    if len(raw) > LARGEST_BYTES:
        limit = LARGEST_BYTES // 1_000_000
        raise FileError(f"expected a show of at most {limit} MB, got a larger file", file=name)
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise FileError("the file is not UTF-8 text", file=name, line=line) from error


def _read_bytes(path: FilePath) -> bytes:
    """Read a file, but never more than shows that it is too large, and never from what could keep one waiting."""
    kind = odd_kind(path)
    if kind:
        raise FileError(f"{kind}; expected a show file", file=path.name or str(path))
    with path.open("rb") as file:
        return file.read(LARGEST_BYTES + 1)


def save(stored: Stored, show: Show, path: FilePath | None = None, *, read_only_too: bool = False) -> Stored:
    """Write a show to its file, or to another, and give it as stored there.

    The file is replaced as a whole, and the one before is kept beside it as ``name.toml.bak``. Raises
    ChangedError when somebody else changed the file since it was read, ReadOnlyError when it may not be written and
    ``read_only_too`` is not said, FileError when it cannot be written.
    """
    target = path or stored.path
    same = target.resolve() == stored.path.resolve()
    if same and target.exists() and read_text(target) != stored.text:
        raise ChangedError("somebody else has changed the file since it was read", file=target.name)
    text = updated(stored.text, stored.show, show) if stored.text else canonical(show)
    if not same or text != stored.text or not target.exists():
        write_text(target, text, read_only_too=read_only_too)
    return Stored(target, text, show)


def _refuse_taken(path: FilePath) -> None:
    if path.is_dir():
        raise FileError("this is a folder; expected the name of a new file", file=path.name or str(path))
    if path.exists() or path.is_symlink():
        raise FileExistsError


def create(path: FilePath, text: str) -> None:
    """Write a new file. Raises FileError where one of that name exists already."""
    name = path.name or str(path)
    part = None
    try:
        _refuse_taken(path)
        part = PartFile(path, text.encode(), follow=False)
        part.put_new()
    except FileExistsError as error:
        raise FileError("there is such a file already; it was left as it is", file=name) from error
    except (FileNotFoundError, NotADirectoryError) as error:
        raise FileError(f"there is no folder '{path.parent}' to write it in", file=name) from error
    except FileError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileError(f"the file cannot be written: {reason}", file=name) from error
    finally:
        if part is not None:
            part.drop()


def write_text(path: FilePath, text: str, *, keep_before: bool = True, read_only_too: bool = False) -> None:
    """Replace a file's text in one step, keeping its mode and, unless told, the version before. Follows links."""
    try:
        raw = text.encode("utf-8")
    except UnicodeEncodeError as error:
        mark = f"U+{ord(text[error.start]):04X}"
        raise FileError(f"the file cannot be written: no file can hold the character {mark}", file=path.name) from error
    part = None
    try:
        part = PartFile(path, raw, read_only_too=read_only_too)
        if keep_before and part.target.exists():
            keep_previous(part.target)
        part.put()
    except OddFileError as error:
        if error.read_only:
            says = "the file is read only, and was left as it is"
            raise ReadOnlyError(says, file=path.name) from error
        raise FileError(f"the file cannot be written: {error.strerror}", file=path.name) from error
    except (FileNotFoundError, NotADirectoryError) as error:
        raise FileError(f"there is no folder '{path.parent}' to write it in", file=path.name) from error
    except OSError as error:
        raise FileError(f"the file cannot be written: {error.strerror}", file=path.name) from error
    finally:
        if part is not None:
            part.drop()
