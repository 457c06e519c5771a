"""Findings left open, cautions, and who and where: the pages in words."""

from __future__ import annotations

from fieldkit.checks.finding import SEVERITIES
from fieldkit.checks.scope import scope_of, well
from fieldkit.reports.text import counts_text
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Column, Items, Page, Table, Words

CAUTIONS = (
    (
        "Amplifier outputs can hurt",
        (
            "Outputs over 50 V and all bridged outputs count as mains. Switch off, isolate, wait a minute, then pull "
            "the plug."
        ),
        "Never put ohms on an amplifier's output: pull the plug and meter the cable.",
        (
            "A bridged output has two live posts, and some amplifiers drive both posts of every output: join none of "
            "them to earth or to each other."
        ),
    ),
    (
        "Mains",
        "Licensed people connect feeders and distribution; local codes rule. Earth stays connected, always.",
        "A residual-current device trips for a reason: find it before you reset the device.",
    ),
    ("Lifting", "Riggers lift and hang; rated gear with a second, independent safety. Nobody stands under a load."),
    (
        "Loud sound",
        (
            "It damages ears for ever. Say so before any noise; begin with everything turned down; wear protection "
            "near a box."
        ),
        "Tell those on stage before a wedge gets a signal.",
    ),
    (
        "High drivers",
        "Low notes burn them in seconds. Check which preset is on which output, and each line's pair, before unmuting.",
    ),
    ("Cables", "Keep them out of ways and wet; cover crossings; coil none that is loaded and hot."),
    ("This program advises", "It knows what it was told and no more. Local codes and licensed people decide."),
)
"""The usual cautions of the trade: common practice, no source."""


def findings_page(material: Material) -> Page:
    """Make the page of what the checks still have to say."""
    columns = tuple(Column(title) for title in ("severity", "where", "says", "fix"))
    rows = tuple(
        (item.severity, f"{item.where.id}", material.said(item.says), material.said(item.fix))
        for severity in SEVERITIES
        for item in material.findings
        if item.severity == severity
    )
    table = Table("findings", "Left open", columns, rows, keys=(0, 1, 2), grouped=True, empty=well(material.rig))
    said = Words((counts_text(material.findings), scope_of(material.rig).says()))
    return Page("findings", "Findings left open", (said, table))


def cautions_page(material: Material) -> Page:
    """Make the page of cautions."""
    bridged = [output.output.id for output in material.rig.outputs if output.output.mode == "bridged"]
    high = [output.output.id for output in material.rig.outputs if output.loads and output.clip_v > 50.0]
    here = []
    if bridged:
        here.append((f"bridged here: {' '.join(bridged)}",))
    if high:
        here.append((f"over 50 V at full output here: {' '.join(high)}",))
    found = Items(tuple(here), "In this rig", empty="no output here gives more than 50 V, and none is bridged")
    return Page("cautions", "Cautions", (Items(CAUTIONS), found))


def contact_page(material: Material) -> Page:
    """Make the page of who and where."""
    about, rig = material.show.about, material.rig
    facts = (
        ("show", about.name or "unnamed"),
        ("date", about.date.isoformat() if about.date else "not noted"),
        ("site", about.site or "not noted"),
        ("contact", about.contact or "not noted"),
        ("air", material.air),
        ("boxes", str(len(material.show.boxes))),
        ("amplifiers and processors", str(len(rig.show_index.units))),
        ("lines", str(len(rig.lines))),
        ("note", about.note),
    )
    columns = (Column("what"), Column("is"))
    blocks = [Table("contact", "The job", columns, tuple(fact for fact in facts if fact[1]))]
    notes = [("zone", zone.id, zone.note) for zone in material.show.zones if zone.note]
    notes += [("box", box.id, box.note) for box in material.show.boxes if box.note]
    notes += [("unit", unit.id, unit.note) for unit in rig.show_index.units.values() if unit.note]
    notes += [("rack", rack.id, rack.note) for rack in material.show.racks if rack.note]
    notes += [("supply", supply.id, supply.note) for supply in material.show.supplies if supply.note]
    if notes:
        blocks.append(
            Table(
                "notes",
                "Notes",
                (Column("kind"), Column("of"), Column("note")),
                tuple(notes),
                keys=(0, 1),
                grouped=True,
            )
        )
    return Page("contact", "Contact and site", tuple(blocks))
