"""What drives what, on paper: the chart of the models of a show, or of a whole gear library."""

from __future__ import annotations

from fieldkit.planning.chart.cells import Cell, chart
from fieldkit.planning.chart.question import Terms, library_of
from fieldkit.planning.chart.sets import sets_of
from fieldkit.reports.chart import REASONS, count_text, headroom_text, hosting_text, legend, watts_text
from fieldkit.reports.chart_sets import set_text
from fieldkit.rig.connect.presets import preset_rows
from fieldkit.sheets.material import Material
from fieldkit.sheets.page import Block, Column, Page, Table, Words
from fieldkit.show.document import MODEL_TABLES, UnknownBox

MOST_SETS = 6
"""Sets of one amplifier that paper has room for."""


def chart_page(material: Material) -> Page:
    """Make the page."""
    show = material.show
    labels: dict[tuple[str, str], UnknownBox] = {}
    for box in show.boxes:
        if box.unknown is not None:
            labels.setdefault((box.unknown.impedance, box.unknown.continuous), box.unknown)
    models = [model for table in MODEL_TABLES for model in getattr(show, table)]
    library = library_of(models, tuple(labels.values()))
    terms = Terms(preferred_ohm=material.rig.preferred_ohm, conditions=material.rig.conditions)
    cells = chart(library, terms)
    if not cells:
        nothing = Words(
            ("this show has no model of amplifier and loudspeaker yet: nothing to hold against each other",)
        )
        return Page("chart", "What drives what", (nothing,))
    blocks: list[Block] = [_glances(cells), _numbers(cells), _sets(cells, terms)]
    presets = [
        (
            speaker.id,
            row.drive,
            row.section.section,
            ", ".join(row.uses),
            row.preset.id if row.preset else "none: a gap",
        )
        for speaker in library.loudspeakers
        for row in preset_rows(speaker)
    ]
    columns = (Column("model"), Column("drive"), Column("section"), Column("for"), Column("preset"))
    blocks.append(Table("chart-presets", "Presets by use", columns, tuple(presets), keys=(0, 1, 2, 3), grouped=True))
    blocks.append(Words(tuple(legend(cells, library, terms)), "How to read it"))
    return Page("chart", "What drives what", tuple(blocks))


def _glances(cells: tuple[Cell, ...]) -> Table:
    """Lay the table that paper has room for, each cell as it is said at one glance."""
    columns = (
        Column("amplifier"),
        Column("box"),
        Column("amp"),
        Column("out"),
        Column("clean/lim/rated W"),
        Column("head"),
        Column("preset"),
        Column("set by"),
    )
    rows = tuple(
        (
            f"{cell.amplifier.id}, {cell.mode}",
            cell.candidate.title + (" (assumed)" if cell.is_assumed else ""),
            str(cell.per_amplifier),
            count_text(cell),
            watts_text(cell.worst) if cell.worst else "not known",
            headroom_text(cell),
            hosting_text(cell),
            REASONS[cell.set_by][0],
        )
        for cell in cells
    )
    return Table("chart", "Boxes on amplifiers", columns, rows, keys=(0, 1), grouped=True)


def _numbers(cells: tuple[Cell, ...]) -> Table:
    """Make the table of the same cells as numbers, for a spreadsheet."""
    columns = (
        Column("amplifier"),
        Column("box"),
        Column("boxes on it"),
        Column("on an output"),
        Column("preferred"),
        Column("clean", "W"),
        Column("limiter", "W"),
        Column("rated", "W"),
        Column("head", "dB", 2),
        Column("peak", "dB", 2),
        Column("preset"),
        Column("set by"),
    )
    rows = tuple(map(_row, cells))
    return Table("chart-numbers", "Boxes on amplifiers", columns, rows, keys=(0, 1), compared=False, on_paper=False)


def _row(cell: Cell) -> tuple[str | float | int | None, ...]:
    worst = cell.worst
    return (
        f"{cell.amplifier.id}, {cell.mode}",
        cell.candidate.title + (" (assumed)" if cell.is_assumed else ""),
        cell.per_amplifier,
        cell.per_output,
        cell.preferred_per_output,
        worst.clean_w if worst else None,
        worst.limited_w if worst else None,
        worst.rated_w if worst else None,
        worst.headroom_db if worst else None,
        worst.peak_headroom_db if worst else None,
        hosting_text(cell),
        REASONS[cell.set_by][0],
    )


def _sets(cells: tuple[Cell, ...], terms: Terms) -> Table:
    found = sets_of(cells, terms, named=False).sets
    rows = []
    for name in dict.fromkeys(item.amplifier.id for item in found):
        its = [item for item in found if item.amplifier.id == name]
        rows += [(name, set_text(item), item.free) for item in its[:MOST_SETS]]
    columns = (Column("amplifier"), Column("set"), Column("channels free"))
    title = f"Sets that fill an amplifier, none inside another (at most {MOST_SETS} of each)"
    return Table("chart-sets", title, columns, tuple(rows), keys=(0, 1), grouped=True, empty="none with several models")
