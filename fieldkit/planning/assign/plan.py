"""Assign boxes to outputs: a function from show to proposal, with its proof.

There is one search, with a weight on moves. What has a run may stay, at no move. How far down the goals it is worth to
move a plug is the weight: for nothing; for boxes that find no room; for sides apart and siblings alike; for rack units,
loss and loads; for rack units in use. Each weight gives a plan with the fewest plugs that bring so much. Those that are
better than all with fewer plugs are the rungs of a ladder, and the wishes say how high to go.

Where nobody asked for moves, the ladder is looked for in a limited number of steps of the solver, which are the same on
any machine, and the plan says where that ended it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Literal

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.planning.assign.judging import Proposal, Short, Wishes
from fieldkit.planning.assign.ladder import UNDER_PREFERRED, on_ladder, weighed, what_is_worse, worth
from fieldkit.planning.assign.loosening import MOST_ASKED, MOST_LOOSE
from fieldkit.planning.assign.proposing import Cancelled, Planner, Progress
from fieldkit.planning.assign.solver import steps_done
from fieldkit.rig.failures import failed_outputs
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import Show
from fieldkit.text.words import counted

Suspect = tuple[Literal["run", "zone"], str]
"""A run or a zone, by its id."""

MOST_TRIES = 6
"""Runs and zones that are freed by themselves, those with the worst findings first."""

MOST_BOXES = 200
"""Boxes of a show, up to which they are."""

UNASKED_STEPS = 2_500
UNASKED_TIMES = 2.0
"""Steps of the solver from the start of a plan up to which the ladder is looked for where nobody asked for moves: so
many, or so many times as many as the plan without moves took, whichever is more. Our own choice: about 1.5 s.
"""


def assign(
    show: Show,
    wishes: Wishes | None = None,
    *,
    cancelled: Cancelled = lambda: False,
    progress: Progress = lambda _: None,
) -> Proposal:
    """Propose outputs, runs and inputs for the boxes that have none, or for zones anew.

    The same show and wishes give the same proposal. Where nobody asked for moves, what moving would bring has a limit
    of steps, and a note says so where that was reached. ``cancelled`` is asked often; once it is true, the best
    found until then is laid and given back as not proved.
    """
    wishes = wishes or Wishes()
    began = steps_done()
    planner = Planner(show, wishes, cancelled, progress)
    before = check(evaluate(show))
    kept = planner.plan()
    climber = _Climber(planner, began)
    rungs = [kept, *climber.rungs(kept, before)]
    chosen = _chosen(rungs, wishes)
    if wishes.again:
        chosen = _warned_of(planner, chosen)
        rungs = [*rungs, chosen]
    elif chosen.undriven and not chosen.cancelled and show.runs:
        chosen = _what_would_make_room(planner, chosen, rungs, cut=climber.cut)
    if climber.untried:
        chosen = msgspec.structs.replace(chosen, notes=(*chosen.notes, _untried(wishes)))
    if climber.cut:
        chosen = msgspec.structs.replace(chosen, notes=(*chosen.notes, _cut_off(rungs)))
    chosen, *rungs = (msgspec.structs.replace(plan, before=before) for plan in (chosen, *rungs))
    return on_ladder(chosen, rungs)


class _Climber:
    """Plans with as few plugs moved as each weight takes: without a limit where moves are asked for, else with one."""

    def __init__(self, planner: Planner, began: int) -> None:
        """Set the limit: ``began`` is the number of steps at which the plan without moves was begun."""
        self._planner = planner
        now = steps_done()
        self._until = float("inf")
        if not planner.wishes.moves_plugs:
            self._until = began + max(UNASKED_STEPS, UNASKED_TIMES * (now - began))
        self._search_until = (now + self._until) / 2.0  # the other half is for laying what was found
        self.cut = False
        """Whether the limit was reached before all was looked for."""
        self.untried = False
        """Whether the show has too many boxes to look for what may stay."""

    def _over(self) -> bool:
        return self._planner.cancelled() or steps_done() > self._until

    def _searched_enough(self) -> bool:
        self.cut = self.cut or steps_done() > self._search_until
        return self.cut or self._planner.cancelled()

    def _plan(self, anew: frozenset[str], freed: frozenset[str]) -> Iterator[Proposal]:
        """Plan once more. Where moves are not asked for, what ends too late is dropped: its claims are incomplete."""
        plan = msgspec.structs.replace(self._planner, cancelled=self._over).plan(anew, freed)
        if self._planner.wishes.moves_plugs or not self._over():
            yield plan
        else:
            self.cut = True

    def rungs(self, kept: Proposal, before: Sequence[Finding]) -> Iterator[Proposal]:
        """Plan what moves something, after the plan that moves nothing."""
        planner = self._planner
        if kept.cancelled or planner.cancelled() or not (planner.wishes.moves_plugs or kept.moves or kept.mute):
            return
        rig = evaluate(planner.show)
        found = runs_blamed(rig, before)
        wrong = frozenset(name for name, item in found.items() if item.severity == "error") - planner.wishes.keep
        wrong |= _on_failed(rig) - planner.wishes.keep
        if wrong:
            tried = list(self._plan(frozenset(), wrong))
            yield from tried
            if not tried or worth(tried[0]) >= worth(kept):
                wrong = frozenset()  # what is wrong with them lies elsewhere
        planner.progress("what would move for what")
        loosening = planner.loosening(wrong)
        if loosening is None:
            self.untried = bool(planner.show.runs) and not planner.searches_moves
            if planner.wishes.again:
                yield planner.plan(frozenset(zone.id for zone in planner.show.zones if planner.wishes.plans(zone.id)))
            return
        for runs in loosening.runs_to_move(self._searched_enough, planner.progress):
            if runs in (frozenset(), wrong):
                continue
            if self._over():
                self.cut = self.cut or not planner.wishes.moves_plugs
                return
            yield from self._plan(frozenset(), runs)


def _on_failed(rig: Rig) -> frozenset[str]:
    """Name the runs on outputs that have failed."""
    failed = failed_outputs(rig)
    return frozenset(
        solved.line.run.id for output in rig.outputs if output.output.id in failed for solved in output.lines
    )


def _untried(wishes: Wishes) -> str:
    """Say that there is no ladder, and why."""
    if wishes.moves_plugs:
        return f"which plugs would have to move was not looked for: the show has more than {MOST_ASKED} boxes"
    return (
        f"what moving plugs would bring was not looked for: the show has more than {MOST_LOOSE} boxes; a plan that may "
        f"move plugs does it up to {MOST_ASKED}"
    )


def _cut_off(rungs: Sequence[Proposal]) -> str:
    """Say that the ladder is not complete."""
    more = " else" if any(plan.replugged for plan in rungs) else ""
    return f"what{more} moving plugs would bring was not worked out to the end; a plan that may move plugs does it"


def _chosen(rungs: Sequence[Proposal], wishes: Wishes) -> Proposal:
    """Choose how far to go: as far as it is better, as many boxes need, or without a plug moved."""
    if wishes.again:
        return min(rungs, key=weighed)
    allowed = [plan for plan in rungs if plan.replugged <= wishes.most_plugs]
    if wishes.most_plugs:
        return min(allowed, key=weighed)
    able = rungs if wishes.moving else allowed
    heard = min(able, key=lambda plan: (plan.silent, plan.replugged))
    return heard if heard.silent < rungs[0].silent else rungs[0]


def _what_would_make_room(planner: Planner, chosen: Proposal, rungs: Sequence[Proposal], *, cut: bool) -> Proposal:
    """Say what moving as little as it takes would do for boxes that find no room, and what to hire in its place."""
    first = f"no room for {counted(len(chosen.undriven), 'box')} without moving anything"
    more = [plan for plan in rungs if plan.silent < chosen.silent]
    if not more:
        searched = (len(rungs) > 1 or planner.searches_moves) and not cut
        tried = ", and moving what is plugged makes none" if searched else ""
        return _said_first(chosen, f"{first}{tried}")
    moved = min(more, key=lambda plan: (plan.silent, plan.replugged))
    does = "does it" if not moved.undriven else f"leaves {counted(len(moved.undriven), 'box')} silent"
    quiet = [name for name in moved.undriven if name not in chosen.undriven]
    does += f", {', '.join(quiet)} in place of what comes first" if quiet else ""
    hire = next((item.says for item in chosen.short if item.says.startswith("hire ")), "")
    says = f"{first}; moving {counted(moved.replugged, 'plug')} {does}{'; or ' + hire if hire else ''}"
    return _said_first(chosen, says)


def _said_first(proposal: Proposal, says: str) -> Proposal:
    short = Short(", ".join(proposal.undriven), len(proposal.undriven), says)
    return msgspec.structs.replace(proposal, short=(short, *proposal.short))


def runs_blamed(rig: Rig, findings: Collection[Finding], zones: Collection[str] | None = None) -> dict[str, Finding]:
    """Find the runs that an error or a warning is about, each with its worst finding.

    That is one about a line of it, a box on it or an output that it hangs on. Loads under the preferred one are left
    out: the whole numbers have weighed them.

    zones: only runs that serve a box of these
    """
    at = {box.id: box.zone for box in rig.show.boxes}
    names: dict[str, set[str]] = {}
    for line in rig.lines:
        on_it = {step.box for step in line.run.path if step.box}
        if zones is None or any(at[box] in zones for box in on_it):
            own = names.setdefault(line.run.id, {line.run.id, *on_it})
            own |= {line.id} | ({line.output.id} if line.output else set())
    found: dict[str, Finding] = {}
    for item in findings:
        if item.severity == "note" or item.rule == UNDER_PREFERRED or item.where.kind == "zone":
            continue
        for run, own in names.items():
            if item.where.id in own:
                found.setdefault(run, item)
    return found


def blamed(show: Show, proposal: Proposal, zones: Collection[str]) -> dict[Suspect, Finding]:
    """Find the runs and zones that stay as they were and are warned of, each with its worst finding."""
    before = {run.id: run for run in show.runs}
    same = {run.id: run for run in proposal.show.runs if before.get(run.id) == run}
    at = {box.id: box.zone for box in show.boxes}
    kept = {at[step.box] for run in same.values() for step in run.path if step.box} & set(zones)
    runs = runs_blamed(evaluate(proposal.show), proposal.findings, zones)
    found: dict[Suspect, Finding] = {("run", name): item for name, item in runs.items() if name in same}
    for item in proposal.findings:
        loud = item.severity != "note" and item.rule != UNDER_PREFERRED
        if loud and item.where.kind == "zone" and item.where.id in kept:
            found.setdefault(("zone", item.where.id), item)
    order = {id(item): place for place, item in enumerate(proposal.findings)}
    return dict(sorted(found.items(), key=lambda pair: order[id(pair[1])]))


def _warned_of(planner: Planner, best: Proposal) -> Proposal:
    """Free each run or zone that is still warned of by itself, and keep it where nothing becomes better."""
    show = planner.show
    zones = {zone.id for zone in show.zones if planner.wishes.plans(zone.id)}
    wrong = blamed(show, best, zones) if len(show.boxes) <= MOST_BOXES else {}
    moved = frozenset(run.id for run in show.runs if run not in best.show.runs)
    anew: frozenset[str] = frozenset()
    reasons: dict[Suspect, str] = {}
    candidates = [key for key in wrong if key[1] not in planner.wishes.keep]
    for kind, name in candidates[:MOST_TRIES]:
        present = blamed(show, best, zones)
        if (kind, name) not in present or planner.cancelled():
            continue
        tries = (anew, moved | {name}) if kind == "run" else (anew | {name}, moved)
        tried = planner.plan(*tries)
        if weighed(tried) < weighed(best):
            best, (anew, moved) = tried, tries
        else:
            reasons[kind, name] = _kept(name, present[kind, name], tried, best)
    present = blamed(show, best, zones)
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
