"""The lid: what goes where, on what, at which threshold, short enough to tape inside the lid of the rack."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.scope import scope_of
from fieldkit.reports.text import CAUTIONS, counts_text
from fieldkit.rig.signal.account import account_of
from fieldkit.rig.solve.meters import expected_readings
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Cell, Column, Items, Page, Table, Words
from fieldkit.sheets.patch import fed_by_line, of_line
from fieldkit.show.document import Run

LID_COLUMNS = (
    *(Column(title) for title in ("output", "plug", "to", "preset")),
    Column("load", "ohm"),
    Column("slow limiter at the posts", "V rms"),
    Column("reads", "ohm"),
)


def lid_page(material: Material) -> Page:
    """Make the page."""
    rows = tuple(row for output in material.rig.outputs for row in lid_rows(output, material))
    table = Table("lid", "Outputs", LID_COLUMNS, rows, compared=False, empty="no output drives a box yet")
    checked = Words((scope_of(material.rig).says(),))
    caution = Words((" ".join(CAUTIONS),), "Caution")
    blocks: tuple[Block, ...] = (table, _cables(material), _worst(material), checked, caution)
    return Page("lid", "For the lid", blocks)


def lid_rows(output: SolvedOutput, material: Material) -> Iterator[tuple[Cell, ...]]:
    """Make the rows of one output, a row a line."""
    for solved in output.lines:
        presets = of_line(solved)[2]
        near = material.ends_of.get((solved.line.run.id, 1))
        plug = near[0].label if near else solved.line.run.id
        plug = f"{plug} in {solved.line.run.start.partition('.')[2]}"
        account = account_of(material.rig, output.output.id)
        threshold = account.number("slow limiter at the posts", "V rms") if account is not None else None
        yield (
            output.output.id,
            plug,
            fed_by_line(output, solved),
            presets,
            output.load_ohm,
            threshold,
            _reads(solved, material),
        )


def _reads(solved: SolvedLine, material: Material) -> Cell:
    """Return what a meter should read into the plug, with the plug pulled at the amplifier."""
    expected = next(iter(expected_readings(solved.line, material.rig.conditions.temperature_c)))
    return expected.dc.value if expected.dc else "open"


def _cables(material: Material) -> Items:
    return Items(tuple((_path(run, material),) for run in material.show.runs), "Cables")


def _path(run: Run, material: Material) -> str:
    """Say a run in one line: where it starts, over what, through which boxes."""
    parts = []
    for step in run.path:
        what = f"{material.length(step.length)} {step.cable}" if step.cable else (step.adaptor or "")
        what = f"{step.shared} ({what.strip()})" if step.shared and step.cable else what
        what = f"{step.shared or step.panel} {step.socket}" if step.panel else what
        parts.append(f"{what.strip()} to {step.box}" if step.box else what.strip())
    return f"{run.id}: {run.start}, {', then '.join(parts)}"


def _worst(material: Material) -> Items:
    loud = [item for item in material.findings if item.severity != "note"]
    items = tuple((f"{item.severity}: {item.where.id}: {material.said(item.says)}",) for item in loud)
    return Items(items, counts_text(material.findings), empty="no error and no warning", findings=True)
