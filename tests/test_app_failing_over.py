"""An amplifier fails: x shows what falls silent and the moves, enter takes them, x again puts everything back."""

import asyncio
import threading
from concurrent.futures import CancelledError

import pytest
from apps import app_on, press, screen_text, type_text, until

from fieldkit import samples
from fieldkit.app.tasks import failing_over
from fieldkit.app.tasks.failing_over import Searching
from fieldkit.show.opening import open_show

SIZE = (80, 24)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def musical(tmp_path):
    path = tmp_path / "musical.toml"
    path.write_text((samples.folder() / "school_musical.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


async def found(app, pilot):
    """Wait until the search is over."""
    for _ in range(200):
        await pilot.pause()
        if not isinstance(app.screen, Searching):
            await pilot.pause()
            return screen_text(app)
        await asyncio.sleep(0.02)
    raise AssertionError("the search did not end")


async def said(pilot, *words):
    """Press enter, and wait until the screen says what is to come."""
    text = await press(pilot, "enter")
    for _ in range(200):
        if all(word in text for word in words):
            break
        await asyncio.sleep(0.02)
        await pilot.pause()
        text = screen_text(pilot.app)
    return text


async def mark(app, pilot, name):
    await press(pilot, "x")
    await type_text(pilot, name)
    await press(pilot, "enter")
    return await found(app, pilot)


async def test_an_amplifier_fails_and_comes_back(musical):
    app = app_on(musical)
    before = open_show(musical).show
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4")
        app.screen.query_one("Rows").move_to("W1/1")
        unit = app.session.rig.line("W1/1")[0].output.unit.id
        text = await mark(app, pilot, unit)
        assert f"{unit} has failed: " in text
        assert "falls silent" in text
        text = await said(pilot, f"{unit} marked failed")
        assert f"{unit} marked failed" in text
        assert [item.id for item in app.session.present.failed] == [unit]
        await press(pilot, "ctrl+s", "x")
        await type_text(pilot, f"{unit} moves once")
        text = await said(pilot, "the moves that were taken", "mute A4")
        assert "the moves that were taken" in text
        assert "mute A4 out 2" in text
        await press(pilot, "escape", "x")
        await type_text(pilot, f"{unit} put back")
        text = await said(pilot, f"{unit} is back: ", "unmute")
        assert f"{unit} is back: " in text
        assert f"unmute {unit} out 1 quietly" in text or f"A4 out 2 → {unit} out 1" in text
        text = await said(pilot, f"{unit} put back")
        assert f"{unit} put back" in text
        assert app.session.present == before
        await press(pilot, "u")
        assert [item.id for item in app.session.present.failed] == [unit]
    assert [item.id for item in open_show(musical).show.failed] == [unit]


async def test_escape_leaves_everything_as_it_is(musical):
    app = app_on(musical)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3", "down")
        box = app.session.present.boxes[0].id
        text = await mark(app, pilot, f"{box} has failed")
        assert f"{box} has failed" in text
        assert "nothing was changed" in await press(pilot, "escape")
        assert not app.session.dirty


async def test_escape_ends_the_search_itself(musical, monkeypatch):
    begun, ended = threading.Event(), threading.Event()

    def endless(_show, _names, cancelled):
        begun.set()
        while not cancelled():
            threading.Event().wait(0.01)
        ended.set()
        raise CancelledError

    monkeypatch.setattr(failing_over, "fail_over", endless)
    app = app_on(musical)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "x", "enter")
        assert await asyncio.to_thread(begun.wait, 10)
        await pilot.press("escape")
        assert await asyncio.to_thread(ended.wait, 10)
        assert not isinstance(app.screen, Searching)
        assert not app.session.dirty


async def test_any_amplifier_is_found_by_its_name_whatever_the_row(musical):
    app = app_on(musical)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "3", "x")  # on the row of a zone, which cannot die itself
        assert "A1" in text
        assert "DP" in text
        await type_text(pilot, "A1")
        await press(pilot, "enter")
        assert "A1 has failed: " in await found(app, pilot)


async def test_what_is_dead_is_shown_as_dead_and_not_as_free(musical):
    app = app_on(musical)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4")
        await mark(app, pilot, "A5")
        await press(pilot, "enter")
        app.screen.query_one("Rows").move_to("unit A5")
        lines = (await press(pilot, "down")).splitlines()
        heading = next(place for place, row in enumerate(lines) if row.startswith("A5 "))
        assert lines[heading + 1].split()[0] == ".1"
        assert "failed" in lines[heading + 1]
        assert "free" not in lines[heading + 1]
        app.screen.query_one("Rows").move_to("W7/1")
        await mark(app, pilot, "WALL-1")
        text = await press(pilot, "enter")
        [row] = [row for row in text.splitlines() if "W7/1" in row]
        assert row.rstrip().endswith("failed")


async def test_from_mains_a_supply_fails_and_comes_back():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        app.screen.query_one("Rows").move_to("supply WALL-2 0")
        text = await press(pilot, "x")
        assert "WALL-2" in next(
            line for line in text.splitlines() if "has failed" in line
        )  # what the row is about, first
        await press(pilot, "enter")
        await until(pilot, "WALL-2 has failed: ")
        await press(pilot, "enter")
        assert [item.id for item in app.session.present.failed] == ["WALL-2"]
        await press(pilot, "x")
        await type_text(pilot, "WALL-2 put back")
        await press(pilot, "enter", "enter")
        assert app.session.present.failed == ()


async def test_from_the_overview_any_amplifier_is_found_by_its_name():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "x")
        await type_text(pilot, "A4")
        await press(pilot, "enter")
        await until(pilot, "A4 has failed: ")
