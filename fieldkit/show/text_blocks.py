"""The text of a show file, cut into one block a table, so that saving can keep what was not edited.

tomllib keeps no lines; this finds them again. A block is a header ``[name]`` or ``[[name]]`` with all that
follows it, tables nested below it included, and the comment lines that stand directly above it.
"""

from __future__ import annotations

import re
from itertools import pairwise

import msgspec

_TOKEN = re.compile(
    r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|\#[^\n]*|[\[\]{}\n]', re.DOTALL
)
_HEADER = re.compile(
    r"""[ \t]*(\[\[?)[ \t]*([A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')([ \t]*\.[^\n]*?)?[ \t]*\]\]?[ \t]*(\#[^\n]*)?\r?$"""
)


class Block(msgspec.Struct, frozen=True):
    """A stretch of text that belongs to one table; the one before the first header has no table."""

    table: str | None
    many: bool
    """True for ``[[table]]``."""
    text: str
    line: int
    """Line of the file on which the text begins, from 1."""
    header: int
    """Line of the header itself; comments may stand above it."""


def split(text: str) -> list[Block]:
    """Cut a text that tomllib accepts into its blocks; joined again they are the text."""
    lines = text.split("\n")
    heads: list[tuple[int, str, bool]] = []
    for index in _top_level_lines(text):
        match = _HEADER.match(lines[index])
        if match and not (match[3] and heads and heads[-1][1] == match[2].strip("\"'")):
            heads.append((index, match[2].strip("\"'"), match[1] == "[[" and not match[3]))
    starts = [_with_comments_above(lines, index) for index, _, _ in heads]
    bounds = [0, *starts, len(lines)]
    blocks = []
    for number, (start, end) in enumerate(pairwise(bounds)):
        part = "\n".join(lines[start:end]) + ("\n" if end < len(lines) else "")
        if number == 0:
            blocks.append(Block(table=None, many=False, text=part, line=1, header=1))
        else:
            index, table, many = heads[number - 1]
            blocks.append(Block(table=table, many=many, text=part, line=start + 1, header=index + 1))
    return blocks


def line_of(text: str, path: tuple[str | int, ...]) -> int | None:
    """Find the line of a place in the document: ``("boxes", 3, "zone")``; None where it cannot be told.

    The deepest part that can be found counts, so that a key that is missing gives its table's line.
    """
    if not path:
        return None
    table, index = path[0], path[1] if len(path) > 1 and isinstance(path[1], int) else None
    blocks = [block for block in split(text) if block.table == table]
    if index is None:
        if not blocks:
            return _key_line(split(text)[0].text, str(table), 1)
        return _inner_line(blocks[0], path[1:])
    if index < len(blocks):
        return _inner_line(blocks[index], path[2:])
    return blocks[0].header if blocks else _key_line(split(text)[0].text, str(table), 1)


def _top_level_lines(text: str) -> list[int]:
    """List the lines that begin outside of every string and bracket, where a header may stand."""
    result, depth, line = [0], 0, 0
    for match in _TOKEN.finditer(text):
        mark = match.group()
        if mark == "\n":
            line += 1
            if depth == 0:
                result.append(line)
        elif mark in "[{":
            depth += 1
        elif mark in "]}":
            depth = max(0, depth - 1)
        else:
            line += mark.count("\n")
    return result


def _with_comments_above(lines: list[str], index: int) -> int:
    while index > 0 and lines[index - 1].lstrip().startswith("#"):
        index -= 1
    return index


def _inner_line(block: Block, path: tuple[str | int, ...]) -> int:
    """Find the line of a key within a block, through nested tables and rows of inline tables."""
    lines = block.text.split("\n")
    start, end = block.header - block.line, len(lines)
    found = block.header
    trail = block.table or ""
    for number, part in enumerate(path):
        if isinstance(part, int):
            continue
        row = path[number + 1] if number + 1 < len(path) and isinstance(path[number + 1], int) else 0
        trail = f"{trail}.{part}"
        nested = [i for i in range(len(lines)) if _is_header(lines[i], trail)]
        if nested and isinstance(row, int) and row < len(nested):
            start = nested[row]
            end = next((i for i in range(start + 1, len(lines)) if lines[i].lstrip().startswith("[")), end)
            found = block.line + start
            continue
        line = _key_line("\n".join(lines[start:end]), str(part), block.line + start)
        if line is None:
            return found
        found = line
        if number + 1 < len(path) and isinstance(path[number + 1], int) and isinstance(row, int):
            found = _row_line(lines, line - block.line, row) + block.line
            start = found - block.line
    return found


def _is_header(line: str, trail: str) -> bool:
    return re.sub(r"[\s\"']", "", line.partition("#")[0]) in {f"[[{trail}]]", f"[{trail}]"}


def _key_line(text: str, key: str, first_line: int) -> int | None:
    pattern = re.compile(rf"""(^|[{{,])[ \t]*["']?{re.escape(key)}["']?[ \t]*[=.]""", re.MULTILINE)
    match = pattern.search(text)
    return None if match is None else first_line + text.count("\n", 0, match.end())


def _row_line(lines: list[str], start: int, row: int) -> int:
    """Find the line on which the given row of an array of inline tables begins."""
    text = "\n".join(lines[start:])
    depth, seen, line = 0, -1, 0
    for match in _TOKEN.finditer(text):
        mark = match.group()
        if mark == "\n":
            line += 1
        elif mark in "[{":
            depth += 1
            if mark == "{" and depth == 2:
                seen += 1
                if seen == row:
                    return start + line
        elif mark in "]}":
            depth -= 1
            if depth == 0:
                break
        else:
            line += mark.count("\n")
    return start
