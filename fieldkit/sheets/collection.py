"""All pages: which there are, in which order, and how a set of them is made."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import msgspec

from fieldkit.sheets.cell_text import cell_text
from fieldkit.sheets.changes import changes_page
from fieldkit.sheets.chart import chart_page
from fieldkit.sheets.danger import with_errors
from fieldkit.sheets.drawings import drawings_page
from fieldkit.sheets.hands import front_of_house_page, side_keys, stage_page
from fieldkit.sheets.if_it_fails import if_it_fails_page
from fieldkit.sheets.labels import labels_page
from fieldkit.sheets.lid import lid_page
from fieldkit.sheets.material import Material
from fieldkit.sheets.notices import cautions_page, contact_page, findings_page
from fieldkit.sheets.page import Block, Column, Page, Table
from fieldkit.sheets.patch import patch_page
from fieldkit.sheets.pull import pull_page
from fieldkit.sheets.rack_folder import folder_keys, rack_folder
from fieldkit.sheets.racks import racks_page
from fieldkit.sheets.returns import return_page
from fieldkit.sheets.rig_check import rig_check_page
from fieldkit.sheets.settings import settings_page
from fieldkit.sheets.supply import supply_page
from fieldkit.sheets.tags import tags_page
from fieldkit.sheets.wiring import wiring_page
from fieldkit.show.document import Show

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

    Only the mark itself is left out: the same content has the same mark on any day and machine. Numbers count as they
    are printed: what differs below their last digit is the same page.
    """
    content = msgspec.json.encode([type(block).__name__ for block in page.blocks])
    blocks = tuple(_as_printed(block) for block in page.blocks)
    content += msgspec.json.encode(msgspec.structs.replace(page, mark="", blocks=blocks))
    return msgspec.structs.replace(page, mark=hashlib.sha256(content).hexdigest()[:8])


def _as_printed(block: Block) -> Block:
    if not isinstance(block, Table):
        return block
    columns = block.columns
    rows = tuple(
        tuple(cell_text(cell, column) for cell, column in zip(row, columns, strict=True)) for row in block.rows
    )
    return msgspec.structs.replace(block, rows=rows)


class CrewPage(msgspec.Struct, frozen=True):
    """A page of the set."""

    make: Callable[[Material], Page]
    purpose: str
    """What it is for, in a few words."""
    aside: bool = False
    """By subject, for the whole rig: the pages by place and hand say it too, and it is not printed with the set."""
    is_idle: Callable[[Show], bool] | None = None
    """Whether a show has nothing for it: then it is not printed with the set either."""


class PlacePages(msgspec.Struct, frozen=True):
    """A page for each place or hand of a show."""

    keys: Callable[[Material], tuple[str, ...]]
    make: Callable[[Material, str], Page]
    purpose: str
    aside: bool = False


def _has_no_signals(show: Show) -> bool:
    """Tell whether nothing is planned from the desk on, and no zone waits for another."""
    planned = any(zone.signals or zone.timed_to or zone.delay for zone in show.zones)
    return not (planned or any(unit.inputs for unit in show.rack_units) or any(box.position for box in show.boxes))


PAGES: dict[str, CrewPage | PlacePages] = {
    "contact": CrewPage(contact_page, "who and where, the notes, and the revision of every page"),
    "lid": CrewPage(lid_page, "one page to tape inside the lid: what goes where, what it reads"),
    "rack-folders": PlacePages(folder_keys, rack_folder, "a folder a rack: its lid, rear, settings, what if it fails"),
    "stage": PlacePages(side_keys, stage_page, "a page for each side of the stage: its boxes and runs"),
    "front-of-house": CrewPage(
        front_of_house_page, "what leaves the desk and where it goes; the delays", is_idle=_has_no_signals
    ),
    "supply": CrewPage(
        supply_page,
        "power: loads, plugs, order to switch on, what to meter first",
        is_idle=lambda show: not show.supplies,
    ),
    "rig-check": CrewPage(rig_check_page, "what a meter should read, and room to write"),
    "labels": CrewPage(labels_page, "each cable end and output, as a list and as stickers"),
    "pull": CrewPage(pull_page, "warehouse: what to take, what is hired, cases and weight"),
    "return": CrewPage(
        return_page, "warehouse: what went out, what came back, what is missing", is_idle=lambda show: not show.stock
    ),
    "fault-tags": CrewPage(tags_page, "tags for what is out of service, and empty ones"),
    "findings": CrewPage(findings_page, "what the checks still have to say"),
    "cautions": CrewPage(cautions_page, "the usual cautions, and where they hold here"),
    "patch": CrewPage(patch_page, "what feeds what, by rack and by zone; signal cables, links", aside=True),
    "wiring": CrewPage(wiring_page, "each run drawn, with plugs, pin pairs, adaptors and ends", aside=True),
    "settings": CrewPage(settings_page, "presets, limiters, delays and gains, a row an output", aside=True),
    "racks": CrewPage(racks_page, "the faces of each rack, front and rear", aside=True),
    "if-it-fails": CrewPage(if_it_fails_page, "for each unit: what to do if it fails, step by step", aside=True),
    "drawings": CrewPage(
        drawings_page, "signal flow, mains, limiter ladders, sockets pin by pin, the room", aside=True
    ),
    "chart": CrewPage(chart_page, "what each amplifier drives: how many of which boxes", aside=True),
}
"""Name of a page, as it is chosen and as its files are called, and what it is; in the order of the set.

This is the one list of them: the command, the screen, the folder, what is checked of every page follow from it. First
what is printed for each place and hand, then the whole rig by subject.
"""

CHANGES = "changes"
"""Name of the page that an older show adds in front."""


def page_keys(material: Material, names: Iterable[str] | None = None) -> tuple[str, ...]:
    """Name the pages that a show has, of all names unless said; a name may be a page's own, such as ``rack-left``."""
    wanted = set(PAGES if names is None else names)
    found: list[str] = []
    for name, page in PAGES.items():
        keys = page.keys(material) if isinstance(page, PlacePages) else (name,)
        found += [key for key in keys if name in wanted or key in wanted]
    return tuple(found)


def make_page(material: Material, key: str) -> Page:
    """Make one page, ready to be written. Raises KeyError for a name that no page of this show has."""
    crew = PAGES.get(key)
    if isinstance(crew, CrewPage):
        page = crew.make(material)
    else:
        places = (item for item in PAGES.values() if isinstance(item, PlacePages) and key in item.keys(material))
        family = next(places, None)
        if family is None:
            raise KeyError(key)
        page = family.make(material, key)
    page = cleaned(with_errors(page, material.concerns))
    return marked(msgspec.structs.replace(page, show=cleaned_text(material.show.about.name or "unnamed show")))


def make_pages(
    material: Material, names: Iterable[str] | None = None, older: Material | None = None
) -> tuple[Page, ...]:
    """Make the pages of these names, all of them unless said, in the order of the set.

    ``contact`` lists the marks of the others; with an older show, a page of what changed since comes first. In the
    whole set, pages by subject stand aside when it is printed.
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
    made = {key: make_page(material, key) for key in page_keys(material, wanted)}
    if wanted >= set(PAGES):
        aside = {name for name, page in PAGES.items() if page.aside}
        crew = {name: page for name, page in PAGES.items() if isinstance(page, CrewPage)}
        aside |= {name for name, page in crew.items() if page.is_idle is not None and page.is_idle(material.show)}
        aside |= set() if material.findings else {"findings"}
        made = {key: msgspec.structs.replace(page, aside=key in aside) for key, page in made.items()}
        folders = folder_keys(material)
        if len(folders) == 1:
            made[folders[0]] = _without_lid(made[folders[0]])
    if "contact" in made:
        page = made["contact"]
        made["contact"] = marked(msgspec.structs.replace(page, blocks=(*page.blocks, _contents(made))))
    return made


def _without_lid(page: Page) -> Page:
    """Leave the outputs of the only rack to the page for the lid, where it is printed."""
    blocks = (
        msgspec.structs.replace(block, aside=True) if isinstance(block, Table) and block.name == "lid" else block
        for block in page.blocks
    )
    return msgspec.structs.replace(page, blocks=tuple(blocks))


def _contents(made: dict[str, Page]) -> Table:
    rows = tuple(
        (page.title, page.key, page.mark) for name, page in made.items() if name != "contact" and not page.aside
    )
    columns = (Column("page"), Column("file"), Column("revision"))
    return Table("contents", "Pages of this set", columns, rows, compared=False, empty="this page alone")
