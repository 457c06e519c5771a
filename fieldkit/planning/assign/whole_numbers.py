"""Whole-number programmes with goals in turn: each is brought to its best, fixed as a row, and the next begins.

HiGHS does the work, on one thread, with a fixed seed and a limit of nodes instead of time, so that the same
question has the same answer on a busy machine. It is imported here and nowhere else, and only when asked.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from math import ceil
from typing import Any

import msgspec

Terms = Mapping[int, float]
"""Column -> factor."""

NODE_LIMIT = 20_000
"""Nodes of the search for each goal; far above what the aims of speed need."""

NEAR = 0.05
"""Share of a sum by which a goal that is not exact may be over its minimum."""

NEAR_NODES = 1


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
    bounds: tuple[tuple[Terms, int], ...]
    """Sums, and the most that each may be."""
    best: tuple[Reached, ...]
    """What was reached of the goals without these bounds: none can be lower, as long as those before it are alike."""


class Programme:
    """Columns of whole numbers, and rows that bound their sums."""

    def __init__(self) -> None:
        self._upper: list[int] = []
        self._start: list[int] = []
        self._rows: list[tuple[float, float, Terms]] = []

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
        work = SolverWork(self._solver(), cancelled)
        values = begin.values if begin is not None else tuple(self._start)
        for terms, most in begin.bounds if begin is not None else ():
            work.hold(terms, most)
        best = {reached.name: reached for reached in begin.best} if begin is not None else {}
        reached: list[Reached] = []
        for goal in goals:
            terms = _factors(goal.terms)
            if goal.measured:
                reached.append(_measured(goal, values))
                continue
            known = best.get(goal.name)
            now, minimum = _sum(terms, values), known.minimum if known is not None and len(goal.turns) < 2 else 0
            if now > minimum and not work.stopped and not (known is not None and known.minimum and len(goal.turns) > 1):
                work.aim(exact=goal.exact)
                progress(goal.name)
                values, now, least = self._one(work, terms, values, now)
                minimum = max(minimum, least)
            parts = [(terms, now, min(now, minimum))]
            if now > 0 and len(goal.turns) > 1:
                parts = []
                for place, part in enumerate(map(_factors, goal.turns)):
                    now, minimum = _sum(part, values), known.parts[place] if known is not None and known.proved else 0
                    if now > minimum and not work.stopped:
                        values, now, least = self._one(work, part, values, now)
                        minimum = max(minimum, least)
                    parts.append((part, now, min(now, minimum)))
                    work.hold(part, now)
                    if known is not None and known.parts[place] != now:
                        known, best = None, {}
            elif terms:
                work.hold(terms, now)
            numbers = tuple(part[1] for part in parts)
            turns = numbers if len(numbers) > 1 else (*numbers, *(0 for _ in goal.turns[1:]))
            reached.append(Reached(goal.name, sum(numbers), sum(part[2] for part in parts), turns))
            if known is not None and known.parts != turns:
                best = {}
        return Answer(values, tuple(reached), work.stopped)

    def _solver(self) -> Any:
        library = _library()

        class Quiet(library.Highs):  # type: ignore[misc, name-defined]  # the library's types say less than it takes
            def enableCallbacks(self) -> None:  # noqa: N802  (its name)
                self.silent()  # before its first line of text, which would land in the output of the command
                super().enableCallbacks()

        solver: Any = Quiet()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("parallel", "off"),
            ("random_seed", 1),
            ("mip_abs_gap", 0.99),  # sums are whole numbers: nothing lies between
        ):
            solver.setOptionValue(option, value)
        count = len(self._upper)
        solver.addVars(count, [0.0] * count, [float(upper) for upper in self._upper])
        solver.changeColsIntegrality(count, list(range(count)), [library.HighsVarType.kInteger] * count)
        for low, high, terms in self._rows:
            low_bound = -solver.inf if low == -float("inf") else low
            high_bound = solver.inf if high == float("inf") else high
            solver.addRow(low_bound, high_bound, len(terms), list(terms), [float(f) for f in terms.values()])
        return solver

    def _one(
        self, work: SolverWork, terms: Terms, values: tuple[int, ...], now: int
    ) -> tuple[tuple[int, ...], int, int]:
        """Minimise one sum from known values; give values, sum, and what no answer can be below."""
        library, solver = _library(), work.solver
        count = len(self._upper)
        solver.changeColsCost(count, list(range(count)), [float(terms.get(column, 0.0)) for column in range(count)])
        start = library.HighsSolution()
        start.col_value = [float(value) for value in values]
        solver.setSolution(start)
        found = self._run(work, terms)
        if work.left:
            return values, now, 0
        info = solver.getInfo()
        minimum = max(0, ceil(info.mip_dual_bound - 1e-6)) if abs(info.mip_dual_bound) < 1e18 else 0
        if solver.getModelStatus() == library.HighsModelStatus.kOptimal and _agrees(solver, terms, found):
            minimum = max(minimum, _sum(terms, found))
        if len(found) == count and self._keeps(found) and _sum(terms, found) <= now:
            return tuple(found), _sum(terms, found), minimum
        return values, now, min(minimum, now)

    def _run(self, work: SolverWork, terms: Terms) -> list[int]:
        """Solve, and give the values; none where the solver was left behind.

        Where the library has found a better sum than that of the values which it was given to start from, it has been
        seen to give these back beside the better sum. Then it is asked again, with nothing to start from.
        """
        solver = work.solver
        found = work.run()
        if len(found) == len(self._upper) and not _agrees(solver, terms, found):
            solver.clearSolver()
            found = work.run()
        return found

    def _keeps(self, values: Sequence[int]) -> bool:
        """Tell whether whole values keep every row: what the solver found is rounded, and looked at again."""
        return all(
            low - 1e-6 <= sum(f * values[c] for c, f in terms.items()) <= high + 1e-6 for low, high, terms in self._rows
        )


STOPS_WITHIN_S = 0.25
"""The solver asks now and then whether to stop, but not while it prepares a goal: then it is left behind after this."""


class SolverWork:
    """A solver at work in a thread of its own, so that whoever waits hears at once that it is to stop."""

    def __init__(self, solver: Any, cancelled: Callable[[], bool]) -> None:
        self.solver = solver
        self.left = False
        """Whether the solver did not stop in time: it is not to be touched any more, and what it finds is lost."""
        self._cancelled = cancelled
        self._stopped = threading.Event()

        def look(event: Any) -> None:
            if self._stopped.is_set():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(look)
        solver.cbSimplexInterrupt.subscribe(look)

    @property
    def stopped(self) -> bool:
        """Whether somebody has cancelled."""
        if self._cancelled():
            self._stopped.set()
        return self._stopped.is_set()

    def aim(self, *, exact: bool) -> None:
        """Say how near the minimum the next goal is to be brought."""
        self.solver.setOptionValue("mip_rel_gap", 0.0 if exact else NEAR)
        self.solver.setOptionValue("mip_max_nodes", NODE_LIMIT if exact else NEAR_NODES)

    def hold(self, terms: Terms, most: int) -> None:
        """Keep a sum at what was reached."""
        if terms and not self.stopped:  # else nothing is solved any more
            factors = [float(factor) for factor in terms.values()]
            self.solver.addRow(-self.solver.inf, float(most), len(terms), list(terms), factors)

    def run(self) -> list[int]:
        """Solve, and give the values; none where the solver was left behind."""
        ended = threading.Event()
        errors: list[BaseException] = []

        def work() -> None:
            try:
                self.solver.run()
            except BaseException as error:  # noqa: BLE001  (raised below, where it is waited for)
                errors.append(error)
            ended.set()

        threading.Thread(target=work, name="solver", daemon=True).start()  # ``__main__`` knows the name
        try:
            while not ended.wait(_ASK_EVERY_S) and not self.stopped:
                pass
        except KeyboardInterrupt:
            self._stopped.set()
            ended.wait(STOPS_WITHIN_S)
            raise
        self.left = not ended.wait(STOPS_WITHIN_S)
        if errors:
            raise errors[0]
        return [] if self.left else [round(value) for value in self.solver.getSolution().col_value]


_ASK_EVERY_S = 0.05


def _library() -> Any:
    import highspy

    return highspy


def _measured(goal: Goal, values: Sequence[int]) -> Reached:
    """Say what a goal has come to, of which nothing is proved."""
    parts = tuple(_sum(part, values) for part in goal.turns) or (_sum(goal.terms, values),)
    return Reached(goal.name, sum(parts), 0, parts)


def _factors(terms: Terms) -> dict[int, float]:
    return {column: factor for column, factor in terms.items() if factor}


def _agrees(solver: Any, terms: Terms, values: Sequence[int]) -> bool:
    """Tell whether values have the sum that the solver says it has found."""
    return bool(abs(solver.getInfo().objective_function_value - _sum(terms, values)) < 0.5)


def _sum(terms: Terms, values: Sequence[int]) -> int:
    return round(sum(factor * values[column] for column, factor in terms.items()))
