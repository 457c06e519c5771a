"""Assign boxes to outputs: a function from show to proposal, with its proof.

What has a run keeps it, unless somebody asks for a plan anew. Even then as much stays as can: the plan that keeps
every run is held against the one that keeps none, and where that one is better, only so many zones are planned anew
as it takes to be as good. A run that the checks warn of is then freed by itself; where that betters nothing, it is
kept, and the plan says why.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.planning.assign.judging import UNDER_PREFERRED, Alternative, Proposal, Short, Wishes, what_is_worse, worth
from fieldkit.planning.assign.proposing import Cancelled, Planner, Progress
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.document import Show, Zone
from fieldkit.text.words import counted

Suspect = tuple[Literal["run", "zone"], str]
"""A run or a zone, by its id."""

MOST_TRIES = 6
"""Runs and zones that are freed by themselves, those with the worst findings first."""


def blamed(show: Show, proposal: Proposal, zones: Collection[str]) -> dict[Suspect, Finding]:
    """Find the runs of some zones, and the zones, that an error or a warning is about, each with its worst finding.

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
        if item.severity == "note" or item.rule == UNDER_PREFERRED:
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


MOST_ZONES = 12
"""Zones that are tried one by one; with more of them it is all or nothing."""

MOST_BOXES = 200


def assign(
    show: Show,
    wishes: Wishes | None = None,
    *,
    cancelled: Cancelled = lambda: False,
    progress: Progress = lambda _: None,
) -> Proposal:
    """Propose outputs, runs and inputs for the boxes that have none, or for zones anew.

    The same show and wishes give the same proposal. ``cancelled`` is asked often; once it is true, the best found
    until then is laid and given back as not proved.
    """
    wishes = wishes or Wishes()
    before = check(evaluate(show))
    planner = Planner(show, wishes, cancelled, progress)
    proposal = planner.plan()
    if wishes.again and not cancelled():
        proposal = _again(planner, proposal)
    elif proposal.undriven and not proposal.cancelled:
        proposal = _with_room_made(planner, proposal)
    return msgspec.structs.replace(proposal, before=before)


def _with_room_made(planner: Planner, kept: Proposal) -> Proposal:
    """Say what moving as little as it takes would do for boxes that find no room; do it where that is wished."""
    moved = _moved(planner, sides=False)
    number = len(kept.undriven)
    first = f"no room for {counted(number, 'box')} without moving anything"
    hire = next((item.says for item in kept.short if "; hire" in item.says), "")
    if moved is None or len(moved.undriven) >= number:
        tried = "" if moved is None and not planner.show.runs else ", and moving what is plugged makes none"
        return _said_first(kept, f"{first}{tried}") if planner.show.runs else kept
    if not moved.replugged:
        return moved  # what is plugged stays on its outputs, and only has more behind it
    does = "does it" if not moved.undriven else f"leaves {counted(len(moved.undriven), 'box')} silent"
    says = f"moving {counted(moved.replugged, 'box')} {does}"
    if planner.wishes.moving:
        return _with_ladder(moved, [kept, moved])
    kept = _with_ladder(kept, [kept, moved])
    return _said_first(kept, f"{first}; {says}{', or hire: ' + hire if hire else ''}")


def _said_first(proposal: Proposal, says: str) -> Proposal:
    short = Short(", ".join(proposal.undriven), len(proposal.undriven), says)
    return msgspec.structs.replace(proposal, short=(short, *proposal.short))


def _moved(planner: Planner, *, sides: bool) -> Proposal | None:
    """Plan with the runs moved that must move, and no others; None where none helps."""
    planner.progress("what must move")
    runs = planner.runs_to_move(sides=sides)
    return planner.plan(frozenset(), runs) if runs and not planner.cancelled() else None


def _with_ladder(chosen: Proposal, steps: Sequence[Proposal]) -> Proposal:
    """Add what fewer moves, or more, would bring, one rung a number of moves."""
    rungs: dict[int, Proposal] = {}
    for step in steps:
        if step.replugged not in rungs or worth(step) < worth(rungs[step.replugged]):
            rungs[step.replugged] = step
    others = tuple(
        Alternative(
            name=f"{counted(step.replugged, 'box')} moved",
            rack_units=step.rack_units,
            moves=step.replugged,
            condition=f"{counted(step.replugged, 'box')} that {'is' if step.replugged == 1 else 'are'} plugged move",
            risk=what_is_worse(step, chosen) or "what is plugged and tested moves",
            says=f"{counted(step.replugged, 'box')} moved: {step.proof.says}",
        )
        for number, step in sorted(rungs.items())
        if number != chosen.replugged
    )
    return msgspec.structs.replace(chosen, alternatives=(*others, *chosen.alternatives))


def _again(planner: Planner, kept: Proposal) -> Proposal:
    """Plan anew as much as makes the plan better, and no more."""
    show, wishes = planner.show, planner.wishes
    zones = [zone for zone in show.zones if wishes.zones is None or zone.id in wishes.zones]
    wrong = blamed(show, kept, {zone.id for zone in zones}) if len(show.boxes) <= MOST_BOXES else {}
    moved = [plan for sides in (False, True) if (plan := _moved(planner, sides=sides)) is not None]
    found, best = _zones_anew(planner, kept, zones, frozenset(name for kind, name in wrong if kind == "run"))
    best = freed_one_by_one(planner, best, found, wrong)
    steps = [kept, *moved, best]
    chosen = min(steps, key=lambda plan: (worth(plan), plan.replugged, plan is not best))
    return _with_ladder(chosen, steps)


def _zones_anew(
    planner: Planner, kept: Proposal, zones: Sequence[Zone], wrong: frozenset[str]
) -> tuple[frozenset[str], Proposal]:
    """Choose the zones to plan anew, and plan them; runs in ``wrong`` are not laid as they were."""
    show = planner.show
    everything = frozenset(zone.id for zone in zones)
    anew = planner.plan(everything, wrong)
    goal = worth(anew)
    if worth(kept) <= goal:
        return frozenset(), kept
    if len(zones) <= MOST_ZONES and len(show.boxes) <= MOST_BOXES:
        chosen: frozenset[str] = frozenset()
        for zone in sorted(zones, key=lambda zone: -_blame(kept, zone.id, show)):
            chosen |= {zone.id}
            some = planner.plan(chosen, wrong)
            if worth(some) <= goal and len(some.moves) <= len(anew.moves):
                return chosen, some
    return everything, anew


def _blame(proposal: Proposal, zone: str, show: Show) -> int:
    """Count the findings about a zone, its boxes and what feeds them."""
    boxes = {box.id for box in show.boxes if box.zone == zone}
    runs = {run.id for run in show.runs if any(step.box in boxes for step in run.path)}
    outputs = {name for run in show.runs if run.id in runs for name in run.feeds.values()}
    names = boxes | runs | outputs | {zone}
    found = (item for item in proposal.findings if item.severity != "note")
    return sum(item.where.id in names or item.where.id.partition("/")[0] in names for item in found)
