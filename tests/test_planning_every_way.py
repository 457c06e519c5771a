"""Whatever a plan calls impossible, or the fewest, is held against every way there is, for small shows."""

import random
import re
from collections import defaultdict

from budget import TIMES, asked_of_each, seeds
from every_assignment import Amp, Box, Judged, Place, Task, crossed, every, judged
from plan_checker import faults
from planned_shows import CABLES, SPEAKERS, box, read, stock

from fieldkit.planning.assign.plan import assign

SIDED = 'signals = { left = "L", right = "R" }'

BIG = Amp("big", 2, 2, own_plugs=True, watts=900)
QUAD = Amp("quad", 4, 2, own_plugs=True, watts=700)
LOUD = Amp("loud", 2, 1, own_plugs=True, watts=1200)
FAINT = Amp("faint", 2, 1, own_plugs=True, watts=100)
TINY = Amp("tiny", 4, 1, own_plugs=True, watts=120)


def amplifier(amp, *, hosts):
    """Write an amplifier as the enumeration has it."""
    watts = amp.watts
    powers = [(8, watts, ""), (4, 1.8 * watts, ""), (2.7, 2.3 * watts, ", minimum = true")]
    powers += [(8, 3.4 * watts, ", bridged = true, minimum = true")] if amp.bridges else []
    rated = ", ".join(f'{{ load = "{ohm} ohm", power = "{power:g} W"{more} }}' for ohm, power, more in powers)
    plugs, both = [], []
    for first in range(1, amp.channels, 2):
        plugs.append(f'{"ABCD"[first - 1]} = {{ 1 = "{first}", 2 = "{first + 1}" }}')
        if amp.own_plugs:
            plugs.append(f'{"ABCD"[first]} = {{ 1 = "{first + 1}" }}')
        both.append(f'{"ABCD"[first - 1]} = {{ 1 = "{first}+{first + 1}" }}')
    text = f'[[amplifiers]]\nid = "{amp.model}"\nchannels = {amp.channels}\nunits = {amp.units}\ngain = "32 dB"\n'
    text += f"powers = [{rated}]\nconnectors = {{ {', '.join(plugs)} }}\n"
    text += f"connectors_bridged = {{ {', '.join(both)} }}\n" if amp.bridges else "bridgeable = false\n"
    return text + ('hosts = { presets = ["any"] }\n' if hosts else "")


def any_task(rng):
    """A task of at most five boxes and three amplifiers: bridged or not, with presets inside or in a processor."""
    kinds = [
        [BIG],
        [QUAD],
        [BIG, BIG],
        [BIG, QUAD],
        [BIG, LOUD],
        [BIG, BIG, LOUD],
        [FAINT, BIG],
        [FAINT, FAINT],
        [TINY],
    ]
    own_plugs = rng.random() < 0.6
    bridges = rng.random() < 0.5
    amps = [amp._replace(own_plugs=own_plugs, bridges=bridges) for amp in rng.choice(kinds)]
    crossings = 0 if own_plugs else rng.randint(0, 2)
    boxes = []
    for number, zone in enumerate(rng.sample(["mains", "fill", "wedges"], rng.randint(1, 3))):
        model = rng.choice(["top", "sub", "top", "small"])
        biamp = model == "top" and rng.random() < 0.3
        for side in rng.choice([["left", "right"], ["left", "right", "left"], [""]]):
            for _ in range(rng.choice([1, 1, 2])):
                if len(boxes) < 5:
                    boxes.append(Box(f"B{len(boxes)}", model, zone, side, number + 1, biamp))
    two_sides = {zone for zone in {b.zone for b in boxes} if len({b.side for b in boxes if b.zone == zone}) == 2}
    boxes = [b if b.zone in two_sides else b._replace(side="") for b in boxes]
    outside = rng.random() < 0.4
    host_outputs = rng.randint(1, 5) if outside else None
    return Task(boxes, amps, crossings, host_outputs, {"left": "L", "right": "R"})


def show_of(task):
    text = SPEAKERS + CABLES
    for amp in dict.fromkeys(task.amps):
        text += amplifier(amp, hosts=task.host_outputs is None) + stock(amp.model, task.amps.count(amp))
    text += stock("crossing", task.crossings)
    if task.host_outputs is not None:
        text += f'[[processors]]\nid = "dsp"\ninputs = 4\noutputs = {task.host_outputs}\nunits = 0\n'
        text += 'hosts = { presets = ["any"] }\n[[rack_units]]\nid = "DP"\nmodel = "dsp"\n'
    for zone in dict.fromkeys(b.zone for b in task.boxes):
        priority = next(b.priority for b in task.boxes if b.zone == zone)
        sided = any(b.side for b in task.boxes if b.zone == zone)
        text += f'[[zones]]\nid = "{zone}"\nuse = "front"\npriority = {priority}\n' + (SIDED if sided else "") + "\n"
    for b in task.boxes:
        text += box(b.name, b.model, b.zone, b.side, ("bi-amp" if b.biamp else "passive") if b.model == "top" else "")
    return read(text)


def as_laid(task, proposal):
    """The plan as a way of the enumeration: what hangs where, on the amplifiers that it brought."""
    units = [unit for unit in proposal.show.rack_units if unit.id != "DP"]
    amps = [next(amp for amp in task.amps if amp.model == unit.model) for unit in units]
    names = [unit.id for unit in units]
    boxes = {b.name: b for b in task.boxes}
    hung = defaultdict(list)
    for move in proposal.moves:
        places = [name.partition(".") for name in move.outputs]
        channels = tuple(int(number) - 1 for _, _, output in places for number in output.split("+"))
        mode = "single" if len(channels) == 1 else "bridged" if len(places) == 1 else "pair"
        hung[Place(names.index(places[0][0]), channels, mode)].append(boxes[move.box])
    return task._replace(amps=amps), dict(hung)


def number_in(pattern, text):
    found = re.search(pattern, text)
    return int(found[1]) if found else None


EVERY_DAY = 10
"""Seeds, of which each costs a quarter of a second."""


@asked_of_each([(seed,) for seed in (seeds(40) if TIMES > 1 else range(EVERY_DAY))])
def test_what_a_plan_claims_is_so_among_all_ways(seed):
    task = any_task(random.Random(seed))
    show = show_of(task)
    proposal = assign(show)
    assert faults(show, proposal.show) == []
    laid_task, hung = as_laid(task, proposal)
    laid, best = judged(laid_task, hung), every(task)
    assert crossed(laid_task, hung) <= task.crossings
    assert laid == best, (laid, best, proposal.proof.says)
    if not any(b.side for on_it in hung.values() for b in on_it):
        assert not any((unit.rack or "").startswith(("LEFT", "RIGHT")) for unit in proposal.show.rack_units)

    def fewest(*parts):
        """The fewest rack units of all ways that are as good in some parts."""
        same = [Judged._fields.index(part) for part in parts]
        found = every(task, by=lambda way: (*(way[part] for part in same), way.units))
        assert [found[part] for part in same] == [best[part] for part in same]
        return found.units

    says = proposal.proof.says
    assert (proposal.proof.minimum_rack_units <= best.units) or not proposal.proof.proved
    if "impossible with this stock" in says:
        assert proposal.rack_units == fewest("silent"), says
    weaker = number_in(r"\((\d+) with boxes weak, unlike or without preset\)", says)
    if weaker is not None:
        assert weaker == fewest("silent"), says
    bare = number_in(r"(\d+) rack units? only with boxes weak, unlike, without preset or sides shared", says)
    if bare is not None:
        assert fewest("silent") <= bare, says
    for other in proposal.alternatives:
        if other.name == "sides shared":
            assert (
                other.rack_units == fewest("silent", "without_preset", "weak", "kinds", "unlike") < proposal.rack_units
            )
        if other.name == "unlike amplifiers":
            assert other.rack_units == fewest("silent", "without_preset", "weak", "shared") < proposal.rack_units
    if any("with each amplifier on one side, boxes would be silent" in note for note in proposal.notes):
        apart = every(task, apart=True)
        assert apart[:5] > best[:5]
