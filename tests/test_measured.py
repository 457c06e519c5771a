"""What single boxes read goes with their serial from one show to the next, and is what the next reading is held against."""

from __future__ import annotations

import datetime as dt
import json

import msgspec
import pytest
from apps import app_on, do, press, screen_text, type_text
from budget import tries
from hypothesis import given
from hypothesis import strategies as st

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.edits import find, with_thing
from fieldkit.show.errors import FileError
from fieldkit.show.keep.measured import Measured, every, file, keep, latest
from fieldkit.show.opening import open_show
from fieldkit.show.reading_value import ReadingValue
from fieldkit.show.writing import canonical
from fieldkit.triage.belief.earlier import earlier_readings
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.odds import table
from fieldkit.triage.rig_check.meter_pass import entries, known_items
from fieldkit.triage.rig_check.recording import MeterPlace, with_reading

TIME = dt.datetime(2026, 3, 3, 18, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def folders(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    (tmp_path / "gear").mkdir()


def serial_show():
    """Give the musical with a serial on one wedge."""
    show = open_show(samples.folder() / "school_musical.toml").show
    return with_thing(show, "boxes", msgspec.structs.replace(find(show, "boxes", "K1"), serial="W-0042"))


def read(ohm, **more):
    more = {"model": "stage-wedge-12-inch", "serial": "W-0042", "pair": "1", "time": TIME, **more}
    return Measured(value=ReadingValue(f"{ohm} ohm"), **more)


def alone(show):
    rig = evaluate(show)
    return next(item for item in entries(rig, table(), known=known_items(rig)) if item.at == "K1.alone")


def test_readings_are_added_and_the_latest_that_was_well_rules():
    keep(read(5.6))
    keep(read(5.8))
    keep(read(9.0, well=False))
    assert [item.value.ohm for item in every()] == [5.6, 5.8, 9.0]
    assert [item.value.ohm for item in latest().values()] == [5.8]
    assert (
        latest()["stage-wedge-12-inch", "W-0042", "1", "dc"].says
        == f"pair 1 read 5.8 ohm, {TIME.astimezone():%Y-%m-%d}"
    )


def test_the_next_show_holds_a_reading_against_what_this_very_box_read():
    """The model's 5.7 ohm allow 6.1; a box that read 5.3 has changed by 0.8 ohm, and that is said."""
    show = with_reading(serial_show(), MeterPlace("W8/1", "K1.alone"), "6.1")
    assert alone(show).dc.verdict.ok
    keep(read(5.3))
    entry = alone(show)
    assert entry.dc.verdict.ok is False
    assert "0.8 ohm more than last time" in entry.says
    as_before = alone(with_reading(serial_show(), MeterPlace("W8/1", "K1.alone"), "5.3"))
    assert as_before.dc.verdict.ok
    assert "as last time (pair 1 read 5.3 ohm, " in as_before.says


def test_another_serial_or_no_serial_takes_nothing_from_it():
    keep(read(5.3, serial="W-0043"))
    show = with_reading(serial_show(), MeterPlace("W8/1", "K1.alone"), "6.1")
    assert alone(show).dc.verdict.ok
    plain = open_show(samples.folder() / "school_musical.toml").show
    assert known_items(evaluate(plain)) == {}


def test_triage_predicts_with_what_this_very_box_read():
    keep(read(5.3))
    rig = evaluate(serial_show())
    assert earlier_readings(rig, ["W8"], table()).well == {("W8", "K1.alone", "1", True): 5.3}
    case = FaultSearch(rig, ["W8"], table())
    run_, point, pair = case.point("K1.alone", "1")
    well = case.predictions(run_, point, pair, dc=True)
    fault = next(number for number, item in enumerate(case.faults) if item.kind == "nothing-wrong")
    reading = well.readings[well.of_fault[fault]]
    assert (reading.low + reading.high) / 2 == pytest.approx(5.3, abs=0.01)


@pytest.mark.parametrize(
    "text",
    [
        '[[readings]]\nmodel = "x"\n',
        "[[readings]\n",
        '[[readings]]\nmodel = "x"\nserial = "1"\npair = "1"\nvalue = "quite a lot"\n',
        '[[readings]]\nmodel = "x"\nserial = "1"\npair = "1"\nvalue = "5 ohm"\ncolour = "red"\n',
    ],
)
def test_a_broken_file_is_one_line_and_is_left_as_it_is(text, tmp_path, capsys):
    file().parent.mkdir()
    file().write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=r"^readings.toml:\d+: ") as caught:
        latest()
    assert "\n" not in str(caught.value)
    with pytest.raises(FileError):
        keep(read(5.6))
    assert file().read_text(encoding="utf-8") == text
    show = tmp_path / "show.toml"
    show.write_text(canonical(serial_show()), encoding="utf-8")
    assert run(["readings", str(show)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@given(
    st.lists(
        st.builds(
            read,
            st.integers(1, 99),
            model=st.text(min_size=1, max_size=8),
            serial=st.text(min_size=1, max_size=8),
            show=st.text(max_size=8),
            well=st.booleans(),
        ),
        min_size=1,
        max_size=4,
    )
)
@tries(10)
def test_whatever_people_type_comes_back(items):
    file().unlink(missing_ok=True)
    for item in items:
        keep(item)
    assert list(every()) == items


def test_by_command(tmp_path, capsys):
    keep(read(5.3))
    show = tmp_path / "show.toml"
    show.write_text(canonical(with_reading(serial_show(), MeterPlace("W8/1", "K1.alone"), "5.3")), encoding="utf-8")
    before = file().read_bytes()
    assert run(["readings", str(show), "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["lines"]
    assert "as last time" in next(item["verdict"] for item in lines if item["at"] == "K1.alone")
    assert file().read_bytes() == before  # a command that reports keeps nothing


async def test_by_keys_and_in_the_inventory(tmp_path):
    show = serial_show()
    item = msgspec.structs.replace(show.stock[3], serial="W-0042", owned=1)
    rest = (*show.stock[:3], msgspec.structs.replace(show.stock[3], owned=2), *show.stock[4:])
    path = tmp_path / "show.toml"
    path.write_text(canonical(msgspec.structs.replace(show, stock=(*rest, item))), encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=(120, 40)) as pilot:
        await press(pilot, "7")
        await do(pilot, "meter elsewhere")
        await type_text(pilot, "K1.alone 1")
        await press(pilot, "enter")
        await type_text(pilot, "5.6")
        assert "kept with serial W-0042" in await press(pilot, "enter")
        assert [one.value.ohm for one in every()] == [5.6]
        await press(pilot, "f2")
        assert "serial W-0042, in use as K1, pair 1 read 5.6 ohm" in screen_text(app)
