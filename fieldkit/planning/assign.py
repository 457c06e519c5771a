"""Assign boxes to outputs: a function from show to proposal, with its proof.

What has a run keeps it, unless somebody asks for a plan anew. Even then as much stays as can: the plan that keeps
every run is held against the one that keeps none, and where that one is better, only so many zones are planned anew
as it takes to be as good. A run that the checks warn of is then freed by itself; where that betters nothing, it is
kept, and the plan says why.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from fieldkit.checks.checking import check
from fieldkit.planning.proposals import Proposal, Wishes
from fieldkit.planning.proposing import Cancelled, Planner, Progress
from fieldkit.planning.retrying import blamed, freed_one_by_one
from fieldkit.planning.worth import worth
from fieldkit.rig.evaluation import evaluate
from fieldkit.show.document import Show, Zone

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
    return msgspec.structs.replace(proposal, before=before)


def _again(planner: Planner, kept: Proposal) -> Proposal:
    """Plan anew as much as makes the plan better, and no more."""
    show, wishes = planner.show, planner.wishes
    zones = [zone for zone in show.zones if wishes.zones is None or zone.id in wishes.zones]
    wrong = blamed(show, kept, {zone.id for zone in zones}) if len(show.boxes) <= MOST_BOXES else {}
    found, best = _zones_anew(planner, kept, zones, frozenset(name for kind, name in wrong if kind == "run"))
    return freed_one_by_one(planner, best, found, wrong)


def _zones_anew(
    planner: Planner, kept: Proposal, zones: Sequence[Zone], wrong: frozenset[str]
) -> tuple[frozenset[str], Proposal]:
    """Give the zones that are planned anew, and the plan; ``wrong`` are runs that are not to be laid as they were."""
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
    found = (item for item in proposal.findings if item.severity != "advice")
    return sum(item.where.id in names or item.where.id.partition("/")[0] in names for item in found)
