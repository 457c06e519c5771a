"""From a show to the text of its file: canonical for what is new, as it stood for what was not edited."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import msgspec

from fieldkit.gear.wording import to_plain
from fieldkit.show.decoding import decode
from fieldkit.show.document import About, Show
from fieldkit.show.errors import DocumentError
from fieldkit.show.migration import carried_text
from fieldkit.text.toml_blocks import Block, free_end, split

HEAD = (
    "# fieldkit show, format 2. A comment stays with its table until that table is edited in the program;\n"
    "# lasting remarks go in `note`.\n"
    "format = 2\n"
)

NESTED_AS_BLOCKS = frozenset({("loudspeakers", "sections"), ("loudspeakers", "presets"), ("built_racks", "contents")})
"""Lists that are written as tables of their own, since a row of them would be 170 columns wide."""

BYTE_ORDER_MARK = "\ufeff"
"""What some editors put before the text; it is kept where it stands."""

TABLES = tuple(field.encode_name for field in msgspec.structs.fields(Show) if field.name not in {"format", "about"})


def canonical(show: Show) -> str:
    """Write a show as a new file."""
    parts = [HEAD]
    if show.about != About():
        parts.append(_table("show", show.about, many=False))
    parts.extend(_table(table, item, many=True) for table in TABLES for item in getattr(show, table))
    return "\n".join(parts)


def updated(text: str, before: Show, after: Show) -> str:
    """Write a show into the text it was read from: only tables whose value changed are written anew.

    Falls back to the canonical text where the file has another shape (lists of tables in one line, say),
    since nothing may be lost: the result always reads back as exactly this show.
    """
    if after == before:
        return text
    # A file that was edited here and there may have both line ends; what is new takes those that most lines have.
    newline = "\r\n" if 2 * text.count("\r\n") > text.count("\n") else "\n"
    plain = text.removeprefix(BYTE_ORDER_MARK)
    mark = text[: len(text) - len(plain)]
    plain = carried_text(plain)
    merged = _merged(plain, before, after, newline)
    if merged is None or not _reads_as(merged, after):
        merged = canonical(after).replace("\n", newline)
    return mark + merged


def _reads_as(text: str, show: Show) -> bool:
    try:
        return decode(tomllib.loads(text)) == show
    except (tomllib.TOMLDecodeError, DocumentError):
        return False


def _merged(text: str, before: Show, after: Show, newline: str) -> str | None:
    blocks = split(text)
    chunks: list[tuple[str | None, str, bool]] = [(None, blocks[0].text, False)]
    by_table: dict[str, list[Block]] = {}
    for block in blocks[1:]:
        by_table.setdefault(block.table or "", []).append(block)
    if any(len(by_table.get(table, [])) != len(getattr(before, table)) for table in TABLES):
        return None
    if len(by_table.get("show", [])) > 1 or not set(by_table) <= {"show", *TABLES}:
        return None
    pieces = {
        table: _table_pieces(table, by_table.get(table, []), getattr(before, table), getattr(after, table), newline)
        for table in TABLES
    }
    for block in blocks[1:]:
        table = block.table or ""
        if table == "show":
            same = after.about == before.about
            chunks.append((table, block.text if same else _renewed(block, table, after.about, newline), False))
        else:
            chunks.extend((table, *part) for part in pieces[table].pop(block.line, ()))
    if "show" not in by_table and after.about != About():
        chunks.insert(1, ("show", _table("show", after.about, many=False).replace("\n", newline), True))
    for table in TABLES:
        # What is left belongs behind no block of the file: a table that it did not have.
        for parts in pieces[table].values():
            position = _place_for(table, [name for name, *_ in chunks])
            chunks[position:position] = [(table, *part) for part in parts]
    return _joined([(text, new) for _, text, new in chunks], newline)


def _place_for(table: str, present: list[str | None]) -> int:
    """Find where a table that the file did not have belongs: behind the last of those that come before it."""
    earlier = {None, "show", *TABLES[: TABLES.index(table)]}
    return max((index for index, name in enumerate(present) if name in earlier), default=-1) + 1


def _table_pieces(
    table: str, blocks: list[Block], old: tuple[Any, ...], new: tuple[Any, ...], newline: str
) -> dict[int, list[tuple[str, bool]]]:
    """Say what is written in place of each block of a table, by the block's line; line 0 is no block.

    Each piece is told with whether it is a new thing.

    A thing that stays keeps its place in the file, and a new one comes behind the thing before it. Where things
    have changed their order, all of them are written at the place of the first. Of a thing that goes, the remarks
    that stand free below it stay.
    """
    if old is new or old == new:
        return {block.line: [(block.text, False)] for block in blocks}
    matched = _matched(old, new)
    places = [place for place in matched if place is not None]
    in_order = places == sorted(places)
    first = blocks[0].line if blocks else 0
    pieces: dict[int, list[tuple[str, bool]]] = {}
    here = first
    for item, place in zip(new, matched, strict=True):
        if place is None:
            text = _table(table, item, many=True).replace("\n", newline)
        else:
            text = blocks[place].text if old[place] == item else _renewed(blocks[place], table, item, newline)
            here = blocks[place].line if in_order else first
        pieces.setdefault(here, []).append((text, place is None))
    for gone in sorted(set(range(len(blocks))) - set(places)):
        remarks = free_end(blocks[gone])
        if remarks.strip():
            pieces.setdefault(blocks[gone].line, []).insert(0, (remarks, False))
    return pieces


def _matched(old: tuple[Any, ...], new: tuple[Any, ...]) -> list[int | None]:
    """Find for each new thing the old one that it is: the equal one, else one of its id, line or model."""
    free: dict[Any, list[int]] = {}
    for index, item in enumerate(old):
        free.setdefault(_key(item), []).append(index)
    matched: list[int | None] = [None] * len(new)
    for equal in (True, False):
        for number, item in enumerate(new):
            places = free.get(_key(item), [])
            if matched[number] is None:
                place = next((place for place in places if not equal or old[place] == item), None)
                if place is not None:
                    places.remove(place)
                    matched[number] = place
    return matched


def _key(item: Any) -> Any:
    return getattr(item, "id", None) or getattr(item, "line", None) or getattr(item, "model", None)


def _renewed(block: Block, table: str, thing: Any, newline: str) -> str:
    """Write a changed table anew, between the comments above its header and those that stand free below it."""
    above = "".join(line + "\n" for line in block.text.split("\n")[: block.header - block.line])
    return above + _table(table, thing, many=block.many).replace("\n", newline) + free_end(block)


def _joined(parts: list[tuple[str, bool]], newline: str) -> str:
    """Put the pieces together. Round a new one there is an empty line; between old ones all stays as it was."""
    result = ""
    before_new = False
    for text, new in parts:
        if result and text and not result.endswith("\n"):
            result += newline
        if result and text and (new or before_new) and not result.endswith(("\n\n", "\n\r\n")):
            result += newline
        result += text
        before_new = new
    return result


def _table(table: str, thing: Any, *, many: bool) -> str:
    """Write one thing as a table, canonically."""
    head = f"[[{table}]]" if many else f"[{table}]"
    return "\n".join([head, *_body(table, to_plain(thing))]) + "\n"


def _body(table: str, values: dict[str, Any]) -> Iterator[str]:
    nested = []
    for key, value in values.items():
        if (table, key) in NESTED_AS_BLOCKS and value:
            nested.append((key, value))
        else:
            yield f"{_name(key)} = {_value(value, rows=isinstance(value, (list, tuple)))}"
    for key, rows in nested:
        for row in rows:
            yield f"\n[[{table}.{key}]]"
            yield from _body(f"{table}.{key}", row)


def _value(value: Any, *, rows: bool = False) -> str:
    """Write a value in one line; a list of tables in one row each."""
    if isinstance(value, dict):
        inner = ", ".join(f"{_name(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        items = [_value(item) for item in value]
        if rows and value and isinstance(value[0], dict):
            return "[\n" + "".join(f"    {item},\n" for item in items) + "]"
        return f"[{', '.join(items)}]"
    return _scalar(value)


def _scalar(value: Any) -> str:
    import tomli_w

    return tomli_w.dumps({"x": value}).partition(" = ")[2].rstrip("\n")


def _name(key: str) -> str:
    import tomli_w

    return tomli_w.dumps({key: 1}).rpartition(" = ")[0]
