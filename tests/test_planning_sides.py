"""Sides kept apart and outputs left spare, against enumerations and the checker that shares no code."""

import itertools
import random

import msgspec
import pytest
from budget import drawn, seeds, thoroughly
from plan_checker import faults, shared_sides, spare_outputs
from planned_shows import AMPLIFIERS, random_show
from test_planning_assign import alike, small

from fieldkit.planning.assign.judging import Wishes
from fieldkit.planning.assign.plan import assign

SPARE = "sides without a spare output"


def goal(proposal, name):
    return next(stage.value for stage in proposal.stages if stage.goal == name)


def two_sides(left, right, model="top"):
    """Boxes of a zone on two sides, passive: three of 8 ohm to an output at the most."""
    return [(f"{side[0]}{n}", model, "M", side, "") for side, n in (("left", left), ("right", right)) for n in range(n)]


def standing(*models, sides=()):
    """Amplifiers that stand there, loose or in a rack of a side each."""
    text = ""
    for number, model in enumerate(models):
        side = sides[number] if sides else ""
        text += f'[[racks]]\nid = "R{number}"\nside = "{side}"\n' if side else ""
        text += f'[[rack_units]]\nid = "A{number}"\nmodel = "{model}"\n' + (f'rack = "R{number}"\n' if side else "")
    return text


# --- Sides apart. ---


def least_apart(left, right, stocks):
    """Own, by enumeration: every way to give each amplifier to the left, to the right or to nobody.

    Three boxes to an output; None where no way drives all with the sides on amplifiers of their own that are alike.
    """
    units = [name for name, count in stocks.items() for _ in range(count)]
    best = None
    for way in itertools.product("LR-", repeat=len(units)):
        room = {
            side: sum(3 * AMPLIFIERS[u][0] for u, at in zip(units, way, strict=True) if at == side) for side in "LR"
        }
        models = [{u for u, at in zip(units, way, strict=True) if at == side} for side in "LR"]
        if room["L"] >= left and room["R"] >= right and models[0] == models[1]:
            total = sum(AMPLIFIERS[u][1] for u, at in zip(units, way, strict=True) if at != "-")
            best = total if best is None else min(best, total)
    return best


@pytest.mark.parametrize(("left", "right"), drawn([(3, 2), (2, 13), (1, 2), (4, 7), (8, 5)], 1))
@pytest.mark.parametrize("stocks", [{"two": 3}, {"four": 1, "two": 1}, {"four": 2}])
def test_uneven_sides_are_apart_where_that_can_be_in_the_rack_units_of_an_enumeration(left, right, stocks):
    show = small(two_sides(left, right), stocks)
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    minimum = least_apart(left, right, stocks)
    if minimum is None:  # together, then; and what is driven is as much as the outputs bear
        most = sum(3 * AMPLIFIERS[name][0] * count for name, count in stocks.items())
        assert len(proposal.undriven) == max(0, left + right - most)
        assert proposal.undriven or any("share an amplifier" in note for note in proposal.notes)
    else:
        assert shared_sides(proposal.show) == {}
        assert proposal.rack_units == minimum


@pytest.mark.parametrize("each", thoroughly(2, 6, 7, more=[1, 3, 4, 5]))
def test_sides_share_an_amplifier_before_they_hang_on_unlike_ones_and_the_price_stands_beside_it(each):
    show = small(two_sides(each, each), {"two": 1, "four": 1}, standing("two", "four"))
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    assert not proposal.undriven
    assert "M" in shared_sides(proposal.show).values()
    assert any("share an amplifier (" in note for note in proposal.notes)
    # Own, by hand: apart, one side has the smaller one, of two outputs with three boxes on each.
    [price] = [other for other in proposal.alternatives if other.name == "sides apart"]
    assert price.says.startswith("no amplifier carries both sides") == (each <= 6)
    assert "left and right hang on unlike amplifiers" in price.says


def test_a_rack_on_each_side_serves_its_own_even_where_they_are_unlike():
    show = small(two_sides(2, 2), {"two": 1, "four": 1}, standing("two", "four", sides=("left", "right")))
    proposal = assign(show)
    assert shared_sides(proposal.show) == {}
    assert any("unlike amplifiers: A0, A1" in note for note in proposal.notes)


def test_twins_come_before_unlike_amplifiers_and_what_stands_on_a_side_serves_it():
    show = small(two_sides(3, 3), {"four": 2, "two": 1}, standing("two", "four", "four"))
    names = {move.outputs[0].partition(".")[0] for move in assign(show).moves}
    assert names == {"A1", "A2"}
    show = small(two_sides(2, 4), {"four": 1, "two": 1}, standing("four", "two", sides=("right", "left")))
    at = {move.box[0]: move.outputs[0].partition(".")[0] for move in assign(show).moves}
    assert at == {"l": "A1", "r": "A0"}


def test_whoever_lets_the_sides_share_gets_the_fewest_rack_units():
    show = small(two_sides(2, 1), {"four": 2})
    assert assign(show).rack_units == 4
    assert assign(show, Wishes(mirrored=False)).rack_units == 2
    assert "2 rack units if both sides share an amplifier" in assign(show).proof.says


# --- A spare output a side. ---


def fills(boxes, outputs):
    """Own, by enumeration: whether an output is left, with as few as can be of three boxes (under 4 ohm)."""
    ways = [way for way in itertools.combinations_with_replacement(range(4), outputs) if sum(way) == boxes]
    fewest = min(way.count(3) for way in ways)
    return any(0 in way for way in ways if way.count(3) == fewest)


@pytest.mark.parametrize("each", thoroughly(1, 6, 7, 12, more=[2, 3, 4, 5, 8, 9, 10, 11]))
def test_an_output_is_left_on_each_side_where_that_can_be(each):
    show = small(two_sides(each, each), {"four": 2}, standing("four", "four", sides=("left", "right")))
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    can = fills(each, 4)
    assert goal(proposal, SPARE) == (0 if can else 2)
    assert {name.partition(".")[0] for name in spare_outputs(proposal.show)} == ({"A0", "A1"} if can else set())
    assert any("no spare output is left on either side" in note for note in proposal.notes) == (not can)


@pytest.mark.parametrize("boxes", thoroughly(1, 6, 7, 12, more=[2, 3, 4, 5, 8, 9, 10, 11]))
def test_without_sides_one_output_is_left_of_what_stands_there(boxes):
    proposal = assign(small(alike(boxes), {"four": 1}, standing("four")))
    assert (goal(proposal, SPARE) == 0) == bool(spare_outputs(proposal.show)) == fills(boxes, 4)


def test_a_spare_comes_before_full_power_and_an_amplifier_with_nothing_to_do_is_one():
    # Own, worked by hand: 8 ohm 300 W, 4 ohm 400 W: two 300 W boxes get 200 W each, which is short and not weak.
    powers = 'powers = [{ load = "8 ohm", power = "300 W" }, { load = "4 ohm", power = "400 W", minimum = true }]\n'
    connectors = ", ".join(f'{"ABCD"[n - 1]} = {{ 1 = "{n}" }}' for n in range(1, 5))
    model = f'[[amplifiers]]\nid = "lean"\nchannels = 4\nunits = 1\ngain = "32 dB"\n{powers}'
    model += f'connectors = {{ {connectors} }}\nhosts = {{ presets = ["any"] }}\n'
    one = assign(small(alike(4), {}, model + standing("lean")))
    assert len(spare_outputs(one.show)) == 1
    assert goal(one, "full power") == 2
    two = assign(small(alike(4), {}, model + standing("lean", "lean")))
    assert len(spare_outputs(two.show)) == 4  # all of the second
    assert goal(two, "full power") == 0
    assert two.rack_units == 1


def test_nothing_is_carried_in_for_the_sake_of_a_spare():
    proposal = assign(small(alike(12), {"four": 3}))
    assert proposal.rack_units == 2
    assert goal(proposal, SPARE) == 1


@pytest.mark.parametrize("seed", seeds(3))
def test_what_is_said_of_spares_and_sides_is_so_in_random_shows(seed):
    show = random_show(random.Random(300 + seed))
    proposal = assign(show)
    sided = [zone.id for zone in show.zones if zone.use == "front" and len(zone.signals) == 2]
    if proposal.moves and not goal(proposal, SPARE):
        assert len(spare_outputs(proposal.show)) >= (2 if sided else 1)
    named = {note.split("'")[1] for note in proposal.notes if "share an amplifier (" in note}
    assert {zone for zone in shared_sides(proposal.show).values() if zone in sided} == named
    assert list(msgspec.structs.asdict(proposal)["undriven"]) == list(proposal.undriven)


@pytest.mark.parametrize(
    ("units", "side", "gap"), [(6, "left", True), (4, "left", False), (6, "right", True), (6, "", False)]
)
def test_a_new_amplifier_takes_the_gap_in_the_rack_of_its_side(units, side, gap):
    # Own, by hand: two amplifiers of two units with two units between them; the one that is brought takes these.
    text = f'[[racks]]\nid = "OLD"\nside = "{side}"\nunits = {units}\n'
    for number, place in enumerate((1, units - 1)):
        text += f'[[rack_units]]\nid = "D{number}"\nmodel = "dsp"\nrack = "OLD"\nunit = {place}\n'
    text += '[[processors]]\nid = "dsp"\nunits = 2\ninputs = 2\noutputs = 2\n'
    show = small([*two_sides(1, 1), ("X", "top", "X", "", "")], {"four": 2}, text)
    added = [unit for unit in assign(show).show.rack_units if unit.model == "four"]
    taken = [(unit.rack, unit.unit) for unit in added if unit.rack == "OLD"]
    assert taken == ([("OLD", 3)] if gap else [])
