"""Let the program propose the plan, by real keys."""

import asyncio
import threading

import pytest
from apps import app_on, press, until

from fieldkit import samples
from fieldkit.app.dialogs.answering import Accept
from fieldkit.app.tasks.assigning import ChoosePlugs, Working
from fieldkit.app.widgets.rows import Rows
from fieldkit.planning.assign import plan as planning

SIZE = (80, 24)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def hall(tmp_path):
    """The smallest sample without its runs."""
    path = tmp_path / "hall.toml"
    text = (samples.folder() / "village_hall.toml").read_text(encoding="utf-8")
    path.write_text(text[: text.index("# One lead a side")], encoding="utf-8")
    return path


async def test_a_plan_is_proposed_previewed_taken_and_undone_in_one_step(hall):
    app = app_on(hall)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "4", "p")
        assert "what has no run yet" in text
        await press(pilot, "enter")
        await until(pilot, lambda app: isinstance(app.screen, Accept))
        text = await press(pilot)
        assert "4 boxes to plug" in text
        assert "all boxes driven" in text
        assert "share an amplifier (AMP)" in text
        first = text
        text = await press(pilot, "pagedown")
        assert "all boxes driven" not in text  # one page is gone with the first key
        assert "15 m assumed" in first + text
        assert "SL: → AMP.1 by W1" in text
        text = await press(pilot, "pagedown", "pagedown")
        assert "8.24 Ω after; minimum 4 Ω" in text
        before = app.session.present
        text = await press(pilot, "enter")
        assert "plan for 4 boxes taken" in text
        assert "W1/1" in text
        assert len(app.session.present.runs) == 2
        assert not [item for item in app.session.findings if item.severity == "error"]
        await press(pilot, "u")
        assert app.session.present == before
        assert not app.session.dirty


async def test_leaving_the_preview_changes_nothing(hall):
    app = app_on(hall)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", "enter")
        await until(pilot, lambda app: isinstance(app.screen, Accept))
        await press(pilot, "escape")
        await until(pilot, "nothing was changed")
        assert not app.session.dirty


async def test_a_plan_that_is_complete_is_left_as_it_is(tmp_path):
    path = tmp_path / "open_air.toml"
    path.write_bytes((samples.folder() / "open_air.toml").read_bytes())
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", "enter")
        text = await until(pilot, lambda app: not isinstance(app.screen, Working))
        assert "nothing to plan" in await press(pilot), text
        assert not app.session.dirty


async def test_what_is_missing_is_told_whole_where_there_is_no_plan(tmp_path):
    """What to hire is the answer: it stands in a window, since the line at the foot would cut it."""
    path = tmp_path / "bare.toml"
    path.write_text(
        'format = 2\n[[zones]]\nid = "hall"\n[[boxes]]\nid = "TL"\nmodel = "two-way-10-inch"\nzone = "hall"\n',
        encoding="utf-8",
    )
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", "enter")
        text = await until(pilot, "no plan for 1 box: nothing was changed")
        assert "nothing here drives it; it" in text
        assert "silent: TL" in text
        assert "no priority is set" not in text  # of one zone alone there is no order
        await press(pilot, "escape")
        assert not app.session.dirty


async def test_how_many_plugs_move_is_chosen_on_the_ladder_which_begins_at_what_is_proposed(tmp_path):
    path = tmp_path / "school.toml"
    path.write_bytes((samples.folder() / "school_musical.toml").read_bytes())
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", *"everything", "enter")
        await until(pilot, lambda app: isinstance(app.screen, ChoosePlugs))
        text = await press(pilot)
        assert "* 4 plugs" in text
        assert "0 plugs" in text
        assert app.screen.query_one(Rows).key == "4"
        text = await press(pilot, "enter")
        assert "6 boxes to plug, 4 plugs moved" in text
        await press(pilot, "enter")
        await until(pilot, "plan for 6 boxes taken")
        assert {run.start for run in app.session.present.runs if run.id in ("W5", "W6")} <= {
            "A1.A",
            "A1.B",
            "A2.A",
            "A2.B",
        }
        units = {unit.id: unit for unit in app.session.present.rack_units}
        assert "DP.4" in {*units["A1"].inputs.values(), *units["A2"].inputs.values()}  # the subs stay on their preset


async def test_one_zone_can_be_planned_anew_by_typing_its_name(tmp_path):
    path = tmp_path / "school.toml"
    path.write_bytes((samples.folder() / "school_musical.toml").read_bytes())
    app = app_on(path)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", *"fills", "enter")
        await until(pilot, lambda app: not isinstance(app.screen, Working))
        assert not [item for item in app.session.findings if item.severity == "error"]


async def test_whoever_stops_the_work_still_gets_the_best_found(hall, monkeypatch):
    begun = threading.Event()
    real = planning.assign

    def slow(show, wishes, *, cancelled, progress):
        """Hold the work until somebody stops it, as a large rig would."""
        progress("rack units")
        begun.set()
        while not cancelled():
            threading.Event().wait(0.01)
        return real(show, wishes, cancelled=lambda: False, progress=progress)

    monkeypatch.setattr(planning, "assign", slow)
    app = app_on(hall)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", "enter")
        assert await asyncio.to_thread(begun.wait, 5)
        text = await press(pilot)
        assert "bringing to its best: rack units" in text
        assert "esc stops" in text
        await press(pilot, "escape")
        text = await until(pilot, lambda app: isinstance(app.screen, Accept))
        assert "4 boxes to plug" in await press(pilot), text


async def test_without_a_show_it_says_so():
    app = app_on(None)
    async with app.run_test(size=SIZE) as pilot:
        assert "no show is open" in await press(pilot, "4", "p")


async def test_whoever_asks_twice_leaves_at_once(hall, monkeypatch):
    end = threading.Event()

    def stuck(show, wishes, *, cancelled, progress):
        end.wait(30.0)
        return planned(show, wishes, cancelled=cancelled, progress=progress)

    planned = planning.assign
    monkeypatch.setattr(planning, "assign", stuck)
    app = app_on(hall)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "p", "enter")
        await until(pilot, lambda app: isinstance(app.screen, Working))
        await press(pilot, "escape")
        await until(pilot, "esc again leaves")
        assert isinstance(app.screen, Working)  # the work goes on until it has heard
        await press(pilot, "escape")
        await until(pilot, lambda app: not isinstance(app.screen, Working))
        end.set()
        assert "nothing was changed" in await press(pilot)
        assert not app.session.dirty
