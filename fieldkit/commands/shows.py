"""The show that a command line names: read with its models, written where it says, its errors by the name typed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fieldkit.commands.command import UsageError
from fieldkit.commands.output import note
from fieldkit.gear.library import trouble
from fieldkit.show.document import Show
from fieldkit.show.errors import FileError, ShowError
from fieldkit.show.keep.storage import save
from fieldkit.show.opening import Opened, open_show


def load_show(name: str) -> Show:
    """Read a show, with the models that it names and the gear library has. Raises ShowError."""
    show = open_named(name).show
    note(trouble())
    return show


def open_named(name: str) -> Opened:
    """Open a show by the name that was typed. Raises ShowError."""
    if not name:
        raise UsageError("expected SHOW, got an empty name; 'fieldkit --help' shows how")
    with named_as_typed(name):
        return open_show(name)


def write_named(opened: Opened, show: Show, name: str) -> str:
    """Write a show that was made of another to a file by the name that was typed, and say so. Raises ShowError."""
    if os.path.isdir(name):  # noqa: PTH112 - also false where no file can have such a name, which saving then says
        raise FileError("this is a folder; expected the name of a file", file=name)
    with named_as_typed(name):
        save(opened.stored, show, Path(name))
    return f"written: {name}"


@contextmanager
def named_as_typed(name: str) -> Iterator[None]:
    """Let an error name its file as it was typed, with its folder."""
    try:
        yield
    except ShowError as error:
        if error.file == (Path(name).name or name):
            error.file = name
        raise
