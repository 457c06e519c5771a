"""The command ``failover``: what it prints, what it writes, its JSON and its exit status."""

import json
import tomllib
from pathlib import Path

import pytest

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.show.opening import open_show

SCHOOL = str(samples.folder() / "school_musical.toml")


def said(capsys, *words):
    status = run(["failover", *words])
    out, err = capsys.readouterr()
    return status, out, err


def test_the_object(capsys):
    status, out, _ = said(capsys, SCHOOL, "--failed", "A5", "--json")
    found = json.loads(out)
    assert status == 0  # one of the two wedges moves, and the other one joins it
    assert found["failed"] == ["A5"]
    assert [(item["box"], item["zone"], item["side"], item["sections"]) for item in found["silent"]] == [
        ("K1", "band", "keys", ["full"]),
        ("D1", "band", "drums", ["full"]),
    ]
    joined, move = found["moves"]
    assert (joined["runs"], joined["from"], joined["to"]) == (["W9"], "A5.B", "the link socket of K1")
    assert joined["price"] == [
        "both sides hear the same for as long; more open wedges ring sooner: bring it up with care"
    ]
    assert (move["runs"], move["from"], move["to"]) == (["W8"], "A5.A", "A4.B")
    assert move["routes"] == [
        {
            "line": "W8/1",
            "was": "A5.1",
            "now": "A4.2",
            "preset": "preset stage-wedge-12-inch full, wedge: passive-wedge",
            "boxes": ["K1", "D1"],
        }
    ]
    assert [item["do"] for item in move["steps"]] == ["mute", "patch", "verify", "plug", "unmute"]
    assert found["stays_silent"] == []
    assert set(found["counts"]) == {"errors", "warnings", "notes"}
    assert found["proved"] is True


def test_what_stays_silent_is_said_with_its_reason(capsys):
    status, out, _ = said(capsys, SCHOOL, "--failed", "WALL-1", "--json")
    assert status == 1
    left = json.loads(out)["stays_silent"]
    assert {item["zone"] for item in left} == {"fills", "band"}
    assert all(" is fed from WALL-1, which has failed; " in item["why"] for item in left)
    _, out, _ = said(capsys, str(samples.folder() / "village_hall.toml"), "--failed", "AMP", "--json")
    found = json.loads(out)
    assert {item["why"] for item in found["stays_silent"]} == {"AMP has failed; there is no other amplifier that works"}
    spare = "Before the show: a spare portable-four-hosting at hand, better patched and loaded"
    assert found["before_the_show"] == f"{spare}, would save SL, TL, SR, TR."
    tower = ("--failed", "TOWER", "--json")
    found = json.loads(said(capsys, str(samples.folder() / "open_air.toml"), *tower)[1])
    advice = "a second supply for what hangs on TOWER, with a changeover by an electrician, would save DL1, DR1."
    assert found["before_the_show"] == f"Before the show: {advice}"
    assert "delay stands by itself, and no plan takes a lead there" in found["stays_silent"][0]["why"]


@pytest.mark.parametrize(
    "words", [("--failed", "A5", SCHOOL), (SCHOOL, "--failed=A5"), ("--json", SCHOOL, "--failed", "A5")]
)
def test_the_show_may_stand_anywhere(capsys, words):
    status, out, err = said(capsys, *words)
    assert (status, err) == (0, "")
    assert "A4.B" in out


def test_several_losses(capsys):
    together = said(capsys, SCHOOL, "--failed", "A1", "A2", "--json")
    apart = said(capsys, SCHOOL, "--failed", "A1", "--failed", "A2", "--json")
    assert together == apart
    assert json.loads(together[1])["failed"] == ["A1", "A2"]


def test_nothing_silent_is_done(capsys):
    status, out, _ = said(capsys, SCHOOL, "--failed", "A4.2")
    assert status == 0
    assert "nothing falls silent" in out


def test_the_text_fits_80_columns_and_ends_with_the_caution(capsys):
    for name in ("A1", "A2", "A3", "A4", "A5", "DP", "WALL-1", "WALL-2", "N1"):
        _, out, _ = said(capsys, SCHOOL, "--failed", name)
        assert max(map(len, out.splitlines())) <= 80
        assert "Caution: " in out


def test_the_new_show_is_written_and_keeps_the_remarks(capsys, tmp_path):
    target = tmp_path / "after.toml"
    status, _, _ = said(capsys, SCHOOL, "--failed", "A5", "-o", str(target))
    assert status == 0
    text = target.read_text(encoding="utf-8")
    assert "# Runs: one a side" in text or "# ---" in text
    assert tomllib.loads(text)["failed"][0]["id"] == "A5"
    after = open_show(target).show
    assert next(item for item in after.runs if item.id == "W8").start == "A4.B"
    assert run(["check", str(target)]) == 0
    # Lost once more with nothing new: the plan stands as it is.
    capsys.readouterr()
    status, out, _ = said(capsys, str(target), "--failed", "A5", "--json")
    assert (status, json.loads(out)["moves"]) == (0, [])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((SCHOOL,), "failover: expected --failed ID, the id of what failed, such as --failed SR-2"),
        ((SCHOOL, "--failed"), "--failed: expected a value after it"),
        ((SCHOOL, "--failed="), "--failed: expected a value after it"),
        ((SCHOOL, "--failed", "A9"), "A9: no amplifier, processor, supply or box 'A9'"),
        ((SCHOOL, "--failed", "A1.7"), "A1.7: 'A1' has outputs 1 to 2, got 'A1.7'"),
        (("--failed", "A1"), "expected SHOW"),
        (("nowhere.toml", "--failed", "A1"), "nowhere.toml: there is no such file"),
        ((SCHOOL, "--failed", "A1", "--jsn"), "unknown option '--jsn'"),
        ((SCHOOL, "--failed", "A1", "-o"), "-o: expected a value after it"),
        ((SCHOOL, "more", "--failed", "A1"), "unexpected 'more'"),
        ((SCHOOL, "--failed", "A1", "-o", "/nowhere/at/all.toml"), "there is no folder '/nowhere/at'"),
    ],
)  # fmt: skip
def test_what_cannot_be_used(capsys, words, says):
    status, out, err = said(capsys, *words)
    assert status == 2
    assert says in err
    assert err.count("\n") == 1
    assert out == ""


def test_moves_are_taken_into_the_file_and_put_back(capsys, tmp_path):
    target = tmp_path / "musical.toml"
    before = Path(SCHOOL).read_text(encoding="utf-8")
    target.write_text(before, encoding="utf-8")
    status, out, _ = said(capsys, str(target), "--failed", "DP.7", "A5", "--take")
    assert status == 0
    assert f"written: {target}" in out
    assert "undone by: fieldkit failover SHOW --back A5 --take" in " ".join(out.split())
    assert [item.id for item in open_show(target).show.failed] == ["DP.7", "A5"]
    assert (tmp_path / "musical.toml.bak").read_text(encoding="utf-8") == before
    status, out, _ = said(capsys, str(target), "--back", "A5")
    assert "works again: A5" in out
    assert "written" not in out
    assert [item.id for item in open_show(target).show.failed] == ["DP.7", "A5"]  # shown, and not taken
    for name in ("A5", "DP.7"):
        status, out, _ = said(capsys, str(target), "--back", name, "--take", "--json")
        assert status == 0
        assert json.loads(out)["written"] == [str(target)]
        assert json.loads(out)["moves"]
    assert open_show(target).show == open_show(SCHOOL).show


def test_nothing_is_put_back_that_has_not_failed(capsys):
    status, _, err = said(capsys, SCHOOL, "--back", "A5")
    assert status == 2
    assert "'A5' has not failed; failed is nothing" in err
    status, _, err = said(capsys, SCHOOL, "--back", "A5", "--failed", "A5")
    assert status == 2
    assert "not both of --failed and --back" in err
