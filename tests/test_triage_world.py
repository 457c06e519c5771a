"""The search through the command alone, in a physical world of other code: a slice of what ``bench/faults.py`` prints."""

import math

import pytest
from budget import thoroughly
from physical_search import asked, exchanged, faults, search, show_text
from physical_world import World, ohms_between

BIAMP = World({"W1": ("A.A", ["B1", "B2"])}, "bi-amp")
PASSIVE = World({"W1": ("A.A", ["B1", "B2"])}, "passive")
SOME = thoroughly(
    *("pairs crossed", "low coil burnt", "low section reversed", "plug out before", "failed at A.1"),
    more=["plus wires crossed", "preset wrong at A.2", "switch wrong"],
)


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path))
    return tmp_path / "show.toml"


def test_the_world_reads_as_worked_by_hand():
    """Two coils of 11.8 in parallel behind 15 m, the same again 3 m further; contacts and plugs 0.01 a wire."""
    first, second = 2 * (15 * 7.98e-3 + 0.01), 2 * (3 * 7.98e-3 + 0.01)
    beyond = 1 / (1 / 5.9 + 1 / (5.9 + second))
    assert BIAMP.meter("W1", "amp", "1", 0.0) == pytest.approx(first + beyond, rel=1e-3)
    assert BIAMP.meter("W1", "amp", "2", 0.0) == math.inf
    assert ohms_between([("a", "b", 3.0), ("b", "c", 4.0), ("a", "c", 7.0)], "a", "c") == pytest.approx(3.5)


@pytest.mark.parametrize(("healthy", "names"), [(BIAMP, SOME), (PASSIVE, ("switch wrong", "high driver open"))])
def test_its_first_fix_is_right_and_nobody_listens_into_harm(path, healthy, names):
    path.write_text(show_text(healthy), encoding="utf-8")
    found = [
        search(path, broken, healthy, seed=number, wrong_ears=0.0)
        for number, broken in enumerate(faults(healthy))
        if broken.name in names
    ]
    wrong = [(item.name, item.first, item.asked) for item in found if not item.right]
    assert len(wrong) <= len(found) // 10, wrong
    assert sum(item.harmful for item in found) == 0
    assert not [item.name for item in found if item.share >= 0.95 and not item.right]
    assert sum(item.tests for item in found) / len(found) <= 6.0


def test_two_runs_that_play_in_each_others_place_are_named_at_once(path):
    """Story 7: quiet noise on one output, and the boxes of the other run play."""
    healthy = World({"W1": ("A.A", ["B1", "B2"]), "W2": ("A.B", ["B3", "B4"])}, "bi-amp")
    path.write_text(show_text(healthy), encoding="utf-8")
    suspect = asked(path, ["--played", "A.1=B3+B4"])["suspects"][0]
    assert (suspect["fault"], suspect["at"]) == ("runs exchanged", "W1 and W2")
    assert search(path, exchanged(healthy, "W1", "W2"), healthy, seed=1).right
