"""What the README shows is what the program prints, and its calculations are right."""

import re
import shlex
from pathlib import Path

import pytest

from fieldkit.cli import run

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"<!-- fieldkit (.*?) -->\n\n((?:    .*\n|\n)+)", README)
CALCULATED = re.findall(r"^    fieldkit (calc .*?\S)  +(\S.*)$", README, re.MULTILINE)


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


def test_there_is_something_to_compare():
    assert len(SHOWN) == 4
    assert len(CALCULATED) == 7


def test_the_model_of_the_readme_can_be_used(tmp_path, monkeypatch, capsys):
    block = re.search(r"    # two-way-mine\.toml\n((?:    .*\n)+)", README)
    (tmp_path / "gear").mkdir()
    (tmp_path / "gear" / "two-way-mine.toml").write_text(unindented(block[1]), encoding="utf-8")
    monkeypatch.setenv("FIELDKIT_GEAR", str(tmp_path / "gear"))
    show = tmp_path / "show.toml"
    show.write_text(
        'format = 1\n[[zones]]\nid = "z"\n[[boxes]]\nid = "B"\nmodel = "two-way-mine"\nzone = "z"\n', encoding="utf-8"
    )
    assert run(["check", str(show)]) == 0
    assert "B: nothing feeds this box" in capsys.readouterr().out
