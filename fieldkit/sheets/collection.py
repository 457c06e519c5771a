"""All pages: which there are, in which order, and how a set of them is made."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import msgspec

from fieldkit.sheets.changes import changes_page
from fieldkit.sheets.chart import chart_page
from fieldkit.sheets.danger import with_errors
from fieldkit.sheets.if_it_fails import if_it_fails_page
from fieldkit.sheets.labels import labels_page
from fieldkit.sheets.lid import lid_page
from fieldkit.sheets.material import Material
from fieldkit.sheets.notices import cautions_page, contact_page, findings_page
from fieldkit.sheets.page import Column, Page, Table
from fieldkit.sheets.patch import patch_page
from fieldkit.sheets.pull import pull_page
from fieldkit.sheets.racks import racks_page
from fieldkit.sheets.returns import return_page
from fieldkit.sheets.rig_check import rig_check_page
from fieldkit.sheets.settings import settings_page
from fieldkit.sheets.supply import supply_page
from fieldkit.sheets.tags import tags_page
from fieldkit.sheets.wiring import wiring_page

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
    """Make every text of a page, or of a part of it, printable."""
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
    """Add the revision mark to a page: the first eight digits of SHA-256 over all that is on it.

    Only the mark itself is left out: the same content has the same mark on any day and machine.
    """
    content = msgspec.json.encode([type(block).__name__ for block in page.blocks])
    content += msgspec.json.encode(msgspec.structs.replace(page, mark=""))
    return msgspec.structs.replace(page, mark=hashlib.sha256(content).hexdigest()[:8])


class CrewPage(msgspec.Struct, frozen=True):
    """A page of the set."""

    make: Callable[[Material], Page]
    purpose: str
    """What it is for, in a few words."""


PAGES = {
    "contact": CrewPage(contact_page, "who and where, the notes, and the revision of every page"),
    "lid": CrewPage(lid_page, "one page to tape inside the lid: what goes where, what it reads"),
    "patch": CrewPage(patch_page, "what feeds what, by rack and by zone; signal cables, links"),
    "wiring": CrewPage(wiring_page, "each run drawn, with plugs, pin pairs, adaptors and ends"),
    "settings": CrewPage(settings_page, "presets, limiters, delays and gains, host by host"),
    "labels": CrewPage(labels_page, "each cable end and output, as a list and as stickers"),
    "racks": CrewPage(racks_page, "the faces of each rack, front and rear"),
    "supply": CrewPage(supply_page, "loads, plugs, order to switch on, what to meter first"),
    "rig-check": CrewPage(rig_check_page, "what a meter should read, and room to write"),
    "if-it-fails": CrewPage(if_it_fails_page, "for each unit: what to do if it fails, step by step"),
    "chart": CrewPage(chart_page, "what each amplifier drives: how many of which boxes"),
    "findings": CrewPage(findings_page, "what the checks still have to say"),
    "pull": CrewPage(pull_page, "what to take, what is hired, cases and weight"),
    "return": CrewPage(return_page, "what went out, what came back, what is missing"),
    "fault-tags": CrewPage(tags_page, "tags for what is out of service, and empty ones"),
    "cautions": CrewPage(cautions_page, "the usual cautions, and where they hold here"),
}
"""Name of a page, as it is chosen and as its files are called, and what it is; in the order of the set.

This is the one list of them: the command, the screen, the folder, what is checked of every page follow from it.
"""

CHANGES = "changes"
"""Name of the page that an older show adds in front."""


def make_page(material: Material, name: str) -> Page:
    """Make one page, ready to be written. Raises KeyError for a name that no page has."""
    page = cleaned(with_errors(PAGES[name].make(material), material.concerns))
    return marked(msgspec.structs.replace(page, show=cleaned_text(material.show.about.name or "unnamed show")))


def make_pages(
    material: Material, names: Iterable[str] | None = None, older: Material | None = None
) -> tuple[Page, ...]:
    """Make the pages of these names, all of them unless said, in the order of the set.

    ``contact`` lists the marks of the others; with an older show, a page of what changed since comes first.
    """
    wanted = set(PAGES if names is None else names)
    made = _set_of(material, wanted)
    if older is None:
        return tuple(made.values())
    change = cleaned(with_errors(changes_page(_set_of(older, wanted), made), material.concerns))
    change = marked(msgspec.structs.replace(change, show=cleaned_text(material.show.about.name or "unnamed show")))
    return (change, *made.values())


def _set_of(material: Material, wanted: set[str]) -> dict[str, Page]:
    """Make pages by their names, with the marks of all of them on the page that comes first."""
    made = {name: make_page(material, name) for name in PAGES if name in wanted}
    if "contact" in made:
        page = made["contact"]
        made["contact"] = marked(msgspec.structs.replace(page, blocks=(*page.blocks, _contents(made))))
    return made


def _contents(made: dict[str, Page]) -> Table:
    rows = tuple((page.title, page.key, page.mark) for name, page in made.items() if name != "contact")
    columns = (Column("page"), Column("file"), Column("revision"))
    return Table("contents", "Pages of this set", columns, rows, compared=False, empty="this page alone")
