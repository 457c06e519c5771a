"""What the checks say they looked at: from what a show has, and never more."""

import json

import pytest
from rigs import show_of

from fieldkit.checks.scope import scope_of
from fieldkit.commands.cli import run
from fieldkit.reports.standing import standing
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.document import Show

BOXES = """
[[zones]]
id = "hall"
[[boxes]]
id = "T1"
model = "top"
zone = "hall"
[[boxes]]
id = "T2"
model = "top"
zone = "hall"
"""
AMPLIFIER = """
[[rack_units]]
id = "A1"
model = "quad"
"""
RUN = """
[[runs]]
id = "W1"
from = "A1.A"
path = [{ cable = "two", length = "10 m", box = "T1" }]
"""


def scope(*texts):
    return scope_of(evaluate(show_of("".join(texts))))


def test_boxes_alone_are_nothing_that_could_be_checked():
    found = scope(BOXES)
    assert found.checked == ()
    assert {"loads", "cables", "supply", "signals", "positions"} <= set(found.not_checked)


def test_a_part_is_said_to_be_a_part():
    found = scope(BOXES, AMPLIFIER, RUN)
    assert "loads" in found.checked
    assert "loads of 1 of 2 boxes" in found.not_checked
    assert "signals" in found.not_checked


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ('[[stock]]\nmodel = "top"\nowned = 2\n', "stock"),
        ('[[supplies]]\nid = "S"\nvolts = "230 V"\nrating = "16 A"\n', "supply"),
        ("", "signals"),
    ],
)
def test_what_is_planned_is_checked_and_what_is_not_is_not(more, word):
    unit = AMPLIFIER
    if word == "supply":
        unit += 'supply = "S"\n'
    if word == "signals":
        unit += 'inputs = { 1 = "L" }\n'
    before, after = scope(BOXES, AMPLIFIER, RUN), scope(BOXES, unit, RUN, more)
    assert word not in before.checked
    assert word in after.checked


def test_a_supply_on_which_nothing_hangs_was_not_checked():
    found = scope(BOXES, AMPLIFIER, RUN, '[[supplies]]\nid = "S"\nvolts = "230 V"\nrating = "16 A"\n')
    assert "supply" in found.not_checked


def test_the_command_says_it_in_words_and_as_json(capsys):
    assert run(["check", "sample_shows/village_hall.toml"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert text.startswith("no problems found in: loads, power, presets, pins, cables, stock")
    assert "Not planned, so not checked: rack space, supply, signals" in text
    assert run(["check", "sample_shows/mistakes.toml", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert "loads" in told["checked"]
    assert "supply" in told["not_checked"]
    assert run(["check", "sample_shows/mistakes.toml"]) == 1
    assert "Not planned, so not checked:" in " ".join(capsys.readouterr().out.split()[-40:])


def test_where_an_empty_job_stands_names_what_comes_first_and_claims_nothing():
    said = {item.word: item for item in standing(evaluate(Show()))}
    assert {item.state for item in said.values()} == {"not planned", "nothing yet", "none"}
    assert said["supply"].says == "no amplifier yet: screen Racks, a"
    assert said["delays"].says == "no zones yet: screen Zones, a"
    assert [word for word, item in said.items() if item.is_done] == ["failed"]
