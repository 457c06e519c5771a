"""``a`` in the application: lines of words and rows in one window, by keys."""

import re
import shutil

import pytest
from apps import app_on, do, press, screen_text, type_text, until


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


async def test_the_tour_builds_the_hall_in_ten_steps(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    app = app_on(None)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        app.screen.query_one("Rows").move_to("tour")
        await press(pilot, "enter")
        assert "tour 1 of 10" in await press(pilot, "enter")
        seen = []
        while app.bench.tour is not None:
            line = app.bench.tour.line
            assert len(line) < 80
            assert line not in seen, screen_text(app)  # a step that is followed is done
            seen.append(line)
            await follow(pilot, line.partition(": ")[2])
        assert len(seen) == 10
        show = app.session.present
    assert [box.id for box in show.boxes] == ["TL", "TR", "SL", "SR"]
    assert (tmp_path / "tour-hall.toml").exists()
    assert [item for item in app.session.findings if item.severity == "error"] == []


async def follow(pilot, step):
    """Do what a step of the tour says, as somebody does who reads it word by word."""
    if "type: " in step:
        if step.startswith("a,"):
            await press(pilot, "a")
        line = re.split(r"   |, enter", step.partition("type: ")[2])[0]
        if step.startswith("7"):
            await press(pilot, "7", *line.replace(".", ","), "enter")
        else:
            await type_text(pilot, line)
            await press(pilot, "enter")
    elif step.startswith("4"):
        await press(pilot, "4", "p", "enter")
        await until(pilot, "enter takes the plan")
        await press(pilot, "enter")
    else:
        key = re.match(r"[\w+]+", step)[0].lower()
        await press(pilot, key)
        if "enter: a page" in step:
            await press(pilot, "enter")
    if step.endswith("esc"):
        await press(pilot, "escape")
