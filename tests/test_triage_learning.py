"""Closed cases that a user lets count: one number of the user's own table changes, and nothing else of the file."""

from __future__ import annotations

import tomllib

import pytest
from apps import app_on, do, press, screen_text, type_text
from budget import tries
from hypothesis import given
from hypothesis import strategies as st

from fieldkit import samples
from fieldkit.show.errors import FileError
from fieldkit.triage.belief.learning import count_in, learned, more, take_back, with_odds
from fieldkit.triage.model.odds import ORIGIN, origin, table

BUILT_IN = 14.0
"""Of an open high driver, in fieldkit/triage/odds.toml."""


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    return tmp_path / "config"


def test_a_case_counts_one_and_the_next_one_another(folder):
    assert (more("high-driver-open"), origin()) == ((BUILT_IN, BUILT_IN + 1), ORIGIN)
    count_in("high-driver-open")
    assert table().odds["high-driver-open"] == BUILT_IN + 1
    count_in("high-driver-open")
    count_in("conductor-open")
    own = tomllib.loads((folder / "triage.toml").read_text(encoding="utf-8"))
    assert own == {"odds": {"high-driver-open": BUILT_IN + 2, "conductor-open": 9}}
    assert origin() == f"your own triage.toml, else {ORIGIN}"


def test_comments_and_other_numbers_stay(folder):
    folder.mkdir()
    text = '# mine\n[minutes]\nlights = 1 # far away\n\n[odds]  # measured\n"short" = 9 # wet cables\n\n[stop]\nsure = 0.9\n'
    (folder / "triage.toml").write_text(text, encoding="utf-8")
    count_in("short")
    count_in("muted")
    found = (folder / "triage.toml").read_text(encoding="utf-8")
    assert found == text.replace('"short" = 9 #', '"short" = 10 #').replace("# measured\n", "# measured\nmuted = 23\n")


@pytest.mark.parametrize("text", ["odds = { short = 4 }\n", "odds.short = 4\n", "[odds]\nshort =\n  4\n"])
def test_a_file_of_another_shape_is_left_alone(folder, text):
    folder.mkdir()
    (folder / "triage.toml").write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        count_in("muted")
    assert "\n" not in str(caught.value)
    assert (folder / "triage.toml").read_text(encoding="utf-8") == text


def test_what_has_no_whole_odds_is_not_counted(folder):
    assert more("none-of-these") is None  # a chance, and no odds
    with pytest.raises(FileError, match="has no odds"):
        count_in("gremlins")
    assert not folder.exists()


@given(
    numbers=st.dictionaries(st.sampled_from(sorted(table().odds)), st.integers(1, 99), max_size=6),
    kind=st.sampled_from(sorted(table().odds)),
    value=st.integers(1, 999),
    comments=st.lists(st.text(st.characters(exclude_categories=("C", "Z")), max_size=12), max_size=3),
)
@tries(20)
def test_any_table_takes_one_number(numbers, kind, value, comments):
    text = "".join(f"# {comment}\n" for comment in comments)
    text += "[odds]\n" + "".join(f"{key} = {number}\n" for key, number in numbers.items()) + "[stop]\nsure = 0.9\n"
    after = with_odds(text, kind, value)
    assert tomllib.loads(after) == {"odds": numbers | {kind: value}, "stop": {"sure": 0.9}}
    assert [line for line in after.splitlines() if line.startswith("#")] == [f"# {comment}" for comment in comments]


async def closed_as_not_connected(pilot):
    """Look for what is wrong with F2, and say that it was not connected."""
    await press(pilot, "f1", "t")
    await type_text(pilot, "F2")
    for _ in range(200):  # the whole label needs no enter: the window goes, and the screen with the advice comes
        if "what does F2 do?" in screen_text(pilot.app):
            break
        await pilot.pause()
    assert "what does F2 do?" in screen_text(pilot.app)
    await press(pilot, "s")
    await do(pilot, "fixed")
    await type_text(pilot, "F2 is not connected")
    assert "fault   F2 is not connected" in await press(pilot, "enter")
    return await press(pilot, "escape")


async def test_fixed_it_was_and_count_it_in(folder):
    app = app_on(samples.folder() / "practice.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        assert "box missing: 6 now, 7 then, in your triage.toml" in await closed_as_not_connected(pilot)
        await press(pilot, "n")
        assert not (folder / "triage.toml").exists()
        await closed_as_not_connected(pilot)
        assert "counted in your triage.toml" in await press(pilot, "enter")
        assert table().odds["box-missing"] == 7


@pytest.mark.usefixtures("folder")
def test_what_was_learned_is_listed_and_taken_back():
    before = table().odds["short"]
    count_in("short")
    count_in("short")
    count_in("reversed")
    assert [(item.kind, item.cases) for item in learned()] == [("short", 2), ("reversed", 1)]
    take_back("short")
    assert table().odds["short"] == before + 1
    assert [(item.kind, item.cases) for item in learned()] == [("reversed", 1), ("short", 1)]
    take_back("short")
    assert table().odds["short"] == before
    with pytest.raises(FileError, match="no case of 'short'"):
        take_back("short")


def test_a_journal_of_another_shape_is_one_line(folder):
    folder.mkdir(exist_ok=True)
    (folder / "triage_cases.toml").write_text("cases = 3\n", encoding="utf-8")
    with pytest.raises(FileError, match="a kind and a day"):
        learned()
