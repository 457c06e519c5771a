"""Single losses of the samples against every way of a few moves, tried by what shares no code with the search."""

import pytest
from budget import TIMES, drawn
from failing_rigs import plain
from rescue_enumeration import Enumeration
from test_fail_over_joined import SAMPLES, single_losses

from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.plugs import ranks_of
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.solve.evaluation import evaluate

MOST = 2 if TIMES > 1 else 1
"""Moves that are tried; all losses with two take four minutes of processor."""


def ways(name, lost):
    """Give what tries all ways; in which turn zones come, and which stand by themselves, is as the program has it."""
    show = SAMPLES[name]
    rig = evaluate(show)
    far = [zone for zone, known in zone_priorities(show, rig.show_index.speakers).items() if known.role == "delay"]
    return Enumeration(plain(show), lost, ranks_of(rig), MOST, far=far)


@pytest.mark.parametrize(("name", "lost"), drawn(single_losses(), 4))
def test_no_way_of_a_few_moves_leaves_less_silent(name, lost):
    found = fail_over(SAMPLES[name], [lost])
    tried = ways(name, lost)
    then = plain(found.show)
    assert tried.legal(then)
    assert tried.silent(then) <= tried.best().silent


def test_the_judge_finds_what_a_hand_would():
    """By hand: the mains of AMP-1 go to the free half of AMP-2 in one move, and the fills have no place then."""
    best = ways("practice", "AMP-1").best()
    assert (best.silent, best.moves) == ((0, 0, 3), 1)
    # A plan that has done nothing is worse than that.
    assert ways("practice", "AMP-1").silent(plain(SAMPLES["practice"])) == (2, 0, 3)
