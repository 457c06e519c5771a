"""Runs and zones that the checks warn of: freed one by one, and where that betters nothing, kept with the reason."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.planning.proposals import Proposal
from fieldkit.planning.proposing import Planner
from fieldkit.planning.worth import UNDER_PREFERRED, what_is_worse, worth
from fieldkit.rig.evaluation import evaluate
from fieldkit.show.document import Show

Suspect = tuple[Literal["run", "zone"], str]
"""A run or a zone, by its id."""

MOST_TRIES = 6
"""Runs and zones that are freed by themselves, those with the worst findings first."""


def blamed(show: Show, proposal: Proposal, zones: Collection[str]) -> dict[Suspect, Finding]:
    """Give the runs of some zones, and the zones, that an error or a warning is about, each with its worst finding.

    Findings about a run are those about a line of it, a box on it or an output that it hangs on. Loads under the
    preferred one are left out: the whole numbers have weighed them.
    """
    at = {box.id: box.zone for box in show.boxes}
    names: dict[Suspect, set[str]] = {}
    for line in evaluate(proposal.show).lines:
        on_it = {step.box for step in line.run.path if step.box}
        if any(at[box] in zones for box in on_it):
            own = names.setdefault(("run", line.run.id), {line.run.id, *on_it})
            own |= {line.id} | ({line.output.id} if line.output else set())
    before = {run.id: run for run in show.runs}
    same = {run.id: run for run in proposal.show.runs if before.get(run.id) == run}
    kept = {at[step.box] for run in same.values() for step in run.path if step.box}
    names = {key: own for key, own in names.items() if key[1] in same} | {("zone", z): {z} for z in zones if z in kept}
    found: dict[Suspect, Finding] = {}
    for item in proposal.findings:
        if item.severity == "advice" or item.rule == UNDER_PREFERRED:
            continue
        for key, own in names.items():
            if item.where.id in own and (item.where.kind == "zone") == (key[0] == "zone"):
                found.setdefault(key, item)
    return found


def freed_one_by_one(
    planner: Planner, best: Proposal, anew: frozenset[str], wrong: Mapping[Suspect, Finding]
) -> Proposal:
    """Free each run or zone that is still warned of by itself, and keep it where nothing becomes better."""
    freed: frozenset[str] = frozenset()
    reasons: dict[Suspect, str] = {}
    zones = {zone.id for zone in planner.show.zones}
    candidates = [key for key in wrong if key[1] not in planner.wishes.keep]
    for kind, name in candidates[:MOST_TRIES]:
        present = blamed(planner.show, best, zones)
        if (kind, name) not in present or planner.cancelled():
            continue
        more = frozenset({name})
        tries = (anew, freed | more) if kind == "run" else (anew | more, freed)
        tried = planner.plan(*tries)
        if worth(tried) < worth(best):
            best, (anew, freed) = tried, tries
        else:
            reasons[kind, name] = _kept(name, present[kind, name], tried, best)
    present = blamed(planner.show, best, zones)
    notes = [reason for key, reason in reasons.items() if key in present]
    untried = [name for kind, name in candidates if (kind, name) in present and (kind, name) not in reasons]
    if untried:
        notes.append(f"warned of, and not tried anew one by one: {', '.join(untried)}")
    return msgspec.structs.replace(best, notes=(*best.notes, *notes)) if notes else best


def _kept(run: str, finding: Finding, tried: Proposal, best: Proposal) -> str:
    """Say why a run, or what drives a zone, stays as it is."""
    worse = what_is_worse(tried, best)
    about = "" if finding.where.id == run else f"{finding.where.id}: "
    if worse:
        reason = f"because planned anew there are {worse}"
    elif (finding.rule, finding.where) in {(item.rule, item.where) for item in tried.findings}:
        reason = "because planned anew it gets the same warning"
    else:
        reason = "because planned anew it gets other warnings in place of it"
    return f"{run} is kept, {reason} ({about}{finding.says})"
