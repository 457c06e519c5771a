"""The load that an amplifier reports itself counts in the rig check: a hint where to take the meter, and no more."""

from __future__ import annotations

import json

import msgspec
import pytest
from apps import app_on, press, type_text

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show
from fieldkit.show.writing import canonical
from fieldkit.triage.belief.earlier import earlier_readings
from fieldkit.triage.model.odds import table
from fieldkit.triage.rig_check.meter_pass import entries, reported_band, reported_verdict
from fieldkit.triage.rig_check.progress import unmetered
from fieldkit.triage.rig_check.recording import MeterPlace, with_reading

MUSICAL = open_show(samples.folder() / "school_musical.toml").show


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


def output(name):
    return evaluate(MUSICAL).output(name)


def test_the_band_is_wide():
    # Two boxes of 8 ohm and their leads, 4.2 ohm; two sigma of 25 % up and down: common practice, no source.
    band = reported_band(output("A1.1"), table().meter)
    assert (band.low, band.value, band.high) == pytest.approx((4.2 / 1.5, 4.2, 4.2 * 1.5), rel=0.005)


@pytest.mark.parametrize(
    ("name", "ohm", "word", "ok", "says"),
    [
        ("A1.1", 4.5, "", True, "as expected"),
        ("A1.1", 8.4, "", False, "about one of two boxes"),
        ("A1.1", 200.0, "", False, "no load seen"),
        ("A1.1", None, "open", False, "no load seen"),
        ("A1.1", None, "short", False, "a short: mute it, pull the plug"),
        ("A1.1", 2.0, "", False, "reads low"),
        ("A4.1", 4.2, "", True, "it cannot tell four boxes from three"),
        ("A4.1", 8.6, "", False, "about two of four boxes"),
        ("A4.2", 8.0, "", None, "drives nothing"),
    ],
)
def test_verdicts(name, ohm, word, ok, says):
    found = reported_verdict(output(name), ohm, word, table().meter)
    assert found.ok is ok
    assert says in found.says


def test_it_counts_in_the_rig_check_and_not_as_a_meter_reading():
    show = with_reading(MUSICAL, MeterPlace("W1/1", "amp", kind="load"), "8.4")
    rig = evaluate(show)
    (entry,) = [item for item in entries(rig, table()) if item.load]
    assert entry.says.startswith("the amplifier reports: reads as about one of two boxes")
    left, count = unmetered(rig)
    assert count - len(left) == 1
    assert earlier_readings(rig, ["W1"], table()).wrong == ()  # triage takes no ohms of a meter from it
    both = evaluate(with_reading(show, MeterPlace("W1/1", "amp"), "3.2"))
    (entry,) = [item for item in entries(both, table()) if item.load]
    assert entry.dc.verdict.ok
    assert "; the amplifier reports: " in entry.says


def test_by_command(tmp_path, capsys):
    file = tmp_path / "show.toml"
    file.write_text(canonical(with_reading(MUSICAL, MeterPlace("W1/1", "amp", kind="load"), "8.4")), encoding="utf-8")
    assert run(["readings", str(file), "--json"]) == 0
    lines = json.loads(capsys.readouterr().out)["lines"]
    (line,) = [item for item in lines if item["read"]]
    assert (line["read"]["reported_ohm"], line["read"]["dc_ohm"], line["ok"]) == (8.4, None, False)
    assert run(["readings", str(file)]) == 0
    assert "amp. 4.2" in capsys.readouterr().out
    assert open_show(file).show == msgspec.structs.replace(MUSICAL, readings=open_show(file).show.readings)


async def test_by_keys():
    app = app_on(samples.folder() / "school_musical.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        text = await press(pilot, "7", "i", "i")
        assert "ohms that the amplifier reports itself" in text
        assert "4.2 Ω (2.8" in text
        await press(pilot, "enter")
        await type_text(pilot, "8,4")
        assert "reads as about one of two boxes" in await press(pilot, "enter")
        (reading,) = app.session.present.readings
        assert (reading.line, reading.at, reading.kind) == ("W1/1", "amp", "load")
