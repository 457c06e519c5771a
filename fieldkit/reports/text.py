"""The same as text: findings, the patch, and the explanation of a figure, at 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from fieldkit.checks.checking import counts
from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.checks.scope import EMPTY_PLAN, NO_FINDINGS, scope_of, well
from fieldkit.formulas.figures import Figure
from fieldkit.rig.connect.outputs import permission_note
from fieldkit.rig.signal.account import account_of
from fieldkit.rig.signal.account_text import limiter_lines
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.explanation import line_figures, output_figures, traced_output
from fieldkit.rig.solve.frequency import lowest_modulus
from fieldkit.rig.solve.meters import Band, Expected, expected_readings
from fieldkit.rig.solve.solving import SolvedBox, SolvedLine, SolvedOutput
from fieldkit.show.document import Run
from fieldkit.text.style import Style
from fieldkit.text.words import counted

WIDTH = 80

CAUTIONS = (
    "Amplifier outputs can hurt: switch off and pull the plug at the amplifier before metering a line, and treat",
    "outputs over 50 V and all bridged outputs as mains. Licensed people connect mains; local codes rule.",
)


def findings_text(rig: Rig, findings: tuple[Finding, ...], style: Style) -> Iterator[str]:
    """Print the counts and every finding: what, why, fix; at the end what was checked and what was not.

    Of an empty plan, what to begin with.
    """
    if not findings:
        yield from textwrap.wrap(well(rig), WIDTH)
        return
    yield counts_text(findings)
    for item in findings:
        yield ""
        yield from _wrapped(f"{item.severity}: {item.where.id}: ", item.says, style)
        yield from _wrapped("  why:  ", item.why, style)
        yield from _wrapped("  fix:  ", item.fix, style)
    yield ""
    yield from textwrap.wrap(scope_of(rig).says(), WIDTH)


def counts_text(findings: tuple[Finding, ...]) -> str:
    """Say how many findings there are of each severity."""
    number = counts(findings)
    if not findings:
        return NO_FINDINGS
    return ", ".join(counted(number[f"{word}s"], word) for word in SEVERITIES)


def plan_text(rig: Rig, findings: tuple[Finding, ...], style: Style) -> Iterator[str]:
    """Print the checked plan: what feeds what, with which preset, and what is wrong with it."""
    name = style.plain(rig.show.about.name) or "unnamed show"
    yield name
    if not rig.show.boxes and not rig.lines:
        yield EMPTY_PLAN
        return
    yield f"{style.plain(rig.air_text)}, {len(rig.show.boxes)} boxes, {len(rig.lines)} lines"
    yield ""
    yield from patch_text(rig, style)
    yield ""
    yield from findings_text(rig, findings, style)
    yield ""
    yield from textwrap.wrap("Caution: " + " ".join(CAUTIONS), WIDTH)


def patch_text(rig: Rig, style: Style) -> Iterator[str]:
    """Print one row a line: output, run, boxes, section, preset, load, watts."""
    rows = [row for output in rig.outputs for row in _rows(output, style)]
    if not rows:
        yield "no amplifier output drives a box yet"
        return
    head = ("output", "line", "boxes", "section", "preset", "load", "W full/clean/lim/rated")
    widths = [max(len(row[column]) for row in [head, *rows]) for column in range(len(head))]
    spare = WIDTH - sum(widths) - 2 * (len(head) - 1)
    widths[2] = max(8, widths[2] + min(0, spare))
    spare = WIDTH - sum(widths) - 2 * (len(head) - 1)
    widths[4] = max(8, widths[4] + min(0, spare))
    for row in [head, *rows]:
        first = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
        for index in range(max(len(cell) for cell in first)):
            cells = [cell[index] if index < len(cell) else "" for cell in first]
            yield "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip()


def _rows(output: SolvedOutput, style: Style) -> Iterator[tuple[str, ...]]:
    for solved in output.lines:
        loads = solved.line.loads
        boxes = " ".join(dict.fromkeys(load.box.id for load in loads)) or "-"
        presets = " ".join(dict.fromkeys(load.choice.id or "none" for load in loads)) or "-"
        driven = max(solved.boxes, key=lambda box: box.full_w, default=None)
        watts = "-"
        if driven is not None:
            watts = watts_text(driven)
            watts += " assumed" if output.assumed else ""
        load = style.value(output.load_ohm, "ohm")
        yield output.output.id, solved.line.id, boxes, solved.line.section or "-", presets, load, watts


def way_text(run: Run) -> str:
    """Draw the way of a run: ``SR-1.A ═20 m═ F1 ═5 m═ (inline-coupler) ═5 m═ F2``."""
    pieces = [run.start]
    for step in run.path:
        pieces.append(f"═{step.length or '?'}═" if step.cable else "")
        pieces.append(
            f"({step.adaptor or f'{step.panel} {step.socket}'.strip()})" if step.adaptor or step.panel else ""
        )
        pieces.append(step.box or "")
    return " ".join(filter(None, pieces))


def line_drawn(output: SolvedOutput, solved: SolvedLine, style: Style, width: int) -> list[str]:
    """Draw a line from its output to its last box, with the figures of each under it: in two lines.

    Where so many columns do not hold that, and where bars are left out, in a line for each thing on the way.
    """
    way = list(_on_the_way(output, solved, style))
    while way[-1][0]:  # what leads on carries this line to no box
        way.pop()
    cells = [f"══ {name} ══" if link else name for link, name, _ in way]
    sizes = [max(len(cell), len(says)) for cell, (_, _, says) in zip(cells, way, strict=True)]
    if not style.bars or sum(sizes) + 2 * len(sizes) > width:
        return [f"  {name}" if link else f"{name}: {says}" for link, name, says in way]
    top = ""
    for place, (cell, size, (link, _, _)) in enumerate(zip(cells, sizes, way, strict=True)):
        led = "" if link or place + 1 == len(way) else f" {'═' * (size - len(cell) - 1)}"
        top += ("═" if link and top.endswith("═") else " ") + f"{cell}{led}"[: max(size, len(cell))].ljust(size)
    top = top[1:]
    below = " ".join(says.ljust(size) for (_, _, says), size in zip(way, sizes, strict=True))
    return [top.rstrip(), below.rstrip()]


def _on_the_way(output: SolvedOutput, solved: SolvedLine, style: Style) -> Iterator[tuple[bool, str, str]]:
    """List what a line passes: whether it is a link between things, what it is, and its figures."""
    line = solved.line
    gets = {(box.load.box.id, box.load.section.section): box for box in solved.boxes}
    load = style.value(output.load_ohm, "ohm")
    yield False, output.output.id, f"{load}, can give {style.value(output.can_give_v, 'V')}"
    for piece in line.pieces:
        step = line.run.path[piece.step - 1] if piece.step else None
        if piece.kind == "cable" and step is not None:
            size = "" if piece.size is None else f", AWG {piece.size:g}" if piece.gauge else f", {piece.size:g} mm²"
            yield True, style.plain(f"{step.length or '?'} {piece.model}{size}"), ""
        else:
            yield True, style.plain(f"({piece.model or piece.kind})"), ""
        for on_box in piece.loads:
            box = gets.get((on_box.box.id, on_box.section.section))
            figures = (
                f"{style.value(box.full_v, 'V')}, {style.value(box.full_w, 'W')}, {style.value(box.loss_db, 'dB')} lost"
                if box
                else "gets nothing"
            )
            yield False, style.plain(f"{on_box.box.id} {on_box.section.section}"), figures
    if line.broken is not None:
        yield False, "ends here", style.plain(f"'{line.broken.model}' does not carry pair {line.broken.pair}")


def watts_text(box: SolvedBox) -> str:
    """Write the sine watts of a section, its clean ones, what a limiter leaves (a dash where none is), its rating."""
    limited = "-" if box.limited_w is None else f"{box.limited_w:.0f}"
    return f"{box.full_w:.0f} / {box.clean_w:.0f} / {limited} / {box.load.continuous_w:.0f}"


def damping_text(box: SolvedBox) -> str:
    """Write the damping factor of a section by itself, and with all that share its cable where that is another one."""
    if box.damping_factor is None or box.damping_together is None:
        return "-"
    alone, together = f"{box.damping_factor:.1f}", f"{box.damping_together:.1f}"
    return alone if alone == together else f"{alone} alone, {together} with all on its cable"


def powers_text(box: SolvedBox, style: Style) -> str:
    """Write the three powers of a section beside its rating, in words."""
    full, clean, rated = (style.value(watts, "W") for watts in (box.full_w, box.clean_w, box.load.continuous_w))
    # What compares with a rating are watts through the impedance of the rating.
    through_w = float(box.full_v) ** 2 / box.load.rated_ohm if box.load.rated_ohm else 0.0
    times = f" (full is {through_w / box.load.continuous_w:.1f} times that)" if box.load.continuous_w else ""
    if box.limited_w is not None:
        limited = f"{style.value(box.limited_w, 'W')} limited"
    else:
        limited = f"no limiter ({style.value(box.threshold_w, 'W')} once it is set)"
    return f"{full} full, {clean} clean, {limited}, {rated} rated{times}"


def lines_text(rig: Rig, style: Style, *, why: bool = False) -> Iterator[str]:
    """Print every output and line with its figures, and with ``why`` where each comes from."""
    if not rig.lines and not rig.outputs:
        yield EMPTY_PLAN
    for solved in rig.outputs:
        shown = traced_output(rig, solved) if why and solved.lines else solved
        yield from _output_text(shown, rig, style, why=why)
        for line in shown.lines:
            yield from _line_text(shown, line, rig, style, why=why)
        yield ""
    for unfed in rig.lines:
        if unfed.output is None:
            yield f"{unfed.id}: no output feeds it"


def _output_text(solved: SolvedOutput, rig: Rig, style: Style, *, why: bool) -> Iterator[str]:
    output = solved.output
    if not solved.lines:
        gives, minimum = style.value(solved.can_give_v, "V"), style.value(output.minimum_ohm, "ohm")
        yield f"{output.id}  {output.mode}, free, can give {gives}, minimum load {minimum}"
        if permission_note(output):
            yield from _wrapped("  ", permission_note(output), style)
        return
    yield (
        f"{output.id}  {output.mode}, load {style.value(solved.load_ohm, 'ohm')} "
        f"(minimum {style.value(output.minimum_ohm, 'ohm')}), can give {style.value(solved.can_give_v, 'V')}"
        + (", assumed" if solved.assumed else "")
    )
    if solved.counts_for_less:
        judged = f"judged as {style.value(solved.judged_ohm, 'ohm')} without cable"
        yield from _wrapped("  ", f"{judged}: a section's minimum is under 80 % of its rating", style)
    lowest = lowest_text(solved, rig.conditions.temperature_c, style)
    if lowest:
        yield from textwrap.wrap(f"  {lowest}", WIDTH, subsequent_indent="    ")
    host = f"preset runs in {solved.host.id}" if solved.host else "no host for a preset"
    fed = f"fed from {style.plain(solved.source)}" if solved.source else "signal not planned"
    gain = f"gain {style.value(solved.gain_db, 'dB')}" if solved.gain_db is not None else "gain not known"
    yield f"  {fed}, {host}, {gain}"
    account = account_of(rig, output.id)
    if account is not None:
        told = [f"{text}, assumed" if solved.assumed else text for text in limiter_lines(account)]
        top = account.entry("gain on top")
        if top is not None:  # the limiters act at a level that has it in it
            told.insert(0, f"set {top.quantity} {top.text} in {top.where} ({top.basis})")
        for text in (*told, *account.notes):
            yield from textwrap.wrap(f"  {style.plain(text)}", WIDTH, subsequent_indent="    ")
    if why:
        seen: set[int] = set()
        for _, figure in output_figures(solved):
            yield from figure_text(figure, style, 4, seen)


def lowest_text(solved: SolvedOutput, temperature_c: float, style: Style) -> str:
    """Say how low the load of an output gets, and where; empty where no model tells of its impedance."""
    lowest = lowest_modulus(solved, temperature_c)
    if lowest is None:
        return ""
    partly = "" if lowest.every else ", other boxes as rated"
    return f"lowest load {style.value(lowest.ohm, 'ohm')} at {style.value(lowest.frequency_hz, 'Hz')}{partly}"


def _line_text(output: SolvedOutput, solved: SolvedLine, rig: Rig, style: Style, *, why: bool) -> Iterator[str]:
    line = solved.line
    yield f"  {line.id}  {line.section or 'no section'}"
    if line.broken is not None:
        yield f"    ends at step {line.broken.step}: '{line.broken.model}' does not carry pair {line.broken.pair}"
    names = dict.fromkeys((load.choice.id or "none", load.choice.why) for load in line.loads)
    for name, reason in names:
        yield from _wrapped(f"    preset {name}: ", reason, style)
    for box in solved.boxes:
        factor = damping_text(box)
        text = (
            f"{style.value(box.full_v, 'V')}, {powers_text(box, style)}, "
            f"loss {style.value(box.loss_db, 'dB')}, damping {factor}"
        )
        text += ", assumed" if output.is_assumed(box.load) else ""
        yield from _wrapped(f"    {box.load.box.id}  ", text, style)
    if why:
        seen: set[int] = set()
        for _, _, figure in line_figures(solved):
            yield from figure_text(figure, style, 6, seen)
    readings = expected_readings(line, rig.conditions.temperature_c) if solved.boxes else ()
    for index, reading in enumerate(readings if why else readings[:1]):
        lead = "    " if index else "    meter, plug pulled: "
        yield from _wrapped(lead, _reading(reading, style), style)


def _reading(expected: Expected, style: Style) -> str:
    text = f"{expected.at} {_band(expected.dc, style) or 'open'} DC"
    if expected.z1k is not None:
        text += f", {_band(expected.z1k, style)} at 1 kHz"
    return text + (" (assumed)" if expected.assumed and expected.dc is not None else "")


def _band(band: Band | None, style: Style) -> str:
    if band is None:
        return ""
    return f"{style.value(band.value, 'ohm')} ({band.low:.2f} to {band.high:.2f})"


def figure_text(figure: Figure, style: Style, indent: int, seen: set[int]) -> Iterator[str]:
    """Print a figure and all that it rests on; what was printed already is only named."""
    value = style.value(figure.value, figure.unit, 4)
    mark = ", assumed" if figure.assumed else ""
    text = f"{figure.label} = {value}{mark}"
    if not figure.inputs:
        yield from _wrapped(" " * indent, f"{text}   [{figure.source}]", style)
        return
    # Copies under another label share their inputs, which live as long as the traced result.
    if id(figure.inputs) in seen:
        yield from _wrapped(" " * indent, f"{text}   (as above)", style)
        return
    seen.add(id(figure.inputs))
    yield from _wrapped(" " * indent, f"{text}   {figure.formula}   [{figure.source}]", style)
    for _, item in figure.inputs:
        yield from figure_text(item, style, indent + 2, seen)


def _wrapped(lead: str, text: str, style: Style) -> Iterable[str]:
    hang = " " * min(len(lead), 8) if lead.strip() else lead + "  "
    return textwrap.wrap(
        style.plain(text), WIDTH, initial_indent=lead, subsequent_indent=hang, break_on_hyphens=False
    ) or [lead.rstrip()]
