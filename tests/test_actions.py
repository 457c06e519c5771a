"""The table of actions holds what it promises: one letter, one meaning; all of it in the menu, found by many words."""

import importlib
import pkgutil
import re

import pytest
from apps import app_on, press, type_text
from textual.binding import Binding
from textual.dom import DOMNode

import fieldkit.app
from fieldkit import guide, samples
from fieldkit.app.action_table import EVERYWHERE, TABLE, actions_at
from fieldkit.app.application import FieldkitApp, screen_class
from fieldkit.app.dialogs.answering import Confirm
from fieldkit.app.menu import entries_for
from fieldkit.app.screens import SCREENS
from fieldkit.app.widgets.rows import Rows

HALL = samples.folder() / "village_hall.toml"
MODES = [mode for _, mode, _ in SCREENS]


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("FIELDKIT_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("FIELDKIT_CONFIG", str(tmp_path / "config"))


def is_sign(key):
    """Tell whether a key is a letter, or one of the keys that a hand takes for a sign."""
    return len(key) == 1 or key in {"space", "enter", "slash", "question_mark"}


def test_a_letter_has_one_meaning():
    meanings = {}
    for action in TABLE:
        for key in filter(is_sign, action.keys.split(",")):
            meanings.setdefault(key, set()).add(action.name)
    assert {key: names for key, names in meanings.items() if len(names) > 1} == {}
    assert len({action.name for action in TABLE}) == len(TABLE)


def test_no_letter_is_bound_outside_the_table():
    """Moving by j and k, and the yes and no of a question that shows them, are no actions."""
    table = {(key, action.name) for action in TABLE for key in action.keys.split(",")}
    others = set()
    for found in pkgutil.walk_packages(fieldkit.app.__path__, "fieldkit.app."):
        for thing in vars(importlib.import_module(found.name)).values():
            if not (isinstance(thing, type) and issubclass(thing, DOMNode) and thing.__module__ == found.name):
                continue
            for binding in vars(thing).get("BINDINGS", ()):
                assert isinstance(binding, Binding)
                keys = filter(is_sign, binding.key.split(","))
                others |= {(thing.__name__, key) for key in keys if (key, binding.action) not in table}
    digits = {(FieldkitApp.__name__, key) for key, _, _ in SCREENS}
    moving = {("Rows", "j"), ("Rows", "k"), ("Rows", "enter")}
    assert others == digits | moving | {(Confirm.__name__, key) for key in ("enter", "y", "n")}


@pytest.mark.parametrize("mode", MODES)
def test_a_screen_can_do_what_the_table_says(mode):
    screen = screen_class(mode)
    for action in actions_at(mode):
        assert hasattr(screen, f"action_{action.name}"), action.name
        assert action.help
    for action in EVERYWHERE:
        assert hasattr(FieldkitApp, f"action_{action.name}")


async def test_all_that_can_be_done_is_in_the_menu_and_the_key_bar_leads_there():
    everywhere = {action.name for action in EVERYWHERE}
    app = app_on(HALL)
    async with app.run_test(size=(80, 24)) as pilot:
        for number, mode in enumerate(MODES, start=1):
            for keys in ((f"f{number}",), ("end",)):
                line = (await press(pilot, *keys)).splitlines()[-1]
                assert line.endswith("? all keys"), line
                assert len(line) <= 80
            entries = entries_for(app.frame)
            wanted = {action.name for action in actions_at(mode)} | everywhere
            for other in (other for other in MODES if other != mode):
                wanted |= {f"{other} {action.name}" for action in actions_at(other) if action.name not in everywhere}
            assert {entry.name for entry in entries} >= wanted
            here = [entry.where != "here" for entry in entries]
            assert here == sorted(here)  # what can be done here stands first


WORDS = (
    ("quit", "leave", "everywhere"),
    ("exit", "leave", "everywhere"),
    ("print", "write", "Sheets"),
    ("pdf", "write", "Sheets"),
    ("cold evening", "weather", "Zones"),
    ("bridge", "bridge", "here"),
    ("hire", "add", "here"),
    ("cable length", "change", "here"),
    ("mute", "one output alone", "Triage"),
    ("broken", "failed", "here"),
    ("delete", "remove", "here"),
    ("automatic", "propose", "here"),
    ("e", "why", "here"),
    ("Prïnt", "write", "Sheets"),
    ("no such word at all", "nothing by that word", "another"),
    ("weather", "weather", "Zones"),
)
"""What somebody types, and the first line that it finds on Racks."""


async def test_the_menu_is_found_by_many_words_and_does_it_where_it_belongs():
    app = app_on(HALL)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "4", "question_mark")
        for word, label, where in WORDS:
            lines = (await type_text(pilot, word)).splitlines()
            first = lines[next(place for place, line in enumerate(lines) if line.startswith(f" {word}")) + 1]
            assert label in first, word
            assert first.rstrip().endswith(where), word
        text = await press(pilot, "enter")
        assert app.current_mode == "zones"
        assert "temperature" in text


async def test_a_filter_leaves_the_rows_that_hold_it_and_esc_shows_all():
    app = app_on(samples.folder() / "practice.toml")
    async with app.run_test(size=(80, 24)) as pilot:
        for number, mode in enumerate(MODES, start=1):
            await press(pilot, f"f{number}")
            table = app.frame.query_one(Rows)
            every = table.rows
            if not every:
                continue
            word = " ".join(every[-1].cells).split()[0].strip(";,:").lower()  # letters that are keys elsewhere
            text = await press(pilot, "slash", *word)
            assert f"/{word}_   {len(table.rows)} of {len(every)}" in text
            assert 0 < len(table.rows) <= len(every)
            assert all(word in " ".join((*row.cells, row.words)).lower() for row in table.rows)
            assert app.current_mode == mode
            assert f"/{word}   {len(table.rows)} of {len(every)}" in await press(pilot, "enter")
            await press(pilot, "escape")
            assert table.rows == every
        assert not app.session.dirty


async def test_g_finds_any_part_in_any_script_and_lines_too(tmp_path):
    path = tmp_path / "cafe.toml"
    path.write_text(HALL.read_text(encoding="utf-8").replace('"hall"', '"Café-Ørsted"'), encoding="utf-8")
    app = app_on(path)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "g")
        assert "Café-Ørsted" in await type_text(pilot, "ORSTED")
        text = await type_text(pilot, "W1/2")
        assert "W1/2: line" in text
        assert "meter at amp, plug pulled" in text


async def test_the_key_bar_shows_what_the_row_can_do():
    app = app_on(HALL)
    async with app.run_test(size=(80, 24)) as pilot:
        assert "c copy" not in (await press(pilot, "3")).splitlines()[-1]  # a zone
        assert "c copy" in (await press(pilot, "down")).splitlines()[-1]  # a box


def test_the_guide_tells_each_key_as_the_table_has_it():
    """A line of the guide begins with a key, or joins some: each has the word of the table behind it, and none more."""
    told = {}
    text = " ".join((guide.page("keys").replace("\n", " ")).split())
    for bullet in text.partition("* `enter`")[2].partition(" In a field or a list")[0].split(" * "):
        for key, word in re.findall(r"`([^`]{1,5})` ([a-z ]+?)(?=[:,;(]|$)", f"{bullet};"):
            told.setdefault(key, word)
    told["enter"] = "open"
    signs = {"space": "space", "enter": "enter", "slash": "/", "question_mark": "?", "colon": ":"}
    seen = [action for action in TABLE if is_sign(action.key) or action.key in signs]
    wanted = {signs.get(action.key, action.key): action.label for action in seen}
    for key, label in wanted.items():
        assert told.get(key, "").startswith(label), key
    assert {key for key in told if is_sign(key)} <= set(wanted)
