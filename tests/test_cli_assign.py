"""`fieldkit assign`, as scripts and other programs use it."""

import contextlib
import json
import signal
import subprocess
import sys
import time

import pytest
from planned_shows import AMPLIFIERS, CABLES, SPEAKERS, amplifier, box, stock

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.show.keep.storage import load


@pytest.fixture(autouse=True)
def gear(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))


@pytest.fixture
def show(tmp_path):
    path = tmp_path / "show.toml"
    text = "format = 2\n" + SPEAKERS + CABLES + amplifier("four") + stock("four", 2)
    text += "# The one zone.\n[[zones]]\nid = 'hall'\n" + "".join(box(f"B{n}", "top", "hall") for n in range(4))
    path.write_text(text, encoding="utf-8")
    return path


def test_it_reports_and_writes_nothing_without_being_told(show, capsys):
    before = show.read_text(encoding="utf-8")
    assert run(["assign", str(show)]) == 0
    text = capsys.readouterr().out
    assert "2 rack units, all boxes driven; 1 rack unit is impossible with this stock" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    assert show.read_text(encoding="utf-8") == before
    assert [path.name for path in show.parent.iterdir()] == ["show.toml"]


def test_the_object_is_that_of_the_contract(show, capsys):
    assert run(["assign", str(show), "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert {"moves", "rack_units", "proof", "short"} <= set(report)
    assert report["rack_units"] == AMPLIFIERS["four"][1]
    assert set(report["proof"]) == {"proved", "minimum_rack_units", "condition", "says"}
    assert report["alternatives"] == []
    assert report["proof"]["proved"] is True
    assert report["proof"]["minimum_rack_units"] == 2
    assert report["short"] == []
    assert {move["box"] for move in report["moves"]} == {"B0", "B1", "B2", "B3"}
    assert all(move["outputs"] and move["run"] and move["says"] for move in report["moves"])


def test_what_it_writes_passes_the_check_and_keeps_the_comments(show, tmp_path, capsys):
    out = tmp_path / "planned.toml"
    assert run(["assign", str(show), "-o", str(out)]) == 0
    assert run(["check", str(out)]) == 0
    capsys.readouterr()
    text = out.read_text(encoding="utf-8")
    assert "# The one zone." in text
    assert len(load(out).show.runs) == 2
    assert run(["assign", str(out)]) == 0
    assert "nothing to plan" in capsys.readouterr().out


def test_without_an_answer_it_says_what_is_short_and_exits_1(show, capsys):
    show.write_text(show.read_text(encoding="utf-8").replace("owned = 2", "owned = 1\nout = 1"), encoding="utf-8")
    assert run(["assign", str(show), "--json"]) == 1
    report = json.loads(capsys.readouterr().out)
    assert report["moves"] == []
    assert {(item["what"], item["count"]) for item in report["short"]} == {("four", 1)}
    assert sorted(report["undriven"]) == ["B0", "B1", "B2", "B3"]
    assert run(["assign", str(show)]) == 1
    assert "short: hire 1 × four, and every box is driven" in capsys.readouterr().out


def test_a_show_with_errors_of_its_own_exits_1(capsys):
    assert run(["assign", str(samples.folder() / "mistakes.toml"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["errors"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "expected SHOW"),
        (["none.toml"], "there is no such file"),
        (["SHOW", "more"], "unexpected 'more'"),
        (["SHOW", "-o"], "-o: expected a value"),
        (["SHOW", "--moves", "some"], "--moves: expected a whole number from 0 to 10000, got 'some'"),
        (["SHOW", "--jsn"], "did you mean '--json'"),
        (["SHOW", "-o", "no/such/folder/out.toml"], "there is no folder 'no/such/folder'"),
    ],
)
def test_bad_input_is_one_line_and_exit_status_2(arguments, says, show, capsys):
    assert run(["assign", *(str(show) if word == "SHOW" else word for word in arguments)]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1


def test_the_solver_says_nothing_of_its_own(show):
    done = subprocess.run(
        [sys.executable, "-m", "fieldkit", "assign", str(show), "--json"], capture_output=True, check=True, timeout=60
    )
    assert done.stdout.startswith(b"{")
    assert done.stderr == b""


@pytest.mark.parametrize("asks", [True, False])
def test_ctrl_c_that_a_library_swallowed_is_heard_all_the_same(asks, tmp_path, monkeypatch, capsys):
    def work(_show, _wishes, *, cancelled):
        with contextlib.suppress(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        if asks:
            cancelled()
        else:
            for _ in range(100):  # it never asks
                time.sleep(0.05)
        raise AssertionError("ctrl+c was lost")

    monkeypatch.setattr("fieldkit.planning.assign.plan.assign", work)
    path = tmp_path / "hall.toml"
    path.write_bytes((samples.folder() / "village_hall.toml").read_bytes())
    before = signal.getsignal(signal.SIGINT)
    assert run(["assign", str(path)]) == 130
    assert capsys.readouterr().err == "fieldkit: stopped\n"
    assert signal.getsignal(signal.SIGINT) is before
