"""Unsaved work is kept outside the show's folder, and a show that is open is claimed beside its file."""

import os
import socket
import subprocess
import sys

import msgspec
import pytest

from fieldkit.show import claims, recovery
from fieldkit.show.errors import FileError


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


def test_unsaved_work_is_found_again_and_dropped(tmp_path):
    show = tmp_path / "a.toml"
    assert recovery.kept_for(show) is None
    recovery.keep(show, "format = 1\n")
    recovery.keep(show, "format = 1\n# ünï [brackets]\n")
    kept = recovery.kept_for(show)
    assert (kept.text, kept.show_path) == ("format = 1\n# ünï [brackets]\n", show)
    assert not show.exists()
    recovery.drop(show)
    assert recovery.kept_for(show) is None
    recovery.drop(show)


def test_two_shows_of_one_name_do_not_meet(tmp_path):
    one, other = tmp_path / "x" / "a.toml", tmp_path / "y" / "a.toml"
    recovery.keep(one, "one")
    recovery.keep(other, "other")
    assert recovery.kept_for(one).text == "one"
    assert {kept.show_path for kept in recovery.all_kept()} == {one, other}


@pytest.mark.parametrize("name", ["with\nline end.toml", '"quotes".toml', "emoji 🎪.toml", "# hash.toml"])
def test_any_name_of_a_show_is_safe(tmp_path, name):
    recovery.keep(tmp_path / name, "format = 1\n")
    assert recovery.kept_for(tmp_path / name).show_path == tmp_path / name


def test_a_file_of_somebody_else_is_left_alone(state):
    state.mkdir()
    (state / "0123.toml").write_text("format = 1\n", encoding="utf-8")
    assert recovery.all_kept() == ()
    assert (state / "0123.toml").exists()


def test_a_state_folder_that_cannot_be_made_is_said(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "file" / "state"))
    with pytest.raises(FileError, match="unsaved work cannot be kept"):
        recovery.keep(tmp_path / "a.toml", "format = 1\n")


def test_a_show_is_claimed_and_released(tmp_path):
    show = tmp_path / "a.toml"
    assert claims.claim(show) is None
    assert claims.claim(show) is None  # ours already
    assert claims.read_claim(show).pid == os.getpid()
    claims.release(show)
    assert claims.read_claim(show) is None


def other_claim(show, pid, host):
    claim = claims.Claim(host=host, pid=pid, user="crew", since=0.0)
    claims.claim_file(show).write_bytes(msgspec.json.encode(claim))
    return claim


def test_somebody_elses_claim_is_told_and_stays(tmp_path):
    show = tmp_path / "a.toml"
    other = other_claim(show, 4711, "another-machine")
    assert claims.claim(show) == other
    claims.release(show)
    assert claims.read_claim(show) == other


def test_the_claim_of_a_program_that_is_gone_is_taken_over(tmp_path):
    gone = subprocess.Popen([sys.executable, "-c", "pass"])
    gone.wait()
    show = tmp_path / "a.toml"
    other_claim(show, gone.pid, socket.gethostname())
    assert claims.claim(show) is None
    assert claims.read_claim(show).pid == os.getpid()


def test_a_claim_that_cannot_be_read_is_taken_over(tmp_path):
    show = tmp_path / "a.toml"
    claims.claim_file(show).write_text("no claim", encoding="utf-8")
    assert claims.claim(show) is None
