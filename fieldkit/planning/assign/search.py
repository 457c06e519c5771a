"""The search: the goals of a question in turn, and what each number of plugs moved would bring where runs may stay."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping

import msgspec

from fieldkit.planning.assign.counting import Build
from fieldkit.planning.assign.goals import (
    AIMS,
    ALIKE,
    BOXES_DRIVEN,
    CURRENT,
    HANDS,
    IN_USE,
    LOSS,
    MODELS,
    MORE,
    MOVES,
    NEAR,
    POWER,
    PREFERRED,
    PRESETS,
    RACK_UNITS,
    SHORT,
    SIDES,
    SPARE,
    Aim,
)
from fieldkit.planning.assign.problem import Counts, Question
from fieldkit.planning.assign.whole_numbers import Answer, Begin, Goal

EXACT = frozenset((BOXES_DRIVEN, PRESETS, POWER, CURRENT, ALIKE, HANDS, SIDES, MOVES, RACK_UNITS, IN_USE, SPARE))
"""Goals that something is claimed of."""

MANY = 1_000
"""Kinds of clusters, from which on some goals are weighed in one sum: in turn they would take most of the time."""

WEIGHTS: tuple[dict[str, float], ...] = (
    {NEAR: 50.0, MODELS: 30.0, LOSS: 1.0, PREFERRED: 3.0, SPARE: 100.0},
    {
        name: 2.0**place
        for place, name in enumerate(
            ("even loads", "processor outputs", "channels", "adaptors and panels", "full power", "drives as planned")
        )
    },
)
"""What one of each counts in its sum. Our own choice."""


def aims_of(question: Question) -> list[Aim]:
    """List the goals of a question, in turn."""
    if question.slack:
        return [AIMS[0], SHORT]
    if question.fewest_amplifiers:
        return [MORE, *AIMS]
    if not question.preferred_first:
        return list(AIMS)
    [preferred] = [aim for aim in AIMS if aim.name == PREFERRED]
    rest = [aim for aim in AIMS if aim is not preferred]
    place = next(number for number, aim in enumerate(rest) if aim.name == RACK_UNITS)
    return [*rest[:place], preferred, *rest[place:]]


def _together(goals: list[Goal], weights: Mapping[str, float]) -> list[Goal]:
    """Put some goals into one sum, in the place of the first of them; what each has come to is looked at behind it."""
    weighed = [goal for goal in goals if goal.name in weights]
    if len(weighed) < 2:
        return goals
    together: dict[int, float] = defaultdict(float)
    for goal in weighed:
        for column, factor in goal.terms.items():
            together[column] += factor * weights[goal.name]
    one = Goal(f"{weighed[0].name} and more", together, exact=False)
    measured = [msgspec.structs.replace(goal, measured=True) for goal in weighed]
    place = goals.index(weighed[0])
    rest = [goal for goal in goals if goal not in weighed]
    return [*rest[:place], one, *rest[place:], *measured]


def _goal(aim: Aim, build: Build) -> Goal:
    turns = aim.turns(build)
    together: dict[int, float] = {}
    for part in turns:
        together |= part
    return Goal(aim.name, together, tuple(turns), exact=aim.name in EXACT)


def count(
    question: Question,
    *,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[str], None] = lambda _: None,
    until: str | None = None,
    only: Collection[str] | None = None,
) -> Counts:
    """Solve the whole numbers; somebody may cancel at any time.

    until: only the goals up to that one
    only: no goals but these
    """
    build = Build(question)
    aims = aims_of(question)
    if until is not None:
        aims = aims[: [aim.name for aim in aims].index(until) + 1]
    goals = [_goal(aim, build) for aim in aims if only is None or aim.name in only]
    if len(build.columns) > MANY:
        for weights in WEIGHTS:
            first = {PREFERRED} if question.preferred_first else set()
            goals = _together(goals, {name: weight for name, weight in weights.items() if name not in first})
    return _counts(build, build.programme.minimise(goals, cancelled=cancelled, progress=progress))


def _counts(build: Build, answer: Answer) -> Counts:
    values = answer.values
    clusters = tuple((o, values[c]) for o, c in zip(build.options, build.columns, strict=True) if values[c])
    return Counts(
        clusters=clusters,
        pairs=tuple((index, pattern, values[c]) for index, pattern, c in build.pair_columns if values[c]),
        sided=tuple((i, pattern, side, values[c]) for i, pattern, side, c in build.sided_columns if values[c]),
        singles=tuple((index, pattern, values[c]) for index, pattern, c in build.single_columns if values[c]),
        undriven=tuple(values[c] for c in build.undriven),
        processors=tuple((model.id, values[c]) for model, c in build.new_hosts if values[c]),
        slack=tuple((name, values[c]) for name, c, _ in build.slack_columns if values[c]),
        answer=answer,
        staying=tuple(stay.start for stay, c, _ in build.stays if values[c]),
        hot=any(option.is_hot for option in build.options),
    )


class Climb(msgspec.Struct, frozen=True):
    """The best that so many plugs moved bring."""

    plugs: int
    staying: frozenset[str]
    """Connectors whose runs stay."""
    reached: tuple[tuple[int, ...], ...]
    """Of the goals that plugs move for, in turn."""


WORTH_A_PLUG = (BOXES_DRIVEN, PRESETS, POWER, ALIKE, SIDES, RACK_UNITS, MODELS, LOSS, PREFERRED, IN_USE)
"""The goals that a plug moves for."""

MOST_SOLVED = 6
"""Numbers of plugs that are tried between none and as many as are of use."""


def climbs(
    question: Question, cancelled: Callable[[], bool], progress: Callable[[str], None], *, only_ends: bool = False
) -> Iterator[Climb]:
    """Find for each number of plugs moved the best that it brings, where that is better than with one fewer.

    First nothing moves, then as much as is of use; what lies between is halved as long as its ends differ,
    unless ``only_ends`` are wanted.
    """
    build = Build(question)
    moves = Goal(MOVES, build.moved)
    aims = [_goal(aim, build) for aim in aims_of(question) if aim.name in WORTH_A_PLUG]
    still = build.programme.minimise([moves], cancelled=cancelled)
    nothing = (still.goal(MOVES).value,)
    left = [0 if only_ends else MOST_SOLVED]

    def solved(most: int | None, begin: Answer, best: Answer | None) -> Answer:
        progress("what would move" if most is None else f"what {most} plugs moved would bring")
        bounds = ((moves.terms, most),) if most is not None else ()
        known = Begin(begin.values, bounds, best.reached if best is not None else ())
        left[0] -= 1
        return build.programme.minimise([*aims, moves], cancelled=cancelled, begin=known)

    def climb(answer: Answer) -> Climb:
        staying = (stay.start for stay, column, _ in build.stays if answer.values[column])
        parts = tuple(reached.parts for reached in answer.reached[:-1])
        return Climb(answer.goal(MOVES).value, frozenset(staying), parts)

    def between(low: Answer, tried: int, high: Answer) -> Iterator[Answer]:
        """Find the answers between two; up to so many plugs as are tried, none is better than the lower one."""
        if climb(low).reached == climb(high).reached or climb(high).plugs - tried < 2 or left[0] <= 0:
            return
        most = (tried + climb(high).plugs) // 2
        middle = solved(most, low, high)
        if middle.stopped:
            return
        if climb(middle).reached == climb(low).reached:
            yield from between(low, most, high)
            return
        yield from between(low, tried, middle)
        yield middle
        yield from between(middle, most, high)

    if still.stopped:
        return
    low = solved(nothing[0], still, None)
    high = solved(None, low, None)
    if low.stopped or high.stopped:
        return
    found: list[Climb] = []
    for answer in (low, *between(low, climb(low).plugs, high), high):
        rung = climb(answer)
        if not found or rung.reached < found[-1].reached:
            found.append(rung)
    yield from found
