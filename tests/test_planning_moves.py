"""Few moves: what is plugged stays, and where it cannot, as few boxes as can be move. Held against every way there is."""

import itertools
import random

import msgspec
import pytest
from plan_checker import faults
from planned_shows import CABLES, SPEAKERS, amplifier, box, read, stock

from fieldkit.planning.assign.judging import Wishes
from fieldkit.planning.assign.plan import assign
from fieldkit.reports.proposals import assign_text, first_lines
from fieldkit.text.style import Style


def run(number, connector, output, *boxes):
    steps = ", ".join(f'{{ cable = "two-core", length = "5 m", box = "{name}" }}' for name in boxes)
    return f'[[runs]]\nid = "W{number}"\nfrom = "A.{connector}"\nfeeds = {{ 1 = "A.{output}" }}\npath = [{steps}]\n'


def plugged(singles, bi_amp):
    """One amplifier of four channels; subs in zones of their own on these channels, and bi-amp tops that wait."""
    text = SPEAKERS + CABLES + amplifier("four") + stock("four", 1)
    text += '[[rack_units]]\nid = "A"\nmodel = "four"\n'
    text += "".join(f'[[zones]]\nid = "Z{n}"\n' for n in range(len(singles) + 1))
    text += "".join(box(f"S{n}", "sub", f"Z{n}") for n in range(len(singles)))
    text += "".join(box(f"T{n}", "top", f"Z{len(singles)}", "", "bi-amp") for n in range(bi_amp))
    return read(text + "".join(run(n, "ABCD"[channel - 1], channel, f"S{n}") for n, channel in enumerate(singles)))


def fewest_moves(singles, bi_amp):
    """Own, by enumeration: every place for the subs, such that a pair of channels is left for the tops; None if none."""
    ways = [
        way
        for way in itertools.permutations(range(1, 5), len(singles))
        if not bi_amp or any(not {first, first + 1} & set(way) for first in (1, 3))
    ]
    return min((sum(new != old for new, old in zip(way, singles, strict=True)) for way in ways), default=None)


@pytest.mark.parametrize("singles", [(1, 3), (2, 4), (1, 2), (4, 1), (1, 2, 3), (2,)])
def test_as_few_boxes_move_as_an_enumeration_of_all_ways_needs(singles):
    show = plugged(singles, 1)
    kept = assign(show)
    needed = fewest_moves(singles, 1)
    assert bool(kept.undriven) == (needed != 0)
    assert faults(show, kept.show) == []
    lines = list(first_lines(kept))
    if needed:
        assert f"moving {needed} box" in kept.short[0].says
        assert "or hire: 1 × four" in kept.short[0].says
        assert kept.alternatives[0].moves == needed
        assert any("no room for 1 box without moving anything" in line for line in lines)
        moved = assign(show, Wishes(moving=True))
        assert not moved.undriven
        assert moved.replugged == needed
        assert faults(msgspec.structs.replace(show, runs=()), moved.show) == []
        assert any("0 boxes moved" in line for line in assign_text(moved, Style()))
    elif needed is None:
        assert "moving what is plugged makes none" in kept.short[0].says


@pytest.mark.parametrize("seed", range(6))
def test_nothing_moves_where_all_find_room(seed):
    singles = tuple(random.Random(seed).sample([1, 2], 2))
    kept = assign(plugged(singles, 1), Wishes(moving=True))
    assert not kept.undriven
    assert kept.replugged == 0
