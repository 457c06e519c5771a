"""Unsaved work is kept outside the show's folder, and a show that is open is claimed beside its file."""

import errno
import os
import signal
import socket
import subprocess
import sys
import time

import msgspec
import pytest

from fieldkit.show.errors import FileError
from fieldkit.show.keep import claims, journal, keeping, recovery
from fieldkit.show.keep.journal import Journal, read
from fieldkit.show.keep.keeping import Keeper
from fieldkit.text.folders import state_folder

BASE = "".join(f"line {number}\n" for number in range(50))


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


@pytest.fixture
def show(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(BASE, encoding="utf-8")
    return path


def left_by(path, *texts, base=BASE, session="one"):
    """Leave a journal as a session does that was killed."""
    kept = Journal(state_folder(), path, base, session)
    for text in texts:
        kept.write(text)
    kept.close()
    return kept.file


def texts(path):
    return [kept.text for kept in recovery.kept_for(path)]


# ---- the journal -----------------------------------------------------------------------------------------------------


def test_unsaved_work_is_found_again_and_dropped(show):
    assert recovery.kept_for(show) == ()
    states = [BASE.replace("line 7", "ünï [brackets] 🎪"), BASE + "more\n", BASE[9:], "", BASE + "last"]
    left_by(show, *states)
    (kept,) = recovery.kept_for(show)
    assert (kept.text, kept.head.base, kept.show_path) == (states[-1], BASE, show)
    recovery.drop(kept)
    assert recovery.kept_for(show) == ()
    recovery.drop(kept)


def test_wherever_the_file_is_cut_off_an_earlier_state_is_read(show):
    states = ["b" + BASE, "bc" + BASE, "bcd" + BASE[20:]]
    file = left_by(show, *states)
    raw = file.read_bytes()
    seen = []
    for length in range(len(raw) + 1):
        file.write_bytes(raw[:length])
        kept = read(file)
        if kept is not None:
            seen.append(kept.text)
    assert set(seen) == {BASE, *states}
    assert sorted(seen, key=[BASE, *states].index) == seen  # never back to an earlier one
    file.write_bytes(raw[:-30] + b"#" + raw[-29:])  # a spoilt record
    assert read(file).text == states[1]


def test_what_was_undone_or_saved_is_not_offered(show):
    left_by(show, "x" + BASE, BASE)
    assert recovery.all_kept() == ()
    left_by(show, "x" + BASE, session="two")
    assert texts(show) == ["x" + BASE]
    show.write_text("x" + BASE, encoding="utf-8")
    assert recovery.kept_for(show) == ()


def test_each_session_has_its_own_the_newest_first_and_answers_only_its_own(show):
    left_by(show, "one" + BASE)
    left_by(show, "two" + BASE, session="two")
    assert texts(show) == ["two" + BASE, "one" + BASE]
    recovery.drop(recovery.kept_for(show)[0])
    assert texts(show) == ["one" + BASE]


def test_work_of_a_session_that_lives_is_not_offered(show):
    living = Journal(state_folder(), show, BASE, "living")
    living.write("x" + BASE)
    assert recovery.all_kept() == ()
    living.close()
    assert texts(show) == ["x" + BASE]


def test_work_follows_a_show_that_was_moved_and_no_copy_of_it(show, tmp_path):
    left_by(show, "x" + BASE)
    link, copy, moved = (tmp_path / name for name in ("link.toml", "copy.toml", "moved.toml"))
    link.symlink_to(show)
    copy.write_text(BASE, encoding="utf-8")
    assert texts(link) == ["x" + BASE]
    assert texts(copy) == []  # the show itself still stands where it was
    show.rename(moved)
    assert texts(moved) == ["x" + BASE]
    with moved.open("a", encoding="utf-8") as file:
        file.write("edited by hand since\n")
    assert texts(moved) == ["x" + BASE]
    moved.unlink()
    other = tmp_path / "other.toml"
    other.write_text("nothing in common\n", encoding="utf-8")  # may have the number of the file that went
    assert texts(other) == []
    assert [kept.text for kept in recovery.all_kept()] == ["x" + BASE]  # and it is listed all the same


@pytest.mark.parametrize(
    "name", ["with\nline end.toml", '"quotes".toml', "emoji 🎪.toml", "# hash.toml", "\udce4.toml"]
)
def test_any_name_of_a_show_is_safe(tmp_path, name):
    left_by(tmp_path / name, "x" + BASE)
    assert [kept.show_path for kept in recovery.kept_for(tmp_path / name)] == [tmp_path / name]


def test_a_file_of_somebody_else_is_left_alone(state):
    state.mkdir()
    (state / "0123.journal").write_text("format = 2\n", encoding="utf-8")
    assert recovery.all_kept() == ()
    assert (state / "0123.journal").exists()


# ---- the thread that writes it ---------------------------------------------------------------------------------------


@pytest.fixture
def keeper(show, monkeypatch):
    monkeypatch.setattr(keeping, "KEEP_AFTER_S", 0.2)
    said = []
    keeper = Keeper(show, None, lambda word, text: said.append((word, text)), watch=False)
    keeper.said = said
    yield keeper
    keeper.close()


def until(condition, longest_s=5.0):
    end = time.monotonic() + longest_s
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_edits_without_a_pause_are_kept_all_the_same(keeper):
    number = 0

    def one_more():
        nonlocal number
        number += 1
        text = f"{number}{BASE}"
        keeper.edited(BASE, lambda: text)
        return keeper.file is not None

    until(one_more)


def test_an_edit_waits_for_no_disk_and_a_full_one_is_said_once(show, keeper, monkeypatch):
    monkeypatch.setattr(keeping, "AGAIN_S", 0.05)

    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(journal.os, "fsync", full)
        for number in range(3):
            text = f"{number}{BASE}"
            keeper.edited(BASE, lambda text=text: text)
            with pytest.raises(FileError, match="unsaved work cannot be kept: No space left on device"):
                keeper.flush()
        assert [word for word, _ in keeper.said] == ["kept"]
        assert list(state_folder().glob("*")) == []
    until(lambda: len(keeper.said) == 2)  # it tries again by itself
    assert keeper.said[-1] == ("kept", "unsaved work is kept again")
    keeper.close()
    assert texts(show) == ["2" + BASE]


def test_an_undone_edit_and_an_answer_leave_no_file(keeper):
    keeper.edited(BASE, lambda: "x" + BASE)
    keeper.flush()
    assert keeper.file.exists()
    keeper.edited(BASE, lambda: BASE)
    keeper.flush()
    assert list(state_folder().iterdir()) == []
    keeper.edited(BASE, lambda: "x" + BASE)
    keeper.flush()
    keeper.answered()
    keeper.flush()
    assert list(state_folder().iterdir()) == []


def test_the_file_begins_anew_after_a_save_and_when_it_has_grown(keeper, monkeypatch):
    keeper.edited(BASE, lambda: "x" + BASE)
    keeper.flush()
    first = keeper.file
    saved = "x" + BASE
    keeper.edited(saved, lambda: "y" + saved)
    keeper.flush()
    assert not first.exists()
    monkeypatch.setattr(journal, "MOST_BYTES", 0)
    for number in range(40):
        text = f"{number} {saved * 2}"
        keeper.edited(saved, lambda text=text: text)
        keeper.flush()
    (file,) = state_folder().iterdir()
    assert file.stat().st_size < 8 * len(saved)
    keeper.close()
    assert [kept.text for kept in recovery.all_kept()] == ["39 " + saved * 2]


# ---- who has a show open ---------------------------------------------------------------------------------------------


def test_a_show_is_claimed_and_released(show):
    held = claims.claim(show).held
    assert held.is_ours()
    assert claims.look(show).pid == os.getpid()
    assert claims.claim(show).other.alive
    held.release()
    assert claims.look(show) is None
    assert not claims.claim_file(show).exists()


def mark(show, **fields):
    """Leave a mark that nobody holds a lock of."""
    claim = claims.ShowClaim(**{"host": "another-machine", "user": "crew", **fields})
    raw = msgspec.to_builtins(claim)
    del raw["alive"]
    claims.claim_file(show).write_bytes(msgspec.json.encode(raw))
    return claim


def test_the_mark_of_another_host_is_told_with_its_age_and_can_be_taken_over(show):
    mark(show, since=time.time() - 7200, beat=time.time() - 180)
    other = claims.claim(show).other
    assert (other.says, other.alive) == ("crew on another-machine, last sign of life 3 min ago", False)
    held = claims.claim(show, over=other).held
    assert held.is_ours()
    mark(show, since=time.time(), beat=time.time())  # the other writes over it: a file system without locks
    assert claims.claim(show).other.host == "another-machine"


@pytest.mark.parametrize(("age_s", "taken"), [(1.0, False), (86_000.0, False), (87_000.0, True)])
def test_a_mark_of_another_host_rules_for_a_day(show, age_s, taken):
    mark(show, since=time.time() - age_s, beat=time.time() - age_s)
    assert (claims.claim(show).held is not None) == taken


def test_a_mark_of_this_host_whose_program_is_gone_is_taken_whatever_its_number(show):
    mark(show, host=socket.gethostname(), pid=os.getpid(), since=time.time() - 60)  # a number used again
    assert claims.claim(show).held is not None


@pytest.mark.parametrize(
    "content", ["", "no claim", '{"pid": 99999999999999999999999999}', '{"since": 1e300, "host": "x"}']
)
def test_a_mark_that_says_nothing_of_use_bars_nobody(show, content):
    claims.claim_file(show).write_text(content, encoding="utf-8")
    answer = claims.claim(show)
    if answer.held is None:
        assert "at a time that is not known" in answer.other.says
        answer = claims.claim(show, over=answer.other)
    assert answer.held.is_ours()


def test_an_odd_thing_in_its_place_and_a_full_disk_bar_nobody(show, monkeypatch):
    file = claims.claim_file(show)
    file.mkdir()
    assert "this is a folder" in claims.claim(show).problem
    file.rmdir()
    if os.name != "nt":
        os.mkfifo(file)
        assert "this is a pipe" in claims.claim(show).problem
        file.unlink()

    def full(*_args):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(claims.os, "write", full)
        assert claims.claim(show).held is not None  # the lock needs no room
    with monkeypatch.context() as patched:
        patched.setattr(claims.os, "open", full)
        assert claims.claim(show).problem == "No space left on device"


def test_an_owner_sees_that_the_show_was_taken_over(show):
    first = claims.claim(show).held
    other = claims.claim(show).other
    second = claims.claim(show, over=other).held
    assert (first.beat(), second.beat()) == (False, True)
    first.release()
    assert second.is_ours()


CLAIMANT = """
import sys, time
from fieldkit.show.keep.claims import claim
from pathlib import Path
print("ready", flush=True)
sys.stdin.readline()
answer = claim(Path(sys.argv[1]))
print("own" if answer.held else "other", flush=True)
sys.stdin.readline()
"""


@pytest.mark.parametrize("stale", [False, True])
def test_of_many_that_claim_at_once_one_has_it(show, stale):
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", CLAIMANT, str(show)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for _ in range(4)
    ]
    if stale:
        mark(show, host=socket.gethostname(), pid=4711, since=time.time() - 60)
    try:
        for program in programs:
            assert program.stdout.readline() == "ready\n"
        for program in programs:
            program.stdin.write("\n")
            program.stdin.flush()
        said = [program.stdout.readline().strip() for program in programs]
        assert sorted(said) == ["other", "other", "other", "own"]
        programs[said.index("own")].send_signal(signal.SIGTERM)
        programs[said.index("own")].wait(10)
        assert claims.claim(show).held is not None
    finally:
        for program in programs:
            program.kill()
            program.communicate()
