"""Whatever a plan calls impossible, or the fewest, is held against every way there is, for small shows."""

import random

import pytest
from budget import seeds
from every_assignment import Amp, Box, every
from plan_checker import faults, shared_sides
from planned_shows import AMPLIFIERS, CABLES, SPEAKERS, amplifier, box, read, stock

from fieldkit.planning.assign.plan import assign

SIDED = 'signals = { left = "L", right = "R" }'


def any_show(rng):
    """A show of at most five boxes and three amplifiers of at most four channels, and what the enumeration needs of it."""
    models = rng.choice(
        [["two"], ["four"], ["two", "two"], ["two", "four"], ["two", "two-big"], ["two", "two", "two-big"]]
    )
    own_plugs = rng.random() < 0.6
    crossings = 0 if own_plugs else rng.randint(0, 2)
    boxes = []
    for number, zone in enumerate(rng.sample(["mains", "fill", "wedges"], rng.randint(1, 3))):
        model = rng.choice(["top", "sub", "top"])
        biamp = model == "top" and rng.random() < 0.3
        sides = rng.choice([["left", "right"], ["left", "right", "left"], [""]])
        for side in sides:
            for _ in range(rng.choice([1, 1, 2])):
                if len(boxes) < 5:
                    boxes.append(Box(f"B{len(boxes)}", model, zone, side, number + 1, biamp))
    text = SPEAKERS + CABLES
    for name in dict.fromkeys(models):
        made = amplifier(name)
        if not own_plugs:
            for first, second in (("B", 2), ("D", 4)):
                made = made.replace(f', {first} = {{ 1 = "{second}" }}', "")
        made = "\n".join(line for line in made.splitlines() if not line.startswith("connectors_bridged"))
        text += made.replace("bridged = true, ", "bridged = true, ") + "\nbridgeable = false\n"
        text += stock(name, models.count(name))
    text += stock("crossing", crossings)
    for zone in dict.fromkeys(b.zone for b in boxes):
        priority = next(b.priority for b in boxes if b.zone == zone)
        sided = any(b.side for b in boxes if b.zone == zone)
        text += f'[[zones]]\nid = "{zone}"\nuse = "front"\npriority = {priority}\n' + (SIDED if sided else "") + "\n"
    for b in boxes:
        text += box(b.name, b.model, b.zone, b.side, "bi-amp" if b.biamp else "passive")
    amps = [Amp(name, AMPLIFIERS[name][0], AMPLIFIERS[name][1], own_plugs) for name in models]
    return read(text), boxes, amps, crossings


@pytest.mark.parametrize("seed", seeds(20))
def test_what_a_plan_claims_is_so_among_all_ways(seed):
    show, boxes, amps, crossings = any_show(random.Random(seed))
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    free = every(boxes, amps, crossings)
    silent = tuple(
        sum(b.priority == one and b.name in proposal.undriven for b in boxes)
        for one in sorted({b.priority for b in boxes})
    )
    assert silent == free.silent, proposal.proof.says
    assert proposal.proof.minimum_rack_units >= free.units or not proposal.proof.proved
    if "is impossible with this stock" in proposal.proof.says:
        assert proposal.rack_units == free.units
    shares = shared_sides(proposal.show)
    apart = every(boxes, amps, crossings, apart=True)
    if apart.silent == free.silent:
        assert not shares, proposal.notes
        assert proposal.rack_units == apart.units
    else:
        assert shares
        assert any("with each amplifier on one side, boxes would be silent" in note for note in proposal.notes)
    for other in proposal.alternatives:
        if other.name == "sides shared":
            assert other.rack_units == free.units < proposal.rack_units
