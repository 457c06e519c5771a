"""A plan with errors on paper, read as a hand reads it: from the written files, without the program's own types."""

import csv
import io
import json
import re

import pytest
from rigs import show_of
from sheet_tools import Reader, files, material, sample, sample_files

from fieldkit.sheets.material import material_of
from fieldkit.sheets.phone import phone_html

CLEAN = """
[[zones]]
id = "hall"
[[rack_units]]
id = "A1"
model = "quad"
[[runs]]
id = "W1"
from = "A1.A"
path = [{ cable = "two", length = "10 m", box = "T1" }]
[[boxes]]
id = "T1"
model = "top"
zone = "hall"
"""


@pytest.fixture
def mistakes():
    return sample_files("mistakes")


@pytest.fixture
def practice():
    return sample_files("practice")


def errors_of(name, kind="output"):
    return {item.where.id for item in sample(name).findings if item.severity == "error" and item.where.kind == kind}


def test_every_page_of_a_plan_with_errors_opens_with_a_banner(mistakes):
    for name, text in mistakes.items():
        if name.endswith(".txt"):
            head = text.split("=" * 80)[1]
            assert head.startswith("\n!! THIS PLAN HAS 9 ERRORS."), name
            told = re.search(r"DO NOT PLUG until the errors are cleared: (.*)", head)
            assert told, name
            assert errors_of("mistakes") <= set(told[1].split()), name
    page = Reader(mistakes["sheets.html"])
    pages = sum(name.endswith(".txt") for name in mistakes)
    assert sum("THIS PLAN HAS 9 ERRORS." in text for text in page.texts) == pages


def test_a_plan_without_errors_has_no_banner_and_no_mark(practice):
    for name, text in practice.items():
        assert "THIS PLAN HAS" not in text, name
        assert "DO NOT PLUG" not in text, name
        assert not re.search(r"^ *! ", text, re.MULTILINE) or name == "settings.txt", name


@pytest.mark.parametrize(("page", "output"), [("lid.txt", "BAR.1"), ("lid.txt", "FLOOR.2"), ("patch.txt", "FLOOR.3")])
def test_each_row_of_an_output_with_an_error_is_marked(mistakes, page, output):
    rows = [line for line in mistakes[page].splitlines() if re.match(rf"^\s*(! )?{re.escape(output)}\s", line)]
    assert rows
    assert all(line.lstrip().startswith("! ") for line in rows)


def test_a_neighbour_without_an_error_is_not_marked(mistakes):
    rows = [line for line in mistakes["lid.txt"].splitlines() if re.match(r"^(! )?LOW\.1\s", line)]
    assert rows
    assert not any(line.startswith("!") for line in rows)


def test_settings_and_labels_of_a_driver_in_danger_say_do_not_plug(mistakes):
    settings = mistakes["settings.txt"]
    for output in errors_of("mistakes"):
        if f"* {output}: " in settings:
            item = settings.split(f"* {output}: ")[1].split("\n* ")[0]
            assert "! DO NOT PLUG" in item.splitlines()[1], output
    page = Reader(mistakes["sheets.html"])
    stickers = [number for number, text in enumerate(page.texts) if text == "! DO NOT PLUG"]
    assert {page.texts[number - 1] for number in stickers} >= errors_of("mistakes") - {"FLOOR.3+4"}
    assert "LOW.1" not in {page.texts[number - 1] for number in stickers}


def test_a_phone_says_do_not_plug_of_the_cable_in_the_hand_too():
    one = sample("mistakes")
    data = json.loads(re.search(r'(?s)id="data">(.*?)</script>', phone_html(one, ()))[1])
    live = {label["id"] for label in data["labels"] if any("DO NOT PLUG" in text for text in label["warnings"])}
    assert errors_of("mistakes") - {"FLOOR.3+4"} <= live
    assert {"W1-A", "W1", "W1/1"} <= live  # from BAR.1
    assert not {"LOW.1", "LOW.2", "DP"} & live


def test_a_spreadsheet_has_the_error_beside_its_row(mistakes, practice):
    rows = list(csv.DictReader(io.StringIO(mistakes["limiters.csv"])))
    told = {row["host"]: row["error"] for row in rows}
    assert "DO NOT PLUG" in told["BAR.1"]
    assert told["DP.1"] == ""
    assert "error" not in practice["limiters.csv"].splitlines()[0].split(",")


def test_an_error_of_the_stock_marks_its_model_and_forbids_no_plug():
    one = material(CLEAN + '\n[[stock]]\nmodel = "top"\nowned = 1\nout = 1\n')
    made = files(one)
    assert "THIS PLAN HAS 1 ERROR." in made["pull.txt"]
    assert re.search(r"^ *! top ", made["pull.txt"], re.MULTILINE)
    assert "DO NOT PLUG" not in made["lid.txt"]


@pytest.mark.parametrize(
    ("row", "own", "hired", "short"),
    [
        ("owned = 1\nhired = 1", "1", "1", ""),
        ("owned = 1\nhired = 1\nout = 1", "0", "1", ""),
        ("owned = 1\nhired = 1\nout = 2", "0", "0", "1"),
        ("owned = 0\nhired = 2", "0", "2", ""),
    ],
)
def test_in_stock_is_what_is_owned_and_not_out(row, own, hired, short):
    made = files(material(f'{CLEAN}\n[[stock]]\nmodel = "top"\n{row}\n'), ["pull"])
    [found] = [line for line in csv.DictReader(io.StringIO(made["pull-models.csv"])) if line["model"] == "top"]
    assert (found["in stock"], found["hired"] or "0", found["short"]) == (own, hired, short)


def test_what_stands_between_cables_is_on_the_pull_list_with_its_place():
    made = files(sample("open_air"), ["pull"])
    places = list(csv.DictReader(io.StringIO(made["pull-places.csv"])))
    told = {(row["kind"], row["name"] or row["model"]): row["goes to"] for row in places}
    # read off the show file by hand
    assert told["multicore", "LEAD-L"] == "W3, W4"
    assert told["panel", "BREAK-R"] == "W5 socket A, W6 socket B"
    assert told["adaptor", "pair-crossing"] == "W9"
    assert "2 to DLY" not in told["signal multicore, panel or split", "multicore"]
    assert told["signal multicore, panel or split", "tower multicore"] == "1 to DLY input 1, 2 to DLY input 3"
    feeders = {row["supply"]: row["length"] for row in csv.DictReader(io.StringIO(made["pull-feeders.csv"]))}
    assert feeders == {"GEN": "60 m", "GEN-1": "25 m", "GEN-2": "25 m", "GEN-3": "25 m", "TOWER": "60 m"}


def test_the_lid_says_what_was_not_checked():
    text = " ".join(files(material_of(show_of(CLEAN)), ["lid"])["lid.txt"].split())
    assert "Not planned, so not checked: stock, rack space, supply, signals," in text


def test_the_lid_lists_each_error_once(mistakes):
    """Its outputs and cables bear the marks; under its own list of errors they would fill the lid twice over."""
    [listed] = re.findall(r"^9 errors, .*?\n-+\n(.*?)\n\n", mistakes["lid.txt"], re.DOTALL | re.MULTILINE)
    assert listed.count("* error: ") == 9
    assert "DO NOT PLUG" not in listed
    assert "! DO NOT PLUG: " in mistakes["lid.txt"].partition("9 errors, ")[0]  # where it is plugged
