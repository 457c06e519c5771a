"""The editor of any table: parts that are not there yet, rows, models of one's own, and what drives nothing yet."""

import re

import pytest
from apps import app_on, do, press, screen_text, type_text
from shows import FERRY

from fieldkit.app.addresses import Address
from fieldkit.gear import library
from fieldkit.show.opening import open_show

SIZE = (80, 24)


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))


@pytest.fixture
def ferry(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


async def open_field(app, pilot, name):
    app.screen.query_one("Rows").move_to(name)
    return await press(pilot, "enter")


async def test_a_part_that_is_not_there_yet_is_asked_for(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4")
        app.bench.edit("boxes", "ML1")
        await press(pilot)
        assert "new unknown: impedance" in await open_field(app, pilot, "unknown")
        assert "got '66 kg', which is a mass" in await type_text(pilot, "66 kg")
        await press(pilot, "enter")
        assert "new unknown: impedance" in screen_text(app)  # what cannot be used is not taken
        await type_text(pilot, "8 ohm")
        assert "new unknown: continuous" in await press(pilot, "enter")
        await type_text(pilot, "250 W")
        await press(pilot, "enter")
        assert "! ML1: expected either 'model' or 'unknown'" in screen_text(app)
        assert not app.session.dirty


async def test_the_feeder_of_a_supply(ferry):
    text = ferry.read_text(encoding="utf-8")
    ferry.write_text(text.replace('feeder = { length = "25 m", area = "2.5 mm²" }\n', ""), encoding="utf-8")
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.bench.edit("supplies", "X1")
        await press(pilot)
        assert "new feeder: length" in await open_field(app, pilot, "feeder")
        await type_text(pilot, "60 m")
        await press(pilot, "enter")
        await type_text(pilot, "10 mm²")
        await press(pilot, "enter", "escape", "escape", "ctrl+s")
    feeder = open_show(ferry).show.supplies[0].feeder
    assert (feeder.length, feeder.area) == ("60 m", "10 mm²")


async def test_one_more_step_of_a_run_waits_for_a_box(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.bench.edit("runs", "W1")
        await press(pilot)
        await open_field(app, pilot, "path")
        await press(pilot, "a", "enter")
        steps = app.session.present.runs[0].path
        assert [step.box for step in steps] == ["ML1", None, "ML2"]
        assert steps[1].cable == steps[0].cable
        assert app.screen.query_one("Rows").cursor == 1


async def test_an_adaptor_from_the_library_goes_in_front_of_a_lead(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.bench.edit("runs", "W1")
        await press(pilot)
        await open_field(app, pilot, "path")
        await press(pilot, "a")
        await type_text(pilot, "adaptor")
        await press(pilot, "enter")
        await type_text(pilot, "pair-crossing")
        await press(pilot, "enter")
        steps = app.session.present.runs[0].path
        assert [(step.adaptor, step.box) for step in steps] == [("pair-crossing", None), (None, "ML1"), (None, "ML2")]
        assert "pair-crossing" in [adaptor.id for adaptor in app.session.present.adaptors]


async def test_a_model_of_the_library_is_chosen_in_the_editor(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.bench.edit("boxes", "ML1")
        await press(pilot)
        await open_field(app, pilot, "model")
        assert "340 W" in await type_text(pilot, "two-way-12-inch")
        await press(pilot, "enter")
        assert next(box for box in app.session.present.boxes if box.id == "ML1").model == "two-way-12-inch"


async def test_a_box_of_no_library_goes_in_where_boxes_do(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "3", "a")
        await type_text(pilot, "box")
        await press(pilot, "enter")
        await type_text(pilot, "LOAN")
        assert "not in the library" in await press(pilot, "enter")
        await press(pilot, "enter", "enter")
        await press(pilot, "enter")
        box = next(box for box in app.session.present.boxes if box.id == "LOAN")
        assert (box.unknown.impedance, box.unknown.continuous) == ("8 ohm", "250 W")
        assert app.screen.query_one("Rows").key == "boxes LOAN"


async def test_a_run_without_an_amplifier_is_no_dead_end(ferry):
    text = ferry.read_text(encoding="utf-8")
    ferry.write_text(text[: text.index("[[racks]]")], encoding="utf-8")
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "4", "a")
        await type_text(pilot, "run")
        await press(pilot, "enter")
        assert "there is no amplifier with connectors yet" in await press(pilot, "enter")


async def test_a_model_of_ones_own_goes_to_the_library(ferry, tmp_path):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot, "2", "c")
        assert "there is a model 'two-way-12' already" in await type_text(pilot, "two-way-12")
        await type_text(pilot, "two-way-12-old")
        assert "loudspeaker two-way-12-old" in await press(pilot, "enter")
        await press(pilot, "escape")
        app.screen.query_one("Rows").move_to("loudspeakers two-way-12-old ")
        assert "is in your gear library" in await do(pilot, "gear library")
        assert library.find("two-way-12-old").weight == "27 kg"
        assert "it is replaced" in await do(pilot, "gear library")
        await press(pilot, "enter")
    assert (tmp_path / "gear" / "two-way-12-old.toml").exists()


async def test_outputs_that_drive_nothing_and_processors_are_in_the_patch(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        text = await press(pilot, "4")
        assert re.search(r"(?m)^ +\.3\+4 +free", text)
        assert "DP  three-by-six  inputs 1: L, 2: R, 3: Sub" in text
        app.screen.query_one("Rows").move_to("output SR-1.3+4")
        await press(pilot, "b")
        assert app.session.present.rack_units[0].bridged == ()
        app.screen.query_one("Rows").move_to("unit DP")
        assert "amplifier or processor DP" in await press(pilot, "enter")
        await press(pilot, "escape", "d")
        assert "remove amplifier or processor DP" in screen_text(app)


async def test_a_field_that_must_stay_says_so(ferry):
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        await press(pilot)
        app.bench.edit("boxes", "ML1")
        before = app.session.present
        assert "! id cannot be empty" in await press(pilot, "d")
        assert app.session.present == before


async def test_a_bare_number_is_asked_for_its_unit(ferry):
    """The last lead of this show was typed in feet: that unit stands first, and nothing is assumed."""
    ferry.write_text(ferry.read_text(encoding="utf-8").replace("°C", "°F"), encoding="utf-8")
    app = app_on(ferry)
    async with app.run_test(size=SIZE) as pilot:
        assert "18 °F" in (await press(pilot)).splitlines()[0]
        app.bench.edit_at(Address("runs", "W1", ("path", 0)))
        await press(pilot)
        await open_field(app, pilot, "length")
        assert "? 15 ft or 15 m?" in await type_text(pilot, "15")
        was = app.session.present.runs[0].path[0].length
        assert "= 15 ft" in await press(pilot, "enter")
        assert app.session.present.runs[0].path[0].length == was
        assert "= 15 m" in await press(pilot, "tab")
        await press(pilot, "enter")
        assert app.session.present.runs[0].path[0].length == "15 m"
