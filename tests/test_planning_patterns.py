"""Fill patterns and whole numbers against trying everything."""

import itertools
import random
from collections import Counter

import msgspec
import pytest
from planned_shows import CABLES, SPEAKERS, box, read, stock

from fieldkit import samples
from fieldkit.planning.assign.patterns import Kind, OutletFeed, Place, Use, patterns_of
from fieldkit.planning.assign.plan import assign
from fieldkit.planning.assign.whole_numbers import Goal, Programme
from fieldkit.show.opening import open_show

KINDS = [Kind(((pair, "single", "amp"),), "", passes_on=False) for pair in ("1", "2", "3")]


def random_connectors(rng):
    """Connectors with uses that take some of six channels for some places, and now and then an adaptor."""
    connectors = []
    for name in "ABCD"[: rng.randint(1, 4)]:
        uses = []
        for _ in range(rng.randint(0, 3)):
            channels = frozenset((0, n) for n in rng.sample(range(6), rng.randint(1, 3)))
            places = tuple(
                Place(rng.choice(KINDS), (("1", OutletFeed(str(n), "single", "amp", frozenset({(0, n)}))),))
                for _, n in sorted(channels)
            )
            uses.append(Use(places, channels, ("crossing",) if rng.random() < 0.3 else ()))
        connectors.append((name, uses))
    return connectors


def outdone(one, by):
    """Own, from the requirement: as many places of each kind with no more parts, and not the very same."""
    kinds, parts = one
    other_kinds, other_parts = by
    return (
        by != one
        and all(other_kinds.get(kind, 0) >= number for kind, number in kinds.items())
        and all(parts.get(part, 0) >= number for part, number in other_parts.items())
    )


@pytest.mark.parametrize("seed", range(40))
def test_patterns_are_what_trying_every_combination_leaves(seed):
    connectors = random_connectors(random.Random(seed))
    tried = []
    for chosen in itertools.product(*([None, *uses] for _, uses in connectors)):
        used = [use for use in chosen if use is not None]
        if len(frozenset().union(*(use.channels for use in used))) == sum(len(use.channels) for use in used):
            kinds = Counter(place.kind for use in used for place in use.places)
            tried.append((dict(kinds), dict(Counter(part for use in used for part in use.parts))))
    best = [one for one in tried if not any(outdone(one, other) for other in tried) and one[0]]
    made = [(pattern.counts, pattern.parts) for pattern in patterns_of(connectors)]
    assert all(one in made for one in best)
    assert all(one in best for one in made)


@pytest.mark.parametrize("seed", range(25))
def test_goals_in_turn_are_those_of_trying_all_values(seed):
    rng = random.Random(seed)
    uppers = [rng.randint(1, 3) for _ in range(4)]
    need = rng.randint(1, 6)
    sizes = [rng.randint(1, 3) for _ in uppers]
    goals = [[rng.randint(0, 4) for _ in range(5)] for _ in range(3)]
    programme = Programme()
    columns = [programme.column(upper) for upper in uppers]
    left = programme.column(need, need)
    programme.row(need, float("inf"), dict(zip(columns, sizes, strict=True)) | {left: 1})
    wanted = [Goal("left", {left: 1.0})]
    wanted += [Goal(str(n), dict(zip([*columns, left], map(float, goal), strict=True))) for n, goal in enumerate(goals)]
    answer = programme.minimise(wanted)
    found = tuple(reached.value for reached in answer.reached)
    every = (
        (values[-1], *(sum(f * v for f, v in zip(goal, values, strict=True)) for goal in goals))
        for values in itertools.product(*(range(upper + 1) for upper in uppers), range(need + 1))
        if sum(s * v for s, v in zip(sizes, values, strict=False)) + values[-1] >= need
    )
    assert found == min(every)
    assert all(reached.proved for reached in answer.reached)


def test_an_amplifier_whose_connectors_nobody_wrote_down_can_be_planned():
    text = SPEAKERS + CABLES + '[[amplifiers]]\nid = "bare"\nchannels = 4\nunits = 2\nhosts = { presets = ["any"] }\n'
    text += 'powers = [{ load = "8 ohm", power = "400 W" }, { load = "4 ohm", power = "700 W" }]\n'
    text += '[[zones]]\nid = "Z"\n' + stock("bare", 1)
    text += box("P1", "top", "Z") + box("P2", "top", "Z") + box("B1", "top", "Z", "", "bi-amp")
    proposal = assign(read(text))
    assert proposal.holds
    assert len({output for move in proposal.moves for output in move.outputs}) == 4 - 1


def test_racks_as_built_come_whole_from_the_stock_one_for_each_side():
    show = open_show(samples.folder() / "open_air.toml").show
    mains = tuple(box for box in show.boxes if box.zone == "mains")  # what both sides' racks were made for
    bare = msgspec.structs.replace(show, boxes=mains, runs=(), readings=(), racks=(), rack_units=())
    proposal = assign(bare)
    assert proposal.holds
    built = {(rack.as_built, rack.side) for rack in proposal.show.racks if rack.as_built}
    assert built == {("rack-main-side", "left"), ("rack-main-side", "right")}
    outputs = {move.box: move.outputs for move in proposal.moves}
    assert [name.partition("-")[2] for name in outputs["ML1"]] == [name.partition("-")[2] for name in outputs["MR1"]]


def test_a_processor_with_two_inputs_gets_no_third_signal():
    text = SPEAKERS + CABLES + '[[processors]]\nid = "dsp"\ninputs = 2\noutputs = 6\nhosts = { presets = ["any"] }\n'
    text += '[[amplifiers]]\nid = "plain"\nchannels = 4\nunits = 2\ngain = "32 dB"\n'
    text += 'powers = [{ load = "8 ohm", power = "400 W" }]\nconnectors = { A = { 1 = "1" }, B = { 1 = "2" }, C = { 1 = "3" } }\n'
    text += (
        '[[zones]]\nid = "Z"\nsignals = { a = "One", b = "Two", c = "Three" }\n' + stock("plain", 1) + stock("dsp", 1)
    )
    text += "".join(box(f"B{side}", "top", "Z", side) for side in "abc")
    proposal = assign(read(text))
    assert not proposal.undriven
    [processor] = [unit for unit in proposal.show.rack_units if unit.model == "dsp"]
    assert len(processor.inputs) == 2
    assert sum(f"{processor.id}." in text for u in proposal.show.rack_units for text in u.inputs.values()) == 2
