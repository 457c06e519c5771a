"""The search of fail-over: which plug goes where, so that most is heard, by priority, at little risk, in few moves.

It is a whole-number programme, as the assignment is. Each plug *stands* in one way: at home, pulled, or in one of its
places. What it takes there (the connector, channels, how pairs of channels are set, processor outputs and inputs) it
*claims*, and each of those is one thing at a time. Plugs that play are looked at only once one wants their place:
until then they go *somewhere* for the price of one move, which no plan can be under. What the programme cannot say
(limiters that outputs share, and whatever the checks find) is looked at in each answer; an answer that does not hold
is ruled out, and the programme solved again. So what comes out is the best that holds, and that is proved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import CancelledError

import msgspec

from fieldkit.planning.assign.whole_numbers import Answer
from fieldkit.planning.failover.inputs import Patched, sources_for
from fieldkit.planning.failover.placements import Decision, Placement
from fieldkit.planning.failover.plugs import Plug
from fieldkit.planning.failover.programme import PatchProgramme
from fieldkit.planning.failover.stands import GOALS, Cost, Cut, PatchRound, Repatch, Stand, plugs_in_turn

MOST_REFUSED = 60
"""So many answers may turn out not to hold; then the best that does is given, and not called proved."""


SINGLY = 8
"""From so many on, a placement that does not hold by itself is left out, which is then no proof any more."""


def repatch(stage: PatchRound) -> Repatch:
    """Find the best way to plug a show some of whose plugs are silent."""
    known: dict[str, list[Placement]] = {}
    refused: list[Cut] = []
    exact, with_joins = True, False

    def expand(plug: Plug) -> None:
        _hear(stage)
        places = [] if plug.unclear else stage.placements(plug)
        known[plug.start] = [item for item in places if item.socket.id not in stage.blocked]

    for plug in stage.plugs:
        if plug.is_failed:
            expand(plug)
    while True:
        build = PatchProgramme(stage, known, refused)
        answer = build.programme.minimise(build.goals(), cancelled=stage.cancelled)
        _hear(stage)
        chosen = build.chosen(answer)
        unknown = [stand.plug for stand in chosen if stand.how == "somewhere"]
        for plug in unknown:
            expand(plug)
        if with_joins:
            _join_what_comes(stage, known, unknown)
        if unknown:
            continue
        decisions = _decisions(chosen)
        patched = sources_for(stage.rig, stage.plugs, decisions, stage.free)
        fitting = {name: tuple(places) for name, places in known.items()}
        empty = Patched({}, {}, 0)
        plan = _plan(decisions, patched or empty, answer, build.cost(answer), fitting)
        if patched is not None and stage.accept(plan):
            if not with_joins and _could_be_less(stage, plan):
                with_joins = True
                if _join_what_comes(stage, known, [plug for plug in stage.plugs if plug.start in known]):
                    continue
            return plan if exact else msgspec.structs.replace(plan, proved=False)
        if len(refused) >= MOST_REFUSED or all(stand.how == "home" for stand in chosen):
            return _nothing(stage, build, fitting)
        if patched is None:
            refused.append(_clash(stage, chosen))
        else:
            refused.append(frozenset(stand.key for stand in chosen))
        if len(refused) >= SINGLY:
            exact = False
            refused += [
                frozenset({stand.key})
                for stand in chosen
                if stand.how == "placed" and not _holds_alone(stage, stand, answer)
            ]


def _could_be_less(stage: PatchRound, plan: Repatch) -> bool:
    """Tell whether joining what the plan itself brings to a place could be better: else each plug costs one move."""
    failed = {plug.start for plug in stage.plugs if plug.is_failed}
    silent = len(plan.cost) - len(GOALS)
    others = any(item.plug.start not in failed for item in plan.decisions)
    names = list(GOALS)
    counts = [plan.cost[silent + names.index(name)] for name in ("risk", "mixed", "brought")]
    return others or any(plan.cost[:silent]) or any(counts)


def _join_what_comes(stage: PatchRound, known: dict[str, list[Placement]], plugs: Sequence[Plug]) -> bool:
    """Add to the places of silent plugs those beside what others bring to theirs; tell whether there are more."""
    found = False
    come = [place for plug in plugs for place in known.get(plug.start, ()) if place.upon is None]
    for plug in stage.plugs:
        if plug.is_failed and not plug.unclear:
            for place in come:
                _hear(stage)
                more = stage.joins(plug, place)
                known[plug.start] += more
                found = found or bool(more)
    return found


def _hear(stage: PatchRound) -> None:
    if stage.cancelled():
        raise CancelledError


def _plan(
    decisions: tuple[Decision, ...],
    patched: Patched,
    answer: Answer,
    cost: Cost,
    fitting: Mapping[str, tuple[Placement, ...]],
) -> Repatch:
    proved = all(item.proved for item in answer.reached)
    return Repatch(decisions, patched.sources, patched.routes, cost, proved, fitting)


def _nothing(stage: PatchRound, build: PatchProgramme, fitting: Mapping[str, tuple[Placement, ...]]) -> Repatch:
    """Leave everything as it is: what is silent stays silent."""
    whole = [plug for plug in plugs_in_turn(stage.plugs) if not plug.parent]
    stays = tuple(Decision(plug, None, stays=True) for plug in whole if plug.is_failed)
    silent = [sum(plug.failed_weight[rank] for plug in whole) for rank in range(build.ranks)]
    return Repatch(stays, {}, {}, (*silent, *(0 for _ in GOALS)), proved=False, fitting=fitting)


def _decisions(chosen: Sequence[Stand]) -> tuple[Decision, ...]:
    found = []
    for stand in sorted(chosen, key=lambda item: (item.plug.rank, item.plug.order)):
        if stand.how == "home" and not stand.plug.is_failed:
            continue
        found.append(Decision(stand.plug, stand.place, stays=stand.how == "home"))
    return tuple(found)


def _clash(stage: PatchRound, chosen: Sequence[Stand]) -> Cut:
    """Find few stands that cannot be together, since a processor output would have to be two things at a time."""
    kept = list(chosen)
    for stand in chosen:
        fewer = [item for item in kept if item is not stand]
        if sources_for(stage.rig, [item.plug for item in fewer], _decisions(fewer), stage.free) is None:
            kept = fewer
    return frozenset(stand.key for stand in kept)


def _holds_alone(stage: PatchRound, stand: Stand, answer: Answer) -> bool:
    """Tell whether one placement holds with all else left as it is."""
    whole = [plug for plug in stage.plugs if plug.is_failed and plug is not stand.plug and not plug.parent]
    others = [Decision(plug, None, stays=True) for plug in whole]
    decisions = (Decision(stand.plug, stand.place), *others)
    patched = sources_for(stage.rig, stage.plugs, decisions, stage.free)
    return patched is not None and stage.accept(_plan(decisions, patched, answer, (), {}))
