"""Ten jobs as a technician meets them, each with a hand plan that was written before any program saw the job.

A plan must be at least as good as the hand plan: boxes that stay silent, by priority; then boxes without their preset,
zones whose sides share an amplifier, rack units, arrays on unlike amplifiers. Leads come from the truck.
"""

import budget
import job_judge
import plan_checker
import pytest

from fieldkit.planning.assign.judging import Wishes
from fieldkit.planning.assign.plan import assign
from fieldkit.show.opening import open_show

PLANS = job_judge.hand_plans()


@pytest.mark.parametrize(
    "job",
    budget.thoroughly(
        "festival", "conference", "church", more=("corporate", "theatre", "hall", "musical", "club", "meadow")
    ),
)
def test_a_plan_is_at_least_as_good_as_the_hand_plan(job):
    given = open_show(job_judge.JOBS / f"{job}.toml").show
    plan = assign(given, Wishes(moving=True))
    show = job_judge.plain(plan.show)
    by_hand, found = job_judge.of_hand(PLANS[job], show), job_judge.of_program(show)
    assert found <= by_hand
    moved = "the run was changed"  # where a job asks for moves
    assert [fault for fault in plan_checker.faults(given, plan.show) if not (PLANS[job].moved and moved in fault)] == []
    assert job_judge.wrong_leads(show) == []
    assert plan.rack_units == found.units
    assert plan.replugged <= len(PLANS[job].moved)


def test_after_a_change_only_the_plug_moves_that_a_hand_moves():
    given = open_show(job_judge.JOBS / "changed.toml").show
    plan = assign(given, Wishes(moving=True))
    show = job_judge.plain(plan.show)
    assert job_judge.of_program(show) <= job_judge.of_hand(PLANS["changed"], show)
    assert {move.box: move.outputs for move in plan.moves} == {"ML3": ("L1.1",), "MR3": ("R1.1",), "SL": ("L1.2",)}
    assert plan.replugged == len(PLANS["changed"].moved)
    assert (
        plan.proof.says
        == "4 rack units, all boxes driven; 3 rack units are impossible with what stands here, beside the runs that stay"
    )
