"""The screen Mains by keys: see, plug, balance, edit, add, remove; each a step to undo."""

import pytest
from apps import LOCAL, app_on, press, screen_text, type_text

from fieldkit import samples
from fieldkit.app.screens.frame import SIGNS
from fieldkit.app.terminal.capabilities import Terminal
from fieldkit.app.widgets.rows import Row, Rows
from fieldkit.rig.power.supplies import supplies_of


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def meadow(tmp_path):
    """The open air with both sides, and the stage, on one circuit."""
    path = tmp_path / "meadow.toml"
    text = (samples.folder() / "open_air.toml").read_text(encoding="utf-8")
    path.write_text(text.replace('supply = "GEN-2"', 'supply = "GEN-1"'), encoding="utf-8")
    return path


async def test_the_generator_at_a_glance():
    """63 A three-phase, private, 60 m of feeder: balanced how, what drop, what order, what to meter."""
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "5")
        assert "[5 Supply]" in text
        assert "GEN: 230 V 63 A three-phase, private, 60 m of 16 mm², generator 40 kVA" in text
        row = next(line for line in text.splitlines() if " GEN " in line and "█" in line)
        assert "L1" in row
        assert " 58 " in row  # of 63 A: 40 kVA / 3 / 230 V
        text = await press(pilot, "v")
        for _ in range(5):
            text += await press(pilot, "pagedown")
        assert "before the first plug" in text
        assert "phase to phase" in text
        await press(pilot, "escape")
        assert "as good as it can be" in await press(pilot, "p")


async def test_balance_is_previewed_taken_and_undone_in_one_step(meadow):
    app = app_on(meadow)
    async with app.run_test(size=(80, 24)) as pilot:
        before = app.session.present
        text = await press(pilot, "f5", "p")
        assert "before," in text
        assert "GEN-1 → GEN-" in text
        await press(pilot, "escape")
        assert app.session.present is before
        await press(pilot, "p", "enter")
        after = app.session.present
        assert max(supplies_of(app.session.rig).totals) < 11
        assert "phases balanced" in screen_text(app)
        await press(pilot, "u")
        assert app.session.present == before
        await press(pilot, "ctrl+r")
        assert app.session.present == after


async def test_a_plug_is_moved_and_pulled():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5", *["down"] * 4)
        text = await press(pilot, "o")
        assert "plug LEFT-1 into" in text
        await type_text(pilot, "GEN L3")
        await press(pilot, "enter")
        unit = next(unit for unit in app.session.present.rack_units if unit.id == "LEFT-1")
        assert (unit.supply, unit.phase) == ("GEN", 3)
        assert app.frame.query_one("Rows").key == "draw LEFT-1"
        await press(pilot, "o")
        await type_text(pilot, "no supply")
        text = await press(pilot, "enter")
        assert "on no supply" in text
        unit = next(unit for unit in app.session.present.rack_units if unit.id == "LEFT-1")
        assert (unit.supply, unit.phase) == (None, None)


async def test_a_supply_is_added_edited_and_removed(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text((samples.folder() / "village_hall.toml").read_text(encoding="utf-8"), encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "on no supply" in await press(pilot, "5")
        await press(pilot, "a", "enter")
        await type_text(pilot, "WALL")
        text = await press(pilot, "enter")
        assert "WALL" in text
        assert [supply.id for supply in app.session.present.supplies] == ["WALL"]
        app.frame.query_one("Rows").move_to("draw AMP")
        await press(pilot, "o", "enter")
        assert app.session.present.rack_units[0].supply == "WALL"
        app.frame.query_one("Rows").move_to("supply WALL 0")
        text = await press(pilot, "enter")
        assert "residual current" in text.replace("_", " ") or "rating" in text
        await press(pilot, "escape", "d")
        text = screen_text(app)
        assert "AMP is on no supply" in text
        await press(pilot, "enter")
        assert app.session.present.supplies == ()


async def test_numbers_explain_themselves_down_to_the_standard():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "5", "e")
        assert "drop of its feeder, L1 = 1.243 V" in text
        text = await press(pilot, *["down"] * 2, "enter")
        assert "60" in text
        assert "60 m" in text


async def test_keys_on_rows_that_they_do_not_fit(meadow):
    app = app_on(meadow)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "put the cursor on one" in await press(pilot, "5", "o")
        before = app.session.present
        text = await press(pilot, "space")
        assert "three-phase" in text
        await press(pilot, "escape")
        assert app.session.present is before


async def test_without_colour_and_beyond_ascii():
    app = app_on(samples.folder() / "open_air.toml", Terminal(remote=True, colour=False, ascii_only=True))
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "5")
        assert "22%  ##......" in text
        assert text.isascii()


async def test_without_a_show():
    app = app_on(None)
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("5", "enter", "p", "b", "o", "e", "space", "d"):
            text = await press(pilot, key)
        assert "no show is open" in text


async def test_load_is_a_percent_with_a_bar_behind_it_that_grows_with_the_width():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        seen = []
        for width in (80, 160):
            await pilot.resize_terminal(width, 24)
            lines = (await press(pilot, "5")).splitlines()
            (line,) = (line for line in lines if " GEN " in line and "%" in line)
            assert "L1      18%  █" in line  # 10.7 A of 58 A
            seen.append(line.count("█") + line.count("·"))
        assert seen[1] > 4 * seen[0] > 0


@pytest.mark.parametrize("terminal", [LOCAL, Terminal(remote=False, colour=False, ascii_only=False)])
async def test_an_error_outweighs_a_warning_by_mark_and_weight_also_on_a_heading(terminal):
    app = app_on(samples.folder() / "village_hall.toml", terminal)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "5")
        table = app.frame.query_one(Rows)
        cells = ("", "S", "L1", "", "", "", "", "", "")
        rows = [Row("x", ("", *cells[1:]))]
        rows += [Row(word, (SIGNS[word], *cells[1:]), mark=word, heavy=True) for word in ("error", "warning")]
        table.show(rows)
        strips = [list(table.render_line(place)) for place in (2, 3)]
        marks = [(strip[0].text.strip(), bool(strip[0].style.bold)) for strip in strips]
        assert marks == [("!!", True), ("!", False)]
        assert all(strip[1].style.bold for strip in strips)  # the heading itself
