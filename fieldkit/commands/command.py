"""What a command is: its words, its options and its help, declared; and a command line read by that declaration."""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from importlib import import_module
from typing import Any

import msgspec

from fieldkit.commands import earlier
from fieldkit.errors import UnusableError

WIDTH = 79
HELP = ("-h", "--help")
_HELD = "\N{NO-BREAK SPACE}"


class UsageError(UnusableError):
    """A command line that cannot be used."""


class Option(msgspec.Struct, frozen=True):
    """An option of a command; one that takes no value is said or not."""

    name: str
    """``--json``, ``-o``."""
    help: str
    value: str = ""
    """What stands after it, such as ``FOLDER``."""
    repeats: bool = False
    """Whether it may stand several times, each of which counts; of another the last one counts."""
    several: bool = False
    """Whether more values may follow, up to the next option."""
    needed: bool = False
    instead: bool = False
    """Whether it stands in place of the words."""

    @property
    def usage(self) -> str:
        """The option as a line of usage has it, ``[--to UNIT]``, held together where the line is wrapped."""
        shown = " ".join(filter(None, (self.name, self.value, "..." if self.several else "")))
        whole = shown if self.needed else f"[{shown}]{' ...' if self.repeats else ''}"
        return whole.replace(" ", _HELD)


class Command(msgspec.Struct, frozen=True):
    """One command, from which its dispatch, its help, and the errors about its words and options are made."""

    name: str
    words: str
    """What it takes, as usage has it: ``SHOW [WHAT ...]``; a capital name is needed unless it stands in brackets."""
    summary: str
    """What it is good for, in a few words."""
    work: str
    """The function that does it, by module and name: ``proof.check``. It is imported when the command runs."""
    options: tuple[Option, ...] = ()
    ends_with_1: str = ""
    """When it ends with exit status 1; empty for never."""
    expected: str = ""
    """What the words are, for the error when they are missing; empty for the words themselves."""
    notes: str = ""
    """What else to know, below the options of its help."""
    signs: bool = False
    """Whether a word may begin with a minus sign."""
    choices: str = ""
    """The function that lists what an option may name, each with what it is, by module and name; run for its help."""

    @property
    def count(self) -> tuple[int, int]:
        """Least and most words."""
        needed = re.findall(r"\w+", re.sub(r"\[.*?\]", "", self.words))
        return len(needed), sys.maxsize if "..." in self.words else len(re.findall(r"\w+", self.words))

    @property
    def forms(self) -> tuple[str, ...]:
        """The lines of usage: with words and options, and with each option that stands in their place."""
        options = [option.usage for option in self.options if not option.instead]
        first = " ".join(filter(None, (f"fieldkit {self.name}", self.words, *options)))
        return first, *(f"fieldkit {self.name} {option.name}" for option in self.options if option.instead)

    @property
    def short_form(self) -> str:
        """The command with what it needs: ``fieldkit sheets SHOW -o FOLDER``."""
        needed = [option.usage for option in self.options if option.needed]
        return " ".join(filter(None, (f"fieldkit {self.name}", self.words, *needed))).replace(_HELD, " ")

    def help(self) -> Iterator[str]:
        """Write the help of the command: usage, what it is good for, each option, how it ends."""
        for form in self.forms:
            lines = textwrap.wrap(form, WIDTH, subsequent_indent=" " * 10, break_on_hyphens=False)
            yield from (line.replace(_HELD, " ") for line in lines)
        yield ""
        yield from textwrap.wrap(f"  {self.summary}", WIDTH, subsequent_indent="  ")
        if self.options:
            yield ""
            yield from listed((f"{option.name} {option.value}".strip(), option.help) for option in self.options)
        if self.notes:
            yield ""
            yield from textwrap.wrap(self.notes, WIDTH)
        if self.choices:
            yield ""
            yield from listed(function_of(self.choices)())
        yield ""
        yield from textwrap.wrap(
            "exit status: 0 done; "
            + (f"1 {self.ends_with_1}; " if self.ends_with_1 else "")
            + "2 the input cannot be used",
            WIDTH,
        )


def function_of(name: str) -> Callable[..., Any]:
    """Import a function of the commands, such as ``proof.check``."""
    module, _, function = name.partition(".")
    return getattr(import_module(f"fieldkit.commands.{module}"), function)  # type: ignore[no-any-return]


class CommandLine(msgspec.Struct, frozen=True):
    """What somebody gave a command: its words, and its options with their values."""

    words: tuple[str, ...]
    options: dict[str, list[str]]
    typed: tuple[tuple[str, str], ...] = ()
    """Options with a value, each with one of its values, in the order in which they stand."""

    def __contains__(self, name: str) -> bool:
        """Whether an option was given."""
        return name in self.options

    def value(self, name: str) -> str | None:
        """The value of an option, the last one where it stands several times; None where it was not given."""
        values = self.options.get(name)
        return values[-1] if values else None

    def values(self, name: str) -> Sequence[str]:
        """All values of an option."""
        return self.options.get(name, ())


def listed(rows: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Lay out names with what they are, two columns within the width; a long name has a line of its own."""
    rows = list(rows)
    column = max((len(name) for name, _ in rows if len(name) <= 36), default=0) + 4
    for name, says in rows:
        lines = textwrap.wrap(says, WIDTH - column)
        if len(name) + 4 > column:
            lines.insert(0, "")
        yield f"  {name:<{column - 2}}{lines[0]}".rstrip()
        yield from (f"{'':<{column}}{line}" for line in lines[1:])


def read(command: Command, arguments: Sequence[str]) -> CommandLine:
    """Read a command line by the command's declaration. Raises UsageError."""
    known = {option.name: option for option in command.options}
    words: list[str] = []
    found: dict[str, list[str]] = {}
    typed: list[tuple[str, str]] = []
    waiting = list(arguments)
    while waiting:
        word = waiting.pop(0)
        name, equals, value = word.partition("=")
        option = known.get(name)
        if word == "--":
            words += waiting
            break
        if option is not None and option.value:
            values = [value] if equals else _values_of(option, waiting)
            if not values or not all(said.strip() for said in values):
                raise UsageError(f"{name}: expected a value after it")
            found.setdefault(name, []).extend(values)
            typed += ((name, said) for said in values)
        elif option is not None:
            if equals:
                raise UsageError(f"{name}: takes no value, got '{value}'")
            found[name] = []
        elif word.startswith("--") or (word.startswith("-") and len(word) > 1 and not command.signs):
            unknown = f"unknown option '{word}'{nearest(word, known) or _see(command)}"
            now = earlier.renamed(name, earlier.OPTIONS) if earlier.OPTIONS.get(name) in known else ""
            raise UsageError(now or unknown)
        else:
            words.append(word)
    _give_back(command, words, found)
    _count(command, words, found)
    return CommandLine(tuple(words), found, tuple(typed))


def _values_of(option: Option, waiting: list[str]) -> list[str]:
    """Take the values that follow an option."""
    values: list[str] = []
    while waiting and not waiting[0].startswith("-" if option.several else "--"):
        values.append(waiting.pop(0))
        if not option.several:
            break
    return values


def _give_back(command: Command, words: list[str], found: dict[str, list[str]]) -> None:
    """Let the show stand last, behind an option that takes several values."""
    for option in command.options:
        values = found.get(option.name, [])
        if option.several and len(words) < command.count[0] and values and values[-1].endswith(".toml"):
            words.append(values.pop())


def _count(command: Command, words: Sequence[str], found: dict[str, list[str]]) -> None:
    """Refuse too few and too many words, and a needed option that is missing."""
    instead = any(option.instead and option.name in found for option in command.options)
    minimum, most = (0, 0) if instead else command.count
    if len(words) > most:
        raise UsageError(f"unexpected '{words[most][:80]}'{_see(command)}")
    if len(words) < minimum:
        if command.expected:
            raise UsageError(f"{command.name}: expected {command.expected}")
        raise UsageError(f"expected {command.words}{_see(command)}")
    for option in command.options:
        if option.needed and not found.get(option.name):
            raise UsageError(f"{command.name}: expected {option.name} {option.value}, {option.help}")


def _see(command: Command) -> str:
    return f"; 'fieldkit {command.name} --help' shows how"


def nearest(word: str, known: Iterable[str]) -> str:
    """Say which known word may have been meant, for the end of a message; empty where none is near."""
    import difflib

    close = difflib.get_close_matches(word[:80].lower(), list(known), n=1)
    return f"; did you mean '{close[0]}'?" if close else ""


def read_choice(given: CommandLine, option: str, known: Sequence[str]) -> list[str]:
    """Read a list of names with commas between; all that are known where the option was not given."""
    text = given.value(option)
    if text is None:
        return list(known)
    names = [part.strip() for part in text.split(",") if part.strip()]
    for word in names:
        if word not in known:
            near = nearest(word, known) or f"; there are {', '.join(known)}"
            raise UsageError(f"{option}: unknown '{word}'{near}")
    if not names:
        raise UsageError(f"{option}: expected names with commas between; there are {', '.join(known)}")
    return names
