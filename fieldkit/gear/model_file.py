"""One model in a file of its own, as the gear library keeps it: a TOML table named by the model's kind.

``[loudspeaker]``, ``[amplifier]``, ``[processor]``, ``[cable]``, ``[adaptor]``, ``[panel]`` or ``[built_rack]``,
with the same keys as a row of the table of that name in a show (``[[loudspeakers]]``), so that text can be
copied from one to the other.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from fieldkit.errors import UnusableError
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.gear.wording import explained, read_value, to_plain
from fieldkit.text.renaming import Renaming, renamed
from fieldkit.text.toml_places import line_of
from fieldkit.text.toml_text import TomlError, read_toml
from fieldkit.text.words import nearest

Model: TypeAlias = Loudspeaker | Amplifier | Processor | Cable | Adaptor | Panel | BuiltRack

KINDS: dict[str, type[Model]] = {
    "loudspeaker": Loudspeaker,
    "amplifier": Amplifier,
    "processor": Processor,
    "cable": Cable,
    "adaptor": Adaptor,
    "panel": Panel,
    "built_rack": BuiltRack,
}
"""Name of the table -> type of the model. With an ``s`` they are the tables of a show."""

EARLIER_WORDS: dict[str, tuple[Renaming, ...]] = {
    "loudspeaker": (
        Renaming("sections.*", "least", "minimum"),
        Renaming("presets.*.uses.*", "alone", "full range", is_key=False),
    ),
    "amplifier": (Renaming("powers.*", "least", "minimum"),),
}
"""Kind -> words of its table that were others; such a file has no format number, so they are always understood."""


class ModelFileError(UnusableError):
    """What a model's file says cannot be used; the text is the reason, in one line."""

    def __init__(self, problem: str, line: int | None = None) -> None:
        """Keep the reason, and the line of the file, from 1."""
        super().__init__(problem)
        self.line = line


def kind_of(model: Model) -> str:
    """Name the kind of a model as its table is named: ``built_rack``."""
    return next(kind for kind, made in KINDS.items() if type(model) is made)


def parse(text: str) -> Model:
    """Read a model from the text of its file. Raises ModelFileError."""
    try:
        data = read_toml(text)
    except TomlError as error:
        raise ModelFileError(error.problem, error.line) from error
    except RecursionError as error:
        raise ModelFileError("nested too deeply to be a model") from error
    if len(data) != 1:
        found = ", ".join(f"'{name[:40]}'" for name in list(data)[:5]) or "nothing"
        raise ModelFileError(f"expected one table named by its kind ({', '.join(KINDS)}), got {found}")
    [(kind, values)] = data.items()
    if kind not in KINDS:
        raise ModelFileError(f"unknown kind '{kind[:80]}'{nearest(kind, KINDS)}", line_of(text, (kind,)))
    if not isinstance(values, dict):
        got = "'[[…]]'" if isinstance(values, list) else repr(values)
        raise ModelFileError(f"expected [{kind}] as a table, got {got}", line_of(text, (kind,)))
    try:
        return msgspec.convert(renamed(values, EARLIER_WORDS.get(kind, ())), KINDS[kind], dec_hook=read_value)
    except msgspec.ValidationError as error:
        says, path = explained(error, KINDS[kind])
        raise ModelFileError(says, line_of(text, (kind, *path))) from error
    except RecursionError as error:
        raise ModelFileError("nested too deeply to be a model") from error


def text_of(model: Model) -> str:
    """Write a model as the text of its file."""
    import tomli_w

    return "# A model of the fieldkit gear library.\n" + tomli_w.dumps({kind_of(model): to_plain(model)})
