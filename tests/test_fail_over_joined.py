"""Fail-over by what stands there: link sockets, stage boxes, Y-leads, the back of a rack as built, the sum, the desk."""

import msgspec
import pytest
from budget import drawn
from failing_rigs import MODELS, losing_show, unit
from rigs import box, run, show_of, step
from test_fail_over import LEFT, moved, plan, silent, sound, wire

from fieldkit import samples
from fieldkit.planning.failover.fail_over import fail_over
from fieldkit.planning.failover.returning import put_back, way_back
from fieldkit.planning.failover.steps import LADDER_MINUTES
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.contents import all_units
from fieldkit.show.opening import open_show

SAMPLES = {name: open_show(samples.folder() / f"{name}.toml").show for name in samples.names()}
NOTHING_HELPS = {
    ("village_hall", "AMP"),  # the only amplifier there is
    ("open_air", "DLY"),  # at the foot of the tower, 44 m from the stage
    ("open_air", "TOWER"),
    ("open_air", "GEN"),  # everything hangs on it
    ("mistakes", "BAR"),  # all that could take its lines comes first
    ("mistakes", "BAR.1"),
    ("mistakes", "DP"),  # nobody has said what leads to its outputs
}
"""Losses of the samples for which no move is known."""


def single_losses():
    """List each amplifier, output, processor and supply of each sample."""
    for name, show in SAMPLES.items():
        models = evaluate(show).show_index.models
        for item in all_units(show):
            model = models[item.model]
            count = getattr(model, "channels", 0) or getattr(model, "outputs", 0)
            yield from ((name, label) for label in (item.id, *(f"{item.id}.{n}" for n in range(1, count + 1))))
        yield from ((name, supply.id) for supply in show.supplies)


@pytest.mark.parametrize(("name", "lost"), drawn(single_losses(), 10))
def test_any_single_loss_of_the_samples_is_got_over_safely_and_put_back(name, lost):
    show = SAMPLES[name]
    found = fail_over(show, [lost])
    needed = bool(found.silent or found.powered)
    assert bool(found.moves) == (needed and (name, lost) not in NOTHING_HELPS)
    assert put_back(found.show, lost) == show
    assert len({item.box for item in found.stays_silent}) == len(found.stays_silent)
    if name != "mistakes":
        sound(show, found)


PLAIN = unit("S1", "plain", '{ 1 = "L", 2 = "L" }')
ONE_AMP = PLAIN + box("M1", more=LEFT) + box("M2", more=LEFT)


def test_a_box_joins_its_neighbour_by_the_link_socket():
    show = ONE_AMP + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2")
    found = plan(show, "S1.1")
    assert moved(found) == {"W1": ("S1.A", "the link socket of M2")}
    [move] = found.moves
    # What is dead is unplugged first; what plays is muted last, and says nothing for as short as can be.
    assert [(item.do, item.at) for item in move.steps] == [
        ("pull", "S1.A"), ("mute", "S1.2"), ("verify", "S1.2"), ("plug", "S1.B"), ("unmute", "S1.2"),
    ]  # fmt: skip
    assert move.price == ("nothing is heard from M2 while it is plugged", "S1 out 2 then drives 4.1 Ω, its minimum")
    back = way_back(found.show, "S1.1")
    assert [item.plug for item in back.moves] == [("the link socket of M2", ""), ("", "S1.A")]


def test_a_box_joins_one_that_the_plan_itself_moves_and_that_is_proved():
    other = box("F1", "fill", more=LEFT) + wire("W9", "S2.A", "F1")
    text = ONE_AMP + unit("S2", "plain", '{ 1 = "L" }') + other
    found = plan(text + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2"), "S1")
    assert silent(found) == []
    assert found.proved
    assert moved(found) == {"W2": ("S1.B", "the link socket of M1"), "W1": ("S1.A", "S2.B")}
    # Three of 8 ohm are too much for the one output that is free; the fill gives way to the third.
    third = box("M3", more=LEFT) + wire("W3", "S3.A", "M3") + unit("S3", "plain", '{ 1 = "L" }')
    found = plan(text + third + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2"), "S1", "S3")
    assert (silent(found), found.proved) == (["F1"], True)


def test_a_box_on_a_stand_takes_a_ladder_and_a_flown_one_cannot_be_joined():
    floor = ONE_AMP + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2")
    reach = {what: floor.replace('id = "M2"', f'id = "M2"\nreach = "{what}"') for what in ("ladder", "flown")}
    [easy], [high] = plan(floor, "S1.1").moves, plan(reach["ladder"], "S1.1").moves
    assert high.minutes == easy.minutes + LADDER_MINUTES
    assert silent(plan(reach["flown"], "S1.1")) == ["M1"]


def test_no_box_joins_where_the_load_would_be_under_the_minimum():
    more = box("M3", more=LEFT)
    show = ONE_AMP + more + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2", "M3")
    assert silent(plan(show, "S1.1")) == ["M1"]


def test_no_box_joins_one_of_another_zone_or_preset_or_without_a_second_socket():
    fill = PLAIN + box("M1", more=LEFT) + box("F1", "fill", more=LEFT)
    plugs = wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "F1")
    assert all(" by the link socket" not in move.says for move in plan(fill + plugs, "S1.1").moves)
    two = ONE_AMP + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2")
    assert silent(plan(two, "S1.1", links=False)) == ["M1"]


def test_the_desk_mixes_both_sides_before_a_box_joins_the_other_one():
    right = 'side = "right"'
    inputs = '{ 1 = "L", 2 = "R" }'
    show = unit("S1", "plain", inputs) + box("M1", more=LEFT) + box("M2", more=right)
    found = plan(show + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2"), "S1.1")
    [move] = found.moves
    assert (move.steps[0].do, move.steps[0].at, move.steps[0].value) == ("patch", "desk", "R+L")
    assert "leave the rest of this if it does not" in move.steps[1].says
    assert "both sides hear the same" in move.price[0]


def on_stage(number, *boxes):
    lead = '{ cable = "eight-core", length = "10 m", shared = "MULTI" }'
    head = [lead, f'{{ panel = "breakout", socket = "{"AB"[number - 1]}", shared = "BOX" }}']
    return run(f"W{number}", "S1.M", *head, *[step("two", "5 m", name) for name in boxes])


def test_a_lead_goes_from_the_stage_box_to_what_plays_beside_it():
    text = unit("S1") + box("M1", more=LEFT) + box("M2", more=LEFT) + on_stage(1, "M1") + on_stage(2, "M2")
    socket = 'M = { 1 = "1", 2 = "2", 3 = "3" }, A = { 1 = "1", 2 = "2" }, B'
    show = show_of(text, MODELS.replace('A = { 1 = "1", 2 = "2" }, B', socket, 1))
    found = fail_over(show, ["S1.1"])
    sound(show, found)
    [move] = found.moves
    assert move.plug == ("BOX socket A", "the link socket of M2")
    assert put_back(found.show, "S1.1") == show


Y_LEAD = """[[panels]]
id = "y-lead"
sockets = { A = { 1 = "1", 2 = "2" }, B = { 1 = "1", 2 = "2" } }
[[stock]]
model = "y-lead"
owned = OWNED
"""


@pytest.mark.parametrize(("owned", "still"), [(1, []), (0, ["M1"])])
def test_two_plugs_share_a_connector_by_a_y_lead_of_the_stock(owned, still):
    show = ONE_AMP + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2") + Y_LEAD.replace("OWNED", str(owned))
    found = plan(show, "S1.1", links=False)
    assert silent(found) == still
    if owned:
        [move] = found.moves
        assert move.plug == ("S1.A", "a Y-lead in S1.B")
        assert "plug the Y-lead in there, with W2 in it, and W1 beside" in move.steps[-2].says
        assert "pull the Y-lead out of S1.B" in str(way_back(found.show, "S1.1").moves)


def test_the_back_of_a_rack_as_built_is_used_where_a_channel_is_not_wired():
    found = fail_over(SAMPLES["open_air"], ["FX.5"])
    [move] = found.moves
    assert move.plug == ("FX.M", "LEFT-1.B")
    assert "LEFT-1.B at the back of the rack is free, since the rack's own wires may be in it" in move.steps[1].says
    assert {step.at for step in move.steps if step.do == "mute"} == {"LEFT-1.4", "LEFT-1.3"}


def test_subs_without_their_processor_play_from_a_desk_output_of_their_own():
    dsp = unit("DP", "dsp", '{ 1 = "Sub", 2 = "L" }', 'routes = { 1 = "1", 2 = "2" }')
    amps = unit("S1", "plain", '{ 1 = "DP.1" }') + unit("S2", "plain", '{ 1 = "DP.2" }')
    boxes = box("U1", "subs", "sub", LEFT) + box("M1", more=LEFT)
    found = plan(dsp + amps + boxes + wire("W1", "S1.A", "U1") + wire("W2", "S2.A", "M1"), "DP")
    assert silent(found) == []
    says = " ".join(step.says for move in found.moves for step in move.steps)
    assert "high-pass 'Sub' at 30 Hz there, and turn 'Sub' 10 dB down" in says
    # Where the tops hear the same signal, no low-pass may be put on it: another output of the desk has to carry it.
    shared = dsp.replace('1 = "Sub", 2 = "L"', '1 = "L", 2 = "L"')
    text = shared + amps + boxes + wire("W1", "S1.A", "U1") + wire("W2", "S2.A", "M1")
    show = losing_show(text.replace('zone = "subs"', 'zone = "subs"\n'))
    zones = tuple(
        msgspec.structs.replace(zone, signals={"left": "L"}) if zone.id == "subs" else zone for zone in show.zones
    )
    found = fail_over(msgspec.structs.replace(show, zones=zones), ["DP"])
    assert silent(found) == []
    [move] = [move for move in found.moves if "W1" in move.runs]
    assert [(step.do, step.value) for step in move.steps if step.do == "patch"] == [
        ("patch", "L for subs+L"), ("patch", "L for subs"),
    ]  # fmt: skip
