"""Whole-number programmes against every way tried."""

import _thread
import itertools
import random
import threading
import time

import pytest

from fieldkit.planning.assign.solver import SolverWork
from fieldkit.planning.assign.whole_numbers import Goal, Programme

INFINITY = float("inf")


def every_way(upper, rows, goals):
    """Own, by enumeration: the least of each goal in turn, among all ways that keep every row."""
    ways = [
        way
        for way in itertools.product(*(range(most + 1) for most in upper))
        if all(low <= sum(f * way[c] for c, f in terms.items()) <= high for low, high, terms in rows)
    ]
    found = []
    for terms in goals:
        minimum = min(sum(f * way[c] for c, f in terms.items()) for way in ways)
        ways = [way for way in ways if sum(f * way[c] for c, f in terms.items()) == minimum]
        found.append(minimum)
    return found


def solved(upper, start, rows, goals):
    programme = Programme()
    for most, first in zip(upper, start, strict=True):
        programme.column(most, first)
    for row in rows:
        programme.row(*row)
    return programme.minimise([Goal(str(number), terms) for number, terms in enumerate(goals)])


def test_an_answer_is_not_called_the_best_for_want_of_its_values():
    # Seen to be answered with the values that it began with (a sum of 3) beside the best sum (1).
    upper = [3, 3, 1, 1, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1]
    start = [0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 0, 1, 1, 1]
    rows = [
        (3, 3, {0: 1.0, 1: 1.0, 2: 2.0, 3: 3.0, 4: 1.0, 5: 2.0, 6: 3.0}),
        (-INFINITY, 0.0, {1: 1.0, 2: 1.0, 3: 1.0, 7: -1.0, 8: 1.0}),
        (-INFINITY, 1.0, {7: 1.0}),
        (-INFINITY, 0.0, {4: 1.0, 5: 1.0, 6: 1.0, 9: -1.0, 10: 1.0}),
        (-INFINITY, 1.0, {9: 1.0}),
        (1.0, INFINITY, {8: 1.0, 10: 1.0, 11: 1.0}),
        (-INFINITY, 0.0, {1: 1.0, 2: 2.0, 3: 3.0, 12: -3.0}),
        (-INFINITY, 0.0, {4: 1.0, 5: 2.0, 6: 3.0, 13: -3.0}),
        (-INFINITY, 0.0, {0: 1.0}),
    ]
    [reached] = solved(upper, start, rows, [{7: 1.0, 9: 2.0}]).reached
    assert (reached.value, reached.minimum) == (1, 1)


@pytest.mark.parametrize("seed", range(25))
def test_the_goals_in_turn_are_those_of_every_way_tried(seed):
    rng = random.Random(seed)
    count = rng.randint(3, 7)
    upper = [rng.randint(1, 3) for _ in range(count)]
    start = [rng.randint(0, most) for most in upper]
    rows = []
    for _ in range(rng.randint(2, 6)):
        terms = {c: float(rng.randint(-3, 3)) for c in rng.sample(range(count), rng.randint(1, count))}
        terms = {c: f for c, f in terms.items() if f}
        here = sum(f * start[c] for c, f in terms.items())  # the start keeps every row
        rows.append((here - rng.randint(0, 2) if rng.random() < 0.5 else -INFINITY, here + rng.randint(0, 2), terms))
    goals = [{c: float(rng.randint(0, 4)) for c in range(count)} for _ in range(3)]
    answer = solved(upper, start, rows, goals)
    assert [stage.value for stage in answer.reached] == every_way(upper, rows, goals)
    assert all(stage.proved for stage in answer.reached)
    assert all(low <= sum(f * answer.values[c] for c, f in terms.items()) <= high for low, high, terms in rows if terms)


class Deaf:
    """A solver that does not hear that it is to stop, as while the library prepares a goal."""

    class Callback:
        def subscribe(self, function):
            self.function = function

    def __init__(self):
        self.cbMipInterrupt, self.cbSimplexInterrupt = self.Callback(), self.Callback()
        self.end = threading.Event()

    def run(self):
        self.end.wait(30.0)

    def getSolution(self):  # noqa: N802
        raise AssertionError("a solver at work was touched")


def test_a_solver_that_does_not_hear_is_left_behind_at_once():
    solver = Deaf()
    begin = time.monotonic()
    work = SolverWork(solver, lambda: time.monotonic() - begin > 0.1)
    assert work.run() == []
    assert work.left
    assert work.stopped
    assert time.monotonic() - begin < 5.0
    solver.end.set()


def test_ctrl_c_is_heard_while_it_solves():
    solver = Deaf()
    threading.Timer(0.1, _thread.interrupt_main).start()
    begin = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        SolverWork(solver, lambda: False).run()
    assert time.monotonic() - begin < 5.0
    solver.end.set()
