"""Renaming is followed by every place that names the thing; removing says what goes with it."""

import tomllib

import pytest
from shows import FERRY

from fieldkit.commands.cli import run
from fieldkit.show.contents import all_units
from fieldkit.show.decoding import decode
from fieldkit.show.edits import find
from fieldkit.show.errors import DocumentError
from fieldkit.show.labels import another_like, next_label
from fieldkit.show.references import problems
from fieldkit.show.removal import removed
from fieldkit.show.usage import renamed, users
from fieldkit.show.writing import canonical


@pytest.fixture
def show():
    return decode(tomllib.loads(FERRY))


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("boxes", "ML1", "LEFT-1"),
        ("zones", "subs", "low"),
        ("rack_units", "SR-1", "AMP"),
        ("rack_units", "DP", "BRAIN"),
        ("racks", "SR", "STAGE"),
        ("runs", "W1", "LONG"),
        ("supplies", "X1", "RED"),
        ("loudspeakers", "two-way-12", "another-box"),
        ("amplifiers", "quad-900", "another.amp"),
        ("cables", "four-core-2.5", "thin"),
        ("processors", "three-by-six", "outboard"),
    ],
)
def test_every_reference_follows(show, table, old, new):
    after = renamed(show, table, old, new)
    assert list(problems(after)) == []
    assert users(after, table, new) == tuple((other, name.replace(old, new)) for other, name in users(show, table, old))
    assert users(after, table, old) == ()
    assert renamed(after, table, new, old) == show


def test_the_units_of_a_rack_follow_its_name(show):
    after = renamed(show, "racks", "SR", "STAGE")
    assert {unit.id for unit in all_units(after)} == {"STAGE-1", "DP"}
    assert after.runs[0].start == "STAGE-1.A"
    assert after.runs[0].feeds == {"1": "STAGE-1.1", "2": "STAGE-1.2"}


def test_a_label_that_is_taken_or_may_not_be(show):
    with pytest.raises(DocumentError, match="'ML2' is already used"):
        renamed(show, "boxes", "ML1", "ML2")
    with pytest.raises(DocumentError, match="'SR-1' is already used"):
        renamed(show, "boxes", "ML1", "SR-1")
    with pytest.raises(DocumentError, match="expected a label of 1 to 64"):
        renamed(show, "boxes", "ML1", "M L")
    with pytest.raises(DocumentError, match="there is no 'XX'"):
        renamed(show, "boxes", "XX", "Y")


def test_who_uses_what(show):
    assert users(show, "zones", "mains") == (("boxes", "ML1"), ("boxes", "ML2"))
    assert users(show, "cables", "four-core-2.5") == (("stock", "four-core-2.5"), ("runs", "W1"))
    assert users(show, "rack_units", "DP") == (("rack_units", "SR-1"),)


@pytest.mark.parametrize(
    ("table", "name", "said"),
    [
        ("boxes", "ML1", ("run W1 goes on without it",)),
        ("boxes", "ML2", ("run W1 goes on without it",)),
        (
            "zones",
            "mains",
            ("box ML1 goes", "run W1 goes on without it", "box ML2 goes", "run W1 goes, with its cables"),
        ),
        ("zones", "subs", ()),
        ("runs", "W1", ("its readings go",)),
        ("rack_units", "SR-1", ("run W1 goes", "its readings go")),
        ("rack_units", "DP", ("SR-1 loses an input",)),
        ("supplies", "X1", ("SR-1 is on no supply", "DP is on no supply")),
        ("racks", "SR", ("unit SR-1 goes", "run W1 goes", "its readings go", "unit DP goes")),
        ("processors", "three-by-six", None),
        ("cables", "four-core-2.5", None),
    ],
)
def test_removing_says_what_goes_and_leaves_a_sound_show(show, table, name, said):
    if said is None:
        with pytest.raises(DocumentError, match="is in use"):
            removed(show, table, name)
        return
    result = removed(show, table, name)
    assert result.consequences == said
    assert list(problems(result.show)) == []
    assert name not in {thing.id for thing in getattr(result.show, table)}


def test_the_last_box_takes_its_cable_with_it(show):
    assert [step.box for step in removed(show, "boxes", "ML2").show.runs[0].path] == ["ML1"]
    assert [step.box for step in removed(show, "boxes", "ML1").show.runs[0].path] == [None, "ML2"]


def test_a_model_that_nobody_uses_goes_with_its_stock(show):
    empty = removed(removed(show, "zones", "mains").show, "loudspeakers", "two-way-12")
    assert [item.model for item in empty.show.stock] == ["four-core-2.5"]


def test_another_like_it(show):
    copy = another_like(show, find(show, "boxes", "ML1"))
    assert (copy.id, copy.side, copy.model, copy.drive) == ("ML3", "left", "two-way-12", "bi-amp")
    assert next_label(show, "W-B") == "W-B1"


def test_a_removal_can_be_saved_and_checked(show, tmp_path):
    path = tmp_path / "show.toml"
    path.write_text(canonical(removed(show, "boxes", "ML2").show), encoding="utf-8")
    assert run(["check", str(path)]) == 0


# ---- what was done and read follows ----------------------------------------------------------------------------------

RECORDS = """
[[readings]]
line = "W1/1"
at = "ML1.in"
value = "6 ohm"
[[readings]]
line = "W1/1"
at = "ML2.alone"
value = "6 ohm"
[[log]]
kind = "polarity"
at = "ML1"
[[log]]
kind = "polarity"
at = "ML2"
ok = false
[[log]]
kind = "noise"
at = "SR-1.1"
[[log]]
kind = "fault"
at = "W1"
[[log]]
kind = "fault"
at = "the rig"
"""


@pytest.fixture
def worked():
    return decode(tomllib.loads(FERRY + RECORDS))


def log_of(show):
    return [(entry.at, entry.ok) for entry in show.log]


def test_the_log_and_the_readings_follow_an_exchange_of_two_labels(worked):
    after = renamed(renamed(renamed(worked, "boxes", "ML1", "X"), "boxes", "ML2", "ML1"), "boxes", "X", "ML2")
    assert log_of(after)[:2] == [("ML2", True), ("ML1", False)]
    assert [item.at for item in after.readings[-2:]] == ["ML2.in", "ML1.alone"]
    assert log_of(after)[2:] == log_of(worked)[2:]


def test_the_log_follows_a_rack_with_its_units_and_a_run(worked):
    assert ("STAGE-1.1", True) in log_of(renamed(worked, "racks", "SR", "STAGE"))
    assert ("LONG", True) in log_of(renamed(worked, "runs", "W1", "LONG"))
    assert "log" in {table for table, _ in users(worked, "boxes", "ML1")}


def test_a_box_that_goes_takes_its_tests_and_readings_and_says_so(worked):
    result = removed(worked, "boxes", "ML1")
    assert result.consequences == (
        "run W1 goes on without it",
        "the reading of W1/1 at ML1.in goes",
        "what the log says of ML1 goes",
    )
    assert log_of(result.show) == log_of(worked)[1:]
    assert [item.at for item in result.show.readings] == [item.at for item in worked.readings if item.at != "ML1.in"]


def test_a_unit_that_goes_takes_what_was_heard_on_it(worked):
    result = removed(worked, "rack_units", "SR-1")
    assert "what the log says of SR-1.1 goes" in result.consequences
    assert log_of(result.show) == [("ML1", True), ("ML2", False), ("the rig", True)]
    assert result.show.readings == ()
