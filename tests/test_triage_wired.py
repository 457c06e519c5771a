"""A slice of what ``bench/wired.py`` prints: the search through the command alone, on rigs of other code than its own."""

import random

import pytest
from bench.wired import RIGS
from wired_faults import all_faults, search, told
from wired_rig import CONTACT, CORE, Wired, text_of

SOME = {
    "wedges behind adaptors": ("wrong adaptor to M1", "pair 1 of the adaptor to M1 turned"),
    "tops and subs on shared processor outputs": ("signal Show missing", "pairs crossed in the lead to T1"),
    "bridged subs through a panel": ("lead to D1 failed", "polarity of A.1+2 wrong"),
}


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path))
    return tmp_path / "show.toml"


def test_a_wired_rig_reads_as_worked_by_hand():
    """A coil of 5.5 ohm behind 12 m of two cores and two plugs of two contacts each, what is ahead of it 0.002 ohm."""
    plan, _ = RIGS["passive pair"]
    rig = Wired(plan, seed=3)
    coil = rig.boxes["PL"][0].ohm
    assert rig.meter("W1", "amp", "1", 0) == pytest.approx(2 * (12 * CORE + CONTACT) + 0.002 + coil, rel=1e-4)


@pytest.mark.parametrize("name", SOME)
def test_its_first_fix_is_right_and_no_listen_harms(path, name):
    plan, warm = RIGS[name]
    path.write_text(text_of(plan), encoding="utf-8")
    healthy = Wired(plan, 1, warm)
    for broken in all_faults(healthy, random.Random(1)):
        if broken.name in SOME[name]:
            found = search(path, broken, healthy, seed=1, wrong=0.0)
            assert found.right, (found.name, found.first, found.said)
            assert found.harmful == 0
            assert found.steps <= 6, found.said


def test_a_zone_as_a_whole_and_a_box_of_another_line_tell_where_a_signal_stops(path):
    """Both tops are silent: what hangs on the same is upstream, and a fill on another signal clears the desk."""
    plan, _ = RIGS["tops and subs on shared processor outputs"]
    path.write_text(text_of(plan), encoding="utf-8")
    kinds = {item["fault"] for item in told(path, ["--heard=tops=silent"])["suspects"][:4]}
    assert {"signal missing", "amplifier off"} <= kinds
    after = told(path, ["--heard=tops=silent", "--heard=F1=normal", "--looked=amp=right"])["suspects"]
    assert (after[0]["fault"], after[0]["at"]) == ("signal missing", "Show")
    assert "desk" not in {item["at"] for item in after if item["odds"] > 0.02}
