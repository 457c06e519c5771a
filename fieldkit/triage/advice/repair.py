"""The order of fixes that gets the show going soonest.

With faults fixed by one act each, the expected cost Σ C_i (1 - Σ_{j<i} p_j) is least when the acts are taken in
falling p/C (W. E. Smith 1956, for weighted jobs; re-derived). Where acts overlap that order is good, not always best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

import msgspec

from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING, Fault


class Act(msgspec.Struct, frozen=True):
    """Something to do about it."""

    fix: str
    share: float
    """Chance that it fixes the fault."""
    minutes: float


WORTH_DOING = 0.005


def in_order(acts: Sequence[Act]) -> list[Act]:
    """Sort acts by falling chance a minute."""
    return sorted(acts, key=lambda act: -act.share / act.minutes)


def expected_minutes(acts: Sequence[Act]) -> float:
    """Give the expected cost of doing acts in this order until the fault is gone, each fixing its own share."""
    spent = left = 0.0
    left = 1.0
    for act in acts:
        spent += act.minutes * left
        left -= act.share
    return spent


def expected_cost(
    order: Sequence[str],
    faults: Mapping[str, float],
    fixes: Mapping[str, Mapping[str, float]],
    costs: Mapping[str, float],
) -> float:
    """Give the expected cost of acts that may fix several faults, each with a chance of its own.

    The next act is taken only while the fault is still there: each fault's share is left by 1 minus the chance of
    every act before.
    """
    left = dict(faults)
    spent = 0.0
    for act in order:
        spent += costs[act] * sum(left.values())
        left = {fault: share * (1.0 - fixes[act].get(fault, 0.0)) for fault, share in left.items()}
    return spent


def minutes_of(fault: Fault, case: FaultSearch) -> float:
    """Give what the fix of a fault takes where its box is [min]."""
    box = case.rig.show_index.boxes.get(fault.box)
    far = case.table.reach[box.reach] if box and fault.part in {"box", "cable"} else 1.0
    return case.table.repairs[fault.act] * far


def plan(belief: Belief, *, running: bool = False, left_min: float = inf) -> list[Act]:
    """List the fixes in the order of falling p/C, with what bypasses all where that is the better bet.

    While the show is running the bypass comes first, since it needs no finding; so it does where it fits into the
    minutes left until the doors and the fixes one by one cannot be expected to. What takes longer than there is time
    comes behind what does not, and what did not help comes last.
    """
    case = belief.case
    acts = []
    for fix, share, fault in belief.fixes:
        if fault.kind in {NOTHING, NONE_OF_THESE} or share < WORTH_DOING:
            continue
        acts.append(Act(fix, share, minutes_of(fault, case)))
    again = [act for act in acts if act.fix in belief.failed]
    first = in_order([act for act in acts if act not in again])
    first.sort(key=lambda act: act.minutes > left_min)
    acts = [*first, *again]
    where = belief.focus or (case.boxes[0] if len(case.boxes) == 1 else "")
    if not where:
        return acts
    covered = sum(act.share for act in acts)
    around = Act(
        f"go round it: a spare box in place of {where}, on a lead of its own, from a free output with the same preset "
        "and limiter",
        covered,
        case.table.repairs["bypass"],
    )
    rate = 1.0 / around.minutes
    hurried = around.minutes <= left_min < expected_minutes(first)
    place = (
        0
        if running or hurried
        else next((n for n, act in enumerate(acts) if act.share / act.minutes < rate), len(acts))
    )
    return [*acts[:place], around, *acts[place:]]
