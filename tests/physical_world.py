"""A rig as conductors, pins, plugs, coils and capacitors, solved by a nodal solver of its own with numpy.

It shares nothing with the package: the show file and the parts are made from the same few lines of description here, and
the search is driven through the command alone. People mishear, meters blur, coils are warm.
"""

from __future__ import annotations

import copy
import math

import numpy as np

LOW_HZ, HIGH_HZ, METER_HZ = 100.0, 4000.0, 1000.0
OHM_PER_M = 7.98e-3  # IEC 60228 table 3: 2.5 mm², class 5, at 20 °C
NOTHING_S = 1e-9  # what keeps a floating node solvable


def solve(parts, sources):
    """Give the volts of every node and the current of each source, which are ideal, from a node to ground."""
    names = sorted({node for one, other, _ in parts for node in (one, other)} | {node for node, _ in sources})
    index = {name: number for number, name in enumerate(names) if name != "0"}
    size = len(index)
    matrix = np.zeros((size + len(sources), size + len(sources)), complex)
    right = np.zeros(size + len(sources), complex)
    for number in range(size):
        matrix[number, number] = NOTHING_S
    for one, other, ohm in parts:
        admittance = 1.0 / ohm
        for here, there in ((one, other), (other, one)):
            if here != "0":
                matrix[index[here], index[here]] += admittance
                if there != "0":
                    matrix[index[here], index[there]] -= admittance
    for row, (node, volts) in enumerate(sources, start=size):
        matrix[row, index[node]] = matrix[index[node], row] = 1.0
        right[row] = volts
    found = np.linalg.solve(matrix, right)
    return {"0": 0j} | {name: found[number] for name, number in index.items()}, found[size:]


def ohms_between(parts, one, other):
    """Give what a meter sees between two nodes [ohm]."""
    nodes = {node for part in parts for node in part[:2]}
    if one not in nodes or other not in nodes:
        return math.inf
    _, currents = solve(parts, [(one, 0.5), (other, -0.5)])
    return math.inf if abs(currents[0]) < 1e-5 else abs(1.0 / currents[0])


class Lead:
    """A cable with its two plugs: pins at the near end, and where each conductor ends."""

    def __init__(self, pins, length_m):
        self.ohm = length_m * OHM_PER_M
        self.to = {pin: pin for pin in pins}
        self.more = dict.fromkeys(pins, 0.0)
        self.touching = []
        self.near_home = self.far_home = True


class Driver:
    """A coil behind what stands before it in the box; ``sign`` is -1 where its wires are exchanged."""

    def __init__(self, band, pair, coil_ohm, henry, farad=None, before_h=0.0):
        self.band, self.pair, self.coil_ohm, self.henry, self.farad = band, pair, coil_ohm, henry, farad
        self.before_h, self.sign, self.is_open, self.leg_open = before_h, 1, False, False


def drivers_of(drive):
    if drive == "bi-amp":
        return [
            Driver("low", "1", 11.8, 1.0e-3),
            Driver("low", "1", 11.8, 1.0e-3),
            Driver("high", "2", 11.0, 0.1e-3, 47e-6),
        ]
    return [Driver("low", "1", 6.0, 0.5e-3, None, 1.2e-3), Driver("high", "1", 6.5, 0.05e-3, 6.8e-6)]


class Cabinet:
    """A box at a place of its run."""

    def __init__(self, drive):
        self.drive, self.drivers, self.is_here, self.ears = drive, drivers_of(drive), True, ""


class World:
    """Runs of boxes on outputs. ``runs`` gives the socket and the boxes of each."""

    def __init__(self, runs, drive, *, warm_k=0.0, adaptor=False):
        self.drive, self.runs, self.warm_k, self.adaptor = drive, dict(runs), warm_k, adaptor
        self.pairs = ("1", "2") if drive == "bi-amp" else ("1",)
        pins = [f"{pair}{side}" for pair in self.pairs for side in "+-"]
        self.leads = {box: Lead(pins, 15.0 if place == 0 else 3.0)
                      for _, boxes in self.runs.values() for place, box in enumerate(boxes)}  # fmt: skip
        self.cabinets = {box: Cabinet(drive) for box in self.leads}
        self.state = {}
        """Output and what it does instead: mute, no input, off, protect, failed, noise, half, limit, preset."""
        self.fed_by = {run: run for run in self.runs}
        """Whose socket the plug of each run really sits in."""
        self.ears_of_lead = {}
        self.seen_at = set()
        """Places where an eye finds it."""

    def copy(self):
        return copy.deepcopy(self)

    # ---- the show ---------------------------------------------------------------------------------------------

    def outputs(self, run):
        first = 2 * list(self.runs).index(run) if self.drive == "bi-amp" else list(self.runs).index(run)
        return {pair: f"A.{first + number}" for number, pair in enumerate(self.pairs, start=1)}

    def run_of(self, box):
        return next(run for run, (_, boxes) in self.runs.items() if box in boxes)

    # ---- the network ------------------------------------------------------------------------------------------

    def parts(self, run, hz, pulled=None):
        """List the parts of a run; ``pulled`` names a plug that is out: ``amp``, ``B1.in``, ``B1.out``."""
        found = []
        boxes = self.runs[run][1]
        for place, box in enumerate(boxes):
            lead = self.leads[box]
            source = f"{run}:post" if place == 0 else f"{boxes[place - 1]}:pin"
            is_out = pulled == ("amp" if place == 0 else f"{boxes[place - 1]}.out")
            near = f"{box}:near" if is_out or not lead.near_home else source
            far = f"{box}:far" if pulled in {f"{box}.in", f"{box}.alone"} or not lead.far_home else f"{box}:pin"
            for pin, end in lead.to.items():
                found.append((near + pin, far + end, lead.ohm + lead.more[pin] + 0.01))
            for where, one, other in lead.touching:
                found.append(
                    ((near if where == "near" else far) + one, (near if where == "near" else far) + other, 0.02)
                )
            if pulled == f"{box}.alone" and place + 1 < len(boxes):
                return [*found, *self.inside(box, hz)]
            found += self.inside(box, hz)
        return found

    def inside(self, box, hz):
        cabinet, found = self.cabinets[box], []
        if not cabinet.is_here:
            return found
        for number, driver in enumerate(cabinet.drivers):
            if driver.is_open or driver.leg_open or (hz == 0.0 and driver.farad):
                continue
            omega = 2 * math.pi * hz
            coil = driver.coil_ohm * (1 + 0.00393 * self.warm_k) + 1j * omega * driver.henry
            before = 1e-3 + 1j * omega * driver.before_h + (1 / (1j * omega * driver.farad) if driver.farad else 0.0)
            plus, minus = f"{box}:pin{driver.pair}+", f"{box}:pin{driver.pair}-"
            middle = f"{box}:coil{number}"
            found += [(plus, middle, before), (middle, minus, coil)]
        return found

    def meter(self, run, point, pair, hz):
        """Give what a good meter would show [ohm]."""
        box, _, kind = point.rpartition(".")
        boxes = self.runs[run][1]
        if kind == "amp" or point == "amp":
            return ohms_between(self.parts(run, hz, "amp"), f"{boxes[0]}:near{pair}+", f"{boxes[0]}:near{pair}-")
        if kind == "out":
            onward = boxes[boxes.index(box) + 1]
            return ohms_between(self.parts(run, hz, point), f"{onward}:near{pair}+", f"{onward}:near{pair}-")
        if kind == "alone":
            return ohms_between(self.inside(box, hz), f"{box}:pin{pair}+", f"{box}:pin{pair}-")
        beyond = self.parts(run, hz, f"{box}.in")
        return ohms_between(beyond, f"{box}:pin{pair}+", f"{box}:pin{pair}-")

    # ---- what plays -------------------------------------------------------------------------------------------

    def plays(self, output, band, preset_pair):
        """Give what an output puts out in a band, 1 for as planned; ``preset_pair`` says what it is set for."""
        state = self.state.get(output, "")
        if state in {"mute", "no input", "off", "protect", "failed"}:
            return 0.0
        level = {"half": 0.5, "limit": 0.25, "quiet": 0.35}.get(state, 1.0)
        if self.drive != "bi-amp":
            return level
        own = {"1": "low", "2": "high"}[preset_pair]
        if state == "preset":
            own = {"low": "high", "high": "low"}[own]
        return level if band == own else 0.0

    def volts(self, run, hz):
        """Give the volts across every coil of a run, by box and driver."""
        band = "low" if hz == LOW_HZ else "high"
        outputs = self.outputs(self.fed_by[run])
        parts = [part for part in self.parts(run, hz) if part[0] != part[1]]
        sources = []
        for pair, output in outputs.items():
            sources += [(f"{run}:post{pair}+", self.plays(output, band, pair)), (f"{run}:post{pair}-", 0.0)]
        volts, _ = solve(parts, sources)
        return {
            (box, number): driver.sign * (volts[f"{box}:coil{number}"] - volts[f"{box}:pin{driver.pair}-"])
            for box in self.runs[run][1]
            if self.cabinets[box].is_here
            for number, driver in enumerate(self.cabinets[box].drivers)
            if f"{box}:coil{number}" in volts
        }

    def bands(self, box):
        """Give what a box radiates in both bands, as complex sums."""
        run = self.run_of(box)
        found = {}
        for hz, band in ((LOW_HZ, "low"), (HIGH_HZ, "high")):
            volts = self.volts(run, hz)
            found[band] = sum(
                (volts.get((box, number), 0j) for number, driver in enumerate(self.cabinets[box].drivers)
                 if driver.band == band), 0j
            )  # fmt: skip
        return found

    def is_harmed(self, box, muted=()):
        """Tell whether a high driver gets lows while the outputs play."""
        world = self
        if muted:
            world = self.copy()
            world.state |= dict.fromkeys(muted, "mute")
        volts = world.volts(self.run_of(box), LOW_HZ)
        return self.drive == "bi-amp" and any(
            abs(volts.get((box, number), 0j)) > 0.1
            for number, driver in enumerate(self.cabinets[box].drivers)
            if driver.band == "high"
        )

    def harms(self, muted=()):
        return any(self.is_harmed(box, muted) for box in self.cabinets)


def level_db(now, healthy):
    return -120.0 if abs(now) < 1e-6 else 20.0 * math.log10(abs(now) / abs(healthy))


class Senses:
    """What people and instruments say of a world, honestly: against the healthy one."""

    def __init__(self, world, healthy, rng, *, wrong_ears=0.10, noise=0.03):
        self.world, self.rng, self.wrong_ears, self.noise = world, rng, wrong_ears, noise
        self.healthy = {box: healthy.bands(box) for box in healthy.cabinets}
        self.planned = healthy

    def word(self, box, world=None):
        """What a good ear says of a box."""
        world = world or self.world
        if not world.cabinets[box].is_here:
            return "silent"
        now, well = world.bands(box), self.healthy[box]
        levels = {band: level_db(now[band], well[band]) for band in now}
        noisy = {world.state.get(output) for output in world.outputs(world.fed_by[world.run_of(box)]).values()}
        if world.is_harmed(box) or (world.drive == "bi-amp" and "preset" in noisy):
            return "distorted"
        if all(level < -18.0 for level in levels.values()):
            return "silent"
        if world.cabinets[box].ears:
            return world.cabinets[box].ears
        if "noise" in noisy:
            return "hum"
        for name, sound in world.ears_of_lead.items():
            if box in self._from(name):
                return sound
        if levels["low"] < -15.0:
            return "no-low"
        if levels["high"] < -15.0:
            return "no-high"
        return "quiet" if min(levels.values()) < -2.8 else "normal"

    def _from(self, box):
        boxes = self.world.runs[self.world.run_of(box)][1]
        return boxes[boxes.index(box) :]

    def heard(self, box, words):
        """What somebody reports, now and then something else."""
        word = self.word(box)
        if self.rng.random() < self.wrong_ears:
            word = self.rng.choice([other for other in words if other != word])
        return word

    def reading(self, run, point, pair, *, dc):
        ohm = self.world.meter(run, point, pair, 0.0 if dc else METER_HZ)
        if ohm > 1e5:
            return "open"
        return f"{max(0.0, ohm * self.rng.gauss(1.0, self.noise) + self.rng.gauss(0.0, 0.05)):.2f}ohm"

    def polarity(self, box, world=None):
        """What a tester says: a clear sign in each band; nothing from a silent box."""
        now, well = (world or self.world).bands(box), self.healthy[box]
        signs = [(now[band] / well[band]).real for band in now if abs(now[band]) > 0.1 * abs(well[band])]
        return "nothing" if not signs else "reversed" if min(signs) < 0.0 else "planned"

    def lights(self, output):
        state = self.world.state.get(output, "")
        shown = {
            "mute": "mute",
            "no input": "on",
            "off": "off",
            "protect": "protect",
            "failed": "signal",
            "limit": "limit",
        }
        if state in shown:
            return shown[state]
        run = next(one for one in self.world.runs if output in self.world.outputs(self.world.fed_by[one]).values())
        pair = next(pair for pair, name in self.world.outputs(self.world.fed_by[run]).items() if name == output)
        parts = self.world.parts(run, METER_HZ)
        load = ohms_between(parts, f"{run}:post{pair}+", f"{run}:post{pair}-")
        return "protect" if load < 1.2 else "signal"

    def looked(self, place):
        """What an honest eye answers: a setting of an output by its name, anything else as wrong."""
        if place not in self.world.seen_at:
            return f"{place}=right"
        words = {"mute": "mute", "no input": "input", "limit": "level", "quiet": "level", "preset": "preset"}
        set_wrong = [(output, words[state]) for output, state in self.world.state.items() if state in words]
        return "=".join(set_wrong[0]) if set_wrong else f"{place}=wrong"

    def swapped(self, what, box, partner=None):
        other, before = self.world.copy(), (self.word(box), self.polarity(box))
        if what == "cable":
            other.leads[box] = copy.deepcopy(self.planned.leads[box])
            other.ears_of_lead.pop(box, None)
        elif what == "box":
            other.cabinets[box] = copy.deepcopy(self.planned.cabinets[box])
        else:
            run = other.run_of(box)
            other.fed_by[run], other.fed_by[partner] = other.fed_by[partner], other.fed_by[run]
        return "stayed" if (self.word(box, other), self.polarity(box, other)) == before else "moved"
