"""Cables: the fix fixes, each zone has its own limit, and current is counted where it flows."""

import pytest
from checked_shows import changed_in, findings, of_rule, only, places
from rigs import AMP, MODELS, PLAIN, RACK, box, run, step


def lead(length, cable="two"):
    return AMP + box("B1") + run("W", "A.A", step(cable, length, "B1"))


# ---- loss ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "size"), [("30 m", "4 mm²"), ("60 m", "6 mm²"), ("90 m", "10 mm²")])
def test_the_size_that_is_named_is_enough_and_the_one_below_it_is_not(length, size):
    item = only("cable-loss", lead(length))
    assert item.fix.startswith(f"{size} for the {length}")
    sizes = ["2.5 mm²", "4 mm²", "6 mm²", "10 mm²"]
    for area, count in ((size, 0), (sizes[sizes.index(size) - 1], 1)):
        models = changed_in(MODELS, 'cores = 2\narea = "2.5 mm²"', f'cores = 2\narea = "{area}"')
        assert len(of_rule("cable-loss", lead(length), models)) == count


@pytest.mark.parametrize(
    ("length", "count"), [("15 mm", 1), ("0.09 m", 1), ("0.1 m", 0), ("300 m", 0), ("301 m", 1), ("2 km", 1)]
)
def test_a_length_that_was_probably_mistyped(length, count):
    assert len(of_rule("length-unlikely", lead(length))) == count


def test_where_no_size_is_enough_that_is_said():
    item = only("cable-loss", lead("400 m"))
    assert item.severity == "warning"
    assert item.fix.startswith("10 mm² for the 400 m")
    assert "not enough" in item.fix


def test_american_cable_is_cured_with_american_cable():
    item = only("cable-loss", lead("160 ft", "gauge-twelve"))
    assert item.fix.startswith("10 AWG")
    models = changed_in(MODELS, 'area = "12 AWG"', 'area = "10 AWG"')
    assert of_rule("cable-loss", lead("160 ft", "gauge-twelve"), models) == []


def test_cable_that_is_as_thick_as_it_gets():
    models = changed_in(MODELS, 'cores = 2\narea = "2.5 mm²"', 'cores = 2\narea = "10 mm²"')
    fix = only("cable-loss", lead("200 m"), models).fix
    assert "mm²" not in fix
    assert "shorter" in fix


def test_a_bad_contact_is_not_cured_by_copper():
    text = AMP + box("B1") + '[[runs]]\nid = "W"\nfrom = "A.A"\npath = [{ adaptor = "old", box = "B1" }]\n'
    models = MODELS + '[[adaptors]]\nid = "old"\nresistance = "0.6 ohm"\n'
    assert "contacts and adaptors of step 1" in only("cable-loss", text, models).fix


def test_the_stricter_zone_rules_although_its_box_is_nearer():
    models = changed_in(MODELS, 'id = "mon"\n', 'id = "mon"\nloss_limit = "0.2 dB"\n')
    models = changed_in(models, 'id = "mains"\n', 'id = "mains"\nloss_limit = "2 dB"\n')
    text = AMP + box("M", "mon") + box("B") + run("W", "A.A", step("two", "15 m", "M"), step("two", "5 m", "B"))
    item = only("cable-loss", text, models)
    assert "on the way to M " in item.says
    assert item.numbers["limit_db"] == 0.2
    # own, worked by hand: 15 m of 2.5 mm² are 2 · 15 · 7.98 mΩ = 0.2394 Ω to M; what follows M does not count.
    assert item.numbers["cable_ohm"] == pytest.approx(0.2394, abs=5e-5)
    assert of_rule("cable-loss", text, changed_in(models, '"0.2 dB"', '"2 dB"')) == []


def test_no_cable_and_far_too_much_of_it():
    assert of_rule("cable-loss", lead("0 m")) == []
    item = only("cable-loss", lead("10 km"))
    assert item.severity == "warning"
    assert item.numbers["loss_db"] > 20.0


# ---- damping ---------------------------------------------------------------------------------------------------------


def test_an_amplifier_that_has_no_grip_itself_is_not_cured_by_cable():
    text = AMP + box("S", "subs", "sub") + run("W", "A.A", step("two", "1 m", "S"))
    # 4 Ω over 0.25 Ω is 16, whatever the cable.
    assert "amplifier alone" in only("damping-low", text, MODELS.replace('"10 mohm"', '"250 mohm"')).fix
    # 4/(0.19 + 0.01596) is 19.4, and would be 21 without cable.
    assert "shorter cable" in only("damping-low", text, MODELS.replace('"10 mohm"', '"190 mohm"')).fix


# ---- current ---------------------------------------------------------------------------------------------------------

RATED = MODELS.replace('gain = "32 dB"\n', 'gain = "32 dB"\nconnector_current = "10 A"\n').replace(
    'A = { 1 = "1", 2 = "2" },', 'A = { 1 = "1", 2 = "2" }, E = { 1 = "1" },'
)


# At the limiter's 52.92 V a box of 8 Ω draws 6.6 A: two on one connector are too much for 10 A, one on each is not.
def test_two_connectors_of_one_output_share_its_current():
    text = AMP + box("B1") + box("B2") + run("W1", "A.A", step("two", "0 m", "B1"))
    on_one = text + run("W2", "A.A", step("two", "0 m", "B2"))
    on_two = text + run("W2", "A.E", step("two", "0 m", "B2"))
    assert places("current-too-high", on_one, RATED) == {("warning", "output", "A.1")}
    assert of_rule("current-too-high", on_two, RATED) == []


def test_behind_a_racks_panel_all_of_an_outputs_current_leaves_by_one_connector():
    rack = changed_in(RACK, 'P3 = { 1 = "2.1" }', 'P3 = { 1 = "2.1" }, P4 = { 1 = "1.1" }')
    text = (
        rack
        + box("B1")
        + box("B2")
        + run("W1", "SR.P1", step("two", "0 m", "B1"))
        + run("W2", "SR.P4", step("two", "0 m", "B2"))
    )
    assert places("current-too-high", text, RATED) == {("warning", "output", "SR-1.1")}


# 500 W into 8 Ω are 7.9 A with nothing to hold them; a limiter of 350 W would leave 6.6 A.
def test_without_a_limiter_the_full_current_counts():
    models = changed_in(MODELS, 'id = "two"\n', 'id = "two"\ncurrent = "7 A"\n')
    assert of_rule("current-too-high", lead("0 m"), models) == []
    bare = PLAIN + box("B1") + run("W", "P.A", step("two", "0 m", "B1"))
    item = only("current-too-high", bare, models)
    assert "at full output, with no limiter" in item.says
    assert item.numbers["current_a"] == pytest.approx(7.906, abs=5e-4)


def test_an_output_without_boxes_carries_nothing():
    assert (
        findings(AMP + run("W", "A.A", step("two", "10 m")) + 'feeds = { 1 = "A.1" }\n', RATED)[0].rule
        == "pair-feeds-nothing"
    )


def test_each_step_carries_what_follows_it():
    models = changed_in(MODELS, 'id = "two"\n', 'id = "two"\ncurrent = "10 A"\n')
    text = AMP + box("B1") + box("B2") + run("W", "A.A", step("two", "0 m", "B1"), step("two", "0 m", "B2"))
    item = only("current-too-high", text, models)
    assert "step 1" in item.says
