"""Cables: what they lose, what they carry, and what they leave of an amplifier's grip on a sub."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, output_rule
from fieldkit.formulas.conductors import class_5_resistance, metric_table
from fieldkit.rig.solving import SolvedBox, SolvedLine, SolvedOutput
from fieldkit.units import format_value


def _farthest(solved: SolvedLine) -> SolvedBox | None:
    return max(solved.boxes, key=lambda box: box.loss_db, default=None)


@output_rule
def cable_loss(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find a line that loses more on its way than its zone allows."""
    for solved in output.lines:
        box = _farthest(solved)
        if box is None:
            continue
        limit_db = choices.loss_limits_db[box.load.box.zone]
        if box.loss_db <= limit_db:
            continue
        lost = 100.0 * (1.0 - (box.full_v / output.can_give_v) ** 2)
        resistance = sum(solved.piece_ohm)
        yield finding(
            "warning" if box.loss_db > 2.0 * limit_db else "advice",
            "cable-loss",
            ("line", solved.line.id),
            f"{format_value(box.loss_db, 'dB')} are lost on the way to {box.load.box.id} "
            f"({format_value(resistance, 'ohm')} of cable); the zone allows {format_value(limit_db, 'dB')}",
            why=f"{format_value(lost, '%')} of the power that the box could have had heats the cable and is missing",
            cure=_thicker(solved),
            loss_db=box.loss_db,
            limit_db=limit_db,
            cable_ohm=resistance,
        )


def _thicker(solved: SolvedLine) -> str:
    """Say what would help: the next size of copper for the longest piece, or less load."""
    cables = [piece for piece in solved.line.pieces if piece.size is not None and not piece.gauge]
    longest = max(cables, key=lambda piece: piece.length_m, default=None)
    if longest is None or longest.size is None:
        return "use thicker or shorter cable, or fewer boxes on one line"
    size = longest.size
    larger = [area for area in metric_table("class_5").areas_mm2 if area > size * 1.01]
    if not larger:
        return "use shorter cable, or fewer boxes on one line"
    ratio = class_5_resistance(larger[0]) / class_5_resistance(size)
    length = format_value(longest.length_m, "m")
    return (
        f"{format_value(larger[0], 'mm²')} for the {length} would leave {format_value(100 * ratio, '%')} of its loss; "
        "or move the amplifier nearer, or put fewer boxes on one line"
    )


@output_rule
def damping(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find a sub whose amplifier has lost its grip to the cable."""
    for solved in output.lines:
        subs = [box for box in solved.boxes if box.load.section.section == "sub" and box.damping_factor is not None]
        box = min(subs, key=lambda box: box.damping_factor or 0.0, default=None)
        if box is None or box.damping_factor is None or box.damping_factor >= choices.least_damping:
            continue
        yield finding(
            "advice",
            "damping-low",
            ("line", solved.line.id),
            f"damping factor {box.damping_factor:.0f} at {box.load.box.id}, under {choices.least_damping:g}",
            why="the cone rings longer after a beat; audible on dry bass, if at all",
            cure="use thicker or shorter cable to the subs",
            damping_factor=box.damping_factor,
            least_damping=choices.least_damping,
        )


@output_rule
def current(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a cable or connector that carries more current than it is rated for, at the limiter's threshold."""
    share = 1.0
    if output.limiter is not None and output.can_give_v > 0.0:
        share = min(1.0, output.limiter.thermal_v / output.can_give_v)
    total = 0.0
    for solved in output.lines:
        amps = [item * share for item in solved.piece_a]
        total += amps[0] if amps else 0.0
        for piece, carried in zip(solved.line.pieces, amps, strict=True):
            yield from _over(solved, piece.current_a, carried, f"'{piece.model}' in step {piece.step}")
    rated = output.output.model.connector_current
    if rated is not None and total > rated.value:
        yield _too_much("output", output.output.id, "the amplifier's connector", total, rated.value)


def _over(solved: SolvedLine, rated_a: float | None, carried_a: float, what: str) -> Iterator[Finding]:
    if rated_a is not None and carried_a > rated_a:
        yield _too_much("line", solved.line.id, what, carried_a, rated_a)


def _too_much(kind: str, name: str, what: str, carried_a: float, rated_a: float) -> Finding:
    return finding(
        "warning",
        "current-too-high",
        ("output", name) if kind == "output" else ("line", name),
        f"{what} carries {format_value(carried_a, 'A')} at the limiter's threshold, rated {format_value(rated_a, 'A')}",
        why="contacts and insulation get hot, worst where cable lies coiled",
        cure="use thicker cable, or fewer boxes on one line",
        current_a=carried_a,
        rated_a=rated_a,
    )
