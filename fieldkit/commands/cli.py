"""The command line: the first word decides, a command or a show to open."""

from __future__ import annotations

import errno
import gc
import os
import sys
import textwrap
from collections.abc import Iterator, Sequence

from fieldkit import __version__
from fieldkit.commands import earlier
from fieldkit.commands.command import HELP, WIDTH, Command, UsageError, function_of, listed, nearest, read
from fieldkit.commands.output import (
    DONE,
    INTERRUPTED,
    UNUSABLE,
    drop_output,
    has_terminal,
    note,
    prepare_output,
    print_lines,
    style_of_output,
)
from fieldkit.commands.table import COMMANDS
from fieldkit.errors import FieldkitError

EXIT_STATUS = (
    "exit status: 0 done; 1 the answer is no, as the help of a command says; 2 the input cannot be used; 70 the "
    "application stopped on a fault of its own; 128 + number it was ended by a signal"
)


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give the exit status. Errors become one line on standard error."""
    prepare_output()
    try:
        status = _dispatch(list(arguments))
        sys.stdout.flush()
    except FieldkitError as error:
        note(str(error))
        return error.exit_status
    except OSError as error:
        if error.errno != errno.ENOSPC:
            raise
        drop_output()
        note("the output cannot be written: no space is left there")
        return UNUSABLE
    except KeyboardInterrupt:
        note("stopped")
        return INTERRUPTED
    return status


def _dispatch(arguments: list[str]) -> int:
    if not arguments and has_terminal():
        return _application(None)
    if not arguments or arguments[0] in {*HELP, "help"}:
        return _help(arguments[1:])
    word, rest = arguments[0], arguments[1:]
    if word == "--version":
        print_lines([f"fieldkit {__version__}"])
        return DONE
    if word in COMMANDS:
        return _run(COMMANDS[word], rest)
    if word.startswith("-"):
        raise UsageError(f"unknown option '{word}'{nearest(word, ['--version', '--help'])}")
    return _open(arguments)


def _run(command: Command, arguments: list[str]) -> int:
    """Run a command, or print its help where that is asked for among its options."""
    options = arguments[: arguments.index("--")] if "--" in arguments else arguments
    # Where a word may begin with a minus sign, -h behind the first is a word.
    if "--help" in options or "-h" in (options[:1] if command.signs else options):
        return _help([command.name])
    return int(function_of(command.work)(read(command, arguments)))


def _help(names: list[str]) -> int:
    """Print the help of a command, or of the whole."""
    if names and names[0] not in COMMANDS:
        none = f"no command '{names[0]}'{nearest(names[0], COMMANDS)}"
        raise UsageError(earlier.renamed(names[0], earlier.COMMANDS) or none)
    style = style_of_output()
    print_lines(style.plain(line) for line in (COMMANDS[names[0]].help() if names else overview()))
    return DONE


def overview() -> Iterator[str]:
    """Write the help of the whole: each command in a line or two."""
    yield "fieldkit: plan, prove, set, check and rescue loudspeaker rigs"
    yield ""
    yield from listed(
        [
            ("fieldkit [SHOW]", "the application; no terminal: the plan"),
            *((command.short_form, command.summary) for command in COMMANDS.values()),
            ("fieldkit COMMAND --help", "options of a command, and how it ends"),
            ("fieldkit --version", "the version of this program"),
        ]
    )
    yield ""
    yield from textwrap.wrap(EXIT_STATUS, WIDTH)


def _open(arguments: list[str]) -> int:
    """Open a show in the application, or print its checked plan where there is no terminal."""
    from fieldkit import samples

    name = arguments[0]
    if not os.path.exists(name) and not name.endswith(".toml"):  # noqa: PTH110  (any text may stand here, NUL too)
        if name in samples.names():
            copy = f"'fieldkit new {name}.toml --sample {name}' copies it"
            raise UsageError(f"'{name}' is a sample and no file here; {copy}")
        neither = f"'{name}' is neither a command nor a file{nearest(name, COMMANDS)}"
        raise UsageError(earlier.renamed(name, earlier.COMMANDS) or neither)
    if len(arguments) > 1:
        raise UsageError(f"unexpected '{arguments[1][:80]}'; 'fieldkit --help' shows how")
    if has_terminal():
        return _application(name)
    from fieldkit.commands.proof import plan

    return plan(name)


def _application(name: str | None) -> int:
    """Run the application, with a show or none."""
    # What is made on the way to the first screen stays: to look for garbage among it takes a sixth of that way.
    gc.disable()
    try:
        from fieldkit.app.application import start

        return start(name)
    finally:
        gc.enable()
