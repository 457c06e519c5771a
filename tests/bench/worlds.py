"""One fault of a small rig, what it answers, and a search for it: for the measurements of this folder.

A draw is a fault by its odds, shared circumstances (batch, warm coils, leads), and a complaint about a box that does
not sound normal. Answers follow the fault's own chances, so ears mishear and meters blur.
"""

from __future__ import annotations

import random
import sys
from math import inf
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import msgspec
from rigs import AMP, MODELS, box, rig_of, run, step

from fieldkit.triage.advice.answers import answers, outcomes
from fieldkit.triage.belief.likelihood import circumstances
from fieldkit.triage.belief.observations import Ear, Metered
from fieldkit.triage.belief.posterior import Belief
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING
from fieldkit.triage.model.odds import table

KNOWN = MODELS.replace(
    'impedance = "16 ohm", rated_at', 'impedance = "16 ohm", dc_resistance = "11 ohm", inductance = "0.1 mH", rated_at'
).replace('section = "full", impedance = "8 ohm",', 'section = "full", impedance = "8 ohm", dc_resistance = "6 ohm",')
MOST_TESTS = 14


def line_of(count, *, biamp):
    """Solve a rig of one line: 15 m to the first box, 3 m to each of the others."""
    steps = [step("four", "15 m" if n == 1 else "3 m", f"B{n}") for n in range(1, count + 1)]
    drive = 'drive = "bi-amp"' if biamp else ""
    text = AMP + "".join(box(f"B{n}", more=drive) for n in range(1, count + 1)) + run("W1", "A.A", *steps)
    return rig_of(text, KNOWN)


def case_of(count, *, biamp, numbers=None):
    return FaultSearch(line_of(count, biamp=biamp), ["W1"], numbers or table())


def drawn(shares):
    mark = random.random() * sum(shares.values())
    for name, share in shares.items():
        mark -= share
        if mark <= 0:
            return name
    return name


class World:
    """One true fault, and what it answers."""

    def __init__(self, case, fault_number, *, noise=1.0, warm=None):
        self.case, self.number, self.noise = case, fault_number, noise
        self.fault, self.signature = case.faults[fault_number], case.signatures[fault_number]
        shared = circumstances(case.table.meter, warm=warm)
        self.shared = random.choices(shared, [item.weight for item in shared])[0]

    def complaint(self):
        """Give an abnormal box and its sound, or None where everything sounds normal."""
        heard = {name: self.signature.heard(name) for name in self.case.boxes}
        odd = [name for name, words in heard.items() if words["normal"] < 0.5]
        if not odd:
            return None
        name = random.choice(odd)
        return Ear(name, drawn({word: share for word, share in heard[name].items() if word != "normal"}))

    def answer(self, test, focus):
        if test.kind == "meter":
            return self._metered(test)
        names, rows = outcomes(test, self.case, focus, [self.number])
        word = drawn(dict(zip(names, rows[0], strict=True)))
        return dict(answers(test)).get(word) or Ear(test.at, "silent")

    def _metered(self, test):
        kind = "dc" if test.dc else "1khz"
        predicted = self.case.predictions(test.run, test.point, test.pair, dc=test.dc)
        reading = predicted.readings[predicted.of_fault[self.number]]
        if reading.low == inf:
            return Metered(test.at, test.pair, None, "open", kind)
        ohm = random.uniform(reading.low, reading.high) + self.shared.rise * reading.common + self.shared.leads_ohm
        return Metered(test.at, test.pair, max(0.0, round(random.gauss(ohm, reading.spread * self.noise), 2)), "", kind)


class Found(msgspec.Struct):
    """What a search came to."""

    tests: int
    minutes: float
    fix: str
    share: float
    """Of the first fix, among all there is."""
    right: bool
    """Whether that fix fixes the fault."""
    true: int
    """Number of the true fault in the case that it was drawn from."""
    taken: str
    """The true fault and the one that it was taken for."""
    belief: Belief


def search(world, complaint, choose, *, case=None):
    seen, minutes = [complaint], 0.0
    case = case or world.case
    case.focus = complaint.box
    while True:
        belief = Belief(case, seen)
        test = choose(belief) if len(seen) <= MOST_TESTS else None
        if test is None:
            break
        seen.append(world.answer(test, belief.focus))
        minutes += test.minutes
    fix, share, fault = next(item for item in belief.fixes if item[2].kind not in {NOTHING, NONE_OF_THESE})
    taken = f"{world.fault.kind} taken for {fault.kind}"
    right = world.fault.is_fixed_by(fault)
    return Found(len(seen) - 1, minutes, fix, share, right, world.number, taken, belief)


def draws(case, count, **how):
    numbers = [n for n, fault in enumerate(case.faults) if fault.kind not in {NOTHING, NONE_OF_THESE}]
    odds = [case.faults[n].odds for n in numbers]
    while count:
        world = World(case, random.choices(numbers, odds)[0], **how)
        complaint = world.complaint()
        if complaint is not None:
            count -= 1
            yield world, complaint
