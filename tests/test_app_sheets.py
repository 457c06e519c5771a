"""The screen Sheets by keys: look, choose, write, compare; nothing is lost when it cannot be done."""

import pytest
from apps import app_on, do, press, screen_text, type_text

from fieldkit import samples
from fieldkit.sheets.collection import PAGES, CrewPage


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


async def written(pilot):
    """Wait until the writing has ended, and read the screen."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()
    return screen_text(pilot.app)


async def test_a_page_for_the_lid_in_a_few_keys(hall):
    """The hall on Thursday evening: look at the page, write it, done."""
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "8", "down", "enter")
        assert "FOR THE LID" in text
        assert "TL full" in text
        assert f"page 2 of {len(PAGES)}: lid" in text
        await press(pilot, "escape", "w")
        await press(pilot, "enter")
        assert "files are in hall-sheets" in await written(pilot)
    folder = hall.with_name("hall-sheets")
    assert {f"{key}.txt" for key, page in PAGES.items() if isinstance(page, CrewPage)} <= {
        path.name for path in folder.iterdir()
    }
    assert "with-sub" in (folder / "lid.txt").read_text(encoding="utf-8")


async def test_the_page_that_is_looked_at_is_written_alone(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "w write it" in await press(pilot, "8", "down", "enter")
        assert "write the page lid into the folder" in await press(pilot, "w")
        await press(pilot, "enter")
        assert "files are in hall-sheets" in await written(pilot)
    pages = {f"{key}.txt" for key in PAGES} & {path.name for path in hall.with_name("hall-sheets").iterdir()}
    assert pages == {"lid.txt"}


async def test_one_page_in_one_format(hall, tmp_path):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "f8")
        await do(pilot, "all pages")
        rows = app.frame.query_one("Rows").rows
        assert [row.cells[0] for row in rows].count("yes") == 4  # the formats alone
        wiring = [*PAGES].index("wiring")
        await press(pilot, *["down"] * wiring, "m")
        await press(pilot, *["down"] * (len(PAGES) - wiring - 1), "m", "m", "down", "m")  # text alone
        await press(pilot, "w")
        await type_text(pilot, "out")
        await press(pilot, "enter")
        assert "1 file is in out" in await written(pilot)
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["wiring.txt"]


async def test_nothing_chosen(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8")
        await do(pilot, "none")
        assert "choose at least one page" in await press(pilot, "w")


async def test_a_folder_that_is_a_file(hall, tmp_path):
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8", "w")
        assert "this is a file; expected a folder" in await type_text(pilot, "taken")
        await press(pilot, "enter", "escape")
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"


async def test_a_folder_that_cannot_be_made(hall, tmp_path):
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8", "w")
        await type_text(pilot, "taken/below")
        await press(pilot, "enter")
        assert "! the sheets cannot be written: " in await written(pilot)


async def test_what_changed_since(hall, tmp_path):
    older = tmp_path / "older.toml"
    text = hall.read_text(encoding="utf-8")
    older.write_text(text.replace('length = "15 m", box = "SL"', 'length = "2 m", box = "SL"'), encoding="utf-8")
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8", "end", "enter")
        assert "no such" in (await type_text(pilot, "none.toml")).lower()
        assert "4 boxes, 2 runs" in await type_text(pilot, "older.toml")
        assert "older.toml" in await press(pilot, "enter", "end")
        await press(pilot, "w", "enter")
        assert "files are in" in await written(pilot)
    changes = (tmp_path / "hall-sheets" / "changes.txt").read_text(encoding="utf-8")
    assert "W1 1: length 15 m, was 2 m" in changes


async def test_units_of_the_reader(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8")
        await do(pilot, "feet")
        await type_text(pilot, "imp")
        assert "imperial" in await press(pilot, "enter", "end")
        text = await press(pilot, "home", *["down"] * [*PAGES].index("wiring"), "enter", "pagedown")
        assert "49.2 ft" in text


async def test_pages_are_turned_and_the_cursor_follows(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8", "enter")
        assert f"page 2 of {len(PAGES)}: lid" in await press(pilot, "n")
        last = [*PAGES][-1]
        assert f"page {len(PAGES)} of {len(PAGES)}: {last}" in await press(pilot, "left", "left")
        await press(pilot, "escape")
        from fieldkit.app.widgets.rows import Rows

        assert app.frame.query_one(Rows).key == f"page {last}"


async def test_the_page_stands_beside_the_list_on_a_wide_terminal(hall):
    app = app_on(hall)
    async with app.run_test(size=(200, 50)) as pilot:
        assert "FOR THE LID" in await press(pilot, "8", "down")


async def test_an_edit_is_on_the_page_at_once(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "8")
        from fieldkit.show.edits import changed, find, with_thing

        show = app.session.present
        app.bench.apply(
            "noted", lambda: with_thing(show, "boxes", changed(find(show, "boxes", "TL"), note="[b]dented[/]"))
        )
        await press(pilot, "enter")
        assert "[b]dented[/]" in await press(pilot, "pagedown", "pagedown")


async def test_without_a_show():
    app = app_on(None)
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("8", "w", "s", "m", "space", "enter", "a"):
            text = await press(pilot, key)
        assert "no show is open" in text


async def test_a_cable_end_has_a_card():
    """A hand holds a cable labelled W7-B: box, input, the other end, what it reads at the rack."""
    app = app_on(samples.folder() / "open_air.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "g")
        text = await type_text(pilot, "W7-B")
        assert "plugs into: FL1 input" in text
        assert "the other end, W7-A, plugs into: FX socket A" in text
        assert "W7/1: FX.1, full" in text
        assert "meter at the amplifier, plug pulled: 3.08 Ω DC" in text
        await press(pilot, "escape", "g")
        text = await type_text(pilot, "W10-B")
        assert "switch on the box: passive" in text
