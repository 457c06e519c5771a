"""Few moves: what is plugged stays, and where it cannot, as few boxes as can be move. Held against every way there is."""

import itertools
import json
import random
import re

import msgspec
import pytest
from budget import asked_of_each, seeds
from every_assignment import Amp, Box, Place, Plugged, Task, crossed, every, judged
from plan_checker import faults
from planned_shows import CABLES, SPEAKERS, amplifier, box, read, stock

from fieldkit.commands import cli
from fieldkit.planning.assign import loosening, plan, proposing
from fieldkit.planning.assign.judging import Wishes, plugs_moved
from fieldkit.planning.assign.plan import assign
from fieldkit.reports.proposals import assign_text, first_lines
from fieldkit.rig.solve.evaluation import evaluate
from fieldkit.show.writing import canonical
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
        assert f"moving {needed} plug" in kept.short[0].says
        assert "or hire 1 × four" in kept.short[0].says
        assert kept.alternatives[0].moves == needed
        assert any("no room for 1 box without moving anything" in line for line in lines)
        moved = assign(show, Wishes(moving=True))
        assert not moved.undriven
        assert moved.replugged == needed
        assert faults(msgspec.structs.replace(show, runs=()), moved.show) == []
        assert any(line.split()[:3] == ["*", str(needed), "2"] for line in assign_text(moved, Style()))
    elif needed is None:
        # A top comes before a sub, by what they are: a sub would have to fall silent for it.
        assert "moving 1 plug leaves 1 box silent, S" in kept.short[0].says
        assert "in place of what comes first" in kept.short[0].says


def test_what_was_not_looked_for_in_its_time_is_said_and_not_claimed(monkeypatch):
    show = plugged((1, 3), 1)
    whole = assign(show)
    assert whole.ladder
    assert not any("moving plugs" in note for note in whole.notes)
    monkeypatch.setattr(plan, "UNASKED_STEPS", 0)
    monkeypatch.setattr(plan, "UNASKED_TIMES", 0.0)
    cut = assign(show)
    assert (cut.show, cut.undriven, cut.proof) == (whole.show, whole.undriven, whole.proof)
    assert cut.ladder == ()
    assert cut.short[0].says == "no room for 1 box without moving anything"
    assert any(note.startswith("what moving plugs would bring was not worked out") for note in cut.notes)
    asked = assign(show, Wishes(moving=True))
    assert asked.replugged == 1
    assert not asked.undriven
    assert not any("moving plugs" in note for note in asked.notes)


def test_a_show_too_large_for_the_search_of_moves_says_so(monkeypatch):
    show = plugged((1, 3), 1)
    monkeypatch.setattr(proposing, "MOST_LOOSE", 1)
    unasked = assign(show)
    assert unasked.ladder == ()
    assert any(note.startswith("what moving plugs would bring was not looked for") for note in unasked.notes)
    assert unasked.short[0].says == "no room for 1 box without moving anything"
    monkeypatch.setattr(loosening, "MOST_LOOSE", 1)  # where somebody asks, what must move and the best are looked for
    asked = assign(show, Wishes(moving=True))
    assert (asked.replugged, asked.undriven) == (1, ())
    monkeypatch.setattr(proposing, "MOST_ASKED", 1)
    assert any("was not looked for: the show" in note for note in assign(show, Wishes(moving=True)).notes)


@pytest.mark.parametrize("seed", range(6))
def test_nothing_moves_where_all_find_room(seed):
    singles = tuple(random.Random(seed).sample([1, 2], 2))
    kept = assign(plugged(singles, 1), Wishes(moving=True))
    assert not kept.undriven
    assert kept.replugged == 0


def test_plugs_are_counted_as_a_hand_moves_them():
    # Own, by hand: two boxes linked on one run, and a third one alone.
    before = plugged((1, 2), 0)
    one, other = before.runs
    both = msgspec.structs.replace(one, path=(*one.path, *other.path))
    before = msgspec.structs.replace(before, runs=(both,))
    elsewhere = msgspec.structs.replace(both, start="A.C")
    lead = msgspec.structs.replace(both.path[0], length=type(both.path[0].length)("20 m"))
    apart = (one, other)
    turned = msgspec.structs.replace(both, path=(*other.path, *one.path))
    for runs, plugs in (
        ((both,), 0),
        ((elsewhere,), 1),  # what hangs behind the first box moves with it
        (apart, 1),  # the link becomes a lead
        ((msgspec.structs.replace(both, path=(lead, both.path[1])),), 1),  # another lead
        ((turned,), 2),
        ((one,), 1),  # the link comes out
        ((), 2),
    ):
        assert plugs_moved(before, msgspec.structs.replace(before, runs=runs)) == plugs, runs


def test_the_command_moves_no_more_plugs_than_it_may(tmp_path, capsys):
    path = tmp_path / "show.toml"
    path.write_text(canonical(plugged((1, 3), 1)), encoding="utf-8")
    for most, silent in (("0", ["T0"]), ("1", [])):
        cli.run(["assign", str(path), "--moves", most, "--json"])
        report = json.loads(capsys.readouterr().out)
        assert report["undriven"] == silent
        assert report["plugs_moved"] == int(most)
        assert [rung["plugs_moved"] for rung in report["ladder"]] == [0, 1]
        assert [rung["proposed"] for rung in report["ladder"]].index(True) == int(most)
        assert "T0 plays" in report["ladder"][1]["brings"]


def test_a_run_that_is_plugged_in_nowhere_waits_for_an_output_as_a_box_without_a_run_does():
    show = plugged((1, 3), 0)
    loose = msgspec.structs.replace(show.runs[0], start="", feeds={})
    there = msgspec.structs.replace(show, runs=(loose, show.runs[1]))
    proposal = assign(there)
    assert [move.box for move in proposal.moves] == ["S0"]
    assert proposal.replugged == 0
    assert faults(msgspec.structs.replace(show, runs=()), proposal.show) == []


def test_a_side_that_is_planned_beside_one_that_stays_is_kept_apart_from_it_and_like_it():
    # Own, by hand: the left top is on A of two amplifiers that are alike, and on a third one that is not; the right
    # one goes to the other of the two.
    text = SPEAKERS + CABLES + amplifier("four") + amplifier("two")
    text += "".join(
        f'[[rack_units]]\nid = "{n}"\nmodel = "{m}"\n' for n, m in (("T", "two"), ("A", "four"), ("B", "four"))
    )
    text += '[[zones]]\nid = "M"\nsignals = { left = "L", right = "R" }\n'
    text += box("S0", "top", "M", "left") + box("S1", "top", "M", "right")
    [move] = assign(read(text + run(0, "A", 1, "S0"))).moves
    assert move.outputs[0].startswith("B.")


def test_a_box_links_down_to_the_minimum_load_before_an_amplifier_is_brought_for_it():
    # Own, by hand: two tops of 8 ohm on an output are 4 ohm, which is preferred; three are 2.67 ohm, minimum 2.7 ohm
    # less 2 %. The other output has a sub; a second amplifier is in stock.
    text = SPEAKERS + CABLES + amplifier("two") + stock("two", 2) + '[[rack_units]]\nid = "A"\nmodel = "two"\n'
    text += '[[zones]]\nid = "Z"\n[[zones]]\nid = "S"\n' + box("S0", "sub", "S")
    text += "".join(box(f"B{n}", "top", "Z", "", "passive") for n in range(3))
    plugged_so = run(0, "A", 1, "B0", "B1") + run(1, "B", 2, "S0")
    show = read(text + plugged_so)
    linked, brought = assign(show), assign(show, Wishes(preferred_first=True))
    assert [(move.box, move.outputs, move.run) for move in linked.moves] == [("B2", ("A.1",), "W0")]
    assert (linked.rack_units, brought.rack_units) == (2, 4)
    assert faults(show, linked.show) == faults(show, brought.show) == []
    # 300 W through 8 ohm are 49.0 V: behind two leads of 5 m of 4 mm² (0.1 ohm) three tops take 17.7 A.
    for rated, units in (("18 A", 2), ("17 A", 4)):
        sized = read(text.replace('id = "two-core"', f'id = "two-core"\ncurrent = "{rated}"') + plugged_so)
        assert assign(sized).rack_units == units


def any_rig(rng):
    """One or two amplifiers, some boxes plugged into them at random, each alone, and one or two that wait.

    Where a second channel has no plug of its own, the boxes that are plugged hang on first ones: what comes onto the
    second one hangs behind them, or moves them.
    """
    own_plugs = rng.random() < 0.5
    amps = [Amp("four", 4, 2, own_plugs, watts=700)] if rng.random() < 0.5 else [
        Amp("two", 2, 2, own_plugs, watts=900), Amp("two", 2, 2, own_plugs, watts=900)
    ]  # fmt: skip
    kinds = rng.sample([("mains", "top", True), ("subs", "sub", False), ("fill", "top", False)], 2)
    boxes = []
    for priority, (zone, model, biamp) in enumerate(kinds, 1):
        sides = ("left", "right") if rng.random() < 0.6 else ("",)
        names = [(f"B{priority}{side[:1]}", side) for side in sides]
        names += [(f"B{priority}x", "")] if sides == ("",) and rng.random() < 0.5 else []  # it may link to the other
        boxes += [Box(name, model, zone, side, priority, biamp) for name, side in names]
    step = 1 if own_plugs else 2
    free = [Place(n, (c,), "single") for n, amp in enumerate(amps) for c in range(0, amp.channels, step)]
    rng.shuffle(free)
    singles = [one for one in boxes if not one.biamp]
    at = {one.name: place for one, place in zip(singles[: rng.randint(1, 2)], free, strict=False)}
    return Task(boxes, amps, 0 if own_plugs else rng.randint(0, 2), None, {"left": "L", "right": "R"}), at


@asked_of_each([(seed,) for seed in seeds(5)])
def test_each_step_of_the_ladder_is_the_best_of_all_ways_with_so_many_plugs_moved(seed):
    task, at = any_rig(random.Random(seed))
    text = SPEAKERS + CABLES
    for model in {amp.model for amp in task.amps}:
        made = [line for line in amplifier(model).splitlines() if not line.startswith("connectors_bridged")]
        text += "\n".join(made) + "\nbridgeable = false\n"
    text += stock("crossing", task.crossings)
    text += "".join(f'[[rack_units]]\nid = "A{n}"\nmodel = "{amp.model}"\n' for n, amp in enumerate(task.amps))
    for one in {b.zone: b for b in task.boxes}.values():
        sided = 'signals = { left = "L", right = "R" }' if one.side else ""
        text += f'[[zones]]\nid = "{one.zone}"\nuse = "front"\npriority = {one.priority}\n{sided}\n'
    for one in task.boxes:
        drive = ("bi-amp" if one.biamp else "passive") if one.model == "top" else ""
        text += box(one.name, one.model, one.zone, one.side, drive)
    for number, (name, place) in enumerate(at.items()):
        [channel] = place.channels
        made = run(number, "ABCD"[channel], channel + 1, name)
        text += made.replace('"A.', f'"A{place.amp}.')
    if not task.amps[0].own_plugs:
        text = text.replace('cable = "two-core"', 'cable = "four-core"')  # else nothing can hang behind
        text = re.sub(r', [BDFH] = \{ 1 = "\d" \}', "", text)
    ladder = assign(read(text), Wishes(again=True)).ladder or ()
    for rung in ladder or [None]:
        proposal = rung.proposal if rung is not None else assign(read(text), Wishes(again=True))
        hung = {}
        for output in evaluate(proposal.show).outputs:
            unit, channel = output.output.unit.id, output.output.channels[0] - 1
            for name in {load.box.id for load in output.loads}:
                one = next(b for b in task.boxes if b.name == name)
                first = channel - channel % 2
                place = Place(
                    int(unit[1:]), (first, first + 1) if one.biamp else (channel,), "pair" if one.biamp else "single"
                )
                on_it = hung.setdefault(place, [])
                if one not in on_it:
                    on_it.append(one)
        best = every(task, plugged=Plugged(at, proposal.replugged))
        laid = judged(task, hung)
        assert crossed(task, hung) <= task.crossings
        assert laid[:6] == best[:6], (proposal.replugged, laid, best)
