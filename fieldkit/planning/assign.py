"""Assign boxes to outputs: a function from show to proposal, with its proof.

What has a run keeps it, unless somebody asks for a plan anew. Even then as much stays as can: the plan that keeps
every run is held against the one that keeps none, and where that one is better, only so many zones are planned anew
as it takes to be as good.
"""

from __future__ import annotations

from collections import Counter

from fieldkit.planning.proposals import Proposal, Wishes
from fieldkit.planning.proposing import Cancelled, Progress, proposed
from fieldkit.show.document import Show

MOST_ZONES = 12
"""Zones that are tried one by one; with more of them it is all or nothing."""

MOST_BOXES = 200

Worth = tuple[int, ...]


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

    def plan(anew: frozenset[str]) -> Proposal:
        return proposed(show, wishes, anew, cancelled=cancelled, progress=progress)

    kept = plan(frozenset())
    if not wishes.again or cancelled():
        return kept
    zones = [zone for zone in show.zones if wishes.zones is None or zone.id in wishes.zones]
    anew = plan(frozenset(zone.id for zone in zones))
    goal = worth(anew)
    if worth(kept) <= goal:
        return kept
    if len(zones) <= MOST_ZONES and len(show.boxes) <= MOST_BOXES:
        chosen: frozenset[str] = frozenset()
        for zone in sorted(zones, key=lambda zone: -_blame(kept, zone.id, show)):
            chosen |= {zone.id}
            some = plan(chosen)
            if worth(some) <= goal and len(some.moves) <= len(anew.moves):
                return some
    return anew


def worth(proposal: Proposal) -> Worth:
    """Say how good a plan is, the smaller the better: what is wrong with it first, then what it takes."""
    rules = Counter(item.rule for item in proposal.findings)
    return (
        len(proposal.errors),
        len(proposal.undriven) + rules["box-unfed"],
        rules["output-too-weak"],
        rules["preset-has-no-host"] + rules["no-limiter"],
        rules["both-sides-on-one-amplifier"],
        proposal.rack_units,
        rules["load-under-preferred"],
    )


def _blame(proposal: Proposal, zone: str, show: Show) -> int:
    """Count the findings about a zone, its boxes and what feeds them."""
    boxes = {box.id for box in show.boxes if box.zone == zone}
    runs = {run.id for run in show.runs if any(step.box in boxes for step in run.path)}
    outputs = {name for run in show.runs if run.id in runs for name in run.feeds.values()}
    names = boxes | runs | outputs | {zone}
    found = (item for item in proposal.findings if item.severity != "advice")
    return sum(item.where.id in names or item.where.id.partition("/")[0] in names for item in found)
