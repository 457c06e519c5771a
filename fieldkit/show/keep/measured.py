"""What single boxes read, kept by their serial from one show to the next: a text file in the user's gear library.

A reading is added at the end of the file and nothing before it is touched, so that two programs at a time, or a full
disk, lose nothing. A file that cannot be read is left as it is, and nothing is added to it.
"""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Literal, TypeAlias

import msgspec
import tomli_w

from fieldkit.gear.wording import explained, read_value
from fieldkit.show.errors import FileError
from fieldkit.show.keep.storage import read_text
from fieldkit.show.reading_value import ReadingValue
from fieldkit.text.folders import gear_folder
from fieldkit.text.toml_places import line_of
from fieldkit.text.toml_text import TomlError, read_toml

FOLDER, NAME = "measured", "readings.toml"
HEAD = """\
# What single boxes read, by their serial: the box alone, plug pulled, cold. Written by fieldkit; the latest rules.
"""

Key: TypeAlias = tuple[str, str, str, str]
"""Model, serial, pin pair, and kind of reading."""


class Measured(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One reading of one box by itself."""

    model: str
    serial: str
    pair: str
    value: ReadingValue
    kind: Literal["dc", "1khz"] = "dc"
    time: dt.datetime | None = None
    show: str = ""
    """Name of the show that it was read at."""
    well: bool = True
    """Whether it was as expected; others are kept too, and no later reading is held against them."""

    @property
    def key(self) -> Key:
        """What it is a reading of."""
        return self.model, self.serial, self.pair, self.kind

    @property
    def says(self) -> str:
        """The reading in words."""
        when = f", {self.time.astimezone():%Y-%m-%d}" if self.time else ""
        kind = " at 1 kHz" if self.kind == "1khz" else ""
        return f"pair {self.pair} read {self.value}{kind}{'' if self.well else ' (not well)'}{when}"


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    readings: tuple[Measured, ...] = ()


def file() -> Path:
    """Find the file, which need not exist."""
    return gear_folder() / FOLDER / NAME


def every() -> tuple[Measured, ...]:
    """List all readings that were kept, in the order in which they were. Raises FileError, one line."""
    path = file()
    if not path.exists():
        return ()
    text = read_text(path)
    try:
        data = read_toml(text)
    except TomlError as error:
        raise FileError(str(error), file=NAME, line=error.line) from error
    try:
        return msgspec.convert(data, _File, dec_hook=read_value).readings
    except msgspec.ValidationError as error:
        says, place = explained(error, _File, table=True)
        raise FileError(says, file=NAME, line=line_of(text, place)) from error


def latest() -> dict[Key, Measured]:
    """Look up the last reading of each item that was well. Raises FileError."""
    return {item.key: item for item in every() if item.well}


def keep(item: Measured) -> None:
    """Add a reading. Raises FileError, and changes nothing, where the file cannot be used or written."""
    every()
    path = file()
    plain = msgspec.to_builtins(item, enc_hook=str, builtin_types=(dt.datetime,))
    block = f"\n[[readings]]\n{tomli_w.dumps(plain)}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("ab") as target:
            target.write((block if target.tell() else HEAD + block).encode())
            target.flush()
            os.fsync(target.fileno())
    except OSError as error:
        raise FileError(f"the file cannot be written: {error.strerror}", file=NAME) from error
