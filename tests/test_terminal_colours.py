"""What a person sees, cell by cell, in each kind of terminal: nothing is painted in the colour of its background."""

import os

import pytest
from budget import drawn, thoroughly
from cells import Picture, contrast
from terminals import Terminal

from fieldkit import samples
from fieldkit.app.screens import SCREENS
from fieldkit.app.terminal.capabilities import look

pytestmark = pytest.mark.skipif(os.name == "nt", reason="there is no pseudo-terminal on this system")

# Over SSH it is painted as for 16 colours (``test_when_the_terminals_own_colours_are_used``).
KINDS = {
    "truecolor": {"COLORTERM": "truecolor"},
    "256": {},
    "16": {"TERM": "xterm-16color"},
    "none": {"NO_COLOR": "1"},
}
HEADS = {key: f"[{key} {name}]" for key, _, name in SCREENS}
FUNCTION = dict(
    zip("1234567890", ("OP", "OQ", "OR", "OS", "[15~", "[17~", "[18~", "[19~", "[20~", "[21~"), strict=True)
)
"""What a terminal sends for the function key of each screen: a digit is a reading on Triage."""
STORY = (
    *((f"\x1b{FUNCTION[key]}", HEADS[key]) for key in (*list(HEADS)[1:], "1")),
    ("?", "esc leaves"),
    ("\x1b", "? all keys"),
    ("f", "worst first"),
    ("\x1b", "? all keys"),
    ("3", HEADS["3"]),
    ("\x1b[B\r", "esc"),  # the editor of a row
)
"""Keys, and what is on the screen then: every main screen, the help, a window with findings, a window with fields."""

TEXT, LINES = 4.5, 3.0
"""WCAG 2.2, criteria 1.4.3 and 1.4.11: the minimum contrast of text, and of what is drawn."""
DRAWN = set("─│┌┐└┘├┤┬┴┼▁▂▃▄▅▆▇█▊▎▔╺╸━┃╻╹")


def faint(picture):
    return [cells for cells in picture.seen() if cells.contrast < (LINES if set(cells.text) <= DRAWN else TEXT)]


# Each run looks at the most frequent kind or at one of the two poorest, a light background among them.
@pytest.mark.parametrize(
    ("kind", "light"),
    thoroughly(
        *drawn([("256", False), ("16", True), ("none", False)], 1),
        more=[("truecolor", True), ("truecolor", False), ("16", False), ("256", True), ("none", True)],
    ),
)
def test_every_cell_can_be_read(tmp_path, monkeypatch, kind, light):
    for name in ("FIELDKIT_STATE", "FIELDKIT_CONFIG"):
        monkeypatch.setenv(name, str(tmp_path / name))
    path = tmp_path / "show.toml"
    path.write_bytes((samples.folder() / "mistakes.toml").read_bytes())
    terminal = Terminal(str(path), env={**KINDS[kind], "COLORFGBG": "0;15" if light else "15;0"})
    picture = Picture(light=light)
    try:
        picture.until(terminal, HEADS["1"])
        for keys, text in STORY:
            os.write(terminal.main, keys.encode())
            picture.until(terminal, text)
            seen = picture.seen()
            assert sum(len(cells.text) for cells in seen) > 100
            assert not faint(picture), f"after {keys!r}"
            if keys in {
                f"\x1b{FUNCTION[key]}" for key in "2345"
            }:  # a list: its cursor is the one reversed row, whatever the colours
                reversed_rows = {cells.row for cells in seen if cells.reverse}
                assert len(reversed_rows) == 1, picture.text
            if keys == "f":  # errors and warnings are words
                lines = picture.text.splitlines()
                first = next(place for place, line in enumerate(lines) if "worst first" in line) + 2
                words = {line.split()[0] for line in lines[first : first + 3]}
                assert words == {"error"}, picture.text
            if kind == "none":
                assert {cells.colours for cells in seen} == {("default", "default")}
    finally:
        terminal.close()


def test_contrast_is_the_published_ratio():
    assert contrast("ffffff", "000000") == pytest.approx(21)  # WCAG 2.2, the definition's own ends
    assert contrast("777777", "ffffff") == pytest.approx(4.48, abs=0.005)  # known as the grey just too light for text
    assert contrast("default", "default") > 15
    assert contrast("black", "black") == 1


@pytest.mark.parametrize(
    ("environment", "plain"),
    [
        ({"TERM": "xterm-256color"}, False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, False),
        ({"TERM": "xterm-kitty"}, False),
        ({"TERM": "xterm"}, True),
        ({"TERM": "linux"}, True),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, True),
        ({"TERM": "xterm-256color", "SSH_CONNECTION": "x"}, True),
    ],
)
@pytest.mark.skipif(os.name == "nt", reason="there the console says itself what it can")
def test_when_the_terminals_own_colours_are_used(environment, plain):
    assert look(environment).plain is plain
