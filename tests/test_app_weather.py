"""Zones and the window for today's air, by keys: a cold evening, seen before it is taken."""

import msgspec
from apps import app_on, do, press, screen_text, type_text

from fieldkit import samples
from fieldkit.app.shell import changed_counts
from fieldkit.reports.text import plan_text
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.rig.solve.explanation import delay_figures
from fieldkit.sheets.material import Material
from fieldkit.show.edits import changed
from fieldkit.show.opening import open_show
from fieldkit.text.style import Style

SIZE = (80, 24)


async def test_a_cold_evening_is_seen_before_it_is_taken():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.present.about.temperature
        text = await press(pilot, "3")
        assert "62 m - 18 m" in text
        await do(pilot, "weather")
        text = await type_text(pilot, "11")  # what a thermometer shows
        assert "= 11 °C" in text
        row = next(line for line in text.splitlines() if "delay left" in line)
        assert "142.22" in row  # 44 m at 337.89 m/s and 12 ms, worked by hand
        assert "set it" in row
        assert "leave it" in next(line for line in text.splitlines() if "subs left" in line)
        assert app.session.present.about.temperature == before
        await press(pilot, "enter")
        assert app.session.present.about.temperature == "11 °C"
        await press(pilot, "u")
        assert app.session.present.about.temperature == before


async def test_a_temperature_that_is_none_is_refused_in_place():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3")
        await do(pilot, "cold")
        text = await type_text(pilot, "11 m")
        assert "expected a temperature" in text
        await press(pilot, "enter")
        assert "expected a temperature" in screen_text(app)
        await press(pilot, "escape")
        assert not app.session.dirty


async def test_the_card_of_an_output_says_what_to_set():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=(200, 50)) as pilot:
        await press(pilot, "g")
        await type_text(pilot, "A4.1")
        text = await press(pilot, "enter")
        assert "DP input 2 > DP output 3 > A4 input 1 > A4.1" in text
        assert "572 samples at 48 kHz" in text
        assert "knob at -6.0 dB, locked" in text


async def test_the_delay_of_a_zone_explains_itself_down_to_a_distance():
    app = app_on("sample_shows/school_musical.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("zones fills")
        assert "delay of fills all = 11.93 ms" in await press(pilot, "e")
        await press(pilot, "enter")
        text = await press(pilot, "down", "enter")
        assert "from the reference = 6.2 m   [fills, reference_distance]" in text
        assert "air temperature = 21" in text


def test_a_temperature_is_shown_in_the_unit_in_which_it_was_typed():
    show = open_show("sample_shows/school_musical.toml").show
    show = msgspec.structs.replace(show, about=changed(show.about, temperature="80 °F"))
    rig = evaluate(show)
    assert "80 °F, " in list(plan_text(rig, (), Style()))[1]
    assert [Material(rig, (), units).air for units in ("typed", "metric", "imperial")] == ["80 °F", "26.7 °C", "80 °F"]
    sources = {item.source for figure in delay_figures(rig, "fills") for _, _, item in figure.walk()}
    assert "[show], temperature '80 °F'" in sources


def test_what_a_change_brings_is_counted_by_severity():
    """An error that comes and two notes that go are not one finding fewer."""
    before, after = {"errors": 0, "warnings": 2, "notes": 3}, {"errors": 1, "warnings": 2, "notes": 1}
    assert changed_counts(before, after) == ", 1 error more, 2 notes fewer"
    assert changed_counts(after, after) == ""
