"""Make every text of a page fit for paper, and mark the page by what is on it.

What people typed may hold control characters, marks that turn the writing direction, line ends. A space stands for
each line end and tab; what else cannot be printed is spelled by its number.
"""

from __future__ import annotations

import hashlib
from typing import Any, TypeVar

import msgspec

from fieldkit.sheets.page import Page

Thing = TypeVar("Thing")

JOINERS = "\u200c\u200d\ufe0e\ufe0f"
"""Unprintable by the letter of the standard, and yet a part of written words and of emoji."""


def cleaned_text(text: str) -> str:
    """Make one text printable."""
    if text.isprintable():
        return text
    return "".join(_cleaned_mark(mark) for mark in text)


def _cleaned_mark(mark: str) -> str:
    if mark.isprintable() or mark in JOINERS:
        return mark
    return " " if mark.isspace() else f"\\x{ord(mark):02x}"


def cleaned(thing: Thing) -> Thing:
    """Give a page, or anything on it, with every text made printable."""
    return _cleaned(thing)  # type: ignore[no-any-return]


def _cleaned(thing: Any) -> Any:
    if isinstance(thing, str):
        return cleaned_text(str(thing))
    if isinstance(thing, tuple):
        return tuple(_cleaned(item) for item in thing)
    if isinstance(thing, msgspec.Struct):
        values = {name: _cleaned(getattr(thing, name)) for name in thing.__struct_fields__}
        return type(thing)(**values)
    return thing


def marked(page: Page) -> Page:
    """Give a page with its revision mark: the first eight digits of SHA-256 over all that is on it.

    The mark itself and nothing else is left out: the same content has the same mark on any day and machine.
    """
    content = msgspec.json.encode([type(block).__name__ for block in page.blocks])
    content += msgspec.json.encode(msgspec.structs.replace(page, mark=""))
    return msgspec.structs.replace(page, mark=hashlib.sha256(content).hexdigest()[:8])
