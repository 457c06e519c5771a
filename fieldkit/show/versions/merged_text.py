"""The text of a merged show: mine, with what changed written anew, and what theirs has written as theirs wrote it."""

from __future__ import annotations

import re
import tomllib

from fieldkit.show.decoding import decode
from fieldkit.show.document import Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.keep.storage import Stored
from fieldkit.show.migration import carried_text
from fieldkit.show.versions.tree import TABLES
from fieldkit.show.writing import BYTE_ORDER_MARK, canonical, updated
from fieldkit.text.toml_blocks import Block, free_end, split

_REMARK = re.compile(r"#[^\n\r]*")


def merged_text(show: Show, mine: Stored, theirs: Stored) -> str:
    """Write a merged show into the text of mine, with the remarks of both where there is room for both.

    A table that says what theirs says is taken as theirs wrote it, remarks included, unless mine has remarks in it
    that theirs has not. The result always reads back as this show.
    """
    text = updated(mine.text, mine.show, show) if mine.text.strip() else canonical(show)
    text = _newest(text)
    joined = _with_blocks_of(text, show, theirs)
    try:
        same = decode(tomllib.loads(joined.removeprefix(BYTE_ORDER_MARK))) == show
    except (tomllib.TOMLDecodeError, DocumentError):
        same = False
    return joined if same else text


def _newest(text: str) -> str:
    plain = text.removeprefix(BYTE_ORDER_MARK)
    return text[: len(text) - len(plain)] + carried_text(plain)


def _with_blocks_of(text: str, show: Show, theirs: Stored) -> str:
    plain = text.removeprefix(BYTE_ORDER_MARK)
    ours, others = split(plain), split(_newest(theirs.text).removeprefix(BYTE_ORDER_MARK))
    offered: dict[tuple[str, str], list[tuple[object, Block]]] = {}
    for table, thing, block in _things(others, theirs.show):
        offered.setdefault((table, _name(thing)), []).append((thing, block))
    newline = "\r\n" if 2 * text.count("\r\n") > text.count("\n") else "\n"
    parts = {block.line: block.text for block in ours}
    for table, thing, block in _things(ours, show):
        for other, candidate in offered.get((table, _name(thing)), ()):
            if other == thing and _remarks(block) <= _remarks(candidate):
                own = candidate.text.removesuffix(free_end(candidate)).replace("\r\n", "\n").replace("\n", newline)
                parts[block.line] = own + free_end(block)
    return text[: len(text) - len(plain)] + "".join(parts.values())


def _things(blocks: list[Block], show: Show) -> list[tuple[str, object, Block]]:
    """Pair the blocks of a text with the things that they say; nothing where the text has another shape."""
    found: list[tuple[str, object, Block]] = []
    for table in TABLES:
        own = [block for block in blocks if block.table == table]
        things = getattr(show, table)
        if len(own) != len(things):
            return []
        found += [(table, thing, block) for thing, block in zip(things, own, strict=True)]
    return found


def _name(thing: object) -> str:
    return str(getattr(thing, "id", "") or getattr(thing, "line", "") or getattr(thing, "model", ""))


def _remarks(block: Block) -> set[str]:
    body = block.text.removesuffix(free_end(block))
    return {remark.strip() for remark in _REMARK.findall(re.sub(r'"(?:[^"\\\n]|\\.)*"', '""', body))}
