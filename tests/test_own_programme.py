"""Plans are held against an integer programme that shares nothing with the planner; so is each claim, word for word."""

import re
from collections import defaultdict

import budget
import msgspec
import own_programme as own
import plan_checker
import pytest

from fieldkit.planning.assign.plan import assign
from fieldkit.show.decoding import convert
from fieldkit.show.document import Show

MISPLUGGED = (132, 146)
"""An adaptor of four poles was planned into a socket of eight."""


def judged(task, plan, choosable):
    """Say how good a plan is, from its runs alone."""
    show = msgspec.to_builtins(plan.show, enc_hook=str)
    fed = plan_checker._arrivals(show)
    amps = {amp.name: amp for amp in task.stock}
    at = {name: amps[unit["model"]] for name, unit in plan_checker._units(show).items()}
    priority = {lot.zone: lot.priority for lot in task.lots}
    ranks = sorted(set(priority.values()))
    silent, weak = [0] * len(ranks), [0] * len(ranks)
    on, kinds, hands, models = defaultdict(list), set(), defaultdict(set), defaultdict(lambda: defaultdict(set))
    for box in show["boxes"]:
        (sections,) = own.SPEAKERS[box["model"]].values()
        outputs = [(fed.get(box["id"], {}).get(str(pair)), ohm, watts) for _, pair, ohm, watts in sections]
        if outputs[0][0] is None:
            silent[ranks.index(priority[box["zone"]])] += 1
            continue
        if (box["zone"], box["model"]) in choosable:
            kinds.add((box["zone"], box["model"], tuple("+" in output for output, _, _ in outputs)))
        for output, ohm, watts in outputs:
            on[output].append((box, ohm, watts))
            hands[box["zone"], output.partition(".")[0]].add(box["side"])
            models[box["zone"], box["model"]][box["side"]].add(at[output.partition(".")[0]].name)
    short = {}
    for output, own_boxes in on.items():
        for box, ohm, watts in own_boxes:
            load_ohm = ohm / len(own_boxes)
            volts = at[output.partition(".")[0]].volts(load_ohm, bridged="+" in output)
            if own.is_weak(volts, ohm, watts):
                short[box["id"]] = ranks.index(priority[box["zone"]])
    for rank in short.values():
        weak[rank] += 1
    unlike = [0] * len(ranks)
    lots = {(lot.zone, lot.model, lot.side) for lot in task.lots}
    for (zone, model), of_sides in models.items():
        if {(zone, model, "left"), (zone, model, "right")} <= lots:
            unlike[ranks.index(priority[zone])] += len(of_sides["left"] ^ of_sides["right"])
    shared = sum(len(sides) > 1 for sides in hands.values())
    return own.Optimum(tuple(silent), tuple(weak), len(kinds), tuple(unlike), shared, plan.rack_units)


@pytest.mark.parametrize("seed", [*budget.seeds(2), *MISPLUGGED])
def test_a_plan_and_its_claims_hold_against_an_integer_programme(seed):
    task = own.task_of(seed)
    given = convert(own.show_of(task), Show)
    plan = assign(given)
    best, fewest = own.optimum(task), own.fewest_units(task)
    found = judged(task, plan, own.Programme(task).choosable)
    assert plan_checker.faults(given, plan.show) == []
    assert found[:4] == best[:4]
    assert not found.shared or best.shared
    assert found.units == best.units or best.shared
    for claim, true in (
        (r"; (\d+) rack units? (?:is|are) impossible", lambda units: units < fewest),
        (r"; (\d+) rack units? if both sides share", lambda units: units == own.optimum(task, sides=False).units),
        (r"\((\d+) with boxes", lambda units: units == fewest),
        (r"; (\d+) rack units? only with", lambda units: units >= fewest),
    ):
        said = re.search(claim, plan.proof.says)
        assert said is None or true(int(said[1])), plan.proof.says
    assert best.shared or not any("would be silent, weak" in note for note in plan.notes)
