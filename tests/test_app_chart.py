"""The chart by keys: walked through, narrowed, explained, and taken along into a show as one step of undo."""

import pytest
from apps import app_on, press, screen_text, type_text

from fieldkit import samples
from fieldkit.checks.checking import check
from fieldkit.rig.solve.evaluation import evaluate


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def hall(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text((samples.folder() / "village_hall.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


async def test_the_chart_of_the_model_under_the_cursor(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "2", "v")
        first = app.session.present.loudspeakers[0].id
        assert f"{first}: 12 rows, no cable" in text
        assert "most: 2 on one output, 8 on the amplifier, set by the minimum load" in text
        # Narrowed to one amplifier: its own row, at one glance and in full.
        await press(pilot, "slash")
        await type_text(pilot, f"{first} portable")
        text = await press(pilot, "enter")
        assert "8 · 2 " in text
        text = await press(pilot, "e")
        assert "load of the output = 4 Ω" in text
        # down to the formula: enter on the load says what it is made of
        assert "load of the output = 4 Ω   Z = " in await press(pilot, "enter")
        await press(pilot, "escape")
        text = await press(pilot, "enter")
        assert "presets, full range: full-range, hosted by the amplifier" in text or "hosted by the amplifier" in text


async def test_a_row_is_taken_along_as_one_step(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "v", "slash")
        await type_text(pilot, "portable-four-hosting two-way-12-inch bi-amp")
        await press(pilot, "enter")
        before = app.session.present
        text = await press(pilot, "a")
        assert "how many boxes to take along" in text
        await type_text(pilot, "9")
        assert "expected a whole number from 1 to 4" in await press(pilot, "enter")
        await type_text(pilot, "2")
        text = await press(pilot, "enter")
        assert "with 2 boxes" in text
        show = app.session.present
        added = [box for box in show.boxes if box not in before.boxes]
        assert [(box.model, box.drive) for box in added] == [("two-way-12-inch", "bi-amp")] * 2
        unit = next(unit for unit in show.rack_units if unit not in before.rack_units)
        assert unit.model == "portable-four-hosting"
        fed = {load.box.id for out in app.session.rig.outputs if out.output.unit.id == unit.id for load in out.loads}
        assert fed == {box.id for box in added}
        # The hall owns one such amplifier, and its leads are in use: the stock says so, and nothing else is wrong.
        assert {item.rule for item in app.session.findings if item.severity == "error"} == {
            "more-than-in-stock",
            "cables-missing",
        }
        await press(pilot, "u")
        assert app.session.present == before


async def test_without_a_show_a_new_one_is_made(tmp_path):
    app = app_on(None)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "v")
        while "what drives what: 132 rows" not in screen_text(app):
            await pilot.pause()
        await press(pilot, "slash")
        await type_text(pilot, "four-channel-hosting bridged sub-double")
        await press(pilot, "enter", "a", "enter")
        await type_text(pilot, "new.toml")
        await press(pilot, "enter")
        show = app.session.present
        assert (tmp_path / "new.toml").exists()
        assert {box.model for box in show.boxes} == {"sub-double-18-inch"}
        assert show.rack_units[0].bridged == ("1+2", "3+4")
        assert not [item for item in check(evaluate(show)) if item.severity == "error"]


async def test_what_carries_a_list_is_taken_along(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        before = app.session.present
        await press(pilot, "2", "v", "p")
        assert "may be" in await type_text(pilot, "2 two-way")
        assert "(with sub)" in await type_text(pilot, "2 two-way-12-inch bi-amp, 2 sub-single-15-inch")
        text = await press(pilot, "enter")
        assert "1 portable-four-hosting, 0 U" in text
        text = await press(pilot, "enter")
        assert "low-with-sub" in text
        await press(pilot, "enter")
        show = app.session.present
        assert len(show.boxes) - len(before.boxes) == 4
        tops = next(zone for zone in show.zones if zone not in before.zones and zone.id.startswith("tops"))
        assert tops.low_end_from[0].startswith("subs")
        presets = {load.choice.id for out in app.session.rig.outputs for load in out.loads if load.box.zone == tops.id}
        assert presets == {"low-with-sub", "high-front"}


async def test_sets_and_a_lead(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "v", "slash")
        await type_text(pilot, "portable-four-hosting two-way-8-inch")
        await press(pilot, "enter", "l")
        assert "expected a cable and its length" in await type_text(pilot, "thick 20 m")
        await type_text(pilot, "2.5 mm² 20 m")
        text = await press(pilot, "enter")
        assert "1 row, lead 20 m 2.5 mm²" in text
        text = await press(pilot, "v")
        assert "sets that fill portable-four-hosting" in text
        assert "sub-single-15-inch" in text


async def test_enter_on_a_model_is_its_page(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2")
        rows = app.screen.query_one("Rows")
        assert rows.move_to("amplifiers portable-four-hosting ")
        text = await press(pilot, "enter")
        if "see and edit" in text:
            await type_text(pilot, "page")
            text = await press(pilot, "enter")
        assert "each channel" in text
        assert "→ what it drives" in text
        text = await press(pilot, "down", "enter")
        assert "portable-four-hosting: 11 rows" in text
