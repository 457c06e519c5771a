"""TOML as people type it: read, and refused in words that say what was expected, with the line.

The standard library tells where its parser stopped and what it was at; here the line is looked at, and what its
writer most likely meant is said.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from fieldkit.errors import UnusableError
from fieldkit.text.words import printable

LONGEST_ROW = 400
CURLY = frozenset("“”„‟‘’‚‛«»")
_PLACE = re.compile(r" \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$")
_ROW = re.compile(r"\s*(?P<key>[\w.\"'-]+)\s*=\s*(?P<value>.*?)\s*(?:#.*)?$")
_BARE = re.compile(r"=\s*(?P<bare>[-+]?\d[\d.,]*\s*)$")


class TomlError(UnusableError):
    """A text that is not TOML: what was expected, and the line, from 1."""

    def __init__(self, problem: str, line: int | None) -> None:
        """Keep the parts."""
        super().__init__(problem)
        self.problem = problem
        self.line = line


def read_toml(text: str) -> dict[str, Any]:
    """Read a text as TOML. Raises TomlError, and RecursionError for one that is nested too deeply."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _told(str(error), text) from error
    except ValueError as error:  # what tomllib lets through from Python: a whole number of thousands of digits
        raise TomlError(f"not valid TOML: {str(error).partition(';')[0]}", None) from error


def _told(message: str, text: str) -> TomlError:
    place = _PLACE.search(message)
    says = message[: place.start()] if place else message
    rows = text.split("\n")
    line = int(place["line"]) if place and place["line"] else len(rows) - (not rows[-1].strip() and len(rows) > 1)
    column = int(place["column"]) if place and place["column"] else 0
    row = rows[line - 1] if line <= len(rows) else ""
    at = f" at column {column}" if column else ""
    index = max(column - 1, 0)
    if not column and "Invalid value" in says:
        return TomlError("not valid TOML: a list is not closed; expected ] before the end of the file", line)
    if len(row) > LONGEST_ROW:  # what is meant is near, and what is far costs time
        start = max(0, index - LONGEST_ROW // 2)
        row, index = row[start : start + LONGEST_ROW], index - start
    return TomlError(f"not valid TOML{at}: {_meant(says, row, index)}", line)


def _meant(says: str, row: str, index: int) -> str:
    """Say what was expected in a row of text where the parser stopped at an index."""
    curly = next((mark for mark in row if mark in CURLY), "")
    if curly and (row.count('"') % 2 or _value(row)[:1] in CURLY or row[index : index + 1] in CURLY):
        return f'expected straight quotes ("), got the curly one {curly}'
    for words, meant in _MEANT:
        if words in says:
            return meant(says, row, index)
    return says[:1].lower() + says[1:]


def _value(row: str) -> str:
    match = _ROW.match(row)
    return match["value"] if match else ""


def _key(row: str) -> str:
    match = _ROW.match(row)
    return printable(match["key"].strip("\"'"), 40) if match else ""


def _quote_open(says: str, row: str, index: int) -> str:
    del says, row, index
    return "expected a closing quote before the end of the line"


def _control(says: str, row: str, index: int) -> str:
    del row, index
    return f"expected printable characters in quotes, got {says.rpartition(' ')[2]}"


def _overwritten(says: str, row: str, index: int) -> str:
    del says, index
    if row.lstrip().startswith("["):
        name = printable(row.strip().strip("[]"), 40)
        return f"[{name}] and [[{name}]] are mixed; expected double brackets, [[{name}]], before each of several"
    return f"the key '{_key(row)}' stands twice in this table" if _key(row) else "a key stands twice in this table"


def _declared(says: str, row: str, index: int) -> str:
    del says, index
    name = printable(row.strip().strip("[]"), 40)
    return f"the table [{name}] stands twice; expected double brackets, [[{name}]], before each of several"


def _duplicate(says: str, row: str, index: int) -> str:
    del row, index
    return f"the key {printable(says.rpartition('key ')[2], 40)} stands twice between these braces"


def _no_equals(says: str, row: str, index: int) -> str:
    del says, index
    word = printable(row.strip().partition(" ")[0].rstrip(":"), 40)
    return f'expected a key, = and a value, such as {word} = "…"'


def _after_value(says: str, row: str, index: int) -> str:
    del says
    value, key = _value(row), _key(row)
    if key and value and value[0] not in "\"'[{":
        return f'expected quotes around a text or a quantity: {key} = "{printable(value, 40)}"'
    return f"expected nothing more behind the value, got {printable(row[index:].strip(), 40)}"


def _no_value(says: str, row: str, index: int) -> str:
    del says
    rest = row[index:].strip()
    word = re.split(r"[,\]}#]", rest, maxsplit=1)[0].strip() or rest
    if row.lstrip().startswith("["):
        return "expected ] or } first: a list or a table in braces before this line is not closed"
    if not rest or rest[0] in "#,]}":
        return "expected a value here, a text in quotes or a number"
    if word.lower() in {"true", "false"}:
        return f"expected {word.lower()} in small letters, got {word}"
    if word.endswith(('"', "'")):
        return f"expected an opening quote before {printable(word, 40)}"
    return f'expected a text in quotes: "{printable(word, 40)}"'


def _no_comma(says: str, row: str, index: int) -> str:
    end, name = ("]", "list") if "array" in says else ("}", "table in braces")
    bare = _BARE.search(row[:index])
    word = re.match(r"[^\s,\]}]+", row[index:])
    if bare and word:
        return f'expected quotes around a quantity: "{bare["bare"].strip()} {printable(word[0], 20)}"'
    if not row[index:].strip():
        return f"expected {end}: the {name} is not closed on this line"
    return f"expected a comma or {end} here in the {name}; a quote may be missing before it"


def _no_bracket(says: str, row: str, index: int) -> str:
    del says, index
    opened = "[[" if row.lstrip().startswith("[[") else "["
    return f"expected {'a ] for each [' if opened == '[[' else ']'} at the end of {printable(row.strip(), 40)}"


def _key_part(says: str, row: str, index: int) -> str:
    del says
    if not row[index:].strip():
        return "expected the rest of the table in braces on this line"
    return f"expected a key, got {printable(row[index:].strip(), 40)}"


def _backslash(says: str, row: str, index: int) -> str:
    del says, row, index
    return "a backslash in double quotes begins an escape; expected two of them, or single quotes around the text"


def _statement(says: str, row: str, index: int) -> str:
    del says, index
    return f"expected key = value, a [table] or a remark after #, got {printable(row.strip(), 40)}"


_MEANT = (
    ("Illegal character '\\n'", _quote_open),
    ("invalid character '\\n'", _quote_open),
    ("Unterminated string", _quote_open),
    ("Illegal character", _control),
    ("Cannot overwrite a value", _overwritten),
    ("Cannot declare", _declared),
    ("Duplicate inline table key", _duplicate),
    ("Expected '=' after a key", _no_equals),
    ("Expected newline or end of document", _after_value),
    ("Invalid value", _no_value),
    ("Unclosed", _no_comma),
    ("at the end of a", _no_bracket),
    ("Invalid initial character for a key part", _key_part),
    ("Unescaped '\\'", _backslash),
    ("Invalid statement", _statement),
)
"""Words of the parser -> what its writer most likely meant; the first that fits counts."""
