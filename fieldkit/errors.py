"""What can go wrong, as one tree. What is wrong with a rig is a finding, and never an error.

FieldkitError                   one line for a person, and the exit status of a command that ends with it
├── UnusableError               2: what was typed or given cannot be used
│   ├── UsageError              the words of a command line
│   ├── UnitError               text that is not the quantity that was asked for
│   ├── UnusableInput           an expression, or a field of a form
│   ├── ObservationError        what was seen, heard or metered
│   ├── EntryError              a line of words that adds something
│   ├── TomlError               text that is not TOML
│   ├── ModelFileError          what the file of one model says
│   ├── LibraryError            the file of one model in the gear library, by its name
│   └── OddFileError            a folder, pipe or device in the place of a file; an OSError too
├── ShowError                   2: a show, with its file, line and thing
│   ├── FileError               the file itself: missing, too large, not text, not TOML, not to be written
│   │   └── ReadOnlyError       it may not be written, and nobody was asked yet
│   ├── DocumentError           the show contradicts itself: an unknown key, a wrong unit, an id that nobody has
│   │   └── UnfitRowError       a row that no table can hold, while two versions are merged
│   └── ChangedError            somebody else saved it since it was read
├── NoAnswerError               1: the question is understood, and nothing answers it
│   └── NoAnswer                a calculation without a number for it
└── CalculatorError             either of the two that a calculation can end with, and its column
    ├── UnusableInput           (also above)
    └── NoAnswer                (also above)

Each is a ValueError too, so that a decoder that knows only Python's own reports it with its own path. A formula raises
a bare ValueError, as the functions of ``math`` do: it does not know who asked. Anything else is a fault of the program,
and is seen whole.
"""

from __future__ import annotations

from typing import ClassVar


class FieldkitError(ValueError):
    """Input that cannot be used, or a question without an answer. Its text is one line: what, where, what was expected.

    Whoever prints it escapes what a terminal would obey, since it repeats what people typed.
    """

    exit_status: ClassVar[int] = 2


class UnusableError(FieldkitError):
    """What was typed or given cannot be used."""


class NoAnswerError(FieldkitError):
    """The question is understood, and nothing answers it."""

    exit_status: ClassVar[int] = 1
