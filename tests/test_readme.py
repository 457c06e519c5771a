"""What the README and the guide show is what the program prints, and every command in them can be run."""

import re
import shlex
from pathlib import Path

import pytest

from fieldkit import guide
from fieldkit.app.screens import SCREENS
from fieldkit.commands.cli import run
from fieldkit.commands.table import COMMANDS
from fieldkit.sheets.collection import PAGES as SHEETS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = {"README": README} | {topic: guide.page(topic) for topic in guide.topics()}
WHOLE = "\n\n".join(PAGES.values())
SHOWN = re.findall(r"<!-- fieldkit (.*?) -->\n\n((?:    .*\n|\n)+)", WHOLE)
CALCULATED = re.findall(r"^    fieldkit (calc .*?\S)  +(\S.*)$", WHOLE, re.MULTILINE)
WRITTEN = sorted(
    {
        line.strip()
        for line in re.findall(r"^    (fieldkit .*)$|`(fieldkit [^`]*)`", WHOLE, re.MULTILINE)
        for line in line
        if line and not re.match(r"fieldkit (calc .*\S  +\S|SHOW$|$)", line)
    }
)
"""Every command line of the pages, in a block or in the text."""
STANDING_FOR = {
    "SHOW": "open_air.toml",
    "OLD": "practice.toml",
    "NEW": "practice.toml",
    "BASE": "practice.toml",
    "MINE": "practice.toml",
    "THEIRS": "practice.toml",
    "OLDER": "practice.toml",
    "FOLDER": "sheets",
    "PLANNED.toml": "planned.toml",
    "GOES_ON.toml": "goes_on.toml",
    "SR-2": "LEFT-2",
    "X1": "DLY",
    "OUT": "out.toml",
    "ML2": "SR1",
    "LINE": "zone foyer",
    "...": "two-way-8 foyer F1",
}
"""What the words of the pages stand for when their commands are run in a folder with the samples."""
LONG = {"assign", "sheets"}
"""Commands that work for seconds on a large show: they get the smallest."""
BEFORE = {"--back": "--failed"}
"""An option that says what was done, and the one that did it: that command runs first."""


def unindented(block):
    return "\n".join(line.removeprefix("    ") for line in block.strip("\n").splitlines())


@pytest.mark.parametrize(("command", "block"), SHOWN)
def test_what_is_shown_is_what_is_printed(command, block, capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    run(shlex.split(command))
    printed, shown = capsys.readouterr().out, unindented(block)
    # What is cut says so by "…" on a line of its own.
    starts, ends = shown.startswith("…\n"), shown.endswith("\n…")
    whole = shown.removeprefix("…\n").removesuffix("\n…").strip("\n")
    assert whole in printed
    assert starts or printed.startswith(whole)
    assert ends or printed.endswith(whole + "\n")


@pytest.mark.parametrize(("command", "printed"), CALCULATED)
def test_the_calculations(command, printed, capsys):
    assert run(shlex.split(command)) == 0
    assert capsys.readouterr().out.strip() == printed


@pytest.mark.parametrize("written", WRITTEN)
def test_every_command_of_the_pages_runs(written, tmp_path, monkeypatch, capsys):
    for path in (ROOT / "sample_shows").glob("*.toml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "sample_shows").symlink_to(ROOT / "sample_shows")
    (tmp_path / "hall.toml").write_bytes((ROOT / "sample_shows" / "village_hall.toml").read_bytes())
    if written.startswith("fieldkit new"):
        (tmp_path / "hall.toml").unlink()
    monkeypatch.chdir(tmp_path)
    words = [STANDING_FOR.get(word, word) for word in shlex.split(written)[1:]]
    if words[0] in LONG:
        words = [word.replace("open_air", "village_hall") for word in words]
    for done in set(words) & set(BEFORE):
        assert run([BEFORE[done] if word == done else word for word in words]) == 0, capsys.readouterr().err
    assert run(words) in {0, 1}, capsys.readouterr().err  # 1: an answer that is no; 2 would be a command that is none


def test_the_guide_names_screens_and_pages_that_there_are_and_help_lists_every_page(capsys):
    keys, paper = " ".join(PAGES["keys"].split()), PAGES["paper"]
    told = re.search(r"in the header: ([\w, ]+) \*", keys)[1].split(", ")
    assert told == [name for _, _, name in SCREENS if name in told]
    rows = re.findall(r"(?m)^\* ([\w, -]+):", paper)
    listed = {page for row in rows for page in row.split(", ")}
    assert len(listed) > 15
    assert listed <= set(SHEETS)
    assert run(["sheets", "--help"]) == 0
    helped = re.findall(r"(?m)^  ([a-z-]+) {2,}\S", capsys.readouterr().out)
    assert [name for name in helped if not name.startswith("-")] == list(SHEETS)


def test_the_readme_is_two_screens_of_text_and_the_guide_fits_the_terminal():
    assert len(README.encode()) < 8_500
    for topic, text in PAGES.items():
        wide = [line for line in text.splitlines() if len(line) > 80 and not line.startswith("    ")]
        assert topic == "README" or not wide, (topic, wide)


def test_all_that_is_shown_is_compared():
    assert 0 < len(SHOWN) == WHOLE.count("<!-- fieldkit ")
    assert 0 < len(CALCULATED) == len(re.findall(r"^    fieldkit calc .*\S  +\S", WHOLE, re.MULTILINE))


def test_the_pages_show_commands_that_there_are():
    first = {shlex.split(written)[1] for written in WRITTEN}
    assert {word for word in first if not word.endswith(".toml")} <= set(COMMANDS)


def test_the_model_of_the_readme_can_be_used(tmp_path, monkeypatch, capsys):
    block = re.search(r"    # two-way-mine\.toml\n((?:    .*\n)+)", guide.page("gear"))
    (tmp_path / "gear").mkdir()
    (tmp_path / "gear" / "two-way-mine.toml").write_text(unindented(block[1]), encoding="utf-8")
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    show = tmp_path / "show.toml"
    show.write_text(
        'format = 2\n[[zones]]\nid = "z"\n[[boxes]]\nid = "B"\nmodel = "two-way-mine"\nzone = "z"\n', encoding="utf-8"
    )
    assert run(["check", str(show)]) == 0
    assert "B: nothing feeds this box" in capsys.readouterr().out
