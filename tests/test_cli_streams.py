"""Where the output goes and what is in it: closed and full streams, encodings, marks that a terminal would obey."""

import json
import os
import subprocess
import sys

import pytest
from shows import FERRY, with_change

from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.show.keep.storage import load

HOSTILE = "\\u001b[31mred \\u0007 \\u009b2J \\u202e \\u007f \U0001f3aa مرحبا [bold]x[/bold]"
"""Escapes, a bell, the eight-bit way to begin an escape, a turn of direction, and what is only text."""


@pytest.fixture
def hostile(tmp_path):
    path = tmp_path / "show.toml"
    text = with_change("Ferry landing, Sunday", HOSTILE)
    text = text.replace('signals = { left = "L", right = "R" }', f'signals = {{ left = "{HOSTILE}", right = "R" }}')
    text = text.replace('inputs = { 1 = "L", 2 = "L"', f'inputs = {{ 1 = "{HOSTILE}", 2 = "R"')
    path.write_text(text, encoding="utf-8")
    return str(path)


def command(*arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "fieldkit", *arguments], check=False, timeout=60, stderr=subprocess.PIPE, **options
    )


# ---- what is in it ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments", [["check"], ["check", "--json"], ["lines", "--why"], ["lines", "--json", "--why"], []]
)
def test_nothing_that_a_terminal_would_obey_is_printed(hostile, arguments, capsys):
    run([*arguments, hostile])
    printed = capsys.readouterr()
    assert printed.err == ""
    assert all(mark.isprintable() or mark == "\n" for mark in printed.out)


def test_json_says_the_same_in_any_encoding(hostile):
    plain = json.loads(command("check", hostile, "--json", stdout=subprocess.PIPE).stdout)
    for encoding in ("ascii", "latin-1", "utf-8"):
        environment = {**os.environ, "PYTHONIOENCODING": encoding}
        done = command("check", hostile, "--json", stdout=subprocess.PIPE, env=environment)
        assert done.stderr == b""
        assert json.loads(done.stdout.decode(encoding)) == plain


def test_names_of_files_are_printed_safely(tmp_path, capsys):
    path = str(tmp_path / "a\x1b[31m.toml")
    assert run(["new", path]) == 0
    assert run(["new", path]) == 2
    assert run(["check", path + "\x07"]) == 2
    printed = capsys.readouterr()
    assert "a\\x1b[31m.toml is written" in printed.out
    assert all(mark.isprintable() or mark == "\n" for mark in printed.out + printed.err)
    assert printed.err.count("\n") == 2


@pytest.mark.parametrize("name", ["x" * 10_000, "\udcff.toml", "a\nb", "[bold]x[/bold]", "🎪", ""])
@pytest.mark.parametrize("words", [["check"], ["lines"], ["calc"], []])
def test_any_word_gets_one_line(name, words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run([*words, name]) == 2
    printed = capsys.readouterr()
    assert (printed.out, printed.err.count("\n")) == ("", 1)
    assert len(printed.err) < 600
    assert list(tmp_path.iterdir()) == []


# ---- where it goes ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("arguments", [["--help"], ["schema"], ["--version"]])
def test_a_pipe_that_nobody_reads_is_no_error(arguments):
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = command(*arguments, stdout=writing)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device that is always full")  # noqa: PTH110
@pytest.mark.parametrize("arguments", [["--help"], ["schema"]])
def test_a_full_disk_behind_the_output_is_said(arguments):
    with open("/dev/full", "wb") as full:  # noqa: PTH123
        done = command(*arguments, stdout=full)
    assert done.returncode == 2
    assert done.stderr == b"fieldkit: the output cannot be written: no space is left there\n"


@pytest.mark.skipif(os.name == "nt", reason="shells there cannot close a stream")
@pytest.mark.parametrize(("closing", "status"), [(">&-", 0), (">&- 2>&-", 0), ("<&-", 0)])
def test_streams_that_are_closed(hostile, closing, status):
    done = subprocess.run(  # noqa: S602
        f'"{sys.executable}" -m fieldkit check "{hostile}" {closing}', shell=True, capture_output=True, check=False
    )
    assert (done.returncode, done.stderr) == (status, b"")


def test_a_stop_from_the_keyboard_is_one_line(hostile, monkeypatch, capsys):
    def stopped(_name):
        raise KeyboardInterrupt

    monkeypatch.setattr("fieldkit.commands.proof.load_show", stopped)
    assert run(["check", hostile]) == 130
    assert capsys.readouterr() == ("", "fieldkit: stopped\n")


@pytest.mark.parametrize("fault", [KeyError("a fault"), RecursionError("a fault"), OSError(5, "a fault")])
def test_faults_of_the_program_are_seen_whole(hostile, monkeypatch, fault):
    def broken(_name):
        raise fault

    monkeypatch.setattr("fieldkit.commands.proof.load_show", broken)
    with pytest.raises(type(fault), match="a fault"):
        run(["check", hostile])


# ---- new -------------------------------------------------------------------------------------------------------------


def test_new_needs_a_folder_and_a_name(tmp_path, capsys):
    assert run(["new", str(tmp_path / "none" / "show.toml")]) == 2
    assert run(["new", str(tmp_path)]) == 2
    assert run(["new"]) == 2
    assert run(["new", ""]) == 2
    missing, folder, nothing, empty = capsys.readouterr().err.splitlines()
    assert (
        missing
        == f"fieldkit: {tmp_path / 'none' / 'show.toml'}: there is no folder '{tmp_path / 'none'}' to write it in"
    )
    assert folder.endswith("this is a folder; expected the name of a new file")
    assert "expected FILE" in nothing
    assert "expected the name of a new file" in empty
    assert list(tmp_path.iterdir()) == []


def test_a_sample_by_its_file_name_and_none_by_a_path(tmp_path, capsys):
    path = tmp_path / "show.toml"
    assert run(["new", str(path), "--sample=village_hall.toml"]) == 0
    assert load(path).show.about.name
    other = tmp_path / "other.toml"
    assert run(["new", str(other), "--sample", "../tests/shows"]) == 2
    assert "no sample '../tests/shows'" in capsys.readouterr().err
    assert not other.exists()


def test_reading_leaves_the_folder_as_it_was(tmp_path, capsys):
    path = tmp_path / "show.toml"
    path.write_text(FERRY, encoding="utf-8")
    before = path.stat()
    for arguments in (["check"], ["check", "--json"], ["lines"], []):
        assert run([*arguments, str(path)]) == 0
    assert capsys.readouterr().err == ""
    assert path.stat().st_mtime_ns == before.st_mtime_ns
    assert list(tmp_path.iterdir()) == [path]


# ---- what is written -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("arguments", [["assign"], ["failover", "--failed", "AMP"]])
def test_what_is_written_is_said_and_a_folder_is_refused(arguments, tmp_path, capsys):
    show = str(samples.folder() / "village_hall.toml")
    out = tmp_path / "out.toml"
    run([arguments[0], show, *arguments[1:], "-o", str(out)])
    assert f"written: {out}" in capsys.readouterr().out
    assert out.exists()
    assert run([arguments[0], show, *arguments[1:], "-o", str(tmp_path)]) == 2
    assert capsys.readouterr().err == f"fieldkit: {tmp_path}: this is a folder; expected the name of a file\n"


@pytest.mark.parametrize("out", [True, False])
def test_a_name_that_no_file_can_have_is_one_line(out, capsys):
    """Longer than a name of a file may be, typed where a show is written, and where a base is read."""
    show, name = str(samples.folder() / "village_hall.toml"), "x" * 300
    command = ["failover", show, "--failed", "AMP", "-o", name] if out else ["merge", name, show, show]
    assert run(command) == 2
    text = capsys.readouterr().err
    assert text.count("\n") == 1
    assert "ile name too long" in text


@pytest.mark.parametrize("arguments", [["assign", ""], ["failover", "", "--failed", "X"]])
def test_an_empty_name_is_said_alike(arguments, capsys):
    assert run(arguments) == 2
    assert "got an empty name" in capsys.readouterr().err
