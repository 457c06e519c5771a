"""What others may rely on: names that can be imported, commands with their options, and how they end.

More may be offered at any time; what stands here does not go, and does not change its meaning.
"""

import importlib
import importlib.metadata
import json
import subprocess
import sys
from pathlib import Path

import pytest

import fieldkit
from fieldkit import samples
from fieldkit.commands.cli import run
from fieldkit.commands.table import COMMANDS

NAMES = {
    "fieldkit": {"__version__"},
    "fieldkit.errors": {"FieldkitError", "NoAnswerError", "UnusableError"},
    "fieldkit.calculator": {"CalculatorError", "NoAnswer", "Result", "UnusableInput", "evaluate", "listing_text"},
    "fieldkit.formulas": {"SUBJECTS", "all_formulas"},
    "fieldkit.guide": {"page", "topics"},
    "fieldkit.samples": {"folder", "names"},
    "fieldkit.units": {
        *("DIMENSIONS", "UNITS", "Angle", "ApparentPower", "Area", "Capacitance", "Current", "Dimension", "Duration"),
        *("Frequency", "Gain", "Impedance", "Inductance", "Length", "Level", "Mass", "Measure", "Power", "Pressure"),
        *("Quantity", "Ratio", "Resistance", "SoundLevel", "Temperature", "Unit", "UnitError", "Voltage", "convert"),
        *("find_unit", "format_number", "format_value", "known_unit", "measure_class", "parse_quantity", "shown"),
        *("spellings", "to_display", "unit_text", "units_of"),
    },
}
"""Module -> the names that it offers."""

CONTRACT = {
    "check": "SHOW --json",
    "lines": "SHOW --json --why",
    "calc": "EXPRESSION --to --json --list",
    "readings": "SHOW --json",
    "triage": "SHOW --json --heard --lights --reading --swapped --polarity --worked-before --running",
    "assign": "SHOW -o --json",
    "failover": "SHOW --failed -o --json",
    "supply": "SHOW --json",
    "sheets": "SHOW -o --since",
    "diff": "OLD NEW --json",
    "merge": "BASE MINE THEIRS -o",
    "chart": "MODEL --json",
    "schema": "",
    "new": "FILE --sample",
    "models": "WORD",
    "guide": "TOPIC",
}
"""Command -> the words and options that it is promised to take."""


OBJECTS = {
    "check village_hall.toml": "findings counts checked not_checked",
    "lines village_hall.toml": "outputs lines",
    "readings village_hall.toml": "lines",
    "supply village_hall.toml": "supplies units devices racks switch_on",
    "triage village_hall.toml TL": "suspects first fixes next cannot_tell",
    "assign practice.toml": "moves rack_units proof alternatives short",
    "failover village_hall.toml --failed AMP": "failed silent first moves stays_silent proved counts",
    "diff practice.toml village_hall.toml": "changes follows",
    "chart portable-four-hosting two-way-8-inch": "cells",
    "calc 8ohm": "value unit text",
}
"""Command line -> the keys that its object has at least."""
ROWS = {
    ("lines village_hall.toml", "outputs"): "id mode load_ohm can_give_v lines",
    ("lines village_hall.toml", "lines"): "id output section preset preset_why boxes limiter",
    ("readings village_hall.toml", "lines"): "line at expected read verdict",
    ("triage village_hall.toml TL", "suspects"): "fault at fix odds says",
    ("triage village_hall.toml TL", "fixes"): "fix kind at odds minutes",
    ("chart portable-four-hosting two-way-8-inch", "cells"): "amplifier mode box drive per_output per_amplifier set_by "
    "preferred_per_output clean_w limited_w rated_w headroom_db preset",
}
"""Command line and key of a list -> the keys that each of its rows has at least."""


@pytest.mark.parametrize("name", NAMES)
def test_a_module_offers_its_names(name):
    module = importlib.import_module(name)
    offered = {item for item in vars(module) if not item.startswith("_")} | ({"__version__"} & set(vars(module)))
    assert offered >= NAMES[name]
    if hasattr(module, "__all__"):
        assert set(module.__all__) == NAMES[name]


def test_to_import_the_package_is_light_and_offers_its_version_alone():
    code = "import sys, fieldkit; print(sorted(n for n in vars(fieldkit) if n[0] != '_'), 'msgspec' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout == "[] False\n"


def test_the_program_is_installed_as_one_command_with_its_types():
    entries = importlib.metadata.distribution("fieldkit-live-sound").entry_points
    assert [(entry.name, entry.value) for entry in entries] == [("fieldkit", "fieldkit.__main__:main")]
    assert fieldkit.__version__ == importlib.metadata.version("fieldkit-live-sound")
    assert (Path(fieldkit.__file__).parent / "py.typed").exists()


@pytest.mark.parametrize("name", CONTRACT)
def test_a_command_takes_what_is_promised(name):
    command = COMMANDS[name]
    taken = {*command.words.replace("[", "").replace("]", "").split(), *(option.name for option in command.options)}
    assert taken >= set(CONTRACT[name].split())


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["check", "village_hall.toml"], 0),
        (["check", "mistakes.toml"], 1),
        (["check", "none.toml"], 2),
        (["calc", "8 ohm"], 0),
        (["calc", "1/0"], 1),
        (["calc", "1 +"], 2),
    ],
)
def test_a_command_ends_as_promised(arguments, status, monkeypatch, capsys):
    monkeypatch.chdir(samples.folder())
    assert run(arguments) == status
    assert (capsys.readouterr().err == "") == ((arguments[-1].endswith(".toml") and status < 2) or status == 0)


@pytest.mark.parametrize("line", OBJECTS)
def test_an_object_has_the_keys_that_are_promised(line, monkeypatch, capsys):
    monkeypatch.chdir(samples.folder())
    assert run([*line.split(), "--json"]) in {0, 1}
    found = json.loads(capsys.readouterr().out)
    assert set(found) >= set(OBJECTS[line].split())
    for (asked, key), promised in ROWS.items():
        if asked == line:
            assert found[key]
            assert all(set(row) >= set(promised.split()) for row in found[key])
