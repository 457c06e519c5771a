"""Cables: what they lose, what they carry, and what they leave of an amplifier's grip on a sub."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from fieldkit.checks.finding import Finding, Kind
from fieldkit.checks.rules import Choices, finding, output_rule, show_rule
from fieldkit.formulas.cables import voltage_drop_db
from fieldkit.formulas.conductors import class_5_resistance, metric_table, stranded_awg_resistance
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.connect.outputs import source_ohm
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.ladder import Rung, looking_in, node_volts
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.document import Run
from fieldkit.units import format_value

SHORTEST_M, LONGEST_M = 0.1, 300.0
"""A lead outside these was mistyped more often than it is meant: common practice, no source."""


@show_rule
def lengths_are_likely(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a lead so short or so long that its unit was probably mistyped; no length at all is no lead."""
    yield from chain.from_iterable(rig.memory.each("lengths", rig.show.runs, _unlikely))


def _unlikely(run: Run) -> list[Finding]:
    return [
        finding(
            "note",
            "length-unlikely",
            ("run", run.id),
            f"the lead of step {number} is {length} long",
            why="a unit that was mistyped makes the loss, the readings and the pull list wrong",
            fix="correct the length; if it is meant, leave it",
            length_m=length.value,
        )
        for number, step in enumerate(run.path, start=1)
        if (length := step.length) and step.cable and length.value and not SHORTEST_M <= length.value <= LONGEST_M
    ]


@output_rule
def cable_loss(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find a line that loses more on its way than its zones allow; the box that is worst off is named."""
    for solved in output.lines:
        worst = max(solved.boxes, key=lambda box: box.loss_db - choices.loss_limits_db[box.load.box.zone], default=None)
        if worst is None:
            continue
        limit_db = choices.loss_limits_db[worst.load.box.zone]
        if worst.loss_db <= limit_db:
            continue
        lost = 100.0 * (1.0 - (worst.full_v / output.can_give_v) ** 2)
        way = solved.line.pieces.index(next(piece for piece in solved.line.pieces if worst.load in piece.loads))
        resistance = sum(solved.piece_ohm[: way + 1])
        yield finding(
            "warning" if worst.loss_db > 2.0 * limit_db else "note",
            "cable-loss",
            ("line", solved.line.id),
            f"{format_value(worst.loss_db, 'dB')} are lost on the way to {worst.load.box.id} "
            f"({format_value(resistance, 'ohm')} of cable); the zone allows {format_value(limit_db, 'dB')}",
            why=f"{format_value(lost, '%')} of the power that the box could have had heats the cable and is missing",
            fix=_thicker(solved, way, worst.loss_db, limit_db),
            loss_db=worst.loss_db,
            limit_db=limit_db,
            cable_ohm=resistance,
        )


def _thicker(solved: SolvedLine, way: int, loss_db: float, limit_db: float) -> str:
    """Say which size of the piece that loses most would do, else how far the thickest one gets.

    ``way`` is the number of the last piece on the way to the box.
    """
    other = "move the amplifier nearer, or put fewer boxes on one line"
    pieces = solved.line.pieces
    drops = [ohm * amps for ohm, amps in zip(solved.piece_ohm, solved.piece_a, strict=True)][: way + 1]
    number = max(range(way + 1), key=drops.__getitem__)
    piece = pieces[number]
    if piece.size is None:
        return f"check the contacts and adaptors of step {piece.step}, or {other}"
    where = f"step {piece.step}" if piece.step else "wire in the rack"
    own = stranded_awg_resistance(piece.size) if piece.gauge else class_5_resistance(piece.size)
    best = ""
    for size, text in _sizes(piece.gauge):
        ohm_per_m = stranded_awg_resistance(size) if piece.gauge else class_5_resistance(size)
        if ohm_per_m >= own * 0.999:
            continue
        left_db = _loss_with(solved, number, ohm_per_m / own, way)
        if left_db >= loss_db:
            break
        best = (
            f"{text} for the {format_value(piece.length_m, 'm')} of {where} would leave {format_value(left_db, 'dB')}"
        )
        if left_db <= limit_db:
            return f"{best}; or {other}"
    return f"{best}, which is not enough: {other}" if best else f"use shorter cable, {other}"


TOURING_MM2 = 10.0
TOURING_GAUGE = 6
"""The thickest cores that loudspeaker connectors take. Common practice, no source."""


def _sizes(gauge: bool) -> list[tuple[float, str]]:  # noqa: FBT001
    """List the sizes that loudspeaker cable is made in, thinnest first, with their names."""
    if gauge:
        return [(float(number), f"{number} AWG") for number in range(18, TOURING_GAUGE - 1, -2)]
    areas = [area for area in metric_table("class_5").areas_mm2 if area <= TOURING_MM2]
    return [(area, format_value(area, "mm²")) for area in areas]


def _loss_with(solved: SolvedLine, number: int, share: float, way: int) -> float:
    """Solve a line once more with the cable of one piece at a share of its resistance [dB]."""
    rungs = []
    for index, (ohm, piece) in enumerate(zip(solved.piece_ohm, solved.line.pieces, strict=True)):
        # Contacts stay as they are in thicker cable.
        along_ohm = (ohm - piece.extra_ohm) * share + piece.extra_ohm if index == number else ohm
        rungs.append(Rung(along_ohm, tuple(load.impedance_ohm for load in piece.loads)))
    return voltage_drop_db(1.0, node_volts(rungs, 1.0, looking_in(rungs))[way])


SHARES_CABLE = 0.99
"""Two figures nearer than this are one to a reader."""


@output_rule
def damping(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:
    """Find a sub whose amplifier has lost its grip to the cable."""
    for solved in output.lines:
        subs = [box for box in solved.boxes if box.load.section.section == "sub" and box.damping_together is not None]
        box = min(subs, key=lambda box: box.damping_together or 0.0, default=None)
        if box is None or box.damping_together is None or box.damping_factor is None:
            continue
        worse = min(box.damping_factor, box.damping_together)
        if worse >= choices.minimum_damping:
            continue
        shared = worse < box.damping_factor * SHARES_CABLE
        alone = f" while all on its cable move with it, {box.damping_factor:.1f} by itself" if shared else ""
        yield finding(
            "note",
            "damping-low",
            ("line", solved.line.id),
            f"damping factor {worse:.1f} at {box.load.box.id}{alone}, under {choices.minimum_damping:g}",
            why="the cone rings longer after a beat; audible on dry bass, if at all",
            fix="use thicker or shorter cable to the subs" + (", or give each a run of its own" if shared else "")
            if _of_output(output) * choices.minimum_damping < 1.0
            else "the amplifier alone gives no more: set minimum_damping lower, or use another amplifier",
            damping_factor=box.damping_factor,
            damping_together=box.damping_together,
            minimum_damping=choices.minimum_damping,
        )


def _of_output(output: SolvedOutput) -> float:
    """Compute what the output alone takes of the damping, as 1 over it: its resistance against all that hangs on it."""
    return source_ohm(output.output) * sum(1.0 / load.impedance_ohm for load in output.loads)


@output_rule
def current(output: SolvedOutput, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a cable or connector that carries more current than it is rated for.

    What counts is the limiter's threshold, where something on the line can hold a limiter, else full output.
    """
    limiter, share, when = output.limiter, 1.0, "at full output, with no limiter"
    held = output.host is not None and all(output.host.takes(load.speaker.id) for load in output.loads)
    if held and limiter is not None and output.can_give_v > 0.0:
        share, when = min(1.0, limiter.thermal_v / output.can_give_v), "at the limiter's threshold"
    through: dict[str, float] = {}
    for solved in output.lines:
        amps = [item * share for item in solved.piece_a]
        connector = _connector(solved.line)
        through[connector] = through.get(connector, 0.0) + (amps[0] if amps else 0.0)
        for piece, carried in zip(solved.line.pieces, amps, strict=True):
            if piece.current_a is not None and carried > piece.current_a:
                what = f"'{piece.model}' in step {piece.step}"
                yield _too_much(("line", solved.line.id), f"{what} carries", when, carried, piece.current_a)
    rated = output.output.model.connector_current
    total = max(through.values(), default=0.0)
    if rated is not None and total > rated.value:
        yield _too_much(("output", output.output.id), "the amplifier's connector carries", when, total, rated.value)


def _connector(line: Line) -> str:
    """Name the amplifier's connector that a line leaves by; inside a rack as built nobody knows which."""
    unit = line.output.unit.id if line.output else ""
    return line.run.start if line.run.start.partition(".")[0] == unit else ""


def _too_much(where: tuple[Kind, str], what: str, when: str, carried_a: float, rated_a: float) -> Finding:
    return finding(
        "warning",
        "current-too-high",
        where,
        f"{what} {format_value(carried_a, 'A')} {when}, rated {format_value(rated_a, 'A')}",
        why="contacts and insulation get hot, worst where cable lies coiled",
        fix="use thicker cable, or fewer boxes on one line" if where[0] == "line" else "put fewer boxes on this output",
        current_a=carried_a,
        rated_a=rated_a,
    )
