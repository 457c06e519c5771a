"""What comes first in a plan: priorities, sides, cable for the whole show, and what is said when something is short."""

import itertools
from pathlib import Path

import msgspec
import pytest
from plan_checker import faults
from planned_shows import CABLES, SPEAKERS, amplifier, box, read, stock
from test_planning_assign import alike, read_with_distance, small

from fieldkit.planning.assign.goals import AIMS
from fieldkit.planning.assign.plan import assign
from fieldkit.reports.proposals import first_lines

DEVELOPERS = Path(__file__).parents[1] / "DEVELOPERS.md"


def zones(*lines):
    return "".join(f'[[zones]]\nid = "{name}"\n{more}\n' for name, more in lines)


SIDED = 'signals = { left = "L", right = "R" }'


def three_pairs(mains="", delay="", foyer=""):
    """Three pairs of two-way boxes, the mains bi-amp, and one amplifier of four channels."""
    text = SPEAKERS + CABLES + amplifier("four") + stock("four", 1)
    text += zones(("delay", f"{delay}\n{SIDED}"), ("foyer", f"{foyer}\n{SIDED}"), ("mains", f"{mains}\n{SIDED}"))
    for zone in ("delay", "foyer", "mains"):
        drive = "bi-amp" if zone == "mains" else "passive"
        text += "".join(box(f"{zone}-{side}", "top", zone, side, drive) for side in ("left", "right"))
    return read(text)


def test_what_comes_first_by_priority_is_driven_before_more_boxes_of_a_later_one():
    # Own, by hand: bi-amp mains take all four channels, and two boxes play; delay and foyer take two, and four play.
    proposal = assign(three_pairs("priority = 1", "priority = 9", "priority = 9"))
    assert {move.zone for move in proposal.moves} == {"mains"}
    assert proposal.undriven == ("delay-left", "delay-right", "foyer-left", "foyer-right")
    turned = assign(three_pairs("priority = 9", "priority = 1", "priority = 1"))
    assert {move.zone for move in turned.moves} == {"delay", "foyer"}


def test_where_no_priority_is_set_mains_come_first_and_the_order_is_said_as_guessed():
    proposal = assign(three_pairs())
    assert {move.zone for move in proposal.moves} == {"mains"}
    [note] = [note for note in proposal.notes if "no priority is set" in note]
    assert "guessed: mains (mains), then delay (delay), then foyer (foyer)" in note
    assert not any("no priority" in note for note in assign(small(alike(2), {"four": 1})).notes)


def test_sides_of_the_first_priority_are_kept_apart_before_those_of_a_later_one():
    # Own, by hand: two amplifiers of two outputs each, four boxes: each amplifier takes one side of both zones.
    text = SPEAKERS + CABLES + amplifier("two") + stock("two", 2)
    text += zones(("fill", f"priority = 3\n{SIDED}"), ("mains", f"priority = 1\n{SIDED}"))
    text += "".join(
        box(f"{zone}-{side}", "top", zone, side) for zone in ("fill", "mains") for side in ("left", "right")
    )
    proposal = assign(read(text))
    used = {move.box: move.outputs[0].partition(".")[0] for move in proposal.moves}
    assert used["mains-left"] != used["mains-right"]
    assert used["fill-left"] != used["fill-right"]


@pytest.mark.parametrize("mains", [1, 2])
def test_the_first_line_is_whole_at_80_columns(mains):
    lines = list(first_lines(assign(three_pairs(f"priority = {mains}"))))
    assert len(lines[0]) <= 80
    assert lines[0].startswith("2 rack units, 4 boxes left silent")
    assert lines[1] == "silent: delay-left, delay-right, foyer-left, foyer-right"


# --- Cable for the whole show. ---


def lengths(proposal):
    return {
        step.box or run.path[-1].box: [str(one.length) for one in run.path if one.length]
        for run in proposal.show.runs
        for step in run.path[-1:]
    }


def test_a_length_that_one_place_needs_is_left_for_it():
    # Own, by hand: 9 m and 10 m of way, one lead of 10 m and one of 25 m in the truck. The short one fits both.
    text = SPEAKERS + CABLES + amplifier("four") + stock("four", 1)
    text += stock("two-core", 2, "10 m") + stock("two-core", 1, "25 m") + stock("two-core", 1, "20 m")
    text += zones(
        ("a", 'distance = "18 m"'), ("b", 'distance = "10 m"'), ("c", 'distance = "9 m"'), ("d", 'distance = "22 m"')
    )
    text += "".join(box(f"B{zone}", "sub", zone) for zone in "abcd")
    proposal = assign(read(text))
    assert proposal.short == ()
    assert lengths(proposal) == {"Ba": ["20 m"], "Bb": ["10 m"], "Bc": ["10 m"], "Bd": ["25 m"]}


COUPLER = '[[adaptors]]\nid = "coupler"\nconnectors = ["4-pole", "4-pole"]\n'


@pytest.mark.parametrize("couplers", [0, 1])
def test_two_pieces_are_joined_where_none_reaches_and_a_coupler_is_there(couplers):
    more = COUPLER + stock("coupler", couplers) + stock("two-core", 1, "25 m") + stock("two-core", 1, "10 m")
    proposal = assign(read_with_distance(small(alike(1), {"four": 1}, more), "35 m"))
    assert (lengths(proposal)["B0"] == ["25 m", "10 m"]) == bool(couplers)
    assert ([item.what for item in proposal.short if "two-core" in item.says] == []) == bool(couplers)


def least_open(needs, pieces):
    """Own, by enumeration: the fewest gaps that stay open, over every way to deal the pieces out."""
    places = [*range(len(pieces)), *[None] * len(needs)]
    return min(
        sum(place is None or pieces[place] < need for need, place in zip(needs, way, strict=True))
        for way in itertools.permutations(places, len(needs))
    )


@pytest.mark.parametrize(
    ("needs", "pieces"),
    [((8, 14, 19), (10, 15, 20)), ((8, 14, 19), (10, 10, 20)), ((5, 5, 28), (30, 30, 6)), ((12, 12, 12), (10, 15, 30))],
)
def test_as_many_gaps_are_filled_as_an_enumeration_of_all_ways_fills(needs, pieces):
    text = SPEAKERS + CABLES + amplifier("four") + stock("four", 1)
    for length in set(pieces):
        text += stock("two-core", pieces.count(length), f"{length} m")
    for number, need in enumerate(needs):
        text += zones((f"Z{number}", f'distance = "{need} m"')) + box(f"B{number}", "sub", f"Z{number}")
    proposal = assign(read(text + COUPLER + stock("coupler", 0)))
    assert sum(item.count for item in proposal.short if " of two-core" in item.what) == least_open(needs, pieces)


HEAVY = """
[[loudspeakers]]
id = "heavy"
sections = [{ drive = "passive", section = "sub", impedance = "4 ohm", continuous = "700 W", presets = ["sub"] }]
presets = [{ id = "sub", uses = ["any"], high_pass = "30 Hz", low_pass = "100 Hz", limiter = "700 W" }]
"""


@pytest.mark.parametrize("crossings", [0, 1, 2])
def test_a_shortage_of_crossings_is_filled_as_far_as_it_goes(crossings):
    # Own, by hand: 4 ohm, so one sub on an output; one plug carries both channels of an amplifier, and what is on the
    # second one is reached by a crossing alone. Two amplifiers: two subs without any, and one more by each crossing.
    model = amplifier("two").replace(', B = { 1 = "2" }', "").replace("connectors_bridged", "#")
    text = SPEAKERS + HEAVY + CABLES + model + zones(("subs", SIDED)) + stock("two", 2) + stock("crossing", crossings)
    text += "".join(box(f"{side}{n}", "heavy", "subs", side) for side in ("left", "right") for n in range(2))
    show = read(text)
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    assert len(proposal.undriven) == 2 - crossings


# --- The goals, as DEVELOPERS lists them. ---


def test_the_goals_are_listed_for_contributors_as_the_code_has_them():
    rows = [f"| {number} | {aim.name} | {aim.counts} | {aim.why} |" for number, aim in enumerate(AIMS, 1)]
    assert "\n".join(rows) in DEVELOPERS.read_text(encoding="utf-8")
    assert len({aim.name for aim in AIMS}) == len(AIMS)


# --- What a plan says when it was stopped. ---


def test_a_stopped_search_has_no_negative_bound_and_hides_no_weak_box():
    show = small(alike(9), {"four": 2, "two": 2})
    for most in (0, 3, 8):
        calls = itertools.count()
        proposal = assign(show, cancelled=lambda calls=calls, most=most: next(calls) > most)
        assert proposal.proof.minimum_rack_units >= 0
        assert not proposal.proof.proved
        assert "stopped before it was proved" in proposal.proof.says
        assert (f", {len(proposal.weak)} weakly" in proposal.proof.says) == bool(proposal.weak)


def test_weak_boxes_are_named_in_the_first_lines():
    # Own, by hand: 100 W into 8 ohm are less than half of 300 W.
    model = amplifier("four").replace("700 W", "100 W").replace("1260 W", "180 W").replace("1609 W", "230 W")
    text = SPEAKERS + CABLES + model.replace("2380 W", "110 W") + stock("four", 1) + zones(("Z", ""))
    proposal = assign(read(text + box("B0", "top", "Z")))
    assert proposal.weak == ("B0",)
    assert "weak, less than half of their power: B0" in list(first_lines(proposal))
    assert msgspec.structs.asdict(proposal)["undriven"] == ()


# --- Processing. ---


def processed(signals, outputs):
    """A top and a sub on each side, amplifiers without presets, and one processor."""
    text = SPEAKERS + CABLES + amplifier("four", hosts=False) + stock("four", 2)
    text += f'[[processors]]\nid = "dsp"\ninputs = 4\noutputs = {outputs}\nhosts = {{ presets = ["any"] }}\n'
    text += '[[rack_units]]\nid = "DP"\nmodel = "dsp"\n'
    text += zones(("tops", f"priority = 1\n{signals}"), ("subs", f"priority = 2\n{signals}"))
    for zone, model in (("subs", "sub"), ("tops", "top")):
        text += "".join(box(f"{zone}-{side}", model, zone, side) for side in ("left", "right"))
    return read(text)


def processor_outputs(proposal):
    units = {unit.id: unit for unit in proposal.show.rack_units}
    return {
        move.box: units[output.partition(".")[0]].inputs.get(output.partition(".")[2])
        for move in proposal.moves
        for output in move.outputs
    }


@pytest.mark.parametrize("outputs", [2, 3, 4])
def test_sides_share_a_processor_output_only_where_no_other_is_free_and_it_is_said(outputs):
    # Own, by hand: one signal for both sides: two presets need two outputs, and each side its own takes four.
    proposal = assign(processed('signals = { left = "M", right = "M" }', outputs))
    used = processor_outputs(proposal)
    assert len(set(used.values())) == outputs
    shared = [note for note in proposal.notes if "share a processor output: no other is free" in note]
    assert len(shared) == 4 - outputs
    assert (used["tops-left"] == used["tops-right"]) == (outputs < 3)


def test_boxes_that_lose_their_preset_are_in_the_first_lines_with_what_to_hire():
    # Own, by hand: left and right are two signals: four outputs are needed, and there are two. Tops come first.
    proposal = assign(processed(SIDED, 2))
    assert {name for item in proposal.unprocessed for name in item.boxes} == {"subs-left", "subs-right"}
    lines = list(first_lines(proposal))
    assert "subs-left plays without preset 'sub': no processor output is left for it" in lines[1]
    assert any(line.startswith("hire 2 processor outputs with crossover and limiter") for line in lines[:4])
    assert processor_outputs(proposal)["tops-left"].startswith("DP.")


# --- As a technician would rig it: a plan made by hand first. ---


def test_a_club_is_rigged_as_a_hand_plan_has_it():
    # By hand: two bi-amp tops and two subs a side, linked, on an amplifier a side; four wedge mixes, an output each, in
    # the order of the stage on the third amplifier; two small fills together on what is free beside the left subs.
    text = SPEAKERS + CABLES + amplifier("four") + stock("four", 4)
    text += zones(("mains", SIDED), ("subs", SIDED), ("fill", ""))
    text += zones(("wedges", 'use = "wedge"\nsignals = { a = "M1", b = "M2", c = "M3", d = "M4" }'))
    for side in ("left", "right"):
        for number in range(2):
            text += box(f"M{side}{number}", "top", "mains", side, "bi-amp") + box(
                f"S{side}{number}", "sub", "subs", side
            )
    text += "".join(box(f"W{mix}", "top", "wedges", mix, "passive") for mix in "abcd")
    text += "".join(box(f"F{number}", "small", "fill") for number in range(2))
    proposal = assign(read(text))
    assert (proposal.rack_units, proposal.undriven) == (6, ())
    outputs = {move.box: move.outputs for move in proposal.moves}
    wedges = [outputs[f"W{mix}"][0] for mix in "abcd"]
    assert wedges == sorted(wedges)
    assert len({name.partition(".")[0] for name in wedges}) == 1
    assert len(set(wedges)) == 4
    assert outputs["F0"] == outputs["F1"]
    for left, right in (("Mleft0", "Mright0"), ("Sleft1", "Sright1")):
        units = [{name.partition(".")[0] for name in outputs[box]} for box in (left, right)]
        assert not units[0] & units[1]
        assert [name.partition(".")[2] for name in outputs[left]] == [name.partition(".")[2] for name in outputs[right]]


def test_a_delay_pair_is_not_on_one_output_beside_free_ones_where_that_loses_more():
    # Own, worked by hand: 40 m of 2.5 mm² are 0.64 ohm, 0.67 dB on 8 ohm, and 1.29 dB on two in parallel.
    text = SPEAKERS + CABLES.replace("4 mm²", "2.5 mm²") + amplifier("four")
    text += "".join(f'[[rack_units]]\nid = "A{number}"\nmodel = "four"\n' for number in (1, 2))
    text += zones(("delay", f'distance = "40 m"\n{SIDED}'))
    text += "".join(box(f"{side}{n}", "top", "delay", side, "passive") for side in ("left", "right") for n in range(2))
    proposal = assign(read(text))
    outputs = [move.outputs for move in proposal.moves]
    assert len(set(outputs)) == 4


@pytest.mark.parametrize(("said", "units"), [(True, 4), (False, 4), (False, 3)])
def test_a_new_amplifier_takes_the_gap_in_the_rack_of_its_side(said, units):
    # Own, by hand: an amplifier of two units a side carries two bi-amp tops, and the sub needs another one: two units
    # more fit a rack of four, whether or not somebody said where the first one sits, and none of three.
    text = SPEAKERS + CABLES + amplifier("two") + stock("two", 4) + zones(("tops", SIDED), ("subs", SIDED))
    for name, rack, side in (("A", "RL", "left"), ("B", "RR", "right")):
        text += f'[[racks]]\nid = "{rack}"\nside = "{side}"\nunits = {units}\n'
        text += f'[[rack_units]]\nid = "{name}"\nmodel = "two"\nrack = "{rack}"\n' + ("unit = 1\n" if said else "")
        text += "".join(box(f"T{side}{n}", "top", "tops", side, "bi-amp") for n in range(2))
        text += box(f"S{side}", "sub", "subs", side)
    units_there = {unit.id: unit for unit in assign(read(text)).show.rack_units if unit.id not in ("A", "B")}
    racks = sorted(str(unit.rack) for unit in units_there.values())
    assert racks == (["RL", "RR"] if units == 4 else ["LEFT", "RIGHT"])
    assert {unit.unit for unit in units_there.values()} == ({3} if said else {None} if units == 4 else {1})


# --- Cables within their current. ---


@pytest.mark.parametrize(("rated", "thick", "units"), [("18 A", "", 2), ("17 A", "", 4), ("17 A", "18 A", 2)])
def test_boxes_are_split_over_outputs_before_their_lead_carries_more_than_it_is_rated_for(rated, thick, units):
    # Own, worked by hand: 300 W through 8 ohm are 49.0 V; three in parallel behind 10 m of 4 mm² (0.1 ohm) take 17.7 A,
    # and two 11.9 A. Six boxes
    # are two outputs of three, or three of two: one amplifier of two outputs, or two of them.
    more = CABLES.split("[[adaptors]]")[0].replace('"two-core"', f'"thin"\ncurrent = "{rated}"')
    more = more.replace('"four-core"', f'"thick"\ncurrent = "{thick or rated}"')
    more += stock("thin", 9, "10 m") + stock("thin", 9, "2 m") + stock("thick", 2, "10 m") + stock("thick", 4, "2 m")
    show = read_with_distance(small([(f"B{n}", "top", "Z", "", "passive") for n in range(6)], {"two": 2}, more), "10 m")
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    assert proposal.rack_units == units
    assert not {finding.rule for finding in proposal.findings} & {"current-too-high"}
    hot = [other for other in proposal.alternatives if other.name == "hot cable"]
    assert [other.rack_units for other in hot] == ([2] if units == 4 else [])
    assert ("2 rack units if cables or plugs carry more" in proposal.proof.says) == bool(hot)
