"""Scales of a few cells: where the mark stands, worked out by hand, and that it never says another thing than numbers."""

import pytest

from fieldkit.app.widgets.scales import load_scale, window_scale
from fieldkit.text.style import in_ascii


@pytest.mark.parametrize(
    ("load", "minimum", "preferred", "drawn"),
    [
        (4.0, 2.0, 4.0, "├──●────┤"),  # 2 to 16 ohm is three doublings over 8 cells: 4 ohm is 2.7 cells on
        (8.0, 2.0, 4.0, "├──┊─●──┤"),
        (2.0, 2.0, 4.0, "●──┊────┤"),
        (1.9, 2.0, 4.0, "◄──┊────┤"),
        (60.0, 2.0, 4.0, "├──┊────●"),
        (8.0, 4.0, 4.0, "├───●───┤"),  # preferred is the minimum: no mark of its own
    ],
)
def test_a_load_on_its_scale(load, minimum, preferred, drawn):
    assert load_scale(load, minimum, preferred) == drawn


@pytest.mark.parametrize(
    ("value", "drawn"),
    [
        (0.0, "●  ├───┤"),
        (2.4, "   ├─●─┤"),
        (2.19, "   ●───┤"),
        (2.61, "   ├───┤●"),
        (5.2, "   ├───┤ ●"),  # twice the top: half of the way
        (None, "   ├───┤  ●"),
    ],
)
def test_a_reading_beside_its_window(value, drawn):
    assert window_scale(2.19, 2.6, value) == drawn


def test_a_terminal_of_ascii_alone_has_them_too():
    assert in_ascii("├──┊─●──┤") == "|--:-o--|"
