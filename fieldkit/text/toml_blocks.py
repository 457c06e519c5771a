"""The text of a show file, cut into one block a table, so that saving can keep what was not edited.

tomllib keeps no lines; this finds them again. A block is a header ``[name]`` or ``[[name]]`` with all that
follows it, tables nested below it included, and the comment lines that stand directly above it.

Why no library serves: the one that keeps comments, tomlkit 0.15, takes fifteen times as long as tomllib to read a show
of 1,000 boxes (2.0 s to 0.13 s on a busy machine), and moves tables: where ``[[boxes]]`` and ``[[zones]]`` take turns,
it writes all boxes first, and the comment above a box stays behind, or goes with the box before it.
"""

from __future__ import annotations

import re
from itertools import pairwise

import msgspec

_TOKEN = re.compile(
    r'"{3}(?:[^\\]|\\.)*?"{3,5}|\'{3}.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|\#[^\n]*|[\[\]{}\n]', re.DOTALL
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
    top_level = _top_level_lines(text)
    for index in top_level:
        match = _HEADER.match(lines[index])
        if match and not (match[3] and heads and heads[-1][1] == match[2].strip("\"'")):
            heads.append((index, match[2].strip("\"'"), match[1] == "[[" and not match[3]))
    outside = set(top_level)
    starts = [_with_comments_above(lines, index, outside) for index, _, _ in heads]
    bounds = [0, *starts, len(lines)]
    blocks = []
    for number, (start, end) in enumerate(pairwise(bounds)):
        part = "\n".join(lines[start:end]) + ("\n" if start < end < len(lines) else "")
        if number == 0:
            blocks.append(Block(table=None, many=False, text=part, line=1, header=1))
        else:
            index, table, many = heads[number - 1]
            blocks.append(Block(table=table, many=many, text=part, line=start + 1, header=index + 1))
    return blocks


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


def _with_comments_above(lines: list[str], index: int, outside: set[int]) -> int:
    """Go up over comment lines; what looks like one within a text of several lines is none."""
    while index > 0 and index - 1 in outside and lines[index - 1].lstrip().startswith("#"):
        index -= 1
    return index


def free_end(block: Block) -> str:
    """Find the end of a block that is not its table's: empty lines, and the comments that stand behind one."""
    lines = block.text.split("\n")
    outside = set(_top_level_lines(block.text))
    start = len(lines)
    while start - 1 > block.header - block.line and start - 1 in outside and lines[start - 1].strip()[:1] in {"", "#"}:
        start -= 1
    while start < len(lines) and lines[start].strip():
        start += 1
    return "\n".join(lines[start:])
