"""Levels: links are followed to what feeds them, the lowest limit speaks, and the fixes fix."""

import pytest
from checked_shows import DSP, NO_HOST, changed_in, of_rule, only, places
from rigs import AMP, MODELS, box, rig_of, run, step

ONE = box("B1") + run("W", "A.A", step("two", "1 m", "B1"))
ON_TWO = box("B1") + run("W", "A.A", step("two", "1 m", "B1"), more='feeds = { 1 = "A.2" }')


# ---- unbalanced links ------------------------------------------------------------------------------------------------


def test_a_linked_input_is_as_unbalanced_as_the_one_it_hangs_on():
    text = AMP + 'inputs = { 2 = "=1", 1 = "L" }\nunbalanced_inputs = ["1"]\n' + ON_TWO
    item = only("unbalanced-link", text)
    assert (item.severity, item.where.kind, item.where.id) == ("warning", "output", "A.2")
    assert item.says == "input 1 of A is fed unbalanced"
    assert of_rule("unbalanced-link", changed_in(text, '2 = "=1", ', "")) == []


def test_a_bridged_pair_is_fed_by_its_first_input_alone():
    text = AMP + 'bridged = ["3+4"]\nunbalanced_inputs = ["{}"]\n' + box("S", "subs", "sub")
    text += run("W", "A.C", step("two", "1 m", "S"))
    assert places("unbalanced-link", text.replace("{}", "3")) == {("warning", "output", "A.3+4")}
    assert of_rule("unbalanced-link", text.replace("{}", "4")) == []


def test_a_processor_without_balanced_outputs():
    text = AMP + 'inputs = { 1 = "D.2" }\n' + DSP + ONE
    models = changed_in(MODELS, 'id = "dsp"\n', 'id = "dsp"\nbalanced = false\n')
    item = only("unbalanced-link", text, models)
    assert "'dsp' (D.2)" in item.says
    assert of_rule("unbalanced-link", text) == []
    assert of_rule("unbalanced-link", changed_in(text, '"D.2"', '"L"'), models) == []


def test_an_output_that_drives_nothing_may_be_fed_as_it_likes():
    assert of_rule("unbalanced-link", AMP + 'unbalanced_inputs = ["1"]\n') == []


# ---- input clip ------------------------------------------------------------------------------------------------------

CLIPS = changed_in(MODELS, 'gain = "32 dB"\n', 'gain = "20 dB"\ninput_clip = "{}"\n')


# own, worked by hand: 500 W/8 Ω are +38.24 dBu, less some hundredths for the cable; 20 dB below is +18.2 dBu.
def test_the_lower_of_two_limits_is_the_one_that_is_said():
    low_input = CLIPS.replace("{}", "10 dBu")
    assert "amplifier's input clips at +10.0 dBu" in only("input-clips-first", AMP + ONE, low_input).says
    low_host = CLIPS.replace("{}", "16 dBu").replace('full_scale = "21 dBu"', 'full_scale = "12 dBu"')
    item = only("input-clips-first", AMP + ONE, low_host)
    assert "converter clips at +12.0 dBu" in item.says
    assert item.numbers == pytest.approx({"needed_dbu": 18.24, "limit_dbu": 12.0}, abs=0.01)


def test_more_gain_is_the_fix_of_an_input_that_clips():
    models = CLIPS.replace("{}", "10 dBu")
    assert "more gain" in only("input-clips-first", AMP + ONE, models).fix
    assert of_rule("input-clips-first", AMP + 'gain = "32 dB"\n' + ONE, models) == []


def test_a_knob_turned_down_makes_the_input_clip_and_turned_up_it_does_not():
    models = CLIPS.replace("{}", "20 dBu").replace("channels = 4\n", "channels = 4\nattenuators = true\n")
    text = AMP + 'attenuators = { 1 = "-6 dB" }\n' + ONE
    assert places("input-clips-first", text, models) == {("warning", "output", "A.1")}
    assert of_rule("input-clips-first", changed_in(text, '"-6 dB"', '"-1 dB"'), models) == []


def test_bridging_asks_six_decibels_less_of_the_input():
    # A pair gives 1800 W/8 Ω, +43.8 dBu, with 26 dB of gain: +17.8 dBu. A single channel needs +18.2 dBu.
    models = CLIPS.replace("{}", "18 dBu")
    text = AMP + 'bridged = ["3+4"]\n' + box("B1") + run("W", "A.C", step("two", "0 m", "B1"))
    assert of_rule("input-clips-first", text, models) == []
    assert places("input-clips-first", AMP + ONE, models) == {("warning", "output", "A.1")}


# ---- what an outboard limiter stands on ------------------------------------------------------------------------------


def test_a_processors_full_scale_is_what_ends_first_when_it_hosts():
    models = NO_HOST.replace('gain = "32 dB"\n', 'gain = "16 dB"\n')
    text = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + ONE
    item = only("input-clips-first", text, models)
    assert "processor's output clips at +20.0 dBu" in item.says
    # 350 W/8 Ω are +36.69 dBu: 16 dB below are +20.69 dBu, which the processor cannot put out.
    item = only("threshold-out-of-range", text, models)
    assert "in D.1, +0.7 dB over its full scale" in item.says
    assert item.numbers["input_dbfs"] == pytest.approx(0.69, abs=0.01)
    assert (
        of_rule(
            "threshold-out-of-range", changed_in(text, 'model = "quad"\n', 'model = "quad"\ngain = "17 dB"\n'), models
        )
        == []
    )


def test_a_threshold_out_of_range_matters_only_where_the_box_can_be_overdriven():
    models = NO_HOST.replace('gain = "32 dB"\n', 'gain = "10 dB"\n').replace('"350 W"', '"480 W"')
    text = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + ONE
    assert of_rule("threshold-out-of-range", text, models) == []
    assert of_rule("threshold-out-of-range", text, models.replace('"480 W"', '"300 W"')) != []


def test_the_knobs_position_is_said_and_locking_fixes():
    models = NO_HOST.replace("channels = 4\n", "channels = 4\nattenuators = true\n")
    text = AMP + 'inputs = { 1 = "D.1" }\n' + DSP + ONE
    assert "fully up" in only("attenuator-unlocked", text, models).says
    turned = changed_in(text, "inputs = {", 'attenuators = { 1 = "-3 dB" }\ninputs = {')
    assert "-3 dB" in only("attenuator-unlocked", turned, models).says
    locked = changed_in(turned, "inputs = {", "attenuators_locked = true\ninputs = {")
    assert of_rule("attenuator-unlocked", locked, models) == []


# ---- the two knobs of a bridged pair ---------------------------------------------------------------------------------


def bridged_knobs(knobs):
    text = AMP + f'bridged = ["3+4"]\nattenuators = {{ {knobs} }}\n' + box("S", "subs", "sub")
    return text + run("W", "A.C", step("two", "1 m", "S"))


@pytest.mark.parametrize("knobs", ['4 = "-6 dB"', '3 = "-6 dB"', '3 = "-2 dB", 4 = "-6 dB"'])
def test_the_knobs_of_a_bridged_pair_stand_alike(knobs):
    item = only("bridged-knobs-differ", bridged_knobs(knobs))
    assert (item.severity, item.where.kind, item.where.id) == ("warning", "output", "A.3+4")
    assert "-6 dB" in item.says
    assert of_rule("bridged-knobs-differ", bridged_knobs('3 = "-6 dB", 4 = "-6 dB"')) == []
    assert of_rule("bridged-knobs-differ", bridged_knobs(knobs).replace('bridged = ["3+4"]', "")) == []


# Own, worked by hand: bridged gain is 6.02 dB over that of one channel; both knobs at -6 dB take 6 dB off it.
@pytest.mark.parametrize("knobs", ['4 = "-6 dB"', '3 = "-6 dB"', '3 = "-6 dB", 4 = "-6 dB"'])
def test_a_bridged_pair_has_the_gain_of_its_lower_knob(knobs):
    def gain(text):
        return next(item.gain_db for item in rig_of(text, MODELS).outputs if item.output.id == "A.3+4")

    assert gain(bridged_knobs(knobs)) == pytest.approx(gain(bridged_knobs("")) - 6.0)


def test_one_unit_is_named_once_for_all_its_free_knobs():
    text = AMP + 'inputs = { 1 = "D.1", 2 = "D.1" }\n' + DSP + box("B1") + box("B2")
    text += run("W1", "A.A", step("two", "1 m", "B1"))
    text += run("W2", "A.A", step("two", "1 m", "B2"), more='feeds = { 1 = "A.2" }')
    models = changed_in(NO_HOST, 'id = "quad"\n', 'id = "quad"\nattenuators = true\n')
    item = only("attenuator-unlocked", text, models)
    assert (item.where.kind, item.where.id) == ("unit", "A")
    assert "1 fully up, 2 fully up" in item.says


# own, worked by hand: 500 W into 8 Ω are 63.2 V or +38.2 dBu; less 32 dB of gain +6.2 dBu behind the preset. A preset
# of −20 dB that runs in the amplifier wants +26.2 dBu at its socket, over the +21 dBu of its converter; −14.5 dB +20.7.
@pytest.mark.parametrize(("gain", "trips"), [("-20 dB", True), ("-14.5 dB", False)])
def test_a_hosted_preset_takes_level_out_behind_the_input(gain, trips):
    models = MODELS.replace('{ id = "p-full-range",', f'{{ id = "p-full-range", gain = "{gain}",')
    found = of_rule("input-clips-first", AMP + ONE, models)
    assert bool(found) == trips
    if trips:
        assert found[0].numbers["needed_dbu"] == pytest.approx(26.2, abs=0.05)
        assert "needs +26.2 dBu at the input (-20.0 dB of processing comes behind it)" in found[0].says
