"""How long it is until the doors: what takes longer waits, and with an audience nothing is pulled."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from apps import app_on, do, press, type_text

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show
from fieldkit.triage.advice.advice import advise
from fieldkit.triage.advice.menu import Means, menu
from fieldkit.triage.advice.repair import expected_minutes
from fieldkit.triage.belief.doors import doors_at, left_min
from fieldkit.triage.belief.observations import Ear
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.odds import table

NOW = dt.datetime(2026, 6, 20, 19, 20, tzinfo=dt.UTC)
PRACTICE = samples.folder() / "practice.toml"


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("20", 20), ("20 min", 20), ("20min", 20), ("1.5 h", 90), ("90 s", 1), ("0", 0),
        ("19:45", 25), ("19:20", 0), ("18:00", 0), ("07:00", 700), ("00:10", 290),
    ],
)  # fmt: skip
def test_minutes_or_the_time_on_the_clock(text, minutes):
    assert left_min(doors_at(text, NOW), NOW) == minutes


@pytest.mark.parametrize("text", ["", "soon", "25:00", "19:60", "-5", "20 m", "2 d", "1e9", "[b]", "٢٠:٠٠x"])
def test_anything_else_is_refused_in_one_line(text):
    with pytest.raises(ObservationError, match="expected minutes until the doors such as 20"):
        doors_at(text, NOW)


def test_a_test_that_takes_longer_than_there_is_time_is_not_proposed():
    rig = evaluate(open_show(PRACTICE).show)
    case = FaultSearch(rig, ["W2"], table())
    every, few = menu(case), menu(case, Means(left_min=1.0))
    assert {test.key for test in few} == {test.key for test in every if test.minutes <= 1.0}
    assert 0 < len(few) < len(every)
    assert menu(case, Means(left_min=0.0)) == ()


def test_the_bypass_comes_first_where_the_fixes_one_by_one_would_not_fit():
    """One by one they take 13 minutes on average here, and the spare box on a lead of its own ten."""
    rig = evaluate(open_show(samples.folder() / "village_hall.toml").show)
    seen = [Ear("SL", "silent")]
    assert table().repairs["bypass"] == 10.0
    singles = [act for act in advise(rig, ["SL"], seen).plan if not act.fix.startswith("go round it")]
    assert 12.0 < expected_minutes(singles) < 14.0
    first = {
        left: advise(rig, ["SL"], seen, means=Means(left_min=left)).plan[0].fix for left in (9.0, 10.0, 12.0, 60.0)
    }
    assert [fix.startswith("go round it") for fix in first.values()] == [False, True, True, False]
    assert advise(rig, ["SL"], seen, means=Means(running=True)).plan[0].fix.startswith("go round it")


def test_what_takes_too_long_comes_behind_what_does_not():
    rig = evaluate(open_show(PRACTICE).show)
    for left in (1.0, 3.0, 8.0):
        singles = [
            act
            for act in advise(rig, ["F2"], [Ear("F2", "silent")], means=Means(left_min=left)).plan
            if "go round" not in act.fix
        ]
        late = [act.minutes > left for act in singles]
        assert late == sorted(late)


def test_by_command(capsys):
    words = ["triage", str(PRACTICE), "W2", "--heard", "F2=silent", "--json", "--doors"]
    assert run([*words, "1 min"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["next"] is None or found["next"]["minutes"] <= 1.0
    assert run([*words, "soon"]) == 2
    assert "expected minutes until the doors" in capsys.readouterr().err


async def test_asked_beside_the_first_advice_and_once():
    app = app_on(PRACTICE)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        text = await type_text(pilot, "F2")
        text = await press(pilot, "enter") if "what does F2 do?" not in text else text
        text = await press(pilot, "s")  # silent: the advice stands there, and nothing was asked before it
        assert "next, " in text
        assert "how long to the doors? enter: minutes" in text
        await do(pilot, "how soon")
        text = await type_text(pilot, "two")
        assert "! expected minutes until the doors" in text
        await type_text(pilot, "2")
        text = await press(pilot, "enter")
        assert "doors in " in text
        assert "how long to the doors?" not in text
        assert app.bench.trouble.left_min <= 2.0
        await do(pilot, "show is on")
        assert app.bench.trouble.running


async def test_no_answer_is_an_answer_too():
    app = app_on(PRACTICE)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t")
        text = await type_text(pilot, "F2")
        if "what does F2 do?" not in text:
            await press(pilot, "enter")
        await press(pilot, "s")
        await do(pilot, "how soon")
        text = await press(pilot, "escape")
        assert "how long to the doors?" not in text
        assert "next, " in text
