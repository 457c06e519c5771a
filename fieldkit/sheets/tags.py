"""Fault tags: one for each item that is out of service, and empty ones for what breaks today."""

from __future__ import annotations

from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Form, Page, Words

EMPTY_TAGS = 4
WORDS = ("Tie a tag to what is faulty and pull its plug. What has a tag is not used until the tag is signed off.",)


def tags_page(material: Material) -> Page:
    """Make the page."""
    known = [
        _tag(
            f"{item.out} × {item.model}" if item.out > 1 else item.model,
            item.serial,
            f"hired from {item.hired_from or 'somebody'}" if item.hired and not item.owned else "",
            item.note,
        )
        for item in material.show.stock
        if item.out
    ]
    empty = [_tag("", "", "", "") for _ in range(EMPTY_TAGS)]
    return Page("fault-tags", "Fault tags", (Words(WORDS), *known, *empty))


def _tag(model: str, serial: str, owner: str, fault: str) -> Form:
    fields = (
        ("model", model),
        ("serial or label", serial),
        ("whose", owner),
        ("what is wrong", fault),
        ("found by, when", ""),
        ("reading, where", ""),
        ("fixed by, when", ""),
    )
    return Form("FAULTY, do not use", fields)
