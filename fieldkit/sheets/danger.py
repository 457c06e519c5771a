"""Errors on paper: every page says at its head that the plan has some, and marks each row and label they concern.

A page is a plan that somebody follows without the program at hand. So a plan with errors is never printed as if it
had none: the banner stands on every page, and what names a thing with an error is marked, in black and white.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TypeVar

import msgspec

from fieldkit.checks.concern import Concern
from fieldkit.sheets.page import Block, Items, Page, RunDrawing, Stickers, Table
from fieldkit.text.words import counted

DO_NOT_PLUG = "DO NOT PLUG"
MOST_NAMED = 12
"""More outputs than this are counted on the banner: it stands on every page."""

_SEPARATORS = re.compile(r"[\s,;:()]+")

Marked = TypeVar("Marked", bound=Block)


def with_errors(page: Page, concerns: tuple[Concern, ...]) -> Page:
    """Add banner and marks to a page; the page is unchanged where the plan has no error."""
    if not concerns:
        return page
    blocks = tuple(_marked(block, concerns) for block in page.blocks)
    return msgspec.structs.replace(page, banner=banner(concerns), blocks=blocks)


def banner(concerns: tuple[Concern, ...]) -> tuple[str, ...]:
    """Say how many errors a plan has and where; empty for none."""
    if not concerns:
        return ()
    live = _in_order(name for concern in concerns if concern.live for name in concern.outputs)
    other = _in_order(concern.finding.where.id for concern in concerns if not concern.live)
    said = [f"THIS PLAN HAS {counted(len(concerns), 'ERROR').upper()}. What an error concerns is marked with !"]
    if live:
        said.append(f"{DO_NOT_PLUG} until the errors are cleared: {_named(live)}")
    if other:
        said.append(f"errors about: {_named(other)}")
    said.append("What they are stands on the page of findings.")
    return tuple(said)


def _in_order(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(name for name in names if name))


def _named(names: list[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return " ".join(names[:MOST_NAMED]) + more


def _marked(block: Marked, concerns: tuple[Concern, ...]) -> Marked | Block:
    if isinstance(block, Table):
        errors = tuple(_row_error(row, concerns) for row in block.rows)
        return msgspec.structs.replace(block, errors=errors) if any(errors) else block
    if isinstance(block, Items):
        if block.findings:
            return block
        return msgspec.structs.replace(block, items=tuple(_item(item, concerns) for item in block.items))
    if isinstance(block, Stickers):
        labels = tuple((name, _sticker(name, lines, concerns)) for name, lines in block.labels)
        return msgspec.structs.replace(block, labels=labels)
    if isinstance(block, RunDrawing) and block.stops:
        texts = [block.name, *(text for stop in block.stops for text in (stop.title, *stop.details))]
        warned = _warnings(_concerning(texts, concerns))
        first = block.stops[0]
        first = msgspec.structs.replace(first, details=(*warned, *first.details))
        return msgspec.structs.replace(block, stops=(first, *block.stops[1:]))
    return block


def _row_error(row: tuple[object, ...], concerns: tuple[Concern, ...]) -> str:
    """Say what the errors of a row are; empty for none. A row concerns what it names in any cell."""
    found = _concerning([cell for cell in row if isinstance(cell, str)], concerns)
    return "; ".join(_warnings(found))


def _item(item: tuple[str, ...], concerns: tuple[Concern, ...]) -> tuple[str, ...]:
    """Put the errors of an item below its first line, which names what it is about."""
    return (item[0], *_warnings(_concerning(item[:1], concerns)), *item[1:])


def _sticker(name: str, lines: tuple[str, ...], concerns: tuple[Concern, ...]) -> tuple[str, ...]:
    live = any(concern.live for concern in _concerning((name, *lines), concerns))
    return (f"! {DO_NOT_PLUG}", *lines) if live else lines


def _warnings(found: list[Concern]) -> tuple[str, ...]:
    return tuple(
        f"! {f'{DO_NOT_PLUG}: ' if concern.live else 'error: '}{concern.finding.where.id}: {concern.finding.says}"
        for concern in found
    )


def warnings_of(texts: Iterable[str], concerns: tuple[Concern, ...]) -> tuple[str, ...]:
    """Say what the errors are of all that some texts name, and whether it may be plugged."""
    return _warnings(_concerning(texts, concerns))


def _concerning(texts: Iterable[str], concerns: tuple[Concern, ...]) -> list[Concern]:
    """Find the errors that concern a thing which one of the texts names, as a whole or as a word of it."""
    words = set(texts)
    words |= {word for text in tuple(words) for word in _SEPARATORS.split(text)}
    return [concern for concern in concerns if not words.isdisjoint(concern.names)]
