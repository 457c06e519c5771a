"""One page for a phone: it takes a label and answers what it is, where it goes and what it should read.

One file with all that it needs; it asks no network and no server. What somebody typed is data in it: the script sets
it as text, and the page's own policy runs no other script.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from pathlib import Path

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.reports.cards import card, labels
from fieldkit.sheets.cell_text import cell_text, heading
from fieldkit.sheets.collection import cleaned_text
from fieldkit.sheets.danger import banner, warnings_of
from fieldkit.sheets.html import environment
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Page, Table
from fieldkit.text.style import Style

TEMPLATE = Path(__file__).with_name("phone.html.j2")
SCRIPT = TEMPLATE.with_name("phone.js")

_ESCAPED = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})
"""What could end the element that data stands in."""


def phone_html(material: Material, pages: Sequence[Page]) -> str:
    """Write the page, with the tables of these pages to leaf through."""
    data = {"labels": _labels(material), "tables": _tables(pages)}
    text = msgspec.json.encode(data).decode()
    script = SCRIPT.read_text(encoding="utf-8")
    hashed = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    ends = [end.label for end in material.ends]
    written = (
        environment()
        .get_template(TEMPLATE.name)
        .render(
            name=cleaned_text(material.show.about.name or "unnamed show"),
            mark=hashlib.sha256(text.encode()).hexdigest()[:8],
            banner=banner(material.concerns),
            example=ends[-1] if ends else "ML1",
            data=text.translate(_ESCAPED),
            script=script,
            hash=hashed,
        )
    )
    return f"{written}\n"


def _labels(material: Material) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    about: dict[str, list[Finding]] = {}
    for finding in material.findings:
        for name in dict.fromkeys((finding.where.id, finding.where.id.partition("/")[0])):
            about.setdefault(name, []).append(finding)
    for label in labels(material.rig):
        warnings: tuple[str, ...] = ()
        if material.concerns:  # a cable in the hand is as dangerous as the output that its card names
            own = card(material.rig, (), label.kind, label.id, Style())
            warnings = warnings_of((label.id, *own), material.concerns)
        lines = card(material.rig, tuple(about.get(label.id, ())), label.kind, label.id, Style())
        found.append(
            {
                "kind": label.kind,
                "id": label.id,
                "about": cleaned_text(label.about),
                "lines": [material.said(line) for line in lines],
                "warnings": warnings,
                "live": bool(warnings),
            }
        )
    return found


def _tables(pages: Sequence[Page]) -> list[dict[str, object]]:
    """Take the tables that stand on the pages by subject; what a place repeats is left out."""
    tables = [(page, table) for page in pages if not page.repeats for table in page.tables if table.on_paper]
    return [
        {
            "name": table.name,
            "title": f"{page.title}: {table.title}",
            "heads": [heading(column) for column in table.columns],
            "rows": _rows(table),
            "empty": table.empty,
        }
        for page, table in tables
    ]


def _rows(table: Table) -> list[list[str]]:
    return [[cell_text(cell, column) for cell, column in zip(row, table.columns, strict=True)] for row in table.rows]
