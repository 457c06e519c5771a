"""Bands: all the ways in which low notes reach a high driver, and boxes that are fed oddly."""

import pytest
from checked_shows import BIAMP, DSP, NO_HOST, changed_in, of_rule, only, places
from rigs import AMP, MODELS, box, run, step

ONE = AMP + box("B1", more=BIAMP) + run("W", "A.A", step("four", "5 m", "B1"))


def with_presets(*more):
    """Give the models with further presets of the box that no section names."""
    return MODELS.replace(
        '    { id = "p-full-range"', "".join(f"    {{ {item} }},\n" for item in more) + '    { id = "p-full-range"'
    )


def chosen(section, preset):
    return changed_in(ONE, BIAMP, f'{BIAMP}\npresets = {{ {section} = "{preset}" }}')


# ---- a preset chosen by hand -----------------------------------------------------------------------------------------


def test_a_preset_of_nobody_without_a_high_pass_is_full_range_for_a_high_section():
    text = chosen("high", "flat")
    item = only("high-on-wrong-band", text, with_presets('id = "flat"'))
    assert (item.severity, item.where.kind, item.where.id) == ("error", "box", "B1")
    assert "'flat'" in item.says
    assert "no high-pass" in item.says
    assert "use high before" in item.fix
    assert of_rule("high-on-wrong-band", text, with_presets('id = "flat", high_pass = "1200 Hz"')) == []


def test_the_models_own_preset_is_trusted_where_it_says_nothing_of_its_filters():
    models = MODELS.replace(
        'uses = ["full range", "with sub"], high_pass = "1200 Hz"', 'uses = ["full range", "with sub"]'
    )
    assert of_rule("high-on-wrong-band", ONE, models) == []


# An octave under the section's own lowest frequency is the last that passes; common practice, no source.
@pytest.mark.parametrize(("high_pass", "count"), [("499 Hz", 1), ("501 Hz", 0)])
def test_a_high_pass_far_below_the_section(high_pass, count):
    models = with_presets(f'id = "deep", high_pass = "{high_pass}"').replace(
        'rated_at = "12 ohm"', 'rated_at = "12 ohm", low = "1 kHz"'
    )
    found = of_rule("high-on-wrong-band", chosen("high", "deep"), models)
    assert len(found) == count
    assert all(high_pass in item.says and "1000 Hz" in item.says for item in found)


def test_a_low_section_with_the_preset_of_the_high_one_is_no_danger_but_no_music():
    item = only("preset-does-not-fit", chosen("low", "high"))
    assert (item.severity, item.where.id) == ("warning", "B1")
    assert "'high' is meant for the high section" in item.says
    assert "choose one of low" in item.fix
    assert of_rule("preset-does-not-fit", chosen("low", "low")) == []


def test_the_high_section_with_the_low_preset_is_said_once():
    text = chosen("high", "low")
    assert places("high-on-wrong-band", text) == {("error", "box", "B1")}
    assert of_rule("preset-does-not-fit", text) == []


# ---- outputs named the wrong way round -------------------------------------------------------------------------------


def test_feeds_against_the_pins_put_the_low_band_on_the_high_section():
    text = ONE + 'feeds = { 1 = "A.2", 2 = "A.1" }\n'
    item = only("high-on-wrong-band", text)
    assert (item.severity, item.where.kind, item.where.id) == ("error", "line", "W/2")
    for word in ("carries A.2", "low section", "high section of B1"):
        assert word in item.says
    assert of_rule("high-on-wrong-band", changed_in(text, '1 = "A.2", 2 = "A.1"', '1 = "A.1", 2 = "A.2"')) == []


def test_feeds_against_the_pins_among_lows_alone_are_a_matter_of_pins():
    text = AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"), more='feeds = { 1 = "A.2" }')
    assert of_rule("high-on-wrong-band", text) == []
    item = only("pins-do-not-meet", text)
    assert "to A.1" in item.fix


def test_a_pair_that_the_connector_does_not_carry_cannot_be_corrected_to_nothing():
    pins = MODELS.replace("C = { 1", 'E = { 1 = "1" }, C = { 1')
    text = (
        AMP
        + box("B1", more=BIAMP)
        + run("W", "A.E", step("four", "5 m", "B1"), more='feeds = { 1 = "A.1", 2 = "A.2" }')
    )
    item = only("pins-do-not-meet", text, pins)
    assert item.where.id == "W/2"
    assert "carries nothing" in item.says
    assert "take the pair out of 'feeds'" in item.fix


# ---- one processor output --------------------------------------------------------------------------------------------


def test_presets_of_one_name_but_two_models_are_two_presets():
    fill = (
        '[[loudspeakers]]\nid = "fill"\npresets = [{ id = "p-full-range" }]\n'
        'sections = [{ drive = "passive", section = "full", impedance = "8 ohm", continuous = "400 W", presets = ["p-full-range"] }]\n'
    )
    text = (
        AMP
        + 'inputs = { 1 = "D.1", 3 = "D.1" }\n'
        + DSP
        + box("B1")
        + box("F1", model="fill")
        + run("W1", "A.A", step("two", "5 m", "B1"))
        + run("W2", "A.B", step("two", "5 m", "F1"))
    )
    item = only("presets-on-one-host", text, NO_HOST + fill)
    assert (item.severity, item.where.id) == ("warning", "D.1")
    assert "p-full-range of top" in item.says
    assert "p-full-range of fill" in item.says
    assert of_rule("presets-on-one-host", changed_in(text, '3 = "D.1"', '3 = "D.2"'), NO_HOST + fill) == []


# ---- boxes that are fed oddly ----------------------------------------------------------------------------------------

TWINS = (
    '[[loudspeakers]]\nid = "twin-{0}"\nsections = [\n'
    '    {{ drive = "passive", section = "sub", pair = 1, impedance = "8 ohm", continuous = "500 W" }},\n'
    '    {{ drive = "passive", section = "sub", pair = {0}, impedance = "8 ohm", continuous = "500 W" }},\n]\n'
)


def test_two_drivers_alike_on_one_pair_are_fed_once():
    text = AMP + box("T", "subs", "twin-1") + run("W", "A.A", step("two", "5 m", "T"))
    assert of_rule("fed-twice", text, MODELS + TWINS.format(1)) == []
    again = text + run("V", "A.A", step("two", "5 m", "T"))
    assert places("fed-twice", again, MODELS + TWINS.format(1)) == {("warning", "box", "T")}


def test_two_drivers_on_two_pairs_are_two_sections():
    text = AMP + box("T", "subs", "twin-2") + run("W", "A.A", step("four", "5 m", "T"))
    models = MODELS + TWINS.format(2)
    assert of_rule("section-unfed", text, models) == []
    item = only("section-unfed", text + 'feeds = { 1 = "A.1" }\n', models)
    assert "pin pair 2" in item.says
    assert "passive" not in item.fix  # it is passive already, and that does not help


def test_half_a_biamp_box_is_cured_by_its_switch_where_it_has_one():
    text = ONE + 'feeds = { 1 = "A.1" }\n'
    assert "by its switch" in only("section-unfed", text).fix
    fixed = MODELS.replace('id = "top"\n', 'id = "top"\nswitch = false\n')
    assert "drive the box passive" in only("section-unfed", text, fixed).fix
    assert "switch" not in only("section-unfed", text, fixed).fix


def test_a_run_through_the_same_box_twice_is_called_that():
    text = AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"), step("two", "2 m", "B1"))
    item = only("fed-twice", text)
    assert item.severity == "warning"
    assert "goes through it twice" in item.says
    assert "W/1 and W/1" not in item.says


def test_an_unfed_box_is_meant_to_be_driven_as_the_plan_would_drive_it():
    # A model whose bi-amp sections stand first is passive all the same unless the show says otherwise.
    speaker = (
        '[[loudspeakers]]\nid = "turned"\nsections = [\n'
        '    { drive = "bi-amp", section = "low", impedance = "8 ohm", continuous = "300 W" },\n'
        '    { drive = "bi-amp", section = "high", pair = 2, impedance = "8 ohm", continuous = "50 W" },\n'
        '    { drive = "passive", section = "full", impedance = "8 ohm", continuous = "300 W" },\n]\n'
    )
    text = box("B1", model="turned", more='switch = "passive"')
    assert of_rule("switch-not-as-planned", text, MODELS + speaker) == []
    other = changed_in(text, 'switch = "passive"', 'switch = "bi-amp"')
    assert "plan drives it passive" in only("switch-not-as-planned", other, MODELS + speaker).says


def test_a_self_powered_box_needs_no_run():
    active = '[[loudspeakers]]\nid = "active"\nsections = [{ drive = "self-powered", section = "full" }]\n'
    assert of_rule("box-unfed", box("P1", model="active"), MODELS + active) == []
    passed = (
        AMP
        + box("P1", model="active")
        + box("B1")
        + run("W", "A.A", step("two", "5 m", "P1"), step("two", "5 m", "B1"))
    )
    item = only("self-powered-on-a-line", passed, MODELS + active)
    assert (item.severity, item.where.id) == ("error", "P1")
    assert "run W" in item.says
