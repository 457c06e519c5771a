"""What goes over the line: bytes for a key and a page, quiet when idle, unsaved work kept on a hang-up.

The byte budgets are for 80×24 with 256 colours; times are reported by tests/bench/terminal.py and not asserted.
"""

import os
import sys
import time
from pathlib import Path

import pytest
from budget import thoroughly
from shows import FERRY
from terminals import Terminal

from fieldkit.show.keep import recovery
from fieldkit.show.writing import canonical

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")

DOWN, PAGE_DOWN, TAB = b"\x1b[B", b"\x1b[6~", b"\t"


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))


@pytest.fixture
def long_list(tmp_path):
    sys.path.insert(0, str(Path(__file__).with_name("bench")))
    from generated_show import generated

    path = tmp_path / "long.toml"
    path.write_text(canonical(generated(300)), encoding="utf-8")
    return path


def median(values):
    return sorted(values)[len(values) // 2]


def test_bytes_of_keys_pages_and_screens(long_list):
    terminal = Terminal(str(long_list))
    try:
        terminal.until("Overview")
        os.write(terminal.main, b"4")
        terminal.until("[4 Racks]")
        terminal.read(0.6)
        assert len(terminal.read(1.0)) == 0  # idle: nothing moves that need not
        keys = [len(terminal.send(DOWN)) for _ in range(7)]
        pages = [len(terminal.send(PAGE_DOWN)) for _ in range(5)]
        terminal.send(b"3")
        changes = [len(terminal.send(key)) for key in (b"4", b"3", b"4")]
        assert median(keys) <= 400
        assert median(pages) <= 3_600
        assert median(changes) <= 5_000
    finally:
        terminal.close()


def test_what_was_edited_survives_a_kill(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    terminal = Terminal(str(path))
    try:
        terminal.until("Overview")
        terminal.send(b"3")
        terminal.send(DOWN)
        terminal.send(b"c")
        # A kill comes when the copy is kept, which is to be within two seconds: ``bench/kills.py`` takes the time.
        end = time.monotonic() + 20.0
        while not any(b"MR1" in file.read_bytes() for file in (tmp_path / "state").rglob("*") if file.is_file()):
            assert time.monotonic() < end
            terminal.read(0.05)
    finally:
        terminal.close()
    assert len(recovery.kept_for(path)) == 1


def test_a_second_one_is_told_who_has_it(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    first = Terminal(str(path))
    try:
        first.until("Overview")
        second = Terminal(str(path))
        try:
            second.until("read only: open by")
        finally:
            second.close()
        first.send(b"q")
        first.ended()
    finally:
        first.close()
    assert not (tmp_path / ".ferry.toml.open").exists()


ASCII = {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


# Fewer colours, and none, are looked at cell by cell in ``test_terminal_colours.py``.
@pytest.mark.parametrize(
    "env", thoroughly({**ASCII, "SSH_CONNECTION": "x"}, more=[{"TERM": "screen"}, ASCII, {"SSH_CONNECTION": "x"}])
)
def test_other_terminals(tmp_path, env):
    path = tmp_path / "ferry.toml"
    path.write_text(FERRY, encoding="utf-8")
    terminal = Terminal(str(path), env=env)
    try:
        terminal.until("Overview")
        os.write(terminal.main, b"4")
        terminal.until("SR-1  quad-900")
        terminal.send(b"q")
        assert terminal.ended() == 0
    finally:
        terminal.close()
