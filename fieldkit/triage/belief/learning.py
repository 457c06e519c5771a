"""Odds that a user's own closed cases have moved: one more for the kind of fault that it was.

They are written into the user's own table, which is text of a person: one number changes, and everything else of the
file stays as it stands.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import Any

import msgspec

from fieldkit.show.errors import FileError
from fieldkit.show.keep.storage import read_text, write_text
from fieldkit.text.folders import config_folder
from fieldkit.triage.model.odds import OWN_NAME, table

HEAD = """\
# Odds, minutes and spreads of the fault triage where they differ from those that come with the program.
# Estimates at first (common practice, no source); closed cases that were counted in have moved them.
"""

JOURNAL = "triage_cases.toml"
JOURNAL_HEAD = "# Closed cases that were counted in your own odds (triage.toml), with the day.\n"

_HEADER = re.compile(r"^\s*\[\s*odds\s*\]\s*(#.*)?$")
_ANY_HEADER = re.compile(r"^\s*\[")


def more(kind: str) -> tuple[float, float] | None:
    """Return the odds of a kind of fault, now and with one case more; None for what has no odds."""
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
    journal = config_folder() / JOURNAL
    known = read_text(journal) if journal.exists() else JOURNAL_HEAD
    today = dt.datetime.now(dt.UTC).astimezone().date().isoformat()
    write_text(journal, f'{known}\n[[cases]]\nkind = "{kind}"\nday = {today}\n')


class Learned(msgspec.Struct, frozen=True):
    """What closed cases have counted in of one kind of fault."""

    kind: str
    cases: int
    since: dt.date


def learned() -> list[Learned]:
    """List what was counted in, the oftenest first. Raises FileError for a journal that cannot be used."""
    by_kind: dict[str, list[dt.date]] = {}
    for case in _cases():
        by_kind.setdefault(case["kind"], []).append(case["day"])
    found = [Learned(kind, len(days), min(days)) for kind, days in by_kind.items()]
    return sorted(found, key=lambda item: (-item.cases, item.kind))


def take_back(kind: str) -> None:
    """Take the last case of a kind out of the user's own odds again. Raises FileError where none was counted."""
    cases = _cases()
    place = max((number for number, case in enumerate(cases) if case["kind"] == kind), default=None)
    odds, file = table().odds.get(kind, 0.0), config_folder() / OWN_NAME
    if place is None or not file.exists() or odds < 2.0:
        raise FileError(f"no case of '{kind}' is counted in your odds", file=OWN_NAME)
    write_text(file, with_odds(read_text(file), kind, odds - 1.0))
    left = [case for number, case in enumerate(cases) if number != place]
    rows = "".join(f'\n[[cases]]\nkind = "{case["kind"]}"\nday = {case["day"].isoformat()}\n' for case in left)
    write_text(config_folder() / JOURNAL, JOURNAL_HEAD + rows)


def _cases() -> list[dict[str, Any]]:
    journal = config_folder() / JOURNAL
    if not journal.exists():
        return []
    try:
        cases = tomllib.loads(read_text(journal)).get("cases", [])
        usable = all(isinstance(case["kind"], str) and isinstance(case["day"], dt.date) for case in cases)
    except (tomllib.TOMLDecodeError, TypeError, KeyError, AttributeError) as error:
        raise FileError("expected cases with a kind and a day each", file=JOURNAL) from error
    if not usable:
        raise FileError("expected cases with a kind and a day each", file=JOURNAL)
    return list(cases)


def with_odds(text: str, kind: str, odds: float) -> str:
    """Set one of the odds in the text of a table; a comment after the number stays."""
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
