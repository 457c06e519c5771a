"""One model in a file of its own, as the gear library keeps it: a TOML table named by the model's kind.

``[loudspeaker]``, ``[amplifier]``, ``[processor]``, ``[cable]``, ``[adaptor]``, ``[panel]`` or ``[built_rack]``,
with the same keys as a row of the table of that name in a show (``[[loudspeakers]]``), so that text can be
copied from one to the other.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any, TypeAlias

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.units import Measure

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

_UNKNOWN = re.compile(r"Object contains unknown field `(.*?)`")
_MISSING = re.compile(r"Object missing required field `(.*?)`")
_PART = re.compile(r"\.([^.\[\]]+)|\[(\d+)\]")


class ModelFileError(ValueError):
    """What a model's file says cannot be used; the text is the reason, in one line."""


def kind_of(model: Model) -> str:
    """Name the kind of a model as its table is named: ``built_rack``."""
    return next(kind for kind, made in KINDS.items() if type(model) is made)


def parse(text: str) -> Model:
    """Read a model from the text of its file. Raises ModelFileError."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ModelFileError(f"not valid TOML: {error}") from error
    except RecursionError as error:
        raise ModelFileError("nested too deeply to be a model") from error
    if len(data) != 1:
        found = ", ".join(f"'{name[:40]}'" for name in list(data)[:5]) or "nothing"
        raise ModelFileError(f"expected one table named by its kind ({', '.join(KINDS)}), got {found}")
    [(kind, values)] = data.items()
    if kind not in KINDS:
        raise ModelFileError(f"unknown kind '{kind[:80]}'{_nearest(kind, list(KINDS))}")
    if not isinstance(values, dict):
        raise ModelFileError(f"expected [{kind}] as a table, got {'[[…]]' if isinstance(values, list) else values!r}")
    try:
        return msgspec.convert(values, KINDS[kind], dec_hook=_read_measure)
    except msgspec.ValidationError as error:
        raise ModelFileError(_explained(error, KINDS[kind])) from error
    except RecursionError as error:
        raise ModelFileError("nested too deeply to be a model") from error


def text_of(model: Model) -> str:
    """Write a model as the text of its file."""
    import tomli_w

    plain = msgspec.to_builtins(model, enc_hook=_plain_text)
    return "# A model of the fieldkit gear library.\n" + tomli_w.dumps({kind_of(model): plain})


def _read_measure(kind: type, value: Any) -> Any:
    if not isinstance(value, str):
        raise ValueError(f"expected text in quotes with its unit, got {value!r}")  # noqa: TRY004  (msgspec's rule)
    return kind(value)


def _plain_text(value: Any) -> Any:
    if isinstance(value, Measure):
        return str(value)
    raise TypeError(f"expected a quantity, got {type(value).__name__}")


def _explained(error: msgspec.ValidationError, kind: type) -> str:
    """Say in the file's words what msgspec found, and at which key."""
    says, _, trail = str(error).partition(" - at `")
    path = [part[1] or int(part[2]) for part in _PART.finditer(trail.removeprefix("$").removesuffix("`"))]
    where = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
    if unknown := _UNKNOWN.fullmatch(says):
        says = f"unknown key '{unknown[1][:80]}'{_nearest(unknown[1], _keys_at(kind, path))}"
    elif missing := _MISSING.fullmatch(says):
        says = f"the key '{missing[1]}' is missing"
    elif says.startswith("Expected "):
        says = says[:1].lower() + says[1:]
    return f"{where}: {says}" if where else says


def _keys_at(kind: type, path: list[str | int]) -> list[str]:
    """List the keys that the table at a path may have."""
    here: Any = msgspec.inspect.type_info(kind)
    for part in path:
        if isinstance(here, msgspec.inspect.StructType):
            here = next((field.type for field in here.fields if field.encode_name == part), None)
        else:
            here = getattr(here, "item_type", None) or getattr(here, "value_type", None)
        if isinstance(here, msgspec.inspect.UnionType):
            here = next(item for item in here.types if not isinstance(item, msgspec.inspect.NoneType))
    return [field.encode_name for field in getattr(here, "fields", ())]


def _nearest(word: str, known: list[str]) -> str:
    import difflib

    close = difflib.get_close_matches(word[:80], known, n=1, cutoff=0.6)
    return f"; did you mean '{close[0]}'?" if close else f"; expected one of {', '.join(sorted(known))}"
