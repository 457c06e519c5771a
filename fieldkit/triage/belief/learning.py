"""Odds that a user's own closed cases have moved: one more for the kind of fault that it was.

They are written into the user's own table, which is text of a person: one number changes, and everything else of the
file stays as it stands.
"""

from __future__ import annotations

import re
import tomllib

from fieldkit.show.errors import FileError
from fieldkit.show.keep.storage import read_text, write_text
from fieldkit.triage.model.odds import OWN_NAME, config_folder, table

HEAD = """\
# Odds, minutes and spreads of the fault triage where they differ from those that come with the program.
# Estimates at first (common practice, no source); closed cases that were counted in have moved them.
"""

_HEADER = re.compile(r"^\s*\[\s*odds\s*\]\s*(#.*)?$")
_ANY_HEADER = re.compile(r"^\s*\[")


def more(kind: str) -> tuple[float, float] | None:
    """Give the odds of a kind of fault as they are, and with one case more; None for what has no odds."""
    odds = table().odds.get(kind)
    return None if odds is None or odds < 1.0 else (odds, odds + 1.0)


def count_in(kind: str) -> None:
    """Count a closed case in the user's own table. Raises FileError, and changes nothing, where that cannot be."""
    odds = more(kind)
    if odds is None:
        raise FileError(f"'{kind}' has no odds that could be counted up", file=OWN_NAME)
    file = config_folder() / OWN_NAME
    before = read_text(file) if file.exists() else HEAD
    after = with_odds(before, kind, odds[1])
    wanted = tomllib.loads(before)
    wanted.setdefault("odds", {})[kind] = odds[1]
    try:
        done = tomllib.loads(after) == wanted
    except tomllib.TOMLDecodeError:
        done = False
    if not done:
        raise FileError(f"write it in by hand: {kind} = {odds[1]:g} under [odds]", file=OWN_NAME)
    file.parent.mkdir(parents=True, exist_ok=True)
    write_text(file, after)


def with_odds(text: str, kind: str, odds: float) -> str:
    """Give the text of a table with one of its odds set; a comment behind the number stays."""
    lines = text.splitlines()
    start = next((place for place, line in enumerate(lines) if _HEADER.match(line)), None)
    entry = f"{kind} = {odds:g}"
    if start is None:
        return "\n".join([*lines, "", "[odds]", entry, ""])
    end = next((place for place in range(start + 1, len(lines)) if _ANY_HEADER.match(lines[place])), len(lines))
    key = re.compile(rf'^(\s*(?:{re.escape(kind)}|"{re.escape(kind)}")\s*=\s*)[^\s#]+')
    for place in range(start + 1, end):
        if key.match(lines[place]):
            lines[place] = key.sub(rf"\g<1>{odds:g}", lines[place])
            return "\n".join([*lines, ""])
    return "\n".join([*lines[: start + 1], entry, *lines[start + 1 :], ""])
