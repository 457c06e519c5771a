"""What a command line says: words, options, the show that is meant; and what is said of one that cannot be used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from fieldkit.commands.output import note
from fieldkit.errors import UnusableError

if TYPE_CHECKING:
    from fieldkit.show.document import Show
    from fieldkit.show.opening import Opened


class UsageError(UnusableError):
    """A command line that cannot be used."""


def load_show(name: str) -> Show:
    """Read a show, with the models that it names and the gear library has. Raises ShowError."""
    from fieldkit.gear.library import trouble

    show = open_named(name).show
    note(trouble())
    return show


def open_named(name: str) -> Opened:
    """Open a show by the name that was typed. Raises ShowError."""
    from fieldkit.show.opening import open_show

    if not name:
        raise UsageError("expected SHOW, got an empty name; 'fieldkit --help' shows how")
    with named_as_typed(name):
        return open_show(name)


def write_named(opened: Opened, show: Show, name: str) -> str:
    """Write a show that was made of another to a file by the name that was typed, and say so. Raises ShowError."""
    from fieldkit.show.errors import FileError
    from fieldkit.show.keep.storage import save

    if Path(name).is_dir():
        raise FileError("this is a folder; expected the name of a file", file=name)
    with named_as_typed(name):
        save(opened.stored, show, Path(name))
    return f"written: {name}"


@contextmanager
def named_as_typed(name: str) -> Iterator[None]:
    """Let an error name its file as it was typed, with its folder."""
    from fieldkit.show.errors import ShowError

    try:
        yield
    except ShowError as error:
        if error.file == (Path(name).name or name):
            error.file = name
        raise


def read_options(
    arguments: list[str], *, flags: Sequence[str] = (), valued: Sequence[str] = (), signs: bool = False
) -> tuple[list[str], dict[str, str]]:
    """Take the options out of a command line; with ``signs``, what starts with a digit or dot is no option."""
    words: list[str] = []
    options: dict[str, str] = {}
    waiting = iter(arguments)
    for word in waiting:
        name, equals, value = word.partition("=")
        if word == "--":
            words.extend(waiting)
        elif word in flags:
            options[word] = ""
        elif name in valued:
            options[name] = value if equals else next(waiting, "")
            if not options[name].strip():
                raise UsageError(f"{name}: expected a value after it")
        elif word.startswith("--") or (word.startswith("-") and len(word) > 1 and not signs):
            raise UsageError(f"unknown option '{word}'{nearest(word, [*flags, *valued])}")
        else:
            words.append(word)
    return words, options


def read_repeated(arguments: list[str], names: Sequence[str]) -> tuple[list[str], dict[str, list[str]]]:
    """Take options that may stand several times out of a command line, with their values."""
    rest: list[str] = []
    found: dict[str, list[str]] = {name: [] for name in names}
    waiting = iter(arguments)
    for word in waiting:
        name, equals, value = word.partition("=")
        if word == "--":
            rest += [word, *waiting]
        elif name not in found:
            rest.append(word)
        else:
            said = value if equals else next(waiting, "")
            if not said.strip() or said.startswith("--"):
                raise UsageError(f"{name}: expected a value after it")
            found[name].append(said)
    return rest, found


def read_words(words: list[str], what: str, count: int) -> list[str]:
    """Give the words of a command line, exactly so many. Raises UsageError."""
    if len(words) < count:
        raise UsageError(f"expected {what}; 'fieldkit --help' shows how")
    if len(words) > count:
        raise UsageError(f"unexpected '{words[count][:80]}'; 'fieldkit --help' shows how")
    return words


def nearest(word: str, known: Iterable[str]) -> str:
    """Say which known word may have been meant, for the end of a message; empty where none is near."""
    import difflib

    close = difflib.get_close_matches(word[:80].lower(), list(known), n=1)
    return f"; did you mean '{close[0]}'?" if close else ""


def read_choice(options: dict[str, str], option: str, known: Sequence[str]) -> list[str]:
    """Read a list of names with commas between; all that are known where the option was not given."""
    if option not in options:
        return list(known)
    names = [part.strip() for part in options[option].split(",") if part.strip()]
    for word in names:
        if word not in known:
            raise UsageError(f"{option}: unknown '{word}'{nearest(word, known)}; there are {', '.join(known)}")
    if not names:
        raise UsageError(f"{option}: expected names with commas between; there are {', '.join(known)}")
    return names
