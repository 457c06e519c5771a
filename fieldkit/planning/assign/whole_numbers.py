"""Whole-number programmes with goals in turn: each is brought to its best, fixed as a row, and the next begins.

What no answer can be below is asked first, without the wish for whole numbers, which takes a few milliseconds: a goal
that is there already is done, and several that could come there are tried at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil

import msgspec

from fieldkit.planning.assign.solver import Row, SolverWork, Terms, solver_of, total

AHEAD_NODES = 100
"""Nodes of the search in which several goals are to come to their bounds at once. Our own choice."""

INFINITY = float("inf")

_WHOLE = 1e-4
"""How near a bound is to the whole number above it, where that is likely to be reached. Our own choice."""


class Goal(msgspec.Struct, frozen=True):
    """What shall be as small as it can be. Factors are whole numbers from zero up, and so is the sum."""

    name: str
    terms: Terms
    turns: tuple[Terms, ...] = ()
    """Parts of the sum that come one before the other, where it cannot be brought to zero."""
    exact: bool = True
    """Brought to its very least as far as the node limit allows; else within ``NEAR`` of it, which is much faster."""
    measured: bool = False
    """Only looked at: another goal has it in its sum."""


class Reached(msgspec.Struct, frozen=True):
    """How far a goal was brought."""

    name: str
    value: int
    minimum: int
    """No answer can be below this."""
    parts: tuple[int, ...] = ()
    """The values of the goal's turns."""

    @property
    def proved(self) -> bool:
        """Tell whether the value is proved to be the least."""
        return self.value <= self.minimum


class Answer(msgspec.Struct, frozen=True):
    """The values of all columns, and what was reached."""

    values: tuple[int, ...]
    reached: tuple[Reached, ...]
    stopped: bool
    """Somebody cancelled: the values are the best found until then."""

    def goal(self, name: str) -> Reached:
        """Find what was reached of a goal by its name."""
        return next(reached for reached in self.reached if reached.name == name)


class Begin(msgspec.Struct, frozen=True):
    """What is known before a programme is solved once more, with bounds that it had not the first time."""

    values: tuple[int, ...]
    """They keep every row, and the bounds."""
    bounds: tuple[tuple[Terms, int], ...] = ()
    """Sums, and the most that each may be."""
    best: tuple[Reached, ...] = ()
    """What was reached of the goals without these bounds: none can be lower, as long as those before it are alike."""


class Programme:
    """Columns of whole numbers, and rows that bound their sums."""

    def __init__(self) -> None:
        self._upper: list[int] = []
        self._start: list[int] = []
        self._rows: list[Row] = []

    def column(self, upper: int, start: int = 0) -> int:
        """Add a column from 0 to ``upper``; the ``start`` values of all columns together must keep every row."""
        self._upper.append(upper)
        self._start.append(start)
        return len(self._upper) - 1

    def row(self, low: float, high: float, terms: Terms) -> None:
        """Bound a sum from below and above; use ``float('inf')`` for no bound."""
        if terms:
            self._rows.append((low, high, dict(terms)))

    def minimise(
        self,
        goals: Sequence[Goal],
        *,
        cancelled: Callable[[], bool] = lambda: False,
        progress: Callable[[str], None] = lambda _: None,
        begin: Begin | None = None,
    ) -> Answer:
        """Bring the goals to their minimum, in turn. The start values are given back when somebody cancels at once."""
        descent = _Descent(self._upper, self._rows, begin or Begin(tuple(self._start)), cancelled)
        return descent.down(goals, progress)


class _Descent:
    """Brings goals down in turn: the values found until now, and the solvers with a row for what was reached."""

    def __init__(self, upper: Sequence[int], rows: Sequence[Row], begin: Begin, cancelled: Callable[[], bool]) -> None:
        self._rows = rows
        self._values = begin.values
        self._best = {reached.name: reached for reached in begin.best}
        self._whole = SolverWork(solver_of(upper, rows, whole=True), cancelled)
        self._relaxed = SolverWork(solver_of(upper, rows, whole=False), cancelled)
        for terms, most in begin.bounds:
            self._hold(terms, 0, most)

    def down(self, goals: Sequence[Goal], progress: Callable[[str], None]) -> Answer:
        """Bring each goal down and keep it there."""
        reached: list[Reached] = []
        known: dict[int, int] = {}
        looked = 0
        for place, goal in enumerate(goals):
            if goal.measured:
                reached.append(_measured(goal, self._values))
                continue
            if place >= looked and total(goal.terms, self._values):
                progress(goal.name)
                minima, number = self._ahead(goals[place:])
                known |= {place + offset: minimum for offset, minimum in minima.items()}
                looked = place + number
            reached.append(self._reach(goal, known.get(place), progress))
        return Answer(self._values, tuple(reached), self._whole.stopped)

    def _ahead(self, goals: Sequence[Goal]) -> tuple[dict[int, int], int]:
        """Try to bring several goals to their bounds at once, and the one behind them as low as it goes.

        Return the minimum of those that are there now, by their place, and how many goals were looked at.
        """
        targets, behind = self._targets(goals)
        minima = dict(enumerate(targets))
        looked = max(1, len(targets))
        if all(total(goal.terms, self._values) <= floor for goal, floor in zip(goals, targets, strict=False)):
            return minima, looked
        before = self._whole.rows
        for goal, floor in zip(goals, targets, strict=False):
            self._whole.hold(goal.terms, -INFINITY, floor)
        self._whole.aim(exact=behind is None or behind.exact, nodes=AHEAD_NODES)
        found = self._whole.minimise(behind.terms if behind is not None else {}, None)
        self._whole.let_go(before)
        missed = (total(goal.terms, found.values) > floor for goal, floor in zip(goals, targets, strict=False))
        if not self._keeps(found.values) or any(missed):
            return {}, looked
        self._values = found.values
        if behind is not None and (found.best or not behind.exact):  # what is not exact is not looked for twice
            minima[len(targets)] = found.least
            looked += 1
        return minima, looked

    def _targets(self, goals: Sequence[Goal]) -> tuple[list[int], Goal | None]:
        """Compute the bounds that the next goals are likely to come to together, and name the goal behind them.

        That is the first which is not likely to come to its bound, or the last.
        """
        floors: list[int] = []
        waiting = -1
        before = self._relaxed.rows
        for place, goal in enumerate(goals):
            bound = None if goal.measured or self._relaxed.stopped else self._relaxed.bound(goal.terms)
            if bound is None:
                break
            floor = max(0, ceil(bound))
            there = total(goal.terms, self._values) <= floor
            sure = floor == 0 or (goal.exact and len(goal.turns) < 2 and floor - bound < _WHOLE)
            if not sure and not (there and waiting < 0):
                self._relaxed.let_go(before)
                return floors, goal
            waiting = waiting if there else place
            self._relaxed.hold(goal.terms, 0, floor)
            floors.append(floor)
        self._relaxed.let_go(before)
        if waiting < 0:
            return floors, None
        return floors[:waiting], goals[waiting]

    def _reach(self, goal: Goal, minimum: int | None, progress: Callable[[str], None]) -> Reached:
        """Bring one goal down and keep it there; ``minimum`` where it is there already."""
        best, turns = self._best.get(goal.name), goal.turns if len(goal.turns) > 1 else ()
        now = total(goal.terms, self._values)
        if minimum is None:
            minimum = best.minimum if best is not None and not turns else 0
            if now > minimum and not (best is not None and best.minimum and turns):
                progress(goal.name)
                now, minimum = self._lowered(goal.terms, minimum, exact=goal.exact)
        parts = [(now, min(now, minimum))]
        if now > 0 and turns:
            parts = []
            for place, part in enumerate(turns):
                minimum = best.parts[place] if best is not None and best.proved else 0
                now, minimum = self._lowered(part, minimum, exact=goal.exact)
                parts.append((now, min(now, minimum)))
                self._hold(part, parts[-1][1], now)
                if best is not None and best.parts[place] != now:
                    best, self._best = None, {}
        else:
            self._hold(goal.terms, parts[0][1], now)
        numbers = tuple(value for value, _ in parts)
        own = numbers if len(numbers) > 1 else (*numbers, *(0 for _ in goal.turns[1:]))
        if best is not None and best.parts != own:
            self._best = {}
        return Reached(goal.name, sum(numbers), sum(least for _, least in parts), own)

    def _lowered(self, terms: Terms, minimum: int, *, exact: bool) -> tuple[int, int]:
        """Bring one sum down, where it is not at its minimum; return it, and what no answer can be below."""
        now = total(terms, self._values)
        if now <= minimum or self._whole.stopped:
            return now, minimum
        bound = self._relaxed.bound(terms)
        minimum = max(minimum, 0 if bound is None else ceil(bound))
        if now <= minimum or self._whole.stopped:
            return now, minimum
        self._whole.aim(exact=exact)
        found = self._whole.minimise(terms, self._values)
        if self._whole.left:
            return now, minimum
        if self._keeps(found.values) and total(terms, found.values) <= now:
            self._values, now = found.values, total(terms, found.values)
        return now, max(minimum, min(found.least, now))

    def _hold(self, terms: Terms, least: int, most: int) -> None:
        """Keep a sum: the solver of fractions need not look below what was proved."""
        self._whole.hold(terms, -INFINITY, most)
        self._relaxed.hold(terms, least, most)

    def _keeps(self, values: Sequence[int]) -> bool:
        """Tell whether whole values keep every row: what the solver found is rounded, and looked at again."""
        return len(values) > 0 and all(
            low - 1e-6 <= sum(f * values[c] for c, f in terms.items()) <= high + 1e-6 for low, high, terms in self._rows
        )


def _measured(goal: Goal, values: Sequence[int]) -> Reached:
    """Say what a goal has come to, of which nothing is proved."""
    parts = tuple(total(part, values) for part in goal.turns) or (total(goal.terms, values),)
    return Reached(goal.name, sum(parts), 0, parts)
