"""Fail-over: what falls silent, the moves and their order, priorities, spares, and putting back."""

import itertools
import tomllib

import msgspec
import pytest
from budget import drawn, thoroughly, tries
from failing_rigs import MODELS, Replay, losing_show, unit
from hypothesis import given
from hypothesis import strategies as st
from rigs import box, run, step

from fieldkit import samples
from fieldkit.checks.checking import check
from fieldkit.planning.failover.fail_over import fail_over, failures_by_rack
from fieldkit.planning.failover.returning import moves_made, put_back, way_back
from fieldkit.rig.failures import failures_of, silenced
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.contents import all_units
from fieldkit.show.decoding import decode
from fieldkit.show.document import RackUnit
from fieldkit.show.edits import with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.opening import open_show
from fieldkit.show.references import problems
from fieldkit.show.writing import canonical

BI = 'drive = "bi-amp"\nside = "left"'
LEFT = 'side = "left"'


def wire(name, start, *boxes, cable="two", more=""):
    return run(name, start, *(step(cable, "5 m", item) for item in boxes), more=more)


def moved(found):
    """Say where each run went."""
    return {name: move.plug for move in found.moves for name in move.runs}


def silent(found):
    return sorted(item.box for item in found.stays_silent)


def plan(text, *names, links=True):
    """Plan for a loss, replay every step of the plan, and see that the show that comes out is sound."""
    show = losing_show(text, links=links)
    found = fail_over(show, names)
    sound(show, found)
    return found


def sound(show, found):
    replay = Replay(show, found).run_all()
    replay.assert_plugged_as_planned()
    replay.assert_set_as_planned()
    assert list(problems(found.show)) == []
    assert decode(tomllib.loads(canonical(found.show))) == found.show
    before = {item.rule for item in check(evaluate(show)) if item.severity == "error"}
    worse = [item for item in found.findings if item.severity == "error" and item.rule not in before]
    assert [item for item in worse if item.rule != "section-unfed"] == []
    # No plan moves a line that need not move: each that moved was silent, or is in the way of one that was.
    was, after = ({item.id: item.start for item in one.runs} for one in (show, found.show))
    failed = {item.line.partition("/")[0] for item in found.silent}
    for name, start in after.items():
        if start != was[name] and name not in failed:
            assert any(other != name and after[other] != was[other] for other in after)
    for item in reversed([one for one in found.show.failed if one.id in found.failed]):
        if len(found.failed) == 1 and not item.swapped:
            assert [move.plug for move in moves_made(found.show, item.id)] == [
                move.plug for move in found.moves if move.plug[0]
            ]
        way = way_back(found.show, item.id)
        if not item.swapped:
            back = msgspec.structs.replace(found, show=way.show, moves=way.moves, failed=())
            Replay(found.show, back).run_all().assert_plugged_as_planned()
        found = msgspec.structs.replace(found, show=way.show)
    assert evaluate(found.show).amplifiers == evaluate(show).amplifiers


TWO = unit("S1") + unit("S2")
ONE_LEFT = TWO + box("M1", more=LEFT) + wire("W1", "S1.A", "M1")


def test_a_free_output_of_the_plan_takes_the_line():
    found = plan(ONE_LEFT, "S1")
    assert moved(found) == {"W1": ("S1.A", "S2.A")}
    assert found.moves[0].says == "S1 out 1 → S2 out 1 (preset top full, full range: p-front)"
    assert [item.do for item in found.moves[0].steps] == ["mute", "load", "verify", "plug", "unmute"]
    assert found.stays_silent == ()
    assert [item.says for item in found.first] == [
        "S1: switch it off, and pull its mains: it must not come back by itself"
    ]


@pytest.mark.parametrize("lacking", ["mute", "load", "plug", "unmute"])
def test_a_plan_that_lacks_a_step_is_seen_to_lack_it(lacking):
    show = losing_show(ONE_LEFT)
    found = fail_over(show, ["S1"])
    (move,) = found.moves
    steps = tuple(step for step in move.steps if step.do != lacking)
    with pytest.raises(AssertionError):
        sound(show, msgspec.structs.replace(found, moves=(msgspec.structs.replace(move, steps=steps),)))


def test_the_preset_stands_before_the_plug_goes_in():
    steps = [item.do for item in plan(ONE_LEFT, "S1").moves[0].steps]
    assert (
        steps.index("mute") < steps.index("load") < steps.index("verify") < steps.index("plug") < steps.index("unmute")
    )


def test_nothing_moves_where_nothing_is_silent():
    found = plan(ONE_LEFT, "S2")
    assert found.moves == ()
    assert found.silent == ()
    assert [item.id for item in found.show.failed] == ["S2"]


def test_only_the_output_that_died_is_left():
    text = TWO + box("M1", more=LEFT) + box("M2", more=LEFT) + wire("W1", "S1.A", "M1") + wire("W2", "S1.C", "M2")
    found = plan(text, "S1.1")
    assert moved(found) == {"W1": ("S1.A", "S1.B")}  # its neighbour is free, on the same amplifier


def test_a_run_moves_whole_and_takes_both_its_outputs():
    text = TWO + box("M1", more=BI) + box("M2", more=LEFT)
    text += wire("W1", "S1.A", "M1", cable="four-core") + wire("W2", "S2.B", "M2")
    found = plan(text, "S1.2")
    assert moved(found) == {"W1": ("S1.A", "S1.C")}
    assert {(route.line, route.was, route.now) for route in found.moves[0].routes} == {
        ("W1/1", "S1.1", "S1.3"),
        ("W1/2", "S1.2", "S1.4"),
    }


def test_a_bi_amp_run_never_goes_where_its_second_pair_gets_something_else():
    text = unit("S1") + unit("S2") + box("M1", more=BI) + box("M2", more=LEFT) + box("M3", more=LEFT)
    text += wire("W1", "S1.A", "M1", cable="four-core") + wire("W2", "S2.B", "M2") + wire("W3", "S2.D", "M3")
    found = plan(text, "S1")
    # Both sockets with two pairs carry a channel that a line as important plays on: they move over, or it stays.
    assert moved(found).get("W1", ("", ""))[1] in {"", "S2.A", "S2.C"}


def test_what_is_left_on_an_output_is_loaded_before_it_is_unmuted_again():
    # An ill plan: output 4 has a high section and a whole box on it. When the high section goes, the other's preset comes.
    text = TWO + box("M1", more=BI) + box("M2", more=LEFT)
    text += wire("W1", "S2.C", "M1", cable="four-core") + wire("W2", "S2.D", "M2")
    steps = [(item.do, item.at, item.value) for item in plan(text, "S2.3").moves[0].steps]
    assert steps[-3:] == [("load", "S2.4", "top/p-front"), ("verify", "S2.4", ""), ("unmute", "S2.4", "")]


def test_the_first_priority_takes_the_place_of_the_last():
    text = unit("S1") + unit("S2", "plain", '{ 1 = "DP.1", 2 = "DP.2" }') + unit("DP", "dsp", '{ 1 = "L", 2 = "Mix" }')
    text += box("M1", more=LEFT) + box("F1", "fill", more=LEFT) + box("N1", "mon", more=LEFT)
    text += wire("W1", "S1.A", "M1") + wire("W2", "S2.A", "F1") + wire("W3", "S2.B", "N1")
    found = plan(text, "S1")
    assert moved(found) == {"W1": ("S1.A", "S2.B")}
    assert silent(found) == ["N1"]
    [why] = [item.why for item in found.stays_silent]
    assert "its output now serves mains (priority 1, against no priority set)" in why


def test_what_comes_first_is_never_touched_for_what_comes_after():
    text = unit("S1") + unit("S2", "plain", '{ 1 = "DP.1", 2 = "DP.1" }') + unit("DP", "dsp", '{ 1 = "L" }')
    text += box("F1", "fill", more=LEFT) + box("M1", more=LEFT) + box("M2", more=LEFT)
    text += wire("W1", "S1.A", "F1") + wire("W2", "S2.A", "M1") + wire("W3", "S2.B", "M2")
    found = plan(text, "S1")
    assert found.moves == ()
    assert silent(found) == ["F1"]


def test_a_line_that_gives_way_is_plugged_elsewhere_where_that_can_be():
    # The sub needs the bridged pair, and the fill on it can go to the plain amplifier.
    text = unit("S1", more='bridged = ["1+2"]', inputs='{ 1 = "Sub" }') + unit("S2") + unit("S3")
    text += box("B1", "subs", "sub", LEFT) + "".join(box(f"M{n}", more=LEFT) for n in range(1, 4))
    text += (
        box("F1", "fill", more=LEFT)
        + box("F2", "fill", more=LEFT)
        + box("F3", "fill", more=LEFT)
        + box("F4", "fill", more=LEFT)
    )
    text += wire("W1", "S1.A", "B1")
    text += wire("W2", "S2.A", "M1") + wire("W3", "S2.B", "M2") + wire("W4", "S2.C", "M3") + wire("W5", "S2.D", "F1")
    text += wire("W6", "S3.A", "F2") + wire("W7", "S3.B", "F3") + wire("W8", "S3.C", "F4")
    found = plan(text, "S1")
    assert "W1" in moved(found)
    assert len(silent(found)) <= 1


def test_two_lines_may_share_an_output_that_bears_both():
    text = unit("S1") + unit("S2") + "".join(box(f"M{n}", more=LEFT) for n in range(1, 6))
    text += wire("W1", "S1.A", "M1") + wire("W2", "S2.A", "M2", cable="four-core") + wire("W4", "S2.C", "M4")
    text += wire("W5", "S2.D", "M5")
    found = plan(text, "S1")
    assert moved(found) == {"W1": ("S1.A", "S2.B")}
    # Now channel 2 plays as well, on the same socket: two boxes of 8 ohm are its minimum load of 4.
    low = text.replace("box = 'M2'", "box = 'M2'")
    assert low == text


def test_a_spare_from_the_stock_is_brought_in_and_goes_home():
    text = unit("S1") + box("M1", more=LEFT) + wire("W1", "S1.A", "M1")
    text += '[[stock]]\nmodel = "four"\nowned = 2\n'
    found = plan(text, "S1")
    assert moved(found) == {"W1": ("S1.A", "SPARE-1.A")}
    assert found.moves[0].steps[0].do == "bring"
    back = put_back(found.show, "S1")
    assert [item.id for item in back.rack_units] == ["S1"]
    assert back == losing_show(text)


def test_a_free_output_comes_before_a_spare_from_the_truck():
    found = plan(ONE_LEFT + '[[stock]]\nmodel = "four"\nowned = 5\n', "S1")
    assert moved(found) == {"W1": ("S1.A", "S2.A")}


def test_a_spare_that_is_out_of_service_is_no_spare():
    text = (
        unit("S1") + box("M1", more=LEFT) + wire("W1", "S1.A", "M1") + '[[stock]]\nmodel = "four"\nowned = 2\nout = 1\n'
    )
    assert silent(plan(text, "S1")) == ["M1"]


def test_a_free_pair_is_bridged_for_a_sub():
    text = unit("S1", more='bridged = ["1+2"]', inputs='{ 1 = "Sub" }') + unit("S2") + box("B1", "subs", "sub", LEFT)
    text += wire("W1", "S1.A", "B1")
    found = plan(text, "S1")
    steps = [(item.do, item.at, item.value) for item in found.moves[0].steps]
    assert ("set", "S2.1+2", "bridged") in steps or ("set", "S2.3+4", "bridged") in steps
    assert found.show.rack_units[1].bridged != ()


def test_no_sub_is_left_silent_because_nothing_can_be_bridged():
    text = unit("S1", more='bridged = ["1+2"]', inputs='{ 1 = "Sub" }') + unit("S2") + box("B1", "subs", "sub", LEFT)
    text += box("M1", more=LEFT) + box("M2", more=LEFT) + wire("W1", "S1.A", "B1")
    text += wire("W2", "S2.A", "M1") + wire("W3", "S2.C", "M2")
    found = plan(text, "S1")
    assert moved(found)["W1"][1] in {"S2.B", "S2.D"}  # half the volts are better than none


def test_a_processor_output_has_others_beside_it():
    text = unit("S1", "plain", '{ 1 = "DP.1", 2 = "=1" }') + unit("DP", "dsp", '{ 1 = "L" }')
    text += box("M1", more=LEFT) + box("M2", more=LEFT) + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2")
    found = plan(text, "DP.1")
    assert {item.load.box.id for item in found.silent} == {"M1", "M2"}
    assert "is linked to input 1, which gets DP.1" in found.silent[1].because
    assert found.show.rack_units[0].inputs == {"1": "DP.2", "2": "=1"}
    assert moved(found) == {"W1": ("S1.A", "S1.A"), "W2": ("S1.B", "S1.B")}


def test_behind_a_processor_that_others_hear_no_output_with_more_gain_is_used():
    text = (
        unit("S1", "plain", '{ 1 = "DP.1", 2 = "DP.1" }') + unit("S2", "hot", "{}") + unit("DP", "dsp", '{ 1 = "L" }')
    )
    text += box("M1", more=LEFT) + box("M2", more=LEFT) + wire("W1", "S1.A", "M1") + wire("W2", "S1.B", "M2")
    found = plan(text, "S1.1", links=False)
    # The hot amplifier has 8 dB more gain behind the same limiter: M1 would get six times its power.
    assert moved(found) == {}
    assert silent(found) == ["M1"]
    # Where the boxes can be linked, it plays on behind the other one.
    assert moved(plan(text, "S1.1")) == {"W1": ("S1.A", "the link socket of M2")}
    both = plan(text, "S1")  # now nothing else hears DP.1, and its limiter can be set for the new gain
    assert set(moved(both)) == {"W1", "W2"}
    [load] = [item for move in both.moves for item in move.steps if item.do == "load"]
    assert load.at == "DP.1"
    assert load.input_dbu == pytest.approx(evaluate(losing_show(text)).output("S1.1").limiter.input_dbu - 8.0)


def test_a_processor_is_swapped_for_its_spare():
    text = unit("S1", "plain", '{ 1 = "DP.1", 2 = "DP.2" }') + unit("DP", "dsp", '{ 1 = "L" }') + box("M1", more=LEFT)
    text += wire("W1", "S1.A", "M1") + '[[stock]]\nmodel = "dsp"\nowned = 2\n'
    found = plan(text, "DP")
    assert [item.says for item in found.moves] == ["DP → a spare dsp in its place, set as it was"]
    assert found.stays_silent == ()
    assert found.show.failed[0].swapped


def test_a_box_is_swapped_where_the_stock_has_one():
    text = ONE_LEFT + '[[stock]]\nmodel = "top"\nowned = '
    assert silent(plan(text + "1\n", "M1")) == ["M1"]
    found = plan(text + "2\n", "M1")
    assert silent(found) == []
    assert [item.do for item in found.moves[0].steps] == ["mute", "bring", "plug", "unmute"]


def test_a_supply_takes_all_that_hangs_on_it():
    supply = 'supply = "X1"'
    text = '[[supplies]]\nid = "X1"\nvolts = "230 V"\nrating = "16 A"\n' + unit("S1", more=supply) + unit("S2")
    text += box("M1", more=LEFT) + wire("W1", "S1.A", "M1")
    found = plan(text, "X1")
    assert moved(found) == {"W1": ("S1.A", "S2.A")}
    assert "S1 is fed from X1, which has failed" in found.silent[0].because
    assert "electrician" in found.first[0].says


def test_a_lost_supply_takes_the_supplies_below_it():
    text = ONE_LEFT.replace('id = "S1"', 'id = "S1"\nsupply = "X2"')
    for name, more in (("X2", 'fed_from = "X1"'), ("X1", 'fed_from = "X0"'), ("X0", ""), ("Y", 'fed_from = "X0"')):
        text += f'[[supplies]]\nid = "{name}"\nvolts = "230 V"\nrating = "16 A"\n{more}\n'
    found = plan(text, "X0")
    assert moved(found) == {"W1": ("S1.A", "S2.A")}
    assert found.silent[0].because == "S1 is fed from X2, fed from X1, fed from X0, which has failed"
    assert "switch off S1" in found.first[0].says
    assert plan(text, "Y").silent == ()


def test_without_its_generator_a_show_is_silent():
    found = fail_over(open_show("sample_shows/open_air.toml").show, ["GEN"])
    assert len({item.load.box.id for item in found.silent}) == len(found.show.boxes)


def test_a_multicore_moves_as_one_plug():
    shared = '{ cable = "eight-core", length = "10 m", shared = "M" }'
    text = unit("S1") + unit("S2") + box("M1", more=LEFT) + box("M2", more=LEFT)
    for number, socket in enumerate("AB", 1):
        out = f'{{ panel = "breakout", socket = "{socket}", shared = "P" }}'
        text += run(
            f"W{number}",
            "S1.A",
            shared,
            out,
            step("two", "2 m", f"M{number}"),
            more=f'feeds = {{ {number} = "S1.{number}" }}',
        )
    found = plan(text, "S1")
    assert found.moves[0].runs == ("W1", "W2")
    assert moved(found)["W1"] == moved(found)["W2"]


def test_the_least_load_holds_where_lines_would_share():
    text = unit("S1") + unit("S2", inputs='{ 1 = "L", 2 = "L", 3 = "Mix", 4 = "Mix" }')
    text += "".join(box(f"M{n}", more=LEFT) for n in range(1, 7))
    text += wire("W1", "S1.A", "M1", "M2") + wire("W2", "S2.A", "M3") + wire("W3", "S2.B", "M4", "M5")
    text += wire("W4", "S2.C", "M6")
    found = plan(text, "S1")
    rig = evaluate(found.show)
    assert all(out.load_ohm is None or out.load_ohm > 3.9 for out in rig.outputs if out.output.unit.id == "S2")


@pytest.mark.parametrize(
    ("name", "says"),
    [("S9", "no amplifier, processor, supply or box 'S9'; "), ("S1.9", "'S1' has outputs 1 to 4, got 'S1.9'"),
     ("S9.1", "no amplifier or processor 'S9'"), ("", "no amplifier, processor, supply or box ''"), ("S1.1+2+3", "has outputs 1 to 4"),
     ("[bold]", "no amplifier, processor, supply or box '[bold]'"), ("W1", "no amplifier, processor, supply or box 'W1'")],
)  # fmt: skip
def test_what_is_no_loss_is_refused(name, says):
    with pytest.raises(DocumentError) as error:
        fail_over(losing_show(ONE_LEFT), [name])
    assert says in str(error.value)


def test_two_losses_one_after_the_other_are_put_back_in_any_order():
    text = unit("S1") + unit("S2") + unit("S3") + box("M1", more=LEFT) + wire("W1", "S1.A", "M1")
    show = losing_show(text)
    first = fail_over(show, ["S1"])
    second = fail_over(first.show, ["S2"])
    assert moved(second) == {"W1": ("S2.A", "S3.A")}
    assert put_back(put_back(second.show, "S2"), "S1") == show
    assert put_back(put_back(second.show, "S1"), "S2") == show


def test_what_stands_in_the_way_of_putting_back_is_said():
    found = fail_over(losing_show(ONE_LEFT), ["S1"])
    squatter = losing_show(ONE_LEFT + box("M9", more=LEFT) + wire("W9", "S1.A", "M9"))
    show = msgspec.structs.replace(found.show, boxes=squatter.boxes, runs=(*found.show.runs, squatter.runs[-1]))
    with pytest.raises(DocumentError, match=r"W9 is in S1\.A, where W1 was"):
        put_back(show, "S1")
    with pytest.raises(DocumentError, match="'S2' has not failed; failed is S1"):
        put_back(found.show, "S2")


# ---- the sample shows ------------------------------------------------------------------------------------------------


def sample_units():
    for name in samples.names():
        show = open_show(samples.folder() / f"{name}.toml").show
        for item in all_units(show):
            yield pytest.param(show, item.id, id=f"{name}-{item.id}")


@pytest.mark.parametrize(("show", "name"), drawn(sample_units(), 8))
def test_each_unit_of_each_sample(show, name):
    found = fail_over(show, [name])
    sound(show, found)
    assert found.proved
    if name in thoroughly(all_units(show)[0].id, more=[item.id for item in all_units(show)]):
        again = fail_over(show, [name])
        assert msgspec.structs.replace(again, rig=found.rig) == found


@pytest.mark.parametrize("name", drawn(samples.names(), 2))
def test_each_sample_with_a_spare_of_each_amplifier(name):
    show = open_show(samples.folder() / f"{name}.toml").show
    more = tuple(
        msgspec.structs.replace(item, owned=item.owned + 2)
        for item in show.stock
        if item.model in {amp.id for amp in show.amplifiers}
    )
    show = msgspec.structs.replace(show, stock=more)
    spared = {amp.id for amp in show.amplifiers} & {one.model for one in more}
    first, *others = [item.id for item in all_units(show) if item.model in spared]
    for unit_name in thoroughly(first, *others[-1:], more=others[:-1]):
        sound(show, fail_over(show, [unit_name]))


def test_a_page_for_each_rack():
    pages = failures_by_rack(HALF)
    assert list(pages) == ["R"]
    assert [found.failed for found in pages["R"]] == [(item.id,) for item in all_units(HALF)]


# ---- against trying everything ---------------------------------------------------------------------------------------

ZONES = {"mains": 1, "subs": 2, "fill": 3, "mon": None}
ORDER = ["mains", "subs", "fill", "mon"]


def small_show(zones, free, dead_count):
    """Make a show of plain two-channel amplifiers, one box a run: the first ``dead_count`` runs are on ``DEAD``."""
    sockets = [f"{name}.{letter}" for name in ("DEAD", "S2", "S3") for letter in "AB"]
    text = "".join(unit(name, "plain", "{}") for name in ("DEAD", "S2", "S3"))
    places = [*sockets[:dead_count], *[item for item in sockets[2:] if item not in free]]
    for number, (zone, place) in enumerate(zip(zones, places, strict=False)):
        model = "top"
        text += box(f"B{number}", zone, model) + wire(f"W{number}", place, f"B{number}")
    return losing_show(text, links=False), sockets[2:]


def score(zones, starts, was):
    """Count what is silent by priority, and the moves."""
    failed = [sum(zone == which and not start for zone, start in zip(zones, starts, strict=True)) for which in ORDER]
    return [*failed, sum(start != old for start, old in zip(starts, was, strict=True))]


def best_by_trying(zones, was, alive, failed):
    """Try every way to plug: nothing of it shares code with the search."""
    rank = {zone: place for place, zone in enumerate(ORDER)}
    best = None
    for starts in itertools.product(*[[start, "", *alive] for start in was]):
        plugged = [start for start in starts if start]
        if len(set(plugged)) != len(plugged):
            continue
        holders = {start: number for number, start in enumerate(starts) if start in alive}
        fair = all(
            starts[number] == was[number]
            or number in failed
            or (was[number] in holders and rank[zones[holders[was[number]]]] <= rank[zones[number]]
                and (starts[number] or rank[zones[holders[was[number]]]] < rank[zones[number]]))
            for number in range(len(was))
        )  # fmt: skip
        if not fair:
            continue
        sounding = ["" if start.startswith("DEAD") else start for start in starts]
        lacking = score(zones, sounding, was)[:-1]
        moves = sum(start != old for start, old in zip(starts, was, strict=True))
        if best is None or [*lacking, moves] < best:
            best = [*lacking, moves]
    return best


@tries(10)
@given(
    st.lists(st.sampled_from(ORDER), min_size=2, max_size=6),
    st.sets(st.sampled_from(["S2.A", "S2.B", "S3.A", "S3.B"]), max_size=3),
    st.integers(1, 2),
)
def test_nothing_better_is_found_by_trying_everything(zones, free, dead_count):
    show, alive = small_show(zones, free, dead_count)
    zones = zones[: len(show.runs)]
    was = [item.start for item in show.runs]
    failed = {number for number, start in enumerate(was) if start.startswith("DEAD")}
    found = fail_over(show, ["DEAD"])
    starts = [item.start for item in found.show.runs]
    sounding = ["" if start.startswith("DEAD") else start for start in starts]
    got = [*score(zones, sounding, was)[:-1], sum(start != old for start, old in zip(starts, was, strict=True))]
    assert found.proved
    assert got == best_by_trying(zones, was, alive, failed)
    sound(show, found)


def test_a_pair_is_bridged_again_with_nothing_plugged_into_it():
    linked = '{ 1 = "L", 2 = "=1", 3 = "=1", 4 = "=2" }'
    text = unit("S1", "four", linked, "")
    text += unit("S2", "four", '{ 1 = "L", 2 = "=1", 3 = "R", 4 = "=3" }', 'bridged = ["1+2"]')
    text += unit("S3", "four", linked, 'bridged = ["1+2", "3+4"]')
    text += box("B1a", "mains", "top", LEFT) + box("B2a", "mains", "top", BI)
    show = losing_show(text + wire("W1", "S1.D", "B1a", cable="two") + wire("W2", "S2.C", "B2a", cable="four-core"))
    sound(show, fail_over(show, ["S2.3"]))


def test_an_output_stays_muted_until_all_that_comes_onto_it_is_plugged():
    inputs = '{ 1 = "L", 2 = "=1", 3 = "R", 4 = "=3" }'
    text = "".join(unit(name, "four", inputs, "") for name in ("S1", "S2", "S3"))
    text += box("B1a", "mains", "top", BI) + box("B2a", "mains", "top", LEFT)
    show = losing_show(text + wire("W1", "S2.C", "B1a", cable="four-core") + wire("W2", "S2.D", "B2a", cable="two"))
    sound(show, fail_over(show, ["S2"]))


@tries(10)
@given(st.data())
def test_any_rig_gets_over_any_loss_safely(data):
    """Random rigs of hosting amplifiers, passive, bi-amp and bridged lines, two signals: every step is replayed."""
    names = ["S1", "S2", "S3"]
    text, sockets = "", []
    for name in names:
        bridged = data.draw(st.sampled_from(["", 'bridged = ["1+2"]', 'bridged = ["1+2", "3+4"]']))
        inputs = data.draw(
            st.sampled_from(
                [
                    '{ 1 = "L", 2 = "=1", 3 = "R", 4 = "=3" }',
                    '{ 1 = "L", 2 = "=1", 3 = "=1", 4 = "=2" }',
                    '{ 1 = "L", 2 = "R" }',
                ]
            )
        )
        text += unit(name, "four", inputs, bridged)
        sockets += [(f"{name}.{letter}", bridged) for letter in "ABCD"]
    number = 0
    for socket, bridged in sockets:
        kind = data.draw(st.sampled_from(["none", "top", "bi-amp", "sub", "two"]))
        pair = "1+2" if socket[-1] in "AB" else "3+4"
        if (
            kind == "none"
            or (pair in bridged and kind != "sub")
            or (socket[-1] in "BD" and (kind == "bi-amp" or pair in bridged))
        ):
            continue
        number += 1
        zone = "subs" if kind == "sub" else data.draw(st.sampled_from(["mains", "fill", "mon"]))
        boxes = [f"B{number}a", f"B{number}b"] if kind == "two" else [f"B{number}a"]
        for name in boxes:
            text += box(name, zone, "sub" if kind == "sub" else "top", BI if kind == "bi-amp" else LEFT)
        text += wire(f"W{number}", socket, *boxes, cable="four-core" if kind == "bi-amp" else "two")
    show = losing_show(text)
    failed = data.draw(st.sampled_from(["S1", "S2", "S1.1", "S2.3", "S3.4"]))
    sound(show, fail_over(show, [failed]))


@tries(6)
@given(st.lists(st.sampled_from(ORDER), min_size=2, max_size=6), st.sets(st.sampled_from(["S2.A", "S3.B"]), max_size=2))
def test_more_spares_never_leave_more_silent(zones, free):
    show, _ = small_show(zones, free, 2)
    stock = decode(tomllib.loads(MODELS + '[[stock]]\nmodel = "plain"\nowned = 4\n')).stock
    rich = msgspec.structs.replace(show, stock=stock)
    without, with_spare = fail_over(show, ["DEAD"]), fail_over(rich, ["DEAD"])
    assert len(with_spare.stays_silent) <= len(without.stays_silent)
    assert with_spare.stays_silent == ()


def test_what_is_silent_is_what_the_losses_say():
    show = losing_show(ONE_LEFT)
    rig = evaluate(show)
    assert silenced(rig, failures_of(show, rig.show_index.units, [])) == ()
    assert [item.load.box.id for item in silenced(rig, failures_of(show, rig.show_index.units, ["S1"]))] == ["M1"]


# ---- processors -------------------------------------------------------------------------------------------------------

MUSICAL = open_show("sample_shows/school_musical.toml").show
HALF = msgspec.structs.replace(
    MUSICAL,
    runs=tuple(run for run in MUSICAL.runs if run.id not in {"W2", "W4", "W6"}),
    boxes=tuple(box for box in MUSICAL.boxes if box.id not in {"S1", "S2", "T1", "T2", "SUBE"}),
)
"""Half of the round and a sub less: every zone and signal is there still, and a plan takes a third of the time."""


def with_second_processor(**values):
    """Give half of the musical with another processor of its kind in the rack, patched as told."""
    second = RackUnit(id="DQ", model="processor-four-by-eight", rack="R", supply="WALL-2", **values)
    stock = tuple(msgspec.structs.replace(item, owned=2) if item.model == second.model else item for item in HALF.stock)
    return msgspec.structs.replace(with_thing(HALF, "rack_units", second), stock=stock)


def test_a_dead_processor_output_is_replaced_by_a_free_one_that_gets_its_signal():
    found = fail_over(MUSICAL, ["DP.3"])
    sound(MUSICAL, found)
    unit = next(unit for unit in found.show.rack_units if unit.id == "DP")
    # DP.7 feeds the self-powered box of the green room and is not free; the fills get 'Voices', input 2.
    assert found.rig.output("A4.1").source == "DP.8"
    assert unit.routes["8"] == "2"
    assert [step.says for move in found.moves for step in move.steps if step.do == "route"] == [
        "lead input 2 of DP, and nothing else, to its output 8"
    ]
    assert not [item for item in found.findings if item.rule == "wrong-signal"]
    assert put_back(found.show, "DP.3") == MUSICAL


@pytest.mark.parametrize("inputs", [{}, {"1": "Voices"}, {"4": "Show"}])
def test_another_processor_takes_over_with_the_signals_that_it_needs(inputs):
    show = with_second_processor(inputs=inputs)
    found = fail_over(show, ["DP"])
    sound(show, found)
    # The self-powered box of the green room is no loudspeaker line: it gets an output of the other processor too.
    assert found.stays_silent == ()
    assert [item.box for item in found.powered] == ["GR"]
    assert next(box.input for box in found.show.boxes if box.id == "GR").startswith("DQ.")
    paths = {path.to: path for path in signal_paths(found.rig)}
    for output in found.rig.outputs:
        if output.loads:
            assert output.source.startswith("DQ.")
            assert paths[output.output.id].signals == paths[output.output.id].wanted
    new = {unit.id: unit.inputs for unit in found.show.rack_units}["DQ"]
    assert set(new.values()) == {"Show", "Voices", "Mix 1", "Mix 2"}
    assert {entry: new[entry] for entry in inputs} == inputs  # what is patched there stays
    back = way_back(found.show, "DP")
    assert back.show == show
    taken_out = [step.at for move in back.moves for step in move.steps if step.do == "patch" and not step.value]
    assert set(taken_out) == {f"DQ.{entry}" for entry in new if entry not in inputs}


def test_without_inputs_for_their_signals_passive_boxes_come_from_the_desk_and_low():
    """Two inputs are left for four signals: the round gets a processor, and the wedges, of which one joins the other."""
    show = with_second_processor(inputs={"1": "Other", "2": "Another"})
    found = fail_over(show, ["DP"])
    sound(show, found)
    assert found.stays_silent == ()
    from_desk = [step for move in found.moves for step in move.steps if step.says.startswith("at the desk: ")]
    assert [step.at for step in from_desk] == ["A4.1"]
    assert all("10 dB down" in step.says and "no limiter" in step.says for step in from_desk)


def test_subs_that_hear_what_the_tops_hear_get_an_output_of_the_desk_of_their_own():
    found = fail_over(MUSICAL, ["DP"])
    sound(MUSICAL, found)
    assert silent(found) == []
    says = " ".join(step.says for move in found.moves for step in move.steps)
    assert "high-pass 'Show' at 95 Hz" in says
    assert "send Show to an output that is free too, from now on 'Show for subs'" in says
    assert "high-pass 'Show for subs' at 32 Hz and low-pass it at 95 Hz there" in says
    [price] = {move.price for move in found.moves if "subs" in move.says}
    assert price[2] == "without one, 'Show' itself will do: the subs then play what the tops play, and no lower"
    assert not [item for item in found.findings if item.rule == "wrong-signal"]
    way = way_back(found.show, "DP")
    assert way.show == MUSICAL
    assert [step.value for step in way.moves[-1].steps if step.do == "patch"] == [
        "Show",
        "Show",
        "Voices",
        "Mix 1",
        "Mix 2",
    ]


def test_a_self_powered_box_gets_the_next_output_of_its_processor_and_its_own_back():
    found = fail_over(MUSICAL, ["DP.7"])
    sound(MUSICAL, found)
    assert [move.says for move in found.moves] == ["DP out 7 → DP out 8 for GR"]
    assert put_back(found.show, "DP.7") == MUSICAL


def test_a_side_that_lives_carries_the_sum_until_the_other_is_back():
    show = open_show("sample_shows/open_air.toml").show
    unlinked = tuple(msgspec.structs.replace(model, connectors=1) for model in show.loudspeakers)
    found = fail_over(msgspec.structs.replace(show, loudspeakers=unlinked), ["LEFT-1"])
    assert [move.says for move in found.moves] == ["mono: R and L into mains right"]
    assert [move.says for move in way_back(found.show, "LEFT-1").moves] == ["no more mono: R and L into mains right"]


def test_the_channel_beside_it_on_the_same_socket_is_reached_by_an_adaptor():
    show = open_show("sample_shows/open_air.toml").show
    found = fail_over(show, ["DLY.1"])
    sound(show, found)
    assert moved(found) == {"W14": ("DLY.A", "DLY.A")}
    assert "through the adaptor pair-crossing" in found.moves[0].steps[-2].says


def test_nothing_is_muted_twice_and_each_plan_says_its_minutes():
    for name in ("DP", "A1", "A1.1", "WALL-2"):
        found = fail_over(HALF, [name])
        muted = [step.at for move in found.moves for step in move.steps if step.do == "mute"]
        assert len(muted) == len(set(muted))
        assert found.minutes >= sum(move.minutes for move in found.moves) > len(found.moves)


def test_where_no_priority_is_set_mains_come_before_fills_and_that_is_said():
    show = open_show("sample_shows/practice.toml").show
    found = fail_over(show, ["AMP-1"])
    assert silent(found) == ["F1", "F2", "F3"]
    assert found.guessed.startswith("mains (mains), then subs")


def test_an_input_that_leads_somewhere_is_not_used_for_another_signal():
    """Whatever is patched into input 1 there is heard at output 1, and that feeds nothing that was asked about."""
    show = with_second_processor(inputs={}, routes={"1": "1", "2": "2", "3": "3"})
    found = fail_over(show, ["DP"])
    sound(show, found)
    new = {unit.id: unit.inputs for unit in found.show.rack_units}["DQ"]
    assert set(new) == {"4"}


@pytest.mark.parametrize(
    ("failed", "says"),
    [
        ("DP.7", "GR gets DP.7: DP.7 has failed"),
        ("WALL-2", "GR is fed from WALL-2, which has failed"),
        ("GR", "GR has failed"),
    ],
)
def test_a_self_powered_box_falls_silent_too(failed, says):
    found = fail_over(MUSICAL, [failed])
    assert [item.box for item in found.powered] == ["GR"]
    assert found.powered[0].why.startswith(says)
    assert ("GR" in silent(found)) is (failed != "DP.7")


def test_what_feeds_no_self_powered_box_leaves_it_alone():
    assert fail_over(MUSICAL, ["A4"]).powered == ()


def test_an_output_patched_for_its_neighbour_s_sake_is_heard_only_when_its_signal_leads_there():
    """The mains on P2.2 come first; P2.1 is patched with it, to a free output that something else leads to."""
    text = unit("DP", "dsp", '{ 1 = "L", 2 = "Sub" }', 'routes = { 1 = "1", 2 = "2", 4 = "1" }')
    text += unit("DQ", "dsp", '{ 1 = "Mix", 2 = "L" }', 'routes = { 2 = "1" }')
    text += unit("P1", "plain", '{ 1 = "DP.4" }') + unit("P2", "plain", '{ 1 = "DP.1", 2 = "DP.4" }')
    text += box("M1", "mains", "top", LEFT) + box("F1", "fill", "top", LEFT) + box("M2", "mains", "top", LEFT)
    text += wire("W1", "P1.A", "M1") + wire("W2", "P2.A", "F1") + wire("W3", "P2.B", "M2")
    assert plan(text, "DP").stays_silent == ()
