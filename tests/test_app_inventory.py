"""The stock by keys: how many, single items by serial, what is out of service, what is hired; the pane beside it."""

import pytest
from apps import app_on, press, type_text

from fieldkit import samples
from fieldkit.app.own_choices import background, bars, choose
from fieldkit.show.opening import open_show


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    monkeypatch.delenv("COLORFGBG", raising=False)


@pytest.fixture
def mistakes(tmp_path):
    path = tmp_path / "mistakes.toml"
    path.write_text((samples.folder() / "mistakes.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


def entry(app, serial):
    return next(item for item in app.session.present.stock if item.serial == serial)


async def test_single_items_stand_below_their_model(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "2")
        assert "    serial 0007, in use as W-A, out of service, no top; waits for a new driver" in text
        assert "    serial 0008, in use as W-B" in text
        assert "    1 hired from an invented hire shop, due back 2026-09-10" in text


async def test_an_item_is_mended_and_another_comes(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "down", "down", "down", "x")
        assert entry(app, "0007").out == 0
        assert not [item for item in app.session.findings if item.where.id == "W-A" and item.severity == "error"]
        await press(pilot, "a", "down", "down", "enter")
        assert "one more in stock" in await type_text(pilot, "0009 [new]")
        await press(pilot, "enter")
        assert entry(app, "0009 [new]").model == "stage-wedge-12-inch"
        await press(pilot, "a", "down", "down", "enter")
        assert "there is such an item already" in await type_text(pilot, "0009 [new]")
        await press(pilot, "escape", "u", "u", "d")
        assert [item.serial for item in app.session.present.stock if item.model == "stage-wedge-12-inch"] == ["0008"]


async def test_hired_from_whom_is_edited_and_saved(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "enter")
        await type_text(pilot, "stock")
        await press(pilot, "enter")
        app.screen.query_one("Rows").move_to("hired_from")
        await press(pilot, "enter")
        await type_text(pilot, "=SUM(A1) & sons [invented]")
        assert "=SUM(A1) & sons [invented]" in await press(pilot, "enter")
        await press(pilot, "escape", "escape", "ctrl+s")
    stock = open_show(mistakes).show.stock[0]
    assert stock.hired_from == "=SUM(A1) & sons [invented]"


async def test_how_many_are_out(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "down", "x")
        assert "expected a whole number up to 3" in await type_text(pilot, "4")
        await type_text(pilot, "1")
        await press(pilot, "enter")
        assert next(item for item in app.session.present.stock if item.model == "two-way-12-inch").out == 1


async def test_the_pane_says_what_is_known_of_a_model(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(140, 40)) as pilot:
        text = await press(pilot, "2", "down")
        assert "high: pair 2, 16 ohm, 55 W" in text
        assert "peak 550 W, Re 11 ohm, capacitor 47 uF" in text
        text = await press(pilot, "3", "down")
        assert "switch on the box: bi-amp" in text
        text = await press(pilot, "1")
        assert "fix: leave 2 of 5 on it" in text


async def test_a_light_background_is_kept(mistakes):
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        await press(pilot, "ctrl+p")
        await type_text(pilot, "light or")
        assert "light background" in await press(pilot, "enter")
        assert app.theme == "textual-light"
    assert background({}) == "light"
    choose("dark")
    assert background({"COLORFGBG": "0;15"}) == "dark"


async def test_bars_and_scales_can_be_left_out_for_good_and_every_word_stays(mistakes):
    drawn = set("├┤●◄┊█▌─")
    assert bars()
    app = app_on(mistakes)
    async with app.run_test(size=(80, 24)) as pilot:
        before = await press(pilot, "4")
        assert "├" in before
        await press(pilot, "ctrl+p")
        await type_text(pilot, "screen reader")
        assert "bars and scales are left out" in await press(pilot, "enter")
        for key in ("1", "4", "5", "f7"):
            assert not drawn & set(await press(pilot, key)), key
        values = [line.split() for line in (await press(pilot, "f4")).splitlines()]
        assert "load" in values[2]
        assert "scale" not in values[2]
    assert not bars()
    following = app_on(mistakes)
    assert not following.bench.style.bars


@pytest.mark.parametrize(
    ("said", "word"), [("0;15", "light"), ("15;0", "dark"), ("0;default;7", "light"), ("", "dark")]
)
def test_what_the_terminal_says_of_its_background(said, word):
    assert background({"COLORFGBG": said}) == word


async def test_what_came_back_is_ticked_off_by_a_key_or_a_number():
    """Load-out: space for all of a row, a number and enter for so many, x for one that is broken."""
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "2", "h")
        assert "what came back: 0 of 6 rows counted" in text
        await press(pilot, "space", "1", "enter")
        text = await press(pilot, "x")
        first, second, third = app.session.present.stock[:3]
        assert (first.back, second.back, third.back) == (2, 1, None)
        assert third.out == 1
        assert "2 of 6 rows counted, 1 piece missing" in text
        assert "type how many came back, then enter; space where all did" in await press(pilot, "enter")
        await press(pilot, "9")
        assert "cannot come back" in await press(pilot, "enter")
        assert app.session.present.stock[2].back is None


async def test_what_is_agreed_to_is_told_whole():
    app = app_on(samples.folder() / "village_hall.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2")
        app.bench.confirm("add M5", ["note: W1: " + "much to say " * 12 + "end"], lambda: None, "add it")
        text = await press(pilot)
        assert "say end" in " ".join(text.split())
        assert "enter: add it" in text


async def test_what_is_hired_is_counted_without_what_is_owned():
    """The show owns four of these subs and has hired one."""
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        assert "    1 hired from an invented hire shop" in await press(pilot, "2")
        assert "own, and 1 to an invented hi" in await press(pilot, "h")
        assert "goes to own, and 1 to an invented hire shop" in await press(pilot, "down")
