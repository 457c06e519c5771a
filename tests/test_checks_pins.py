"""Pins: what does not arrive is said once and truly, and what arrives another way is left in peace."""

from checked_shows import BIAMP, changed_in, findings, loud, of_rule, only, places
from rigs import AMP, MODELS, box, run, step

JOINTS = MODELS + (
    '[[adaptors]]\nid = "second-to-first"\npins = { 2 = "1" }\n'
    '[[adaptors]]\nid = "crossing"\npins = { 1 = "2", 2 = "1" }\n'
    '[[panels]]\nid = "split"\nsockets = { S1 = { 1 = "1" }, S2 = { 2 = "1" } }\n'
)
UNLIMITED = JOINTS.replace('"350 W", peak = "1400 W"', '"450 W", peak = "1800 W"')


def test_two_passive_boxes_on_the_two_pairs_of_one_cable():
    # The first box listens on pair 1; behind it an adaptor brings pair 2 to the pair that the second listens on.
    text = (
        AMP
        + box("B1")
        + box("B2")
        + run("W", "A.A", step("four", "10 m", "B1"), '{ adaptor = "second-to-first" }', step("two", "2 m", "B2"))
    )
    assert loud(text, UNLIMITED) == []


def test_without_the_adaptor_the_second_box_is_on_the_first_ones_output():
    text = AMP + box("B1") + box("B2") + run("W", "A.A", step("four", "10 m", "B1"), step("two", "2 m", "B2"))
    assert loud(text, UNLIMITED) == []
    with_pair = text + 'feeds = { 1 = "A.1", 2 = "A.2" }\n'
    assert places("pair-feeds-nothing", with_pair, UNLIMITED) == {("warning", "line", "W/2")}


def test_a_multicore_split_by_a_panel():
    trunk = '{ cable = "four", length = "20 m", shared = "M1" }'
    text = AMP + box("B1") + box("B2")
    text += run("W1", "A.A", trunk, '{ panel = "split", socket = "S1" }', step("two", "2 m", "B1"))
    text += run("W2", "A.A", trunk, '{ panel = "split", socket = "S2" }', step("two", "2 m", "B2"))
    assert of_rule("pins-do-not-meet", text, UNLIMITED) == []
    assert of_rule("pair-feeds-nothing", text, UNLIMITED) == []
    assert of_rule("box-unfed", text, UNLIMITED) == []


def test_a_panel_without_pins_for_the_pair():
    text = AMP + box("B1", more=BIAMP)
    text += run("W", "A.A", step("four", "20 m"), '{ panel = "split", socket = "S1" }', step("four", "2 m", "B1"))
    item = only("pins-do-not-meet", text, JOINTS)
    assert (item.severity, item.where.id) == ("error", "W/2")
    assert "'split' in step 2 does not carry pair 2; B1 cannot be reached" in item.says


def test_a_passive_box_linked_behind_a_biamp_one_by_two_cores_misses_nothing():
    text = (
        AMP + box("B1", more=BIAMP) + box("B2") + run("W", "A.A", step("four", "5 m", "B1"), step("two", "2 m", "B2"))
    )
    assert of_rule("pins-do-not-meet", text) == []
    # A second bi-amp box there does miss its high pair.
    second = changed_in(
        text, 'id = "B2"\nmodel = "top"\nzone = "mains"\n', f'id = "B2"\nmodel = "top"\nzone = "mains"\n{BIAMP}\n'
    )
    item = only("pins-do-not-meet", second)
    assert item.where.id == "W/2"
    assert "B2 cannot be reached" in item.says
    assert "B1" not in item.says


def test_a_pair_fed_for_nobody_on_two_cores_is_a_waste_and_no_fault():
    text = AMP + box("B1") + run("W", "A.A", step("two", "5 m", "B1"), more='feeds = { 1 = "A.1", 2 = "A.2" }')
    assert of_rule("pins-do-not-meet", text) == []
    item = only("pair-feeds-nothing", text)
    assert (item.severity, item.where.id) == ("warning", "W/2")
    assert "'two' in step 1 does not carry pair 2" in item.says
    assert of_rule("pair-feeds-nothing", changed_in(text, ', 2 = "A.2"', "")) == []


def test_an_adaptor_first_in_the_path():
    text = AMP + box("B1") + run("W", "A.A", '{ adaptor = "second-to-first" }', step("two", "5 m", "B1"))
    rig_findings = {item.rule for item in findings(text, JOINTS)}
    assert "box-unfed" not in rig_findings  # pair 2 of the connector reaches it as pair 1
    assert "pins-do-not-meet" not in rig_findings
    crossed = changed_in(text, "second-to-first", "crossing")
    assert "box-unfed" not in {item.rule for item in findings(crossed, JOINTS)}


def test_a_run_whose_path_is_empty():
    empty = AMP + '[[runs]]\nid = "W"\nfrom = "A.A"\npath = []\n'
    assert {item.severity for item in findings(empty)} <= {"note"}
    item = only("pair-feeds-nothing", empty + 'feeds = { 1 = "A.1" }\n')
    assert "no box is in its path" in item.says


def test_a_panels_plugs_are_looked_at_like_any_others():
    models = JOINTS.replace(
        'id = "split"\n', 'id = "split"\nconnector = "4-pole"\nsocket_connector = "2-pole"\n'
    ).replace('id = "two"\n', 'id = "two"\nconnectors = ["4-pole", "4-pole"]\n')
    text = (
        AMP
        + box("B1")
        + run("W", "A.A", step("two", "5 m"), '{ panel = "split", socket = "S1" }', step("two", "2 m", "B1"))
    )
    item = only("plugs-do-not-fit", text, models)
    assert "step 3" in item.says
    assert "'split' has 2-pole" in item.says
    assert of_rule("plugs-do-not-fit", text, models.replace('"2-pole"', '"4-pole"')) == []
