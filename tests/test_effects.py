"""What a change would bring, told before it is taken: in words, and in the windows that ask."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from apps import app_on, press, type_text, until

from fieldkit.app.addresses import Address, with_value
from fieldkit.checks.checking import check
from fieldkit.reports.effects import NOTHING, CheckedRig, effects
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.edits import find, with_thing
from fieldkit.show.errors import DocumentError
from fieldkit.show.opening import open_show
from fieldkit.show.removal import removed
from fieldkit.text.style import Style
from fieldkit.units import UnitError

MUSICAL = Path("sample_shows/school_musical.toml")
SHOW = open_show(MUSICAL).show


def told(after, before=SHOW):
    one, other = evaluate(before), evaluate(after)
    return effects(CheckedRig(one, check(one)), CheckedRig(other, check(other)), Style())


def with_field(table, name, field, value):
    return with_value(SHOW, Address(table, name), field, value)


@pytest.mark.parametrize(
    ("table", "name", "field", "value", "says"),
    [
        ("zones", "fills", "level", "-7 dB", ["DP.3: gain in all -4.0 dB → -7.0 dB"]),
        ("boxes", "K1", "polarity", "inverted", ["DP.5: polarity in all normal → inverted"]),
        ("boxes", "N1", "note", "torn grille", [NOTHING]),
        ("boxes", "N1", "switch", "bi-amp",
         ["new error: N1: its switch was seen at bi-amp, and the plan drives it passive"]),
    ],
)  # fmt: skip
def test_one_field_and_what_it_brings(table, name, field, value, says):
    assert list(told(with_field(table, name, field, value))) == says


def test_thresholds_follow_the_knob_decibel_for_decibel():
    # With 6 dB less attenuation the amplifier needs 6 dB less at its input for the same volts: by definition.
    (line,) = [line for line in told(with_field("rack_units", "A4", "attenuators", {"1": "0 dB"})) if "DP.3" in line]
    for limiter in line.removeprefix("DP.3: ").split(", "):
        words = limiter.removesuffix(" dBu").split()
        assert float(words[2]) - float(words[-1]) == pytest.approx(6.0)


def test_delays_follow_a_distance():
    # 0.9 m less to wait for, at 21 °C: c = 331.3 m/s · sqrt(1 + 21/273.15) = 343.8 m/s, so 2.62 ms (own, by hand).
    (line,) = told(with_field("zones", "fills", "own_distance", "3 m"))
    before, after = (float(part.removesuffix(" ms").split()[-1]) for part in line.split(" → "))
    assert line.startswith("DP.3: delay in all ")
    assert before - after == pytest.approx(0.9 / 343.8 * 1e3, abs=0.01)


def test_a_removed_box_is_told_and_the_load_rises():
    result = removed(SHOW, "boxes", "N2")
    found = told(result.show)
    assert found[0] == "no longer in the show: N2"
    (line,) = [line for line in found if line.startswith("A1.1: ")]
    before, after = line.removeprefix("A1.1: load ").split(",")[0].split(" → ")
    # Two boxes of 8 ohm are 4 ohm, one is 8 ohm; the leads add a little to both.
    assert 4.0 < float(before.removesuffix(" Ω")) < 4.3
    assert 8.0 < float(after.removesuffix(" Ω")) < 8.4


def test_what_gets_worse_is_first_and_what_is_cured_last():
    wrong = with_field("boxes", "N1", "switch", "bi-amp")
    assert told(wrong)[0].startswith("new error: N1: its switch")
    back = told(SHOW, before=wrong)
    assert back[-1].startswith("no more error: N1: its switch")


def test_a_run_that_goes_leaves_boxes_silent():
    show = removed(SHOW, "runs", "W1").show
    assert "no longer driven: N1 N2" in told(show)
    assert "driven now: N1 N2" in told(SHOW, before=show)


def test_another_feeder_is_told_by_its_drop():
    supply = find(SHOW, "supplies", "WALL-1")
    feeder = msgspec.structs.replace(supply.feeder, length=type(supply.feeder.length)("60 m"))
    found = told(with_thing(SHOW, "supplies", msgspec.structs.replace(supply, feeder=feeder)))
    (line,) = [line for line in found if line.startswith("WALL-1: drop")]
    before, after = (float(part) for part in line.removeprefix("WALL-1: drop ").removesuffix(" %").split(" → "))
    assert after == pytest.approx(2 * before, abs=0.15)  # twice as long, twice the drop


async def test_a_field_says_what_it_would_bring_before_enter_takes_it():
    app = app_on(MUSICAL)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3", "enter")
        app.screen.query_one("Rows").move_to("use")
        await press(pilot, "enter", "down")
        await until(pilot, "if it is taken:")
        assert not app.session.dirty
        await press(pilot, "escape", "escape")
        assert not app.session.dirty


async def test_a_level_is_foretold_while_it_is_typed_and_bad_text_foretells_nothing():
    app = app_on(MUSICAL)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("zones fills")
        await press(pilot, "enter")
        app.screen.query_one("Rows").move_to("level")
        await press(pilot, "enter")
        await type_text(pilot, "-9 dB")
        await until(pilot, "DP.3: gain in all -4.0 dB →")
        await type_text(pilot, "-9 kg")
        await pilot.pause(0.3)
        text = await press(pilot)
        assert "which is a mass" in text
        assert "if it is taken" not in text
        await press(pilot, "escape")
        assert app.session.present is app.session.history.present
        assert not app.session.dirty


async def test_a_removal_says_what_it_does_to_the_plan():
    app = app_on(MUSICAL)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "3")
        app.screen.query_one("Rows").move_to("boxes N2")
        text = await press(pilot, "d")
        assert "then A1.1: load 4" in text
        assert "enter: remove it" in text


def test_what_cannot_be_done_foretells_nothing_and_a_fault_is_a_fault(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path))

    def raising(error):
        raise error

    bench = app_on(MUSICAL).bench
    try:
        assert bench.foretold(lambda: SHOW) == (NOTHING,)
        for refused in (DocumentError("no such zone"), UnitError("5 kg", "a length")):
            assert bench.foretold(lambda error=refused: raising(error)) == ()
        with pytest.raises(ValueError, match="negative"):
            bench.foretold(lambda: raising(ValueError("math: a negative number")))
    finally:
        bench.session.close()
