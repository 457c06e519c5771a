"""Every screen at 80×24: its keys are shown or in the help and the palette, and no column is cut to nothing."""

import pytest
from apps import app_on, press, screen_text, type_text
from budget import drawn

from fieldkit import samples
from fieldkit.app.action_table import EVERYWHERE, NAMES
from fieldkit.app.actions import function_key, key_text
from fieldkit.app.screens import SCREENS, frame, screens_of
from fieldkit.app.widgets.lines import fitted
from fieldkit.app.widgets.rows import ListColumn, Row, Rows


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.mark.parametrize("name", drawn(samples.names(), 3))
async def test_all_screens_of_every_sample(monkeypatch, name):
    app = app_on(samples.folder() / f"{name}.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        read_anew = []
        monkeypatch.setattr(app, "refresh_css", lambda **_: read_anew.append(app.frame))
        for key, _, word in SCREENS:
            text = await press(pilot, function_key(key))
            lines = text.splitlines()
            assert len(lines) <= 24
            assert max(map(len, lines)) <= 80
            assert f"[{key} {word}]" in lines[1]
            table = app.frame.query_one(Rows)
            for column, width in zip(table.columns, table._widths, strict=True):
                assert width >= max(column.minimum, 3 if column.title else 0), (word, column.title)
                assert len(column.title) <= width or column.share
        assert not read_anew  # the style sheets are not read again for a screen that is made


async def test_help_says_what_the_screen_is_for_and_has_every_key_that_the_line_has_not():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        for key, _, _ in SCREENS:
            shown = (await press(pilot, function_key(key))).splitlines()[-1]
            help_text = await press(pilot, "question_mark")
            assert app.frame.PURPOSE[:40] in help_text
            for _ in range(4):
                help_text += await press(pilot, "pagedown")
            for action in (*app.frame.ACTIONS, *EVERYWHERE):
                keys = key_text(action.key)
                assert f"{keys} {action.label}" in shown or keys in help_text, action.name
            assert "keys here" in await press(pilot, *["pageup"] * 4, "enter")
            await press(pilot, "escape")


async def test_a_key_that_the_line_has_no_room_for_is_in_the_help():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "ctrl+p")
        text = await type_text(pilot, "remove")
        assert "Remove it, after showing what goes with it" in text


class Bare(frame.MainScreen):
    """All that a new screen needs."""

    PURPOSE = "Nothing yet."

    def body(self):
        yield Rows([ListColumn("zone", share=1)], empty="no zones")

    def fill(self):
        zones = self.session.present.zones if self.session is not None else ()
        self.query_one(Rows).show([Row(f"zones {zone.id}", (zone.id,)) for zone in zones])


async def test_a_new_screen_does_at_once_what_every_screen_does(monkeypatch):
    monkeypatch.setitem(NAMES, Bare.MODE, "Bare")
    app = app_on(samples.folder() / "mistakes.toml")
    app.add_mode(Bare.MODE, lambda: Bare(app.bench))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        app.bench.go_to(Bare.MODE)
        assert "f problems" in await press(pilot)
        assert "why:" in await press(pilot, "f", "enter")  # a finding, with the ways on from it
        await press(pilot, "escape")
        assert isinstance(app.frame, Bare)
        text = await press(pilot, "question_mark")
        assert "Nothing yet." in text
        await press(pilot, "escape", "ctrl+p")
        assert "Take back the last change" in await type_text(pilot, "undo")
        await press(pilot, "escape")
        app.bench.edit("zones", app.frame.query_one(Rows).key.removeprefix("zones "))
        assert "signals" in await press(pilot)


async def test_a_ninth_and_a_tenth_screen_are_in_the_header(monkeypatch):
    more = tuple(zip("90", ("sound", "documents"), ("Sound", "Documents"), strict=True))
    monkeypatch.setattr(frame, "SCREENS", (*SCREENS[:8], *more))
    app = app_on(samples.folder() / "practice.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        line = (await press(pilot)).splitlines()[1]
        assert line.startswith(f"[1 {SCREENS[0][2]}] 2 ")
        assert line.endswith("9 Soun 0 Docu")
    assert (function_key("9"), function_key("0")) == ("f9", "f10")
    assert screens_of({str(number): "" for number in range(10)})[-1][0] == "0"
    with pytest.raises(ValueError, match="ten"):
        screens_of({str(number): "" for number in range(11)})


def test_ten_screens_fit_a_line_of_80_columns():
    more = [*(f"{key} {name}" for key, _, name in SCREENS[:8]), "9 Sound", "0 Documents"]
    for present in range(len(more)):
        screens = [(name, place == present) for place, name in enumerate(more)]
        shown = [name for name, _ in fitted(screens, 80)]
        assert len(" ".join(shown)) <= 80
        assert shown[present] == f"[{more[present]}]"
        for name, whole in zip(shown, more, strict=True):
            assert name.startswith("[") or (whole.startswith(name) and len(name) >= 5)
    first_eight = [(name, place == 5) for place, name in enumerate(more[:8])]
    assert [name.strip("[]") for name, _ in fitted(first_eight, 80)] == more[:8]


def words_of(text):
    """Read a text as words, whatever the lines that it is broken to."""
    return " ".join(text.split())


async def test_below_a_table_stands_the_finding_of_the_row_with_its_why_and_its_fix_whole():
    app = app_on(samples.folder() / "mistakes.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("1", "4"):
            await press(pilot, key)
            app.frame.query_one(Rows).move_to("finding 0")
            text = await press(pilot)
            for _ in range(5):
                row = app.frame.query_one(Rows).key
                found = app.frame.findings_here() or [app.session.findings[int(row.removeprefix("finding "))]]
                seen = words_of(text)
                for part in (found[0].says, f"why: {found[0].why}", f"fix: {found[0].fix}"):
                    assert words_of(part) in seen
                text = await press(pilot, "down")


async def test_a_window_leaves_the_row_in_sight_that_it_is_about():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        for moves in ((), ("down",) * 9, ("end",)):
            await press(pilot, "3", "home", *moves)
            table = app.frame.query_one(Rows)
            label = table.rows[table.cursor].cells[0].split(":")[0].strip()
            for key in ("enter", "question_mark"):
                text = await press(pilot, key)
                assert len(app.screen_stack) > 1
                line = text.splitlines()[table.cursor_line]
                assert line.strip().startswith(label), (moves, key)
                await press(pilot, "escape")


async def test_the_overview_says_where_the_job_stands_and_each_line_leads_to_what_is_left():
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        text = words_of(await press(pilot))
        assert "problems 2 warnings 0 errors, 2 warnings, 2 notes" in text
        assert "boxes done all of 22 boxes" in text
        assert "racks 1 left no place in a rack: DLY" in text
        assert "2 of 20 lines metered, noise on 0 of 20 outputs" in text
        assert "front-fill: left and right are driven by FX alone why:" in text  # the worst one, whole
        for word, mode, row in (
            ("racks", "racks", "output DLY"),
            ("delays", "zones", "zones wedges"),
            ("rig check", "triage", "read "),
        ):
            await press(pilot, "f1")
            app.frame.query_one(Rows).move_to(f"stands {word}")
            await press(pilot, "enter")
            assert mode == app.frame.MODE
            assert app.frame.query_one(Rows).key.startswith(row)
        await press(pilot, "f1")
        app.frame.query_one(Rows).move_to("stands doors")
        assert "how long to the doors" in await press(pilot, "enter")
        await type_text(pilot, "20 min")
        assert "  doors in " in await press(pilot, "enter")
        app.frame.query_one(Rows).move_to("stands problems")
        assert "if it fails, the whole zone is silent at once" in await press(pilot, "enter")


def with_another_model(folder):
    """The open air with another model for one box of the mains, on the right."""
    text = (samples.folder() / "open_air.toml").read_text(encoding="utf-8")
    first, behind = text.split('id = "MR2"')
    path = folder / "meadow.toml"
    path.write_text(
        first + 'id = "MR2"' + behind.replace('"three-way-large"', '"two-way-12-inch"', 1), encoding="utf-8"
    )
    return path


async def test_a_box_says_which_one_across_mirrors_it_and_what_differs(tmp_path):
    app = app_on(with_another_model(tmp_path))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "down")
        table = app.frame.query_one(Rows)
        assert table.key == "boxes ML1"
        assert "mirrors MR1: same model, drive, presets and amplifier" in await press(pilot)
        assert "not as MR2 across: model three-way-large, there two-way-12-inch" in words_of(await press(pilot, "down"))
        assert " across" not in await press(pilot, "up", "up")  # the zone


async def test_left_and_right_stand_side_by_side_and_keys_act_on_the_box_under_the_cursor(tmp_path):
    app = app_on(with_another_model(tmp_path))
    async with app.run_test(size=(150, 24)) as pilot:
        lines = [words_of(line) for line in (await press(pilot, "3", "down", "down")).splitlines()]
        assert any(line.startswith("ML1 left LEFT-1.1 .2 .3 MR1 right RIGHT-1.1 .2 .3 three-") for line in lines)
        assert any(line.startswith("ML2 left LEFT-1.1 .2 .3 MR2 right RIGHT-1.1 .2 ≠ ") for line in lines)
        table = app.frame.query_one(Rows)
        assert (table.key, "right across" in lines[-1]) == ("boxes ML2", True)
        await press(pilot, "right")
        assert table.key == "boxes MR2"
        assert "box MR2" in await press(pilot, "enter")
        await press(pilot, "escape", "m", "up", "up", "left", "m")  # a mark goes on to the next row
        assert table.marked_keys == ["boxes ML1", "boxes MR2"]
        await press(pilot, "d", "enter")
        assert not {"ML1", "MR2"} & {box.id for box in app.session.present.boxes}
        assert "  ML2  left" in screen_text(app)
        await pilot.resize_terminal(80, 24)
        assert "zone and box  side" in await press(pilot, "home", "down")
        assert "across" not in screen_text(app).splitlines()[-1]
