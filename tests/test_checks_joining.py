"""Where one adaptor makes the pairs meet, every finding about it names the same one, and following it is the fix."""

import pytest
from checked_shows import changed_in, findings, of_rule, only
from rigs import AMP, MODELS, box, run, step

from fieldkit.gear import library

BEHIND = (
    AMP + box("S", "subs", "sub") + box("B1") + run("W", "A.A", step("four", "10 m", "S"), step("two", "2 m", "B1"))
)
CROSSING = '[[adaptors]]\nid = "own-crossing"\npins = { 1 = "2", 2 = "1" }\n'
BOTH = 'feeds = { 1 = "A.1", 2 = "A.2" }\n'
SECOND = 'feeds = { 2 = "A.2" }\n'


@pytest.fixture(autouse=True)
def an_empty_library_of_ones_own(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path))


def put(text):
    return changed_in(text, '{ cable = "two"', '{ adaptor = "own-crossing" }, { cable = "two"')


# A top that listens on pair 1 stands behind a sub that listens there too; pair 2 is to be its own.
def test_the_finding_about_a_pair_names_an_adaptor_of_the_show_and_it_fixes():
    item = only("pair-feeds-nothing", BEHIND + BOTH, MODELS + CROSSING)
    assert item.fix == "put the adaptor 'own-crossing' into W, before step 2 ('two' to B1)"
    rules = {item.rule for item in findings(put(BEHIND + BOTH), MODELS + CROSSING)}
    assert not rules & {"pair-feeds-nothing", "pins-do-not-meet", "box-unfed", "bands-on-one-output"}


def test_the_findings_about_a_lost_pair_and_a_silent_box_agree():
    lost, silent = only("pins-do-not-meet", BEHIND + SECOND), of_rule("box-unfed", BEHIND + SECOND)
    fixes = {item.where.id: item.fix for item in silent}
    assert (
        lost.fix
        == fixes["B1"]
        == ("put the adaptor 'pair-crossing' of the gear library into W, before step 2 ('two' to B1)")
    )
    # No adaptor before the sub's own cable would leave the top on an output of its own: its pair is to be fed.
    assert fixes["S"] == "feed pair 1, on which it listens, by 'feeds' and by cables that carry it"


def test_an_adaptor_of_ones_own_gear_library_is_named(tmp_path):
    text = '[adaptor]\nid = "a-crossing"\npins = { 1 = "2", 2 = "1" }\n'
    (tmp_path / "a-crossing.toml").write_text(text, encoding="utf-8")
    assert "'a-crossing' of the gear library" in only("pair-feeds-nothing", BEHIND + BOTH).fix


def test_where_no_adaptor_helps_none_is_named():
    # A bi-amp box behind two cores wants a second pair, which no adaptor brings.
    text = AMP + box("B1", more='drive = "bi-amp"') + run("W", "A.A", step("two", "5 m", "B1"))
    assert "adaptor" not in only("pins-do-not-meet", text).fix
    assert "adaptor" not in only("box-unfed", box("B1")).fix


def test_an_adaptor_whose_plugs_do_not_fit_is_not_named():
    models = MODELS.replace('id = "four"\n', 'id = "four"\nconnectors = ["8-pole", "8-pole"]\n').replace(
        'id = "two"\n', 'id = "two"\nconnectors = ["8-pole", "8-pole"]\n'
    )
    models = models.replace('id = "top"\n', 'id = "top"\nconnector = "8-pole"\n')
    models = models.replace('id = "sub"\n', 'id = "sub"\nconnector = "8-pole"\n')
    assert "adaptor" not in only("pair-feeds-nothing", BEHIND + BOTH, models).fix
    fitting = CROSSING.replace("pins", 'connectors = ["8-pole", "8-pole"]\npins')
    assert "own-crossing" in only("pair-feeds-nothing", BEHIND + BOTH, models + fitting).fix


def test_an_adaptor_does_not_come_before_a_piece_that_other_runs_share():
    text = changed_in(BEHIND + BOTH, 'length = "2 m", box', 'length = "2 m", shared = "TRUNK", box')
    assert "adaptor" not in only("pair-feeds-nothing", text).fix
    four = changed_in(text, 'cable = "two"', 'cable = "four"')
    assert "between step 2 and B1" in only("pair-feeds-nothing", four).fix


def test_a_sound_rig_does_not_read_the_library(monkeypatch):
    def never():
        raise AssertionError("the gear library was read")

    monkeypatch.setattr(library, "every", never)
    assert of_rule("pair-feeds-nothing", put(BEHIND + BOTH), MODELS + CROSSING) == []
