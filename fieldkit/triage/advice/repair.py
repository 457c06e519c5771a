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
    kind: str = ""
    """``lead``, ``link``, ``adaptor``, ``plug``, ``box``, ``switch``, ``setting``, ``preset``, ``patch``, ``signal``,
    ``output``, ``amplifier``, ``bypass``."""
    at: str = ""
    """The box that a lead goes to, the socket of a plug, the box, output, signal or runs."""


KINDS = {
    "set-output": "setting",
    "find-signal": "signal",
    "change-input": "signal",
    "power-amplifier": "amplifier",
    "change-output": "output",
    "reset-output": "output",
    "lock-plug": "plug",
    "connect-box": "plug",
    "exchange-plugs": "patch",
    "set-switch": "switch",
    "change-box": "box",
    "unplug-box": "box",
    "nothing": "nothing",
}
"""What an act is done to."""


def kind_of(fault: Fault, case: FaultSearch) -> str:
    """Name what the fix of a fault is done to."""
    if fault.act == "replace-piece":
        boxes = case.bench.circuits[fault.run].boxes
        if fault.part != "cable":
            return "adaptor"
        return "link" if fault.box in boxes[1:] else "lead"
    if fault.kind == "preset-wrong":
        return "preset"
    return "patch" if fault.kind == "input-wrong" else KINDS.get(fault.act, "")


WORTH_DOING = 0.005


def in_order(acts: Sequence[Act]) -> list[Act]:
    """Sort acts by falling chance a minute."""
    return sorted(acts, key=lambda act: -act.share / act.minutes)


def expected_minutes(acts: Sequence[Act]) -> float:
    """Compute the expected time of acts in this order until the fault is gone, each fixing its own share [min]."""
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
    """Compute the expected cost of acts that may each fix several faults, each fault with its own chance.

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
    """Compute the time to fix a fault, with the reach of its box [min]."""
    box = case.rig.show_index.boxes.get(fault.box)
    far = case.table.reach[box.reach] if box and fault.part in {"box", "cable"} else 1.0
    return case.table.repairs[fault.act] * far


DOUBTFUL = 0.5
"""Share of the likeliest fix's chance under which a quicker one does not go before it: it would change what is well."""


def _likeliest_before_doubtful(acts: Sequence[Act]) -> list[Act]:
    """Let no fix go before the likeliest that is much less likely, however quick it is."""
    if not acts:
        return []
    best = max(acts, key=lambda act: act.share)
    place = acts.index(best)
    ahead = [act for act in acts[:place] if act.share >= DOUBTFUL * best.share]
    doubtful = [act for act in acts[:place] if act not in ahead]
    return [*ahead, best, *doubtful, *acts[place + 1 :]]


WORTH_A_FLIP = 0.3


def _flip(belief: Belief) -> Act | None:
    """Return the quick way round a wiring that is the wrong way round: invert the output that feeds nothing else."""
    case = belief.case
    shares: dict[str, float] = {}
    suspects = [item for item in zip(belief.shares, case.signatures, strict=True) if item[0] >= WORTH_DOING]
    for output in case.outputs:
        name, placed = output.output.id, {(load.box.id, load.section.section) for load in output.loads}
        for share, signature in suspects:
            if signature is None or signature.states:
                continue
            turned = {(box, it.section) for box, _ in placed for it in signature.sections(box) if it.is_reversed}
            if placed and placed <= turned:
                shares[name] = shares.get(name, 0.0) + share
    best = max(shares, key=lambda name: shares[name], default="")
    if not best or shares[best] < WORTH_A_FLIP:
        return None
    says = f"go round it: invert {best} in its settings, right away and quietly; put the wiring right later"
    return Act(says, shares[best], case.table.repairs["set-output"], "bypass", best)


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
        at = fault.box if fault.act == "replace-piece" else fault.at
        acts.append(Act(fix, share, minutes_of(fault, case), kind_of(fault, case), at))
    again = [act for act in acts if act.fix in belief.failed]
    first = in_order([act for act in acts if act not in again])
    first = _likeliest_before_doubtful(first)
    first.sort(key=lambda act: act.minutes > left_min)
    acts = [*first, *again]
    hurried = left_min < expected_minutes(first)
    flip = _flip(belief)
    if flip is not None:
        acts.insert(0 if running or hurried else 1, flip)
    where = belief.focus or (case.boxes[0] if len(case.boxes) == 1 else "")
    if not where:
        return acts
    covered = sum(act.share for act in acts)
    around = Act(
        f"go round it: a spare box in place of {where}, on a lead of its own, from a free output with the same preset "
        "and limiter",
        covered,
        case.table.repairs["bypass"],
        "bypass",
        where,
    )
    rate = 1.0 / around.minutes
    place = (
        0
        if running or (hurried and around.minutes <= left_min)
        else next((n for n, act in enumerate(acts) if act.share / act.minutes < rate), len(acts))
    )
    return [*acts[:place], around, *acts[place:]]
