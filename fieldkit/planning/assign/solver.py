"""The solver of whole-number programmes at work: HiGHS, which is imported here and nowhere else, and only when asked.

It has one thread, a fixed seed and a limit of nodes instead of time, so that the same question has the same answer on
a busy machine.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from math import ceil
from typing import Any

import msgspec

Terms = Mapping[int, float]
"""Column -> factor."""

Row = tuple[float, float, Terms]
"""A sum, and what bounds it from below and above."""

NODE_LIMIT = 20_000
"""Nodes of the search for each goal; far above what the aims of speed need."""

NEAR = 0.05
"""Share of a sum by which a goal that is not exact may be over its minimum."""

NEAR_NODES = 1

STOPS_WITHIN_S = 0.25
"""The solver asks now and then whether to stop, but not while it prepares a goal: then it is left behind after this."""

_ASK_EVERY_S = 0.05

_FEASIBLE = 2
"""What the solver calls a solution that keeps every row."""

_PROBING = 1 << 15
"""The rule that tries each column at both its ends before it solves: half of the time, and hardly a column fewer."""

_PROBED_FROM = 4_000
"""Columns from which on it pays all the same: at 5,000 it saves a third of the time, at 3,800 nothing (600 boxes)."""

_CLEAR = 1e-6
"""Share of a sum by which its bound may be wrong, since the solver reckons with fractions."""


_RUN_STEPS, _BOUND_STEPS = 40, 3
"""What a run takes beside its iterations, and one without whole numbers, in iterations of a run. Measured."""

_BOUND_SHARE = 10
"""Iterations without whole numbers that take as long as one of a run. Measured."""


class _Steps(threading.local):
    done = 0


_STEPS = _Steps()


def steps_done() -> int:
    """Count the steps of the solvers in this thread until now: a clock that is the same on any machine."""
    return _STEPS.done


class Found(msgspec.Struct, frozen=True):
    """What a run of the solver has found."""

    values: tuple[int, ...] = ()
    """Rounded; none where nothing was found, or where the solver was left behind."""
    least: int = 0
    """No answer can be below this."""
    best: bool = False
    """Whether the solver says that nothing is better, within the gap that it was given."""


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

    def aim(self, *, exact: bool, nodes: int = NODE_LIMIT) -> None:
        """Say how near the minimum the next goal is to be brought."""
        self.solver.setOptionValue("mip_rel_gap", 0.0 if exact else NEAR)
        self.solver.setOptionValue("mip_max_nodes", nodes if exact else NEAR_NODES)

    def hold(self, terms: Terms, least: float, most: float) -> None:
        """Keep a sum at what was reached."""
        if terms and not self.stopped:  # else nothing is solved any more
            factors = [float(factor) for factor in terms.values()]
            low = -self.solver.inf if least == -float("inf") else float(least)
            self.solver.addRow(low, float(most), len(terms), list(terms), factors)

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return 0 if self.left else int(self.solver.getNumRow())

    def let_go(self, rows: int) -> None:
        """Drop the rows that came after so many."""
        if rows < self.rows:
            last = range(rows, self.rows)
            self.solver.deleteRows(len(last), list(last))

    def minimise(self, terms: Terms, start: Sequence[int] | None) -> Found:
        """Bring one sum down, from known values where there are any that keep every row."""
        if self.stopped:
            return Found()
        library, solver = _library(), self.solver
        count = solver.getNumCol()
        solver.changeColsCost(count, list(range(count)), [float(terms.get(column, 0.0)) for column in range(count)])
        if start is not None:
            begin = library.HighsSolution()
            begin.col_value = [float(value) for value in start]
            solver.setSolution(begin)
        values = self._tried()
        if len(values) == count and not self._agrees(terms, values):
            # Where the library has found a better sum than that of the values which it was given to start from, it has
            # been seen to give these back beside the better sum. Then it is asked again, with nothing to start from.
            solver.clearSolver()
            values = self._tried()
        if self.left:
            return Found()
        bound = solver.getInfo().mip_dual_bound
        least = max(0, ceil(bound - 1e-6)) if abs(bound) < 1e18 else 0
        best = solver.getModelStatus() == library.HighsModelStatus.kOptimal and self._agrees(terms, values)
        return Found(tuple(values), max(least, total(terms, values)) if best else least, best)

    def _tried(self) -> list[int]:
        """Solve, and give the values; none where nothing was found."""
        values = self.run()
        self._count(_RUN_STEPS)
        return values if not self.left and self.solver.getInfo().primal_solution_status == _FEASIBLE else []

    def bound(self, terms: Terms) -> float | None:
        """Compute what a sum cannot be below, without the wish for whole numbers; None where that is not known."""
        if self.stopped:
            return None
        library, solver = _library(), self.solver
        count = solver.getNumCol()
        solver.changeColsCost(count, list(range(count)), [float(terms.get(column, 0.0)) for column in range(count)])
        self.run()
        self._count(_BOUND_STEPS, _BOUND_SHARE)
        if self.left or solver.getModelStatus() != library.HighsModelStatus.kOptimal:
            return None
        value = float(solver.getInfo().objective_function_value)
        return value - _CLEAR * max(1.0, abs(value))

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

    def _count(self, steps: int, share: int = 1) -> None:
        if not self.left:
            _STEPS.done += steps + max(0, int(self.solver.getInfo().simplex_iteration_count)) // share

    def _agrees(self, terms: Terms, values: Sequence[int]) -> bool:
        """Tell whether values have the sum that the solver says it has found."""
        return bool(abs(self.solver.getInfo().objective_function_value - total(terms, values)) < 0.5)


def solver_of(upper: Sequence[int], rows: Sequence[Row], *, whole: bool) -> Any:
    """Make a solver for columns from 0 up to ``upper`` and rows; without ``whole`` their values may be fractions."""
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
        ("mip_heuristic_run_root_reduced_cost", False),  # of all ways to look for answers the slowest by far here
        ("presolve_rule_off", _PROBING if len(upper) < _PROBED_FROM else 0),
        *(() if whole else (("presolve", "off"),)),  # each run begins where the last one ended
    ):
        solver.setOptionValue(option, value)
    count = len(upper)
    solver.addVars(count, [0.0] * count, [float(most) for most in upper])
    if whole:
        solver.changeColsIntegrality(count, list(range(count)), [library.HighsVarType.kInteger] * count)
    starts: list[int] = []
    columns: list[int] = []
    factors: list[float] = []
    for _, _, terms in rows:
        starts.append(len(columns))
        columns += terms
        factors += [float(factor) for factor in terms.values()]
    low = [_bound(least, solver.inf) for least, _, _ in rows]
    high = [_bound(most, solver.inf) for _, most, _ in rows]
    solver.addRows(len(rows), low, high, len(columns), starts, columns, factors)
    return solver


def _bound(value: float, infinity: float) -> float:
    if abs(value) == float("inf"):
        return infinity if value > 0.0 else -infinity
    return float(value)


def total(terms: Terms, values: Sequence[int]) -> int:
    """Add up a sum of values."""
    return round(sum(factor * values[column] for column, factor in terms.items()))


def _library() -> Any:
    import highspy

    return highspy
