"""The chart as text for 80 columns, and as an object: what drives what, and why not more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from fieldkit.planning.chart.cells import Cell, SectionPower, modes_left_out
from fieldkit.planning.chart.question import Library, Terms
from fieldkit.planning.chart.trial import CHANNELS, SetBy
from fieldkit.reports.text import WIDTH
from fieldkit.text.style import Style
from fieldkit.text.widths import cells as cells_wide
from fieldkit.text.widths import clipped, padded, wrapped
from fieldkit.text.words import counted

TITLE = 27
"""Cells of a row that name the box."""

REASONS: dict[SetBy, tuple[str, str]] = {
    "minimum-load": ("min load", "the minimum load"),
    "clean-power": ("power", "the power left for each box, under half of its rating"),
    "current": ("current", "the current of a connector or cable"),
    "supply": ("supply", "the common supply of all outputs"),
    "outputs": ("outputs", "the outputs that one box takes"),
    "preset": ("preset", "nothing runs the preset or holds the limiter that it needs"),
    "cable": ("cable", "the cable"),
    "unknown": ("not known", "what its model does not say"),
}
"""What sets a number -> in a cell, and in a sentence."""


def glance(cell: Cell) -> str:
    """Say a cell at one glance: boxes on the amplifier, on one output (preferred after a slash), headroom, reason."""
    if not cell.sections:
        return REASONS[cell.set_by][0]
    return f"{cell.per_amplifier} · {count_text(cell)} {headroom_text(cell)} · {REASONS[cell.set_by][0]}"


def count_text(cell: Cell) -> str:
    """Write the boxes on one output, and those at the preferred load where they are fewer."""
    fewer = cell.preferred_per_output < cell.per_output
    return f"{cell.per_output}/{cell.preferred_per_output}" if fewer else str(cell.per_output)


def headroom_text(cell: Cell) -> str:
    """Write the headroom of the section that has minimum, against its continuous rating."""
    worst = cell.worst
    return "? dB" if worst is None or worst.headroom_db is None else _signed(worst.headroom_db)


def _signed(value_db: float, digits: int = 0) -> str:
    return f"{value_db:+.{digits}f} dB".replace("-", "−").replace("+0 dB", "0 dB").replace("−0 dB", "0 dB")


def watts_text(power: SectionPower) -> str:
    """Write watts a box: clean, limited, rated; a dash for what nothing limits or nobody says."""
    values = (power.clean_w, power.limited_w, power.rated_w)
    return "/".join("-" if value is None else f"{value:.0f}" for value in values)


def chart_text(cells: Sequence[Cell], library: Library, terms: Terms, style: Style) -> Iterator[str]:
    """Print the chart: a block for each amplifier and mode, a row for each box."""
    width = min(TITLE, max((cells_wide(cell.candidate.title) for cell in cells), default=0))
    for (name, mode), block in groupby(cells, key=lambda cell: (cell.amplifier.id, cell.mode)):
        its = list(block)
        amplifier = its[0].amplifier
        outputs = counted(amplifier.channels // CHANNELS[its[0].mode], "output")
        yield style.plain(f"{name}, {mode}: {outputs} of minimum {_minimum(its)}")
        yield style.plain(f" {'box':<{width}} amp   out clean/lim/rated W head peak preset set by")
        yield from (style.plain(_row(cell, width)).rstrip() for cell in its)
        yield ""
    yield from (line for text in legend(cells, library, terms) for line in wrapped(style.plain(text), WIDTH))


def _minimum(cells: Sequence[Cell]) -> str:
    solved = next((item.solved for cell in cells for item in cell.sections), None)
    return f"{solved.output.minimum_ohm:g} Ω" if solved is not None else "not known"


def _row(cell: Cell, width: int) -> str:
    title = f" {padded(clipped(cell.candidate.title, width), width)}"
    worst = cell.worst
    if worst is None:
        return clipped(f"{title} {REASONS[cell.set_by][0]}: {cell.refusal.says}", WIDTH)
    mark = "*" if cell.is_assumed else " "
    peak = "?" if worst.peak_headroom_db is None else _signed(worst.peak_headroom_db).removesuffix(" dB")
    head = headroom_text(cell).removesuffix(" dB")
    return (
        f"{title}{cell.per_amplifier:>4}{mark}{count_text(cell):>5} {watts_text(worst):>15}{head:>5}{peak:>5}"
        f" {hosting_text(cell):<7}{REASONS[cell.set_by][0]}"
    )


def hosting_text(cell: Cell) -> str:
    """Say where presets run, in a cell: hosted, on so many outputs of a processor, or nowhere."""
    return f"proc {cell.processor_outputs}" if cell.hosting == "processor" else cell.hosting


def legend(cells: Sequence[Cell], library: Library, terms: Terms) -> Iterator[str]:
    """Say what the columns mean, on which terms they hold, and what is not charted."""
    yield (
        "amp, out: most boxes on the amplifier and on one output (on one for each pin pair of a bi-amp box); 3/2: "
        f"3 allowed, 2 at the preferred {terms.preferred_ohm:g} ohm. W for a box, at that number, in its section with "
        "least headroom. head, peak: output at its limit over the continuous and the peak rating [dB]; under −3 it is "
        "too weak. preset: hosted by the amplifier, proc n: on n processor outputs, none: runs nowhere."
    )
    if any(cell.is_assumed for cell in cells):
        yield "*: assumed, from ohms and watts on a label."
    uses = dict.fromkeys(cell.candidate.use for cell in cells)
    yield f"Use of the presets: {', '.join(uses)}. {lead_text(terms)}"
    amplifiers = {cell.amplifier.id: cell.amplifier for cell in cells}
    for amplifier in amplifiers.values():
        left = [mode for mode, _ in modes_left_out(amplifier)]
        if left:
            yield f"Not charted: {amplifier.id} {' and '.join(left)}, which its model does not allow."
    powered = [speaker.id for speaker in library.loudspeakers if speaker.drives() == ("self-powered",)]
    if powered:
        yield f"Self-powered, so no amplifier drives them: {', '.join(powered)}."


def lead_text(terms: Terms) -> str:
    """Say which lead the chart is for."""
    if terms.cable is None:
        return "Without cable."
    return f"Lead of {terms.length_m:g} m {terms.cable.id} to the first box."


def cell_lines(cell: Cell) -> Iterator[str]:
    """Say all of one cell in sentences: numbers, what sets them, each section, presets, what is missing."""
    box, amplifier = cell.candidate, cell.amplifier
    yield f"{amplifier.id}, {cell.mode}, with {box.title}" + (" (assumed)" if cell.is_assumed else "")
    if not cell.sections:
        yield f"{REASONS[cell.set_by][0]}: {cell.refusal.says}"
        return
    yield (
        f"most: {cell.per_output} on one output{' for each pin pair' if len(box.pairs) > 1 else ''}, "
        f"{cell.per_amplifier} on the amplifier, set by {REASONS[cell.set_by][1]}"
    )
    yield f"for each box at {counted(cell.boxes, 'box')} on an output:"
    yield from (f"  {line}" for section in cell.sections for line in _section_lines(section))
    if cell.refusal.says:
        more = cell.per_output + 1
        yield f"{counted(more, 'box')}: {cell.refusal.says}" if cell.set_by != "supply" else cell.refusal.says
    if cell.preferred_per_output < cell.per_output:
        yield f"at the preferred load: {cell.preferred_per_output} on one output"
    if cell.clean_per_output < cell.per_output:
        yield f"with clean watts of at least half of the rating: {cell.clean_per_output} on one output"
    if cell.not_with:
        yield f"not with {', '.join(map(str, cell.not_with))}: too strong without a limiter that holds, or too weak"
    yield preset_text(cell)
    yield from (f"note: {text}" for text in cell.notes)


def _section_lines(power: SectionPower) -> Iterator[str]:
    limited = f"{power.limited_w:.0f} W at the limiter, " if power.limited_w is not None else ""
    rated = f"rated {power.rated_w:.0f} W" if power.rated_w else "no rating"
    given = f"{power.clean_w:.0f} W clean, {limited}{rated}"
    yield f"{power.section}, pair {power.pair}, {power.load_ohm:.2f} Ω: {given}"
    if power.headroom_db is not None:
        peak = "" if power.peak_headroom_db is None else f", {_signed(power.peak_headroom_db, 1)} to the peak"
        yield f"  headroom {_signed(power.headroom_db, 1)} to the continuous rating{peak}"
    if power.loss_db > 0.0:
        yield f"  the lead takes {power.loss_db:.2f} dB"
    if power.limiter is not None:
        at_input = "" if power.limiter.input_dbu is None else f", {power.limiter.input_dbu:+.1f} dBu at the input"
        yield f"  limiter {power.limiter.thermal_v:.1f} V slow{at_input}, {power.limiter.peak_v:.1f} V peak fast"


def preset_text(cell: Cell) -> str:
    """Say where the presets of a cell run, and for which use."""
    names = ", ".join(dict.fromkeys(item.preset for item in cell.sections if item.preset))
    if cell.hosting == "hosted":
        return f"presets, {cell.candidate.use}: {names}, hosted by the amplifier"
    if cell.hosting == "processor" and cell.processor is not None:
        outputs = counted(cell.processor_outputs, "output")
        return f"presets, {cell.candidate.use}: {names}, on {outputs} of a processor such as {cell.processor.id}"
    if names:
        return f"presets, {cell.candidate.use}: {names}, which nothing here runs"
    held = f"; a processor such as {cell.processor.id} can hold its limiter" if cell.processor else ""
    return f"no preset for {cell.candidate.use}{held}"


def chart_object(cells: Iterable[Cell], library: Library, terms: Terms) -> dict[str, Any]:
    """Make the object of ``chart --json``, its sets and answers apart."""
    every = list(cells)
    amplifiers = {cell.amplifier.id: cell.amplifier for cell in every}
    return {
        "terms": {
            "preferred_ohm": terms.preferred_ohm,
            "use": terms.use,
            "cable": terms.cable.id if terms.cable else None,
            "length_m": terms.length_m if terms.cable else None,
        },
        "cells": [_cell_object(cell) for cell in every],
        "not_charted": [text for model in amplifiers.values() for _, text in modes_left_out(model)],
        "self_powered": [item.id for item in library.loudspeakers if item.drives() == ("self-powered",)],
    }


def _cell_object(cell: Cell) -> dict[str, Any]:
    worst = cell.worst
    return {
        "amplifier": cell.amplifier.id,
        "mode": cell.mode,
        "box": cell.candidate.name,
        "drive": cell.candidate.drive,
        "use": cell.candidate.use,
        "per_output": cell.per_output,
        "per_amplifier": cell.per_amplifier,
        "outputs": list(cell.outputs),
        "set_by": cell.set_by,
        "rule": cell.refusal.rule or None,
        "says": cell.refusal.says,
        "preferred_per_output": cell.preferred_per_output,
        "clean_per_output": cell.clean_per_output,
        "not_with": list(cell.not_with),
        "at_boxes": cell.boxes,
        "clean_w": worst.clean_w if worst else None,
        "limited_w": worst.limited_w if worst else None,
        "rated_w": worst.rated_w if worst else None,
        "headroom_db": worst.headroom_db if worst else None,
        "peak_headroom_db": worst.peak_headroom_db if worst else None,
        "loss_db": worst.loss_db if worst else None,
        "preset": cell.hosting,
        "processor_outputs": cell.processor_outputs,
        "assumed": cell.is_assumed,
        "sections": [_section_object(item) for item in cell.sections],
        "notes": list(cell.notes),
    }


def _section_object(power: SectionPower) -> dict[str, Any]:
    limiter = power.limiter
    return {
        "section": power.section,
        "pair": power.pair,
        "preset": power.preset or None,
        "load_ohm": power.load_ohm,
        "clean_w": power.clean_w,
        "limited_w": power.limited_w,
        "rated_w": power.rated_w,
        "headroom_db": power.headroom_db,
        "peak_headroom_db": power.peak_headroom_db,
        "loss_db": power.loss_db,
        "thermal_v": limiter.thermal_v if limiter else None,
        "peak_v": limiter.peak_v if limiter else None,
        "input_dbu": limiter.input_dbu if limiter else None,
    }
