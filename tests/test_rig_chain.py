"""From desk to driver: paths, cables, gains, delays and settings of the sample shows and of small changes to them."""

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.checks.stock import used_models
from fieldkit.reports.cards import card, labels, places_of
from fieldkit.rig.signal.account import accounts
from fieldkit.rig.signal.chain import signal_cables, signal_paths
from fieldkit.rig.signal.delays import delay_changes, zone_delays
from fieldkit.rig.signal.gains import gain_chain
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.samples import folder
from fieldkit.sheets.collection import make_page
from fieldkit.sheets.material import Material
from fieldkit.sheets.text import page_text
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.errors import ShowError
from fieldkit.show.keep.storage import load
from fieldkit.show.position import Position
from fieldkit.show.usage import renamed
from fieldkit.show.writing import canonical
from fieldkit.text.style import Style

MUSICAL = load(folder() / "school_musical.toml").show
OPEN_AIR = load(folder() / "open_air.toml").show


def changed_thing(show, table, name, **values):
    return with_thing(show, table, changed(find(show, table, name), **values))


def delay_ms(show, zone, side="", temperature_c=None):
    rig = evaluate(show)
    return next(
        1e3 * item.delay_s for item in zone_delays(rig, temperature_c) if (item.zone, item.side) == (zone, side)
    )


def test_an_adaptor_on_a_signal_way_is_counted_and_sits_at_the_end_of_its_cable():
    way = {"1": "multicore 1 > four-to-two-pole", "2": "multicore 2"}
    show = changed_thing(MUSICAL, "rack_units", "DP", ways=way)
    rig = evaluate(show)
    cables = {cable.id: (cable.start, cable.end) for cable in signal_cables(rig)}
    assert cables["DP.in1/1"] == ("desk Matrix 1 (Show)", "multicore 1")
    assert cables["DP.in1/2"] == ("multicore 1", "DP input 1 by four-to-two-pole")
    assert "DP.in1/3" not in cables
    assert cables["DP.in2/2"] == ("multicore 2", "DP input 2")
    # One more of this adaptor than the runs of the show use.
    assert used_models(rig)["four-to-two-pole"] == used_models(evaluate(MUSICAL))["four-to-two-pole"] + 1


def setting(show, host):
    return next(item for item in accounts(evaluate(show)) if item.host == host)


def test_the_way_of_a_signal_through_a_processor_and_a_link():
    paths = {path.to: path for path in signal_paths(evaluate(MUSICAL))}
    assert paths["A1.2"].stations == (
        "desk Matrix 1 (Show)", "DP input 1", "DP output 1", "A1 input 1", "A1 input 2", "A1.2",
    )  # fmt: skip
    assert paths["A1.2"].signals == ("Show",)
    assert paths["GR"].stations[-2:] == ("DP output 7", "GR")


def test_every_output_of_the_samples_gets_what_its_zone_wants():
    for show in (MUSICAL, OPEN_AIR):
        for path in signal_paths(evaluate(show)):
            assert path.signals == path.wanted


def test_each_input_has_one_labelled_cable():
    cables = {cable.id: cable for cable in signal_cables(evaluate(MUSICAL))}
    assert (cables["DP.in1/1"].start, cables["DP.in1/1"].end) == ("desk Matrix 1 (Show)", "multicore 1")
    assert (cables["DP.in1/2"].start, cables["DP.in1/2"].end) == ("multicore 1", "DP input 1")
    assert cables["A1.in2"].kind == "link"
    assert sum(cable.kind == "link" for cable in cables.values()) == 3
    open_air = {cable.id: cable for cable in signal_cables(evaluate(OPEN_AIR))}
    assert open_air["LEFT-1.in2"].kind == "inside the rack"
    assert open_air["LEFT-1.in1/1"].shares == 2  # the delay tower takes the left as well
    # Both sides' subs come by one way of the multicore: one cable at the desk, two behind it.
    assert [cable.id for cable in open_air.values() if cable.signal == "Sub" and cable.start.startswith("desk")] == [
        "LEFT-2.in1/1"
    ]
    assert open_air["RIGHT-2.in1/2"].shares == 2


def test_a_mix_of_two_inputs():
    show = changed_thing(MUSICAL, "rack_units", "DP", routes={"1": "1+2"})
    path = next(path for path in signal_paths(evaluate(show)) if path.to == "A1.1")
    assert path.signals == ("Show", "Voices")


def test_gain_of_a_turned_knob_and_a_sensitivity():
    # Own, worked by hand: 560 W in 8 ohm are 66.93 V; from 1.4 V that is 33.59 dB; the knob takes 6 dB.
    chain = gain_chain(evaluate(MUSICAL), evaluate(MUSICAL).output("A1.1"))
    assert chain.amplifier_db == pytest.approx(27.59, abs=0.005)
    assert dict(chain.parts)["knob 1"] == -6
    assert "knob at -6.0 dB, locked" in chain.valid_at


def test_bridging_adds_6_db_and_lowers_the_threshold_at_the_input():
    chain = gain_chain(evaluate(OPEN_AIR), evaluate(OPEN_AIR).output("LEFT-2.1+2"))
    assert dict(chain.parts)["bridged"] == pytest.approx(6.02, abs=0.005)
    # Own, worked by hand: 1200 W in 8 ohm are 97.98 V or +42.04 dBu; less 38.02 dB that is +4.02 dBu.
    assert setting(OPEN_AIR, "LEFT-2.1+2").number("slow limiter at the input socket", "dBu") == pytest.approx(
        4.02, abs=0.005
    )


def test_what_clips_first_follows_the_weakest_stage():
    rig = evaluate(MUSICAL)
    assert gain_chain(rig, rig.output("A1.1")).clips_first.name == "amplifier output"
    weak = msgspec.structs.replace(MUSICAL, about=changed(MUSICAL.about, desk_clip="4 dBu"))
    rig = evaluate(weak)
    chain = gain_chain(rig, rig.output("A1.1"))
    assert chain.clips_first.name == "desk"
    # The margin is the clip less what full output needs: volts at the limit, in dBu, less the gain.
    needed = 20 * math.log10(rig.output("A1.1").can_give_v / math.sqrt(0.6)) - chain.amplifier_db
    assert chain.clips_first.margin_db == pytest.approx(4 - needed)


def test_thresholds_in_all_scales():
    # Own, worked by hand: 340 W in 8 ohm are 52.15 V, +36.56 dBu; less 27.59 dB +8.97 dBu, +6.76 dBV;
    # full scale is +20 dBu, so −11.03 dBFS. 1700 W peak in 8 ohm are 116.6 V peak, over the amplifier's own clip.
    found = setting(MUSICAL, "DP.1")
    assert found.number("slow limiter at the posts", "V rms") == pytest.approx(52.15, abs=0.005)
    assert found.number("slow limiter", "dBu") == pytest.approx(8.97, abs=0.005)
    assert found.number("slow limiter in the host", "dBV") == pytest.approx(6.76, abs=0.006)
    assert found.number("slow limiter", "dBFS") == pytest.approx(-11.03, abs=0.005)
    assert found.number("slow limiter", "V rms") is None  # a processor takes no volts
    assert found.number("fast limiter at the posts", "V peak") == pytest.approx(
        math.sqrt(2) * evaluate(MUSICAL).output("A1.1").can_give_v
    )


def test_a_processor_output_takes_the_lowest_threshold_behind_it():
    knob = changed_thing(MUSICAL, "rack_units", "A1", attenuators={"1": "-6 dB", "2": "0 dB"})
    as_built, turned = (setting(show, "DP.1") for show in (MUSICAL, knob))
    assert as_built.number("slow limiter", "dBu") - turned.number("slow limiter", "dBu") == pytest.approx(6)
    # One level in the host: at the posts of the output whose knob stays it is 6 dB less, half the volts, by definition.
    volts = [turned.number("slow limiter at the posts", "V rms", name) for name in ("A1.1", "A1.2")]
    assert volts == pytest.approx([52.15 * 10 ** (-6 / 20), 52.15], abs=0.005)


def test_attack_and_release_by_rule_and_by_preset():
    found = setting(MUSICAL, "DP.4")  # high-pass 32 Hz
    assert [found.number(name, "ms") for name in ("fast attack", "fast release")] == [1e3 / 32, 16e3 / 32]
    assert found.entry("preset fast attack") is None
    subs = find(MUSICAL, "loudspeakers", "sub-single-18-inch")
    preset = changed(subs.presets[0], attack="8 ms", release="90 ms")
    show = with_thing(MUSICAL, "loudspeakers", msgspec.structs.replace(subs, presets=(preset,)))
    found = setting(show, "DP.4")
    assert [found.number(f"preset fast {name}", "ms") for name in ("attack", "release")] == [8, 90]
    assert found.entry("fast attack") is None


def test_delay_of_a_measured_zone():
    # Own, worked by hand: 44 m at 18 °C, c = 343.2 · √(291.15/293.15) = 342.03 m/s, 128.64 ms, and 12 ms by choice.
    about = changed(OPEN_AIR.about, temperature="18 °C")
    show = msgspec.structs.replace(OPEN_AIR, about=about)
    assert delay_ms(show, "delay", "left") == pytest.approx(140.64, abs=0.01)
    found = setting(show, "DLY.1")
    in_ms, in_samples = (found.number("delay on top", unit) for unit in ("ms", "samples at 48 kHz"))
    assert in_samples == pytest.approx(48 * in_ms)
    assert found.number("delay in all", "m") == pytest.approx(44 + 0.012 * 342.03, abs=0.01)


def tower(precedence=None):
    """Main at 0, 0, 8, tower at 50, 0, 5, listener at 70, 0, 1.7 m."""
    unset = {"reference_distance": None, "own_distance": None, "precedence": precedence}
    show = changed_thing(OPEN_AIR, "zones", "delay", listeners="70 m, 0 m, 1.7 m", **unset)
    for name in ("ML1", "ML2"):
        show = changed_thing(show, "boxes", name, position="0 m, 0 m, 8 m")
    return changed_thing(show, "boxes", "DL1", position="50 m, 0 m, 5 m")


def test_delay_of_a_tower_from_positions():
    # The worked example of test_formulas_sound: 145.72 ms at 20 °C.
    assert delay_ms(tower(), "delay", "left", 20.0) == pytest.approx(145.72, abs=0.005)
    assert delay_ms(tower(precedence="15 ms"), "delay", "left", 20.0) == pytest.approx(160.72, abs=0.005)


def test_measured_distances_rule_over_positions_and_hands_over_both():
    measured = changed_thing(tower(), "zones", "delay", reference_distance="34.32 m", own_distance="0 m")
    assert delay_ms(measured, "delay", "left", 20.0) == pytest.approx(100, abs=1e-6)
    by_hand = changed_thing(measured, "zones", "delay", delay="7 ms")
    assert delay_ms(by_hand, "delay", "left", 20.0) == pytest.approx(7)
    assert delay_ms(by_hand, "delay", "left", -10.0) == pytest.approx(7)


def test_who_would_have_to_play_ahead_lets_all_others_wait():
    # Subs 3.432 m farther than the mains: at 20 °C the mains, and all that is timed to them, wait for 10 ms.
    show = changed_thing(OPEN_AIR, "zones", "subs", reference_distance="20 m", own_distance="23.432 m")
    assert delay_ms(show, "subs", "left", 20.0) == pytest.approx(0, abs=1e-9)
    assert delay_ms(show, "mains", "left", 20.0) == pytest.approx(10)
    later = delay_ms(show, "delay", "left", 20.0) - delay_ms(OPEN_AIR, "delay", "left", 20.0)
    assert later == pytest.approx(10)
    assert delay_ms(show, "wedges", "mix-1") == 0  # not timed to them


def test_a_chain_of_references():
    show = changed_thing(OPEN_AIR, "zones", "front-fill", timed_to="subs", precedence=None)
    expected = delay_ms(OPEN_AIR, "subs", "left", 20.0) + (9.4 - 3.1) / 343.2 * 1e3
    assert delay_ms(show, "front-fill", "left", 20.0) == pytest.approx(expected)


@given(st.floats(-20, 50), st.floats(-20, 50))
def test_colder_air_wants_longer_delays(before_c, after_c):
    rig = evaluate(OPEN_AIR)
    for change in delay_changes(rig, before_c, after_c):
        assert change.change_s * (before_c - after_c) >= 0


def test_a_cold_evening():
    # Own, worked by hand: 44 m at 26 °C (346.69 m/s) and at 11 °C (337.89 m/s): 126.91 and 130.22 ms.
    found = next(item for item in delay_changes(evaluate(OPEN_AIR), 26, 11) if item.zone == "delay")
    assert 1e3 * found.change_s == pytest.approx(3.31, abs=0.005)


def test_trims_and_polarity_of_a_box():
    show = changed_thing(OPEN_AIR, "boxes", "SL1", level="-2 dB", delay="1.5 ms", polarity="inverted")
    before, after = setting(OPEN_AIR, "LEFT-2.1+2"), setting(show, "LEFT-2.1+2")
    assert after.number("gain in all", "dB") - before.number("gain in all", "dB") == pytest.approx(-2)
    assert after.number("delay in all", "ms") - before.number("delay in all", "ms") == pytest.approx(1.5)
    assert (before.word("polarity in all"), after.word("polarity in all")) == ("normal", "inverted")
    assert (before.word("polarity"), after.word("polarity")) == ("", "turn over")


def test_boxes_that_want_different_things_of_one_host_are_named():
    show = changed_thing(MUSICAL, "boxes", "SUBE", delay="2 ms")
    assert setting(show, "DP.4").disagreements == ("delay: SUBW and SUBE want different ones",)
    assert all(not item.disagreements for item in accounts(evaluate(MUSICAL)))


def test_a_zone_and_a_processor_can_have_another_name():
    show = renamed(OPEN_AIR, "zones", "mains", "big")
    assert find(show, "zones", "delay").timed_to == "big"
    show = renamed(MUSICAL, "rack_units", "DP", "PROC")
    assert find(show, "boxes", "GR").input == "PROC.7"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('timed_to = "mains"', 'timed_to = "mians"', "no zone 'mians'; did you mean 'mains'?"),
        ('timed_to = "mains"', 'timed_to = "subs"', "timed_to goes in a circle: subs → subs"),
        ('precedence = "12 ms"', 'precedence = "12 m"', "expected a duration"),
        ('precedence = "12 ms"', 'listeners = "12 m"', "expected a place of two or three lengths"),
        ('as_built = "rack-main-side"', 'as_built = "rack-main-side"\nroutes = { 1 = "1" }', "unknown key 'routes'"),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands(tmp_path, old, new, says):
    text = (folder() / "open_air.toml").read_text(encoding="utf-8")
    file = tmp_path / "show.toml"
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ShowError, match=r"show\.toml:\d+: ") as caught:
        load(file)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('routes = { 1 = "1"', 'routes = { 9 = "1"', "routes: expected an output from 1 to 8, got '9'"),
        ('routes = { 1 = "1"', 'routes = { 1 = "7"', "routes: expected inputs from 1 to 4"),
        ('input = "DP.7"', 'input = "DP.9"', "'DP' has outputs 1 to 8, got 'DP.9'"),
        ("ways = { 1 =", "ways = { 5 =", "ways: expected an input from 1 to 4, got '5'"),
    ],
)  # fmt: skip
def test_routes_that_cannot_be(tmp_path, old, new, says):
    text = (folder() / "school_musical.toml").read_text(encoding="utf-8")
    file = tmp_path / "show.toml"
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ShowError) as caught:
        load(file)
    assert says in str(caught.value)


def test_positions_are_kept_as_typed(tmp_path):
    assert Position("50 m, −3 m, 10 ft").metres == pytest.approx((50, -3, 3.048))
    assert Position("1 m, 2 m").metres == (1, 2, 0)
    file = tmp_path / "show.toml"
    file.write_text(canonical(tower()), encoding="utf-8")
    assert find(load(file).show, "boxes", "DL1").position == "50 m, 0 m, 5 m"


def test_a_processor_output_and_a_signal_cable_have_a_card():
    rig = evaluate(MUSICAL)
    known = {label.key: label for label in labels(rig)}
    assert known["processor output DP.3"].about == "to A4 input 1"
    assert known["processor output DP.8"].about == "free"
    text = "\n".join(card(rig, (), "processor output", "DP.3", Style()))
    assert "desk Matrix 2 (Voices) > DP input 2 > DP output 3 > A4 input 1 > A4.1" in text
    assert "preset fill-any-use" in text
    assert "self-powered" in "\n".join(card(rig, (), "processor output", "DP.7", Style()))
    assert card(rig, (), "signal cable", "DP.in1/2", Style()) == (
        "from multicore 1", "to DP input 1", "carries Show, balanced",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "name", "places"),
    [
        ("box", "N2", [("boxes", "N2"), ("zones", "round"), ("runs", "W1")]),
        ("output", "A1.1", [("rack_units", "A1"), ("runs", "W1")]),
        ("processor output", "DP.3", [("rack_units", "DP")]),
        ("signal cable", "DP.in1/2", [("rack_units", "DP")]),
        ("signal cable", "GR.in", [("boxes", "GR")]),
        ("cable end", "W1-B", [("runs", "W1")]),
        ("supply", "WALL-1", [("supplies", "WALL-1")]),
    ],
)
def test_where_a_label_is_edited(kind, name, places):
    rig = evaluate(MUSICAL)
    assert list(places_of(rig, kind, name)) == places
    for table, thing in places:
        assert find(MUSICAL, table, thing).id == thing


def test_every_label_of_the_samples_has_a_card_and_a_place():
    for show in (MUSICAL, OPEN_AIR):
        rig = evaluate(show)
        for label in labels(rig):
            assert card(rig, (), label.kind, label.id, Style()), label
            assert places_of(rig, label.kind, label.id), label


def test_a_section_whose_sheet_says_no_peak_power_breaks_nothing():
    model = find(OPEN_AIR, "loudspeakers", "three-way-large")
    sections = tuple(changed(item, peak="0 W") for item in model.sections)
    show = with_thing(OPEN_AIR, "loudspeakers", msgspec.structs.replace(model, sections=sections))
    at = setting(show, "LEFT-1.1")
    assert not [item for item in (*at.you_set, *at.reads_back) if "limiter" in item.quantity]  # 0 V has no level
    assert "LEFT-1.1" in page_text(make_page(Material(evaluate(show), ()), "settings"))
