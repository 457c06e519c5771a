"""Older file formats carried over to the present one, a step at a time, before anything is read of them.

A step is a list of words that became others. Parsed values are changed where a file is read; the text is changed
where a show that was read from it is saved, and its remarks, order and spacing stay.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from fieldkit.errors import UnusableError
from fieldkit.gear.model_file import EARLIER_WORDS
from fieldkit.text.renaming import Renaming, renamed, renamed_text

Data = dict[str, Any]
Steps = Mapping[int, Sequence[Renaming]]

FORMAT = 2
"""The file format that this program writes."""

STEPS: Steps = {
    1: (
        Renaming("show", "least_damping", "minimum_damping"),
        Renaming("supplies.*.across", "lines", "phases", is_key=False),
        Renaming("", "lost", "failed"),
        *(rule.below(f"{kind}s.*") for kind, rules in EARLIER_WORDS.items() for rule in rules),
    ),
}
"""Format -> what became another word in the next one."""

_HEAD = "# fieldkit show, format "
"""How the first remark of a file that this program made begins."""
_MAY_BE_OLD = re.compile(rf"(?m)^\s*[\"']?format[\"']?\s*=\s*(?!{FORMAT}\b)")


def carried_over(data: Data, steps: Steps = STEPS, newest: int = FORMAT) -> Data:
    """Carry a parsed file over to the newest format; without a number it is taken for the newest.

    Raises UnusableError for a format that this program does not know.
    """
    found = data.get("format", newest)
    if isinstance(found, bool) or not isinstance(found, int) or not (found == newest or found in steps):
        raise UnusableError(f"expected {newest}, the one that this version of fieldkit writes, got {found!r}")
    while found != newest:
        data = renamed(data, steps[found])
        found += 1
        data = {**data, "format": found}
    return data


def carried_text(text: str, steps: Steps = STEPS) -> str:
    """Convert the text of a file to the newest format. The text begins with no byte order mark."""
    found = tomllib.loads(text).get("format", FORMAT) if _MAY_BE_OLD.search(text) else FORMAT
    while found in steps:
        number = Renaming("format", str(found), str(found + 1), is_key=False)
        text = renamed_text(text, (*steps[found], number))
        if text.startswith(f"{_HEAD}{found}"):
            text = f"{_HEAD}{found + 1}{text[len(_HEAD) + len(str(found)) :]}"
        found += 1
    return text
