"""Older formats are carried over step by step, values and text alike; unknown ones are refused."""

import tomllib

import pytest

from fieldkit import samples
from fieldkit.gear.model_file import parse
from fieldkit.show.decoding import decode
from fieldkit.show.edits import changed, find, with_thing
from fieldkit.show.migration import carried_over, carried_text
from fieldkit.show.opening import open_show
from fieldkit.show.writing import updated
from fieldkit.text.renaming import Renaming

STEPS = {1: (Renaming("", "speakers", "boxes"),), 2: (Renaming("boxes.*", "three", "3", is_key=False),)}

OLD = """\
# fieldkit show, format 1. A comment stays with its table.
format = 1   # the number

[show]
name = "least of all, alone"  # 'least' in a text stays
least_damping = 15

[[loudspeakers]]   # two ways to write a model
id = "top"
presets = [{ id = "alone", uses = ["alone", 'with sub'], limiter = "300 W" }]
sections = [
    # the minimum comes from its sheet
    { drive = "passive", section = "full", impedance = "8 ohm", "least" = "6 ohm", continuous = "300 W", presets = ["alone"] },
]

[[loudspeakers]]
id = "other"

[[loudspeakers.presets]]
id = "p"
uses = [
    "alone",   # by itself
]

[[loudspeakers.sections]]
drive = "passive"
section = "full"
impedance = "8 ohm"
least = "7 ohm"
continuous = "200 W"
presets = ["p"]

[[amplifiers]]
id = "amp"
channels = 2
powers = [{ load = "4 ohm", power = "500 W", least = true }, { load = "8 ohm", power = "300 W" }]
connectors = { A = { 1 = "1", 2 = "2" } }

[[zones]]
id = "alone"

[[boxes]]
id = "B1"
model = "top"
zone = "alone"

[[supplies]]
id = "X"
volts = "208 V"
across = "lines"
rating = "20 A"

[[rack_units]]
id = "A"
model = "amp"

[[lost]]
id = "A"   # at ten past eight
"""

NEW = (
    OLD.replace("fieldkit show, format 1.", "fieldkit show, format 2.")
    .replace("format = 1 ", "format = 2 ")
    .replace("least_damping", "minimum_damping")
    .replace('"least" = "6', 'minimum = "6')
    .replace('least = "7', 'minimum = "7')
    .replace("least = true", "minimum = true")
    .replace('uses = ["alone"', 'uses = ["full range"')
    .replace('    "alone",   #', '    "full range",   #')
    .replace('across = "lines"', 'across = "phases"')
    .replace("[[lost]]", "[[failed]]")
)
"""The same file as a person would bring it up to date: each word that changed, and nothing else."""


def test_each_step_is_taken_in_turn():
    assert carried_over({"format": 1, "speakers": ["three"]}, STEPS, 3) == {"format": 3, "boxes": ["3"]}
    assert carried_over({"format": 2, "boxes": []}, STEPS, 3) == {"format": 3, "boxes": []}


def test_the_newest_format_is_left_alone():
    data = {"format": 3, "boxes": []}
    assert carried_over(data, STEPS, 3) is data


@pytest.mark.parametrize("found", [0, 4, -1, True, "1", 1.0, None, [1]])
def test_an_unknown_format_is_refused(found):
    with pytest.raises(ValueError, match="expected 3, the one that this version"):
        carried_over({"format": found}, STEPS, 3)


def test_a_file_of_format_1_means_what_it_meant():
    assert decode(tomllib.loads(OLD)) == decode(tomllib.loads(NEW))
    show = decode(tomllib.loads(OLD))
    assert show.about.name == "least of all, alone"
    assert show.about.minimum_damping == 15
    assert [item.id for item in show.failed] == ["A"]
    assert show.zones[0].id == "alone"


def test_its_text_changes_by_words_alone():
    assert carried_text(OLD) == NEW
    assert carried_text(NEW) == NEW
    assert carried_text(OLD.replace("\n", "\r\n")) == NEW.replace("\n", "\r\n")


def test_a_save_keeps_remarks_and_order(tmp_path):
    file = tmp_path / "old.toml"
    file.write_text(OLD, encoding="utf-8")
    stored = open_show(file).stored
    assert updated(stored.text, stored.show, stored.show) == OLD  # nothing was edited: not a byte is others
    zone = changed(find(stored.show, "zones", "alone"), note="edited")
    after = with_thing(stored.show, "zones", zone)
    assert updated(stored.text, stored.show, after) == NEW.replace(
        'id = "alone"\n\n[[boxes', 'id = "alone"\nnote = "edited"\n\n[[boxes'
    )


def test_a_table_with_both_words_is_refused(tmp_path):
    file = tmp_path / "both.toml"
    file.write_text(OLD.replace("least_damping = 15", "least_damping = 15\nminimum_damping = 20"), encoding="utf-8")
    with pytest.raises(ValueError, match="unknown key 'least_damping'"):
        open_show(file)


def test_old_words_in_a_file_of_the_new_format_are_refused(tmp_path):
    file = tmp_path / "mixed.toml"
    file.write_text(NEW.replace("minimum_damping", "least_damping"), encoding="utf-8")
    with pytest.raises(ValueError, match=r"mixed.toml:6: show: unknown key 'least_damping'"):
        open_show(file)


def test_a_model_of_the_users_library_is_understood_in_the_old_words():
    text = '[amplifier]\nid = "a"\nchannels = 1\npowers = [{ load = "4 ohm", power = "500 W", least = true }]\n'
    assert parse(text) == parse(text.replace("least", "minimum"))
    box = (
        '[loudspeaker]\nid = "b"\npresets = [{ id = "p", uses = ["alone"] }]\n'
        '[[loudspeaker.sections]]\ndrive = "passive"\nsection = "full"\nimpedance = "8 ohm"\nleast = "6 ohm"\n'
        'continuous = "300 W"\npresets = ["p"]\n'
    )
    assert parse(box) == parse(box.replace('"alone"', '"full range"').replace("least", "minimum"))


@pytest.mark.parametrize("name", samples.names())
def test_samples_are_written_in_the_newest_format(name):
    text = (samples.folder() / f"{name}.toml").read_text(encoding="utf-8")
    assert carried_text(text) == text
    assert tomllib.loads(text)["format"] == 2
