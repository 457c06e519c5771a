"""Putting back in any order: two things failed, one works again, then the other, and the show is what it was."""

from itertools import combinations, permutations

import pytest
from budget import drawn
from failing_rigs import Replay, losing_show, unit
from rigs import box
from test_fail_over import LEFT, wire
from test_fail_over_joined import SAMPLES, single_losses

from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.returning import way_back

LOSSES = [(name, lost) for name, lost in single_losses() if name in {"practice", "school_musical"}]
PAIRS = [
    (name, together, first, second)
    for name in ("practice", "school_musical")
    for ways, together in ((combinations, True), (permutations, False))
    for first, second in ways([lost for other, lost in LOSSES if other == name], 2)
]
"""Every pair of single losses of two samples: at once, and one after the other."""


def returned(show, name):
    """Put one thing back, step by step on the physical rig, and see that patch and plugs end as the plan has them."""
    way = way_back(show, name)
    replay = Replay(show, way).run_all()
    replay.assert_plugged_as_planned()
    replay.assert_inputs_as_planned()
    return way


@pytest.mark.parametrize(("name", "together", "first", "second"), drawn(PAIRS, 8))
def test_two_losses_are_put_back_in_either_order(name, together, first, second):
    show = SAMPLES[name]
    losses = [(first, second)] if together else [(first,), (second,)]
    lost = show
    for names in losses:
        lost = fail_over(lost, names).show
    for order in ((first, second), (second, first)):
        back = lost
        for one in order:
            back = returned(back, one).show
        assert back == show, order


def test_what_is_in_the_way_of_what_comes_back_is_planned_for_anew():
    text = unit("S1") + unit("S2") + "".join(box(f"M{n}", more=LEFT) for n in (1, 2))
    text += wire("W1", "S1.A", "M1") + wire("W2", "S2.A", "M2")
    show = losing_show(text, links=False)
    # M1 goes to S2.B; what S2 loses then has only S1.A to go to, which was M1's own place.
    first = fail_over(show, ["S1.1"])
    lost = fail_over(first.show, ["S2"])
    assert {run.id: run.start[:2] for run in lost.show.runs} == {"W1": "S1", "W2": "S1"}
    way = returned(lost.show, "S1.1")
    assert {run.id: run.start[:2] for run in way.show.runs} == {"W1": "S1", "W2": "S1"}
    assert returned(way.show, "S2").show == show
