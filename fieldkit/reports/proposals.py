"""Proposals as text for 80 columns, and as JSON objects."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from fieldkit.checks.checking import counts
from fieldkit.checks.finding import Finding
from fieldkit.planning.assign.judging import Proposal, Unprocessed
from fieldkit.reports.text import CAUTIONS, WIDTH, findings_text, patch_text
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.text.style import Style
from fieldkit.text.words import counted


def assign_object(proposal: Proposal) -> dict[str, Any]:
    """Make the object of ``assign --json``."""
    return {
        "moves": [
            {
                "box": move.box,
                "zone": move.zone,
                "run": move.run or None,
                "before": list(move.outputs_before),
                "outputs": list(move.outputs),
                "presets": list(move.presets),
                "says": move.says,
            }
            for move in proposal.moves
        ],
        "rack_units": proposal.rack_units,
        "proof": {
            "proved": proposal.proof.proved,
            "minimum_rack_units": proposal.proof.minimum_rack_units,
            "condition": proposal.proof.condition,
            "says": proposal.proof.says,
        },
        "alternatives": [
            {
                "name": other.name,
                "rack_units": other.rack_units,
                "moves": other.moves,
                "condition": other.condition,
                "risk": other.risk,
                "says": other.says,
            }
            for other in proposal.alternatives
        ],
        "plugs_moved": proposal.replugged,
        "ladder": [
            {
                "plugs_moved": rung.plugs,
                "rack_units": rung.rack_units,
                "undriven": list(rung.proposal.undriven),
                "brings": list(rung.brings),
                "proposed": rung.plugs == proposal.replugged,
            }
            for rung in proposal.ladder
        ],
        "short": [{"what": item.what, "count": item.count, "says": item.says} for item in proposal.short],
        "to_find": [{"what": item.what, "count": item.count, "says": item.says} for item in proposal.to_find],
        "supplies": [{"unit": plug.unit, "supply": plug.supply, "phase": plug.phase} for plug in proposal.plugs],
        "undriven": list(proposal.undriven),
        "weak": list(proposal.weak),
        "unprocessed": [
            {"boxes": list(item.boxes), "preset": item.preset, "zone": item.zone, "side": item.side}
            for item in proposal.unprocessed
        ],
        "notes": list(proposal.notes),
        "goals": [{"goal": stage.goal, "value": stage.value, "minimum": stage.minimum} for stage in proposal.stages],
        "counts": counts(proposal.findings),
        "counts_before": counts(proposal.before),
        "errors": [
            {"rule": item.rule, "where": {"kind": item.where.kind, "id": item.where.id}, "says": item.says}
            for item in proposal.errors
        ],
    }


def assign_text(proposal: Proposal, style: Style) -> Iterator[str]:
    """Print what a proposal does, how sure it is, and what is wrong with it."""
    for line in first_lines(proposal):
        yield from _wrapped(line, style)
    for note in proposal.notes:
        yield from _wrapped(f"note: {note}", style)
    yield from ladder_text(proposal, style)
    yield from alternatives_text(proposal, style)
    yield ""
    planned = evaluate(proposal.show)
    if proposal.moves:
        yield from patch_text(planned, style)
        yield ""
        number = len(proposal.moves)
        moved = f", {counted(proposal.replugged, 'plug')} of what stands there" if proposal.replugged else ""
        yield f"{counted(number, 'box')} to plug{moved}:"
        for move in proposal.moves:
            yield from _wrapped(f"  {move.says}", style)
    else:
        yield "nothing to move"
    yield ""
    yield f"findings before: {_counted(proposal.before)}; as planned:"
    yield from findings_text(planned, proposal.findings, style)
    yield ""
    yield from textwrap.wrap("Caution: " + " ".join(CAUTIONS), WIDTH)


def first_lines(proposal: Proposal) -> Iterator[str]:
    """Say what matters most, worst first; the first line is whole at 80 columns."""
    head, *more = proposal.proof.says.split("; ")
    if len(proposal.proof.says) <= WIDTH:
        yield proposal.proof.says
    else:
        yield from (head, *more)
    if proposal.undriven:
        yield f"silent: {', '.join(proposal.undriven)}"
    plugged = {step.box for run in proposal.show.runs for step in run.path}
    if unfed := [name for name in proposal.mute if name in plugged]:
        yield f"silent, since no working output feeds what is plugged there: {', '.join(unfed)}"
    if proposal.unprocessed:
        yield from _unprocessed(proposal.unprocessed)
    if proposal.weak:
        yield f"weak, less than half of their power: {', '.join(proposal.weak)}"
    said = ""
    for item in proposal.short:
        if item.says not in said:  # what has to be hired together is one sentence
            yield f"short: {item.says}"
        said += f"{item.says}\n"
    yield from (item.says for item in proposal.to_find)


def _unprocessed(lots: Sequence[Unprocessed]) -> Iterator[str]:
    """Name the boxes that play without their preset, and what to hire."""
    for lot in lots:
        names, verb = ", ".join(lot.boxes), "plays" if len(lot.boxes) == 1 else "play"
        yield f"{names} {verb} without preset '{lot.preset}': no processor output is left for it"
    outputs = counted(len(lots), "processor output")
    yield f"hire {outputs} with crossover and limiter, or amplifiers that host these presets"


def alternatives_text(proposal: Proposal, style: Style) -> Iterator[str]:
    """Write the table of what else could be had: rack units, moves, on which condition, at which risk."""
    rungs = {rung.name for rung in proposal.ladder}
    others = [other for other in proposal.alternatives if other.name not in rungs]
    if not others:
        return
    yield ""
    yield f"{'in place of it':<20} {'units':>5} {'moves':>5}  risk"
    for other in others:
        first, *rest = textwrap.wrap(style.plain(other.risk), WIDTH - 34) or [""]
        yield f"{other.name:<20} {other.rack_units:>5} {other.moves:>5}  {first}"
        yield from (f"{'':<34}{line}" for line in rest)


def ladder_text(proposal: Proposal, style: Style) -> Iterator[str]:
    """Write what each number of plugs moved brings, against the one above; ``*`` stands at what is proposed."""
    if not proposal.ladder:
        return
    yield ""
    yield f"{'plugs moved':>11} {'units':>5}  brings"
    for rung in proposal.ladder:
        mark = "*" if rung.plugs == proposal.replugged else ""
        first, *rest = [
            line for text in rung.brings for line in textwrap.wrap(style.plain(text), WIDTH - 19) or [""]
        ] or [""]
        yield f"{f'{mark} {rung.plugs}':>11} {rung.rack_units:>5}  {first}"
        yield from (f"{'':<19}{line}" for line in rest)


MOST_WORST = 3


def findings_change(proposal: Proposal) -> Iterator[str]:
    """Say how many findings there are before and after, what is new, what is gone, and the worst that stay.

    Which boxes nothing feeds is left out: the moves say which are driven, and 'silent' which are not.
    """
    yield f"findings before: {_counted(proposal.before)}; after: {_counted(proposal.findings)}"
    loud = [item for item in proposal.findings if item.severity != "note" and item.rule != "box-unfed"]
    before = {(item.rule, item.where) for item in proposal.before}
    after = {(item.rule, item.where) for item in loud}
    gone = [item for item in proposal.before if item.severity != "note" and (item.rule, item.where) not in after]
    gone = [item for item in gone if item.rule != "box-unfed"]
    new = [item for item in loud if (item.rule, item.where) not in before]
    stays = [item for item in loud if (item.rule, item.where) in before]
    yield from (f"{item.severity}: {item.where.id}: {item.says}" for item in new)
    yield from _worst("gone", gone)
    yield from _worst("stays", stays)


def _worst(word: str, findings: Sequence[Finding]) -> Iterator[str]:
    """Tell the first few, which are the worst, and how many more there are."""
    yield from (f"{word}: {item.severity}, {item.where.id}: {item.says}" for item in findings[:MOST_WORST])
    if len(findings) > MOST_WORST:
        yield f"{word}: {len(findings) - MOST_WORST} more"


def _counted(findings: tuple[Finding, ...]) -> str:
    found = counts(findings)
    words = [counted(found[f"{name}s"], name) for name in ("error", "warning") if found[f"{name}s"]]
    return ", ".join([*words, *([counted(found["notes"], "note")] if found["notes"] else [])]) or "none"


def preview_lines(before: Rig, proposal: Proposal, style: Style) -> Iterator[str]:
    """Say what somebody wants to see before taking a proposal: proof, moves, loads before and after, what is wrong."""
    yield from first_lines(proposal)
    if proposal.cancelled:
        yield "stopped by hand: the best found until then"
    yield from ladder_text(proposal, style)
    yield from alternatives_text(proposal, style)
    yield from findings_change(proposal)
    yield from (f"note: {note}" for note in proposal.notes)
    yield ""
    yield from (move.says for move in proposal.moves)
    yield ""
    after = evaluate(proposal.show)
    for output in after.outputs:
        old = before.output(output.output.id)
        was = old.load_ohm if old is not None else None
        if output.load_ohm != was:
            minimum = style.value(output.output.minimum_ohm, "ohm")
            loads = f"{_load(was, style)} before, {_load(output.load_ohm, style)} after"
            yield f"{output.output.id}: load {loads}; minimum {minimum}"


def _load(load_ohm: float | None, style: Style) -> str:
    return "none" if load_ohm is None else style.value(load_ohm, "ohm")


def _wrapped(text: str, style: Style) -> list[str]:
    return textwrap.wrap(style.plain(text), WIDTH, subsequent_indent="    ", break_on_hyphens=False)
