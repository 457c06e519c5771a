"""What helps while somebody types: units and functions to finish, and the results of the calculator."""

import pytest
from apps import app_on, do, press, screen_text, type_text
from textual.widgets import Input

from fieldkit import samples
from fieldkit.calculator.listing import signature, suggestions, unit_suggestions

SIZE = (80, 24)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


def field(app):
    return app.screen.query_one(Input).value


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("cab", "cable_loss("),
        ("2 * limiter_v", "2 * limiter_voltage("),
        ("cable_loss(30 m, 2.5 mm", "cable_loss(30 m, 2.5 mm"),
        ("sqrt(500 W * 8 oh", "sqrt(500 W * 8 ohm"),
        ("4 dBu in mV", "4 dBu in mV"),
        ("loss_aw", "cable_loss_awg("),
    ],
)
def test_the_first_way_to_finish_a_word(typed, first):
    assert suggestions(typed)[0].text == first


@pytest.mark.parametrize("typed", ["", "10", "4 ", "xyzzy", "(((", "[/b]", "مرحبا", "2 +", "a" * 2000])
def test_no_way_to_finish_what_is_no_word(typed):
    assert suggestions(typed) == ()


def test_units_of_a_field_are_those_of_its_dimension():
    assert [item.word for item in unit_suggestions("82", "length")] == ["m", "mm", "ft", "in"]
    assert [item.text for item in unit_suggestions("82 f", "length")] == ["82 ft"]
    assert unit_suggestions("six", "length") == ()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("cable_loss(30 m, ", "cable_loss(length [m], area [mm²], load [ohm]) → dB"),
        ("1 + cable_loss(sqrt(4) m, ", "cable_loss(length [m], area [mm²], load [ohm]) → dB"),
        ("cable_loss(sqrt(4", "sqrt(x)"),
        ("cable_loss(30 m, 2.5 mm², 8 ohm)", ""),
        ("(4 + 5", ""),
        ("nothing_of_the_kind(", ""),
    ],
)
def test_a_call_says_what_it_wants(typed, said):
    assert signature(typed) == said


async def test_tab_finishes_and_goes_round():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "6", "enter")
        assert "tab: cable_loss   cable_loss_awg" in await type_text(pilot, "cable_l")
        text = await press(pilot, "tab")
        assert field(app) == "cable_loss("
        assert "cable_loss(length [m], area [mm²], load [ohm])" in text
        await press(pilot, "tab")
        assert field(app) == "cable_loss_awg("
        await press(pilot, "tab")
        assert field(app) == "cable_loss("
        for mark in ("3", "0", "space", "m"):
            await pilot.press(mark)
        assert field(app) == "cable_loss(30 m"


async def test_expressions_of_before_come_back():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "6", "enter")
        for expression in ("1 V + 1 V", "2 W * 3"):
            await type_text(pilot, expression)
            await press(pilot, "enter", "enter")
        await press(pilot, "up")
        assert field(app) == "2 W * 3"
        await press(pilot, "up")
        assert field(app) == "1 V + 1 V"
        await press(pilot, "down", "down")
        assert field(app) == ""


async def test_a_result_goes_into_the_field_that_one_came_from():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "6", "enter")
        await type_text(pilot, "parallel(8 ohm, 8 ohm)")
        await press(pilot, "enter", "f1")
        await do(pilot, "data of the show")
        app.screen.query_one("Rows").move_to("preferred_load")
        await press(pilot, "enter")
        text = await press(pilot, "up")
        assert "= 4 ohm" in text
        await press(pilot, "enter")
        assert app.session.present.about.preferred_load == "4 ohm"


async def test_a_field_offers_its_units():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=SIZE) as pilot:
        await do(pilot, "data of the show")
        app.screen.query_one("Rows").move_to("temperature")
        await press(pilot, "enter")
        assert "tab: °C   °F" in await type_text(pilot, "64")
        await press(pilot, "tab", "tab")
        assert field(app) == "64 °F"
        await press(pilot, "enter")
        assert "64 °F" in screen_text(app)
