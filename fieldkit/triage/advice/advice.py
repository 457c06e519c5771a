"""The answer of a triage: suspects, the next test, the fixes in order, and what cannot be told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from math import inf

import msgspec

from fieldkit.rig.solve.evaluation import Rig
from fieldkit.triage.advice.answers import done_by, outcomes
from fieldkit.triage.advice.cautions import cautions
from fieldkit.triage.advice.choosing import Chooser, Next
from fieldkit.triage.advice.menu import Means, menu
from fieldkit.triage.advice.muting import Mute, mutes, outputs_of
from fieldkit.triage.advice.repair import Act, plan
from fieldkit.triage.advice.safe_swaps import MOVE
from fieldkit.triage.belief.observations import Ear, Metered, Observation, Polarity
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.saying import spoken
from fieldkit.triage.belief.search import FaultSearch, Share, beside
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING
from fieldkit.triage.model.odds import table

WORTH_NAMING = 0.001
LIKELY = 0.03
ELSEWHERE = 0.05
"""Share of a place that makes it worth naming as one where an unknown kind of fault might sit."""

APART = 0.3
"""Difference of two chances, summed over the outcomes and halved, that makes a test separate two faults."""


class Advice(msgspec.Struct, frozen=True):
    """What to think and what to do."""

    suspects: tuple[Share, ...]
    next: Next | None
    plan: tuple[Act, ...]
    cannot_tell: tuple[str, ...]
    cautions: tuple[str, ...]
    moves: tuple[str, ...]
    """How a swap is done, where one is next."""
    has_answer: bool
    misfits: tuple[str, ...] = ()
    """Answers that the likeliest fault makes nearly impossible, in words: while there are some, nothing is sure."""
    first: tuple[Mute, ...] = ()
    """What to mute before any test."""
    means: Means = Means()
    """What can be done here and now, the outputs that stay muted counted in."""


def advise(
    rig: Rig,
    what: Sequence[str],
    seen: Sequence[Observation] = (),
    *,
    worked_before: bool = False,
    means: Means | None = None,
) -> Advice:
    """Answer for the named things, with the means that are available now.

    Raises ObservationError or NoAnswerError, one line each.
    """
    means = means or Means()
    case = FaultSearch(rig, with_neighbours(rig, what, seen), table(), mentioned(seen))
    belief = Belief(case, (*from_the_show(case, seen), *seen), worked_before=worked_before, running=means.running)
    return advice_of(belief, means)


def from_the_show(case: FaultSearch, seen: Sequence[Observation]) -> list[Observation]:
    """List what the rig check found of these lines where nobody has tested again: wrong readings, and passes."""
    again = {done_by(item, case) for item in seen}
    return [item for item in (*case.earlier.wrong, *case.earlier.passes) if done_by(item, case) not in again]


AGAINST_A_NEIGHBOUR = {"louder-alone", "late"}
"""What a box does only beside another: the fault may sit at either."""

MOST_NEIGHBOURS = 3


def with_neighbours(rig: Rig, what: Sequence[str], seen: Sequence[Observation]) -> list[str]:
    """Add to what is asked about the boxes that play together with one that is heard against them."""
    heard = [item.box for item in seen if isinstance(item, Ear) and item.word in AGAINST_A_NEIGHBOUR]
    boxes = [box for box in heard if box in rig.show_index.boxes]
    return list(dict.fromkeys([*what, *(near for box in boxes for near in beside(rig, box)[:MOST_NEIGHBOURS])]))


def _reach(belief: Belief, following: Next | None) -> str:
    """Say how the box of a test is reached: ``floor``, ``ladder``, ``flown``."""
    at = following.test.at if following else ""
    names = [part for part in (at, *at.split(".")) if part in belief.case.rig.show_index.boxes]
    return belief.case.rig.show_index.boxes[names[0]].reach if names else "floor"


def has_symptom(seen: Iterable[Observation]) -> bool:
    """Tell whether something was found wrong at a box by ear or tester, so that a swap could move it."""
    return any(
        (isinstance(item, Ear) and item.word != "normal") or (isinstance(item, Polarity) and item.word == "reversed")
        for item in seen
    )


def mentioned(seen: Sequence[Observation]) -> set[str]:
    """List the boxes that observations speak of."""
    boxes = {item.box for item in seen if isinstance(item, Ear) and item.word != "normal"}
    for item in seen:
        if isinstance(item, Metered):
            boxes |= {item.point.partition(".")[0], item.point.rpartition(".")[0]}
    return boxes


def advice_of(belief: Belief, means: Means | None = None) -> Advice:
    """Answer for a belief, with what can be done here and now."""
    ranked = [item for item in belief.ranked if item.share >= WORTH_NAMING]
    first = mutes(belief)
    means = msgspec.structs.replace(
        means or Means(), muted=outputs_of(first), focus=belief.focus, has_symptom=has_symptom(belief.seen)
    )
    following = Chooser(belief, means).next()
    kinds = [following.test.kind] if following else []
    swap = following is not None and following.test.kind == "swap"
    return Advice(
        suspects=tuple(ranked),
        next=following,
        plan=tuple(plan(belief, running=means.running, left_min=means.left_min)),
        cannot_tell=(*unproved(belief), *inseparable(belief, msgspec.structs.replace(means, left_min=inf))),
        cautions=cautions(belief.case.outputs, kinds, _reach(belief, following)),
        moves=MOVE if swap else (),
        has_answer=belief.by_table[0][2].kind != NONE_OF_THESE,
        misfits=tuple(map(spoken, belief.misfits)),
        first=first,
        means=means,
    )


def inseparable(belief: Belief, means: Means | None = None) -> list[str]:
    """Name the likely faults with different fixes that no test on the menu tells apart."""
    case = belief.case
    likely = [index for index, share in enumerate(belief.shares) if share >= LIKELY]
    likely = sorted(likely, key=lambda index: -belief.shares[index])[:8]
    open_pairs = [
        (one, other) for one, other in combinations(likely, 2) if case.faults[one].fix != case.faults[other].fix
    ]
    # Meters last: what words tell apart need not be worked out for them.
    for test in sorted(menu(case, means), key=lambda test: test.kind == "meter"):
        wanted = sorted({index for pair in open_pairs for index in pair})
        if not wanted:
            break
        rows = dict(zip(wanted, outcomes(test, case, belief.focus, wanted)[1], strict=True))
        open_pairs = [(one, other) for one, other in open_pairs if not _apart(rows[one], rows[other])]
    return [
        f"no test here tells '{case.faults[one].says}' from '{case.faults[other].says}': do the quicker fix first"
        for one, other in open_pairs
    ]


def unproved(belief: Belief) -> list[str]:
    """Say where a fault of a kind that the table does not have might sit, when the table alone would be sure."""
    best = belief.by_table[0]
    if best[2].kind == NONE_OF_THESE:
        return ["no single fault fits these answers: two things are wrong, or one answer is; ask again, line by line"]
    if belief.is_sure or not belief.is_decided:
        return []
    places: dict[str, float] = {}
    for fault, share in zip(belief.case.faults, belief.by_place, strict=True):
        if not fault.is_fixed_by(best[2]) and fault.kind not in {NOTHING, NONE_OF_THESE}:
            places[fault.place] = places.get(fault.place, 0.0) + share
    likely = sorted((name for name, share in places.items() if share >= ELSEWHERE), key=lambda name: -places[name])
    if not likely:
        return []
    *more, last = likely[:3]
    where = f"{', '.join(more)} or {last}" if more else last
    return [f"a fault of a kind that is in no table, at {where}, would show the same so far: '{best[0]}' is the proof"]


def _apart(one: tuple[float, ...], two: tuple[float, ...]) -> bool:
    return sum(abs(first - second) for first, second in zip(one, two, strict=True)) / 2.0 > APART
