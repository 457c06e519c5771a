"""``a`` in the application: lines of words and rows in one window, by keys."""

import shutil

import pytest
from apps import app_on, do, press, type_text, until


@pytest.fixture
def hall(tmp_path):
    return shutil.copy("sample_shows/village_hall.toml", tmp_path / "hall.toml")


async def test_from_an_empty_show_to_the_checked_hall_in_at_most_60_keys(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text("format = 2\n", encoding="utf-8")
    app = app_on(path)
    keys = 0
    async with app.run_test(size=(80, 24)) as pilot:

        async def pressed(*names):
            nonlocal keys
            keys += len(names)
            return await press(pilot, *names)

        await pressed("a")
        for line in ("two-way-10 hall each", "sub-15 subs each", "amp portable"):
            keys += len(line)
            await type_text(pilot, line)
            await pressed("enter")
        await pressed("escape", "4", "p", "enter")
        await until(pilot, "enter takes the plan")
        await pressed("enter")
        show = app.session.present
    assert keys <= 60
    assert [(box.id, box.side) for box in show.boxes] == [
        ("HL1", "left"),
        ("HR1", "right"),
        ("SL1", "left"),
        ("SR1", "right"),
    ]
    fed = {step.box for run in show.runs for step in run.path if step.box}
    assert fed == {"HL1", "HR1", "SL1", "SR1"}
    assert [item for item in app.session.findings if item.severity == "error"] == []


async def test_a_line_is_said_back_finished_by_tab_and_refused_with_a_reason(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "a")
        text = await type_text(pilot, "2 two-way-8 foyer FL FR")
        assert "2 boxes FL left; FR right: zone foyer, two-way-8-inch" in text
        assert "zone foyer is new" in " ".join(text.split())
        text = await press(pilot, "enter")
        assert "added: 2 boxes FL left; FR right" in text
        await type_text(pilot, "run AMP.")
        text = await press(pilot, "tab")
        assert "AMP.A" in text
        text = await press(pilot, "space", "1", "5", "space", "F", "L")
        assert "15 m or 15 ft?" in text
        await press(pilot, "enter")
        assert len(app.screen_stack) == 2  # nothing is taken, and nothing typed is gone
        await press(pilot, "escape", "u")
        assert [zone.id for zone in app.session.present.zones] == ["hall", "subs"]


async def test_a_row_of_the_list_is_still_chosen_by_a_part_of_it(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "a")
        await type_text(pilot, "like tl")
        assert "TL" in await press(pilot, "enter")
        await press(pilot, "enter")
        assert len(app.session.present.boxes) == 5


async def test_what_is_typed_is_data(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "a")
        text = await type_text(pilot, "[bold]x[/] hall")
        assert "'[bold]x[/]' is not understood" in text or "which model?" in text
        assert "[bold]x[/] hall" in text


async def test_the_other_side_is_copied_after_a_look(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "a")
        await type_text(pilot, "2 two-way-8 foyer FL1-2 side left")
        await press(pilot, "enter", "escape")
        app.screen.query_one("Rows").move_to("boxes FL1")
        text = await do(pilot, "mirror")
        assert "boxes: FR1 FR2" in text
        await press(pilot, "enter")
        assert [(box.id, box.side) for box in app.session.present.boxes[-2:]] == [("FR1", "right"), ("FR2", "right")]
        # Relabelled together: marked, then one label to go on from.
        for name in ("FR1", "FR2"):
            app.screen.query_one("Rows").move_to(f"boxes {name}")
            await press(pilot, "m")
        await press(pilot, "enter")
        await type_text(pilot, "id")
        await press(pilot, "enter")
        assert "FR1 → K7, FR2 → K8" in await type_text(pilot, "K7")
        await press(pilot, "enter")
        assert [box.id for box in app.session.present.boxes[-2:]] == ["K7", "K8"]
