"""Three lines of the sample shows, worked in worked_lines.md with a pocket calculator, against the program."""

import doctest
import re
from pathlib import Path

import pytest

from fieldkit import samples
from fieldkit.reports.objects import lines_object
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.opening import open_show

DOCUMENT = Path(__file__).with_name("worked_lines.md")


def cells(row):
    return [cell.strip() for cell in row.strip().strip("|").split("|")]


def tables():
    """Read the tables at the ends: sample, line, and the worked figures as printed, by name and box."""
    lines = DOCUMENT.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        if match := re.match(r"\| (\w+) (W\d+/\d) \|", line):
            yield match[1], match[2], list(zip(cells(line)[1:], cells(lines[number + 2])[1:], strict=True))


def test_the_arithmetic_of_the_document():
    result = doctest.testfile(str(DOCUMENT), module_relative=False)
    assert result.attempted > 40
    assert result.failed == 0


@pytest.mark.parametrize(("sample", "line", "figures"), list(tables()), ids=[f"{s} {n}" for s, n, _ in tables()])
def test_the_program_gives_what_was_worked(sample, line, figures):
    found = lines_object(evaluate(open_show(samples.folder() / f"{sample}.toml").show))
    (solved,) = [item for item in found["lines"] if item["id"] == line]
    (output,) = [item for item in found["outputs"] if item["id"] == solved["output"]]
    boxes = {box["box"]: box for box in solved["boxes"]}
    meter = {item["at"]: item for item in solved["expected"]}
    assert len(figures) >= 12
    for name, printed in figures:
        figure, _, box = name.partition(" ")
        if box:
            value = boxes[box][figure]
        elif figure == "dc_ohm":
            value = meter["amp"]["dc_ohm"]["value"]
        else:
            value = output[figure] if figure in output else solved["limiter"][figure]
        half_a_digit = 0.5 * 10 ** -len(printed.partition(".")[2])
        assert value == pytest.approx(float(printed), abs=half_a_digit), name


def test_there_are_three():
    assert [line for _, line, _ in tables()] == ["W1/2", "W1/1", "W3/1"]
