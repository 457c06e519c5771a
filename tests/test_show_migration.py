"""Older formats are carried over step by step; unknown ones are refused."""

import pytest

from fieldkit.show.migration import carried_over

STEPS = {
    1: lambda data: {"boxes" if key == "speakers" else key: value for key, value in data.items()},
    2: lambda data: {**data, "about": "three"},
}


def test_each_step_is_taken_in_turn():
    assert carried_over({"format": 1, "speakers": ["B1"]}, STEPS, 3) == {"format": 3, "boxes": ["B1"], "about": "three"}
    assert carried_over({"format": 2, "boxes": []}, STEPS, 3) == {"format": 3, "boxes": [], "about": "three"}


def test_the_newest_format_is_left_alone():
    data = {"format": 3, "boxes": []}
    assert carried_over(data, STEPS, 3) is data


@pytest.mark.parametrize("found", [0, 4, -1, True, "1", 1.0, None, [1]])
def test_an_unknown_format_is_refused(found):
    with pytest.raises(ValueError, match="expected 3, the one that this version"):
        carried_over({"format": found}, STEPS, 3)
