"""Racks by keys: an empty one, or one that arrives prewired, whole and in one step."""

import pytest
from apps import app_on, do, press, type_text

from fieldkit import samples
from fieldkit.gear.library import find
from fieldkit.gear.rack import BuiltRack
from fieldkit.show.contents import all_units
from fieldkit.show.references import problems


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def hall(tmp_path):
    """The smallest sample: it has no rack, and no model of one."""
    path = tmp_path / "hall.toml"
    path.write_bytes((samples.folder() / "village_hall.toml").read_bytes())
    return path


async def add_rack(pilot, label):
    """Ask for a rack of a label, up to the question what it is."""
    await press(pilot, "4", "a")
    await type_text(pilot, "rack")
    await press(pilot, "enter")
    await press(pilot, "ctrl+a", "delete")
    await type_text(pilot, label)
    return await press(pilot, "enter")


async def test_a_rack_as_built_is_loaded_whole_from_the_library_and_undone_in_one_step(hall):
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        before = app.session.present
        text = await add_rack(pilot, "RK")
        assert "empty" in text
        assert "rack-with-processor" in text
        await type_text(pilot, "-proc")
        text = await press(pilot, "enter")
        assert "rack RK added" in text
        after = app.session.present
        built = find("rack-with-processor")
        assert isinstance(built, BuiltRack)
        assert after.built_racks == (built,)
        inside = {unit.id: unit.model for unit in all_units(after) if unit.rack == "RK"}
        # The processor in unit 1, and the two amplifiers of its model.
        assert inside == {
            "RK-1": "processor-two-by-six",
            "RK-2": "two-channel-large",
            "RK-3": "two-channel-large",
        }
        assert {"two-channel-large"} <= {model.id for model in after.amplifiers}
        assert list(problems(after)) == []
        assert "RK-2  two-channel-large" in text  # its outputs are there to be used, with the cursor on the first
        assert app.frame.query_one("Rows").key == "output RK-2.1"
        await press(pilot, "u")
        assert app.session.present == before
        assert not app.session.dirty


async def test_an_empty_rack_is_the_first_choice(hall):
    app = app_on(hall)
    async with app.run_test(size=(200, 50)) as pilot:
        await press(pilot)
        await add_rack(pilot, "R")
        text = await press(pilot, "enter")
        assert "rack R added" in text
        assert [(rack.id, rack.as_built) for rack in app.session.present.racks] == [("R", None)]
        await press(pilot, "a")
        await type_text(pilot, "rack")
        await press(pilot, "enter")
        await press(pilot, "ctrl+a", "delete")
        assert "already used" in await type_text(pilot, "R")
        await press(pilot, "escape")
        assert len(app.session.present.racks) == 1


async def test_a_rack_as_built_of_the_show_itself_comes_again_and_leaving_adds_nothing(hall):
    text = hall.read_text(encoding="utf-8")
    hall.write_text(f'{text}\n[[racks]]\nid = "RK"\nas_built = "rack-with-processor"\n', encoding="utf-8")
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        models = app.session.present.built_racks
        assert len(models) == 1
        await add_rack(pilot, "RL")
        await press(pilot, "escape")
        assert [rack.id for rack in app.session.present.racks] == ["RK"]
        await add_rack(pilot, "RL")
        await type_text(pilot, "-proc")
        await press(pilot, "enter")
        assert app.session.present.built_racks == models
        assert len([unit for unit in all_units(app.session.present) if unit.rack == "RL"]) == len(models[0].contents)


async def test_a_rack_whose_units_would_have_a_label_that_is_taken_is_refused_and_nothing_is_lost(hall):
    # Somebody called a run RK-2, as the second unit of the rack would be called.
    hall.write_text(hall.read_text(encoding="utf-8").replace('id = "W1"', 'id = "RK-2"'), encoding="utf-8")
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot)
        before = app.session.present
        await add_rack(pilot, "RK")
        await type_text(pilot, "-proc")
        text = await press(pilot, "enter")
        assert app.session.present == before
        assert "! " in text
        assert "RK-2" in text.splitlines()[-2]


async def test_the_line_of_the_row_is_drawn_end_to_end_with_the_figures_of_each_thing(hall):
    """Volts and watts are those of `fieldkit lines`; 20 log of 56.6 V over 54.9 V is 0.26 dB."""
    app = app_on(hall)
    async with app.run_test(size=(200, 50)) as pilot:
        drawn, below = (await press(pilot, "4")).split("─\n")[-1].splitlines()[:2]
        assert drawn.rstrip() == "AMP.1 ════════════════════ 15 m four-core-2.5, 2.5 mm² ══ SL sub"
        assert below.split("  ")[0] == "8.24 Ω, can give 56.6 V"
        assert below[drawn.index("SL sub") :].rstrip() == "54.9 V, 377 W, 0.256 dB lost"
        await pilot.resize_terminal(80, 24)
        text = await press(pilot)
        assert "SL sub: 54.9 V, 377 W, 0.256 dB lost" in text
        assert "══" not in text


async def test_a_long_note_at_the_foot_is_read_to_its_end(hall):
    """Why an amplifier stays unbridged stands at the end of the note; a short one gives the lines back."""
    app = app_on(hall)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4", "down")
        text = await do(pilot, "bridge")
        assert "may be bridged: its model has no bridged power" in " ".join(text.split())
        assert text.splitlines()[-1].startswith("enter change")
        app.frame.note("saved")
        assert (await press(pilot)).splitlines()[-2:-1] == ["saved"]
        assert app.frame.query_one("#note").size.height == 1


async def test_why_says_where_it_has_an_answer_on_the_heading_of_an_amplifier_too(hall):
    async with app_on(hall).run_test(size=(80, 24)) as pilot:
        assert "no line on this row" in await press(pilot, "4", "home", "e")
        assert "where the numbers come from" in await press(pilot, "down", "e")
