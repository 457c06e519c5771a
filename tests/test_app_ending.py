"""How the application ends when nobody pressed a key for it: exit status, work kept, terminal given back."""

import os
import signal
import termios

import pytest
from budget import thoroughly
from shows import FERRY
from terminals import Terminal

from fieldkit.show.keep import recovery

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")

DOWN = b"\x1b[B"
FAULTY = """
import sys
from fieldkit.app.application import FieldkitApp
from fieldkit.app.workbench import Workbench
def fault(*_, **__):
    raise KeyError("left over")
{where} = fault
from fieldkit.commands.cli import run
sys.exit(run(sys.argv[1:]))
"""
BUSY = """
import pathlib, sys, time
from fieldkit.app.application import FieldkitApp
def hold_up():
    pathlib.Path(sys.argv[1]).with_name("held up").touch()
    time.sleep(60)
def busy(self):
    self.say("computing")
    self.set_timer(0.1, hold_up)
FieldkitApp.action_redo = busy
from fieldkit.commands.cli import run
sys.exit(run(sys.argv[1:]))
"""


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.delenv("FIELDKIT_TRACEBACK", raising=False)


@pytest.fixture
def show(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    return path


def edited(show, **options):
    """A terminal with the show open and one edit made: another box like ML1."""
    terminal = Terminal(*([str(show)] if "command" not in options else []), **options)
    terminal.until("Overview")
    os.write(terminal.main, b"3")
    terminal.until("[3 Zones]")
    os.write(terminal.main, DOWN + b"c")
    terminal.until("MR1")
    return terminal


def until_the_end(terminal):
    written = b""
    while terminal.process.poll() is None:
        written += terminal.read(0.1)
    return written + terminal.read()


def assert_kept(show):
    (kept,) = recovery.kept_for(show)
    assert 'id = "MR1"' in kept.text
    assert show.read_text(encoding="utf-8") == FERRY
    assert not show.with_name(f".{show.name}.open").exists()


def assert_given_back(written):
    assert written.rindex(b"\x1b[?1049l") > written.rfind(b"\x1b[?1049h")  # the main screen
    assert b"\x1b[<u" in written  # the keyboard's own codes
    assert b"\x1b[?25h" in written  # the cursor


# SIGTERM comes every day while the event loop is held up, which is harder.
@pytest.mark.parametrize("number", thoroughly(signal.SIGHUP, signal.SIGINT, more=[signal.SIGQUIT, signal.SIGTERM]))
def test_a_signal_keeps_unsaved_work_and_says_so_in_the_status(show, number):
    terminal = edited(show)
    try:
        side = termios.tcgetattr(terminal.main)
        assert not side[3] & termios.ECHO
        terminal.signal(number)
        assert terminal.ended() == 128 + number
        assert termios.tcgetattr(terminal.main)[3] & termios.ECHO
        assert_given_back(terminal.read())
    finally:
        terminal.close()
    assert_kept(show)


def test_a_signal_is_heard_while_the_event_loop_is_held_up(show):
    terminal = edited(show, command=["-c", BUSY, str(show)])
    try:
        os.write(terminal.main, b"\x19")
        terminal.until("computing")
        while not show.with_name("held up").exists():
            assert terminal.process.poll() is None
            terminal.read()
        terminal.signal(signal.SIGTERM)
        assert terminal.ended() == 128 + signal.SIGTERM
        assert_given_back(terminal.read())
    finally:
        terminal.close()
    assert_kept(show)


def test_ctrl_c_is_a_key_and_ends_nothing(show):
    terminal = edited(show)
    try:
        os.write(terminal.main, b"\x03")
        terminal.until("q leaves")
        assert terminal.process.poll() is None
    finally:
        terminal.close()


@pytest.mark.parametrize(
    ("where", "keys"),
    [("FieldkitApp.action_redo", b"\x19"), ("Workbench.welcome", b"")],
    ids=["at work", "at the start"],
)
def test_a_fault_ends_with_a_status_and_one_line(show, tmp_path, where, keys):
    command = ["-c", FAULTY.format(where=where), str(show)]
    if keys:
        terminal = edited(show, command=command)
        os.write(terminal.main, keys)
    else:
        terminal = Terminal(command=command)
    try:
        written = until_the_end(terminal)
        assert terminal.process.returncode == 70
    finally:
        terminal.close()
    assert_given_back(written)
    said = written[written.rindex(b"\x1b[?1049l") :]
    line = said[said.index(b"fieldkit: ") :].decode()
    assert line.count("\n") == 1
    assert "KeyError: 'left over'" in line
    reports = list((tmp_path / "state").glob("fault-*.txt"))
    assert len(reports) == 1
    assert str(reports[0]) in line
    assert "KeyError" in reports[0].read_text(encoding="utf-8")
    if keys:
        assert_kept(show)
        assert f"unsaved work is in {tmp_path / 'state'}" in line
    else:
        assert "nothing was unsaved" in line


def test_a_fault_before_the_screen_is_one_line_too(show):
    terminal = Terminal(command=["-c", FAULTY.format(where="FieldkitApp.__init__"), str(show)])
    try:
        written = until_the_end(terminal)
        assert terminal.process.returncode == 70
    finally:
        terminal.close()
    assert written.count(b"\n") == 1
    assert b"KeyError" in written
    assert not show.with_name(f".{show.name}.open").exists()
