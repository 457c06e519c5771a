"""Judge what was laid: moves, rack units, proof, and what the checks say."""

from __future__ import annotations

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.proposals import Move, Proof, Proposal, Short, Stage
from fieldkit.planning.question import Counts, Question
from fieldkit.rig.evaluation import Rig, evaluate
from fieldkit.show.document import Show


def proposal_of(
    before: Show,
    after: Show,
    question: Question,
    counts: Counts,
    undriven: tuple[str, ...],
    short: tuple[Short, ...],
    notes: tuple[str, ...],
    *,
    staying: bool,
) -> Proposal:
    """Put a proposal together from the shows before and after it, and from what was counted."""
    rig = evaluate(after)
    units = _rack_units(rig)
    findings = check(rig)
    return Proposal(
        show=after,
        moves=_moves(evaluate(before), rig),
        rack_units=units,
        proof=_proof(question, counts, units, len(undriven), staying=staying),
        short=(*short, *_own_errors(findings, short)),
        undriven=undriven,
        notes=notes,
        stages=tuple(Stage(reached.name, reached.value, reached.least) for reached in counts.answer.reached),
        findings=findings,
        cancelled=counts.answer.stopped,
    )


MOST_ERRORS = 20


def _own_errors(findings: tuple[Finding, ...], short: tuple[Short, ...]) -> tuple[Short, ...]:
    """Say why a plan that is laid still has errors: what the show itself asks for, or does not have."""
    said = {item.what for item in short}
    errors = [item for item in findings if item.severity == "error" and item.rule != "cables-missing"]
    own = {(item.where.id, item.says): item for item in errors if item.where.id not in said}
    first = list(own.values())[:MOST_ERRORS]
    return tuple(Short(item.where.id, 1, f"{item.where.id}: {item.says}; {item.cure}") for item in first)


def _rack_units(rig: Rig) -> int:
    """Add the rack units of all amplifiers, racks as built and processors that feed a box."""
    used: dict[str, None] = {}
    for output in rig.outputs:
        if output.loads:
            used[output.output.unit.id] = None
            if "." in output.source:
                used[output.source.partition(".")[0]] = None
    heights: dict[str, int] = {}
    built = {model.id: model for model in rig.show.built_racks}
    whole = {rack.id: built[rack.as_built] for rack in rig.show.racks if rack.as_built in built}
    for name in used:
        unit = rig.ground.units[name]
        model = rig.ground.models[unit.model]
        if unit.rack in whole and whole[unit.rack].panel:
            heights[unit.rack] = whole[unit.rack].units
        elif isinstance(model, (Amplifier, Processor)):
            heights[name] = model.units
    return sum(heights.values())


def _proof(question: Question, counts: Counts, units: int, undriven: int, *, staying: bool) -> Proof:
    reached = counts.answer.goal("rack units")
    before = [stage for stage in counts.answer.reached[: counts.answer.reached.index(reached)] if not stage.proved]
    least = units - (reached.value - reached.least)
    proved = reached.proved and not before
    if not question.groups:
        return Proof(proved, least, f"nothing to plan: no box waits for an output; {units} rack units in use")
    what = "all boxes driven" if not undriven else f"{undriven} box{'' if undriven == 1 else 'es'} left silent"
    if proved:
        stock = "with this stock" if question.building else "with the amplifiers that are there"
        stock += ", beside the runs that stay" if staying else ""
        says = f"{units} rack units, {what}; {units - 1} is impossible {stock}" if units else f"{what}; no rack unit"
    else:
        says = f"{units} rack units, {what}: the best found; not proved, it may be done with {least}"
    return Proof(proved, least, says)


def _moves(before: Rig, after: Rig) -> tuple[Move, ...]:
    old, new = _by_box(before), _by_box(after)
    moves = []
    for box in after.show.boxes:
        outputs_before, outputs = old.get(box.id, ({}, "", {})), new.get(box.id, ({}, "", {}))
        if tuple(outputs_before[0]) != tuple(outputs[0]) or outputs_before[1] != outputs[1]:
            moves.append(
                Move(box.id, box.zone, outputs[1], tuple(outputs_before[0]), tuple(outputs[0]), tuple(outputs[2]))
            )
    return tuple(moves)


def _by_box(rig: Rig) -> dict[str, tuple[dict[str, None], str, dict[str, None]]]:
    """Give for each box its outputs, its run and its presets."""
    found: dict[str, tuple[dict[str, None], str, dict[str, None]]] = {}
    for output in rig.outputs:
        for solved in output.lines:
            for load in solved.line.loads:
                outputs, _, presets = found.get(load.box.id, ({}, "", {}))
                outputs[output.output.id] = None
                if load.choice.id:
                    presets[load.choice.id] = None
                found[load.box.id] = (outputs, solved.line.run.id, presets)
    return found
