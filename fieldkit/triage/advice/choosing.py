"""The next test: the one that tells most about what to do, for each minute that it takes.

I(A; O) = H(A) - Σ P(o) · H(A | o), where A is the fix and O the outcome of the test (Shannon; as used for
troubleshooting by de Kleer and Williams 1987, and Heckerman, Breese and Rommelse 1995; re-derived, no page).
"""

from __future__ import annotations

from collections.abc import Container
from math import fsum, log2

import msgspec

from fieldkit.triage.advice.answers import all_done_by, answers, answers_of
from fieldkit.triage.advice.menu import Means, Test, menu
from fieldkit.triage.advice.repair import minutes_of
from fieldkit.triage.belief.observations import Observation
from fieldkit.triage.belief.posterior import Belief

NEGLIGIBLE = 5e-4
"""Faults with a smaller share do not enter the choice."""


class Outcome(msgspec.Struct, frozen=True):
    """One answer of a test, how likely it is, and what it would mean."""

    answer: str
    chance: float
    means: str
    said: Observation | None
    """As an observation; None for a reading."""


class Next(msgspec.Struct, frozen=True):
    """A test worth doing."""

    test: Test
    bits: float
    why: str
    outcomes: tuple[Outcome, ...]


def entropy(shares: list[float]) -> float:
    """Compute the entropy of shares, which need not sum to one [bit]."""
    total = sum(shares)
    if total <= 0.0:
        return 0.0
    parts = [share / total for share in shares if share > 0.0]
    return -fsum(part * log2(part) for part in parts)


def information(joint: list[list[float]]) -> float:
    """Compute the information of a test [bit]: rows are fixes, columns outcomes, each the probability of both."""
    total = sum(map(sum, joint))
    if total <= 0.0:
        return 0.0
    before = entropy([sum(row) for row in joint])
    after = fsum(
        sum(column) / total * entropy(list(column)) for column in zip(*joint, strict=True) if sum(column) > 0.0
    )
    return max(0.0, before - after)


class Chooser:
    """Chooses tests for a belief; keeps what faults would answer between calls."""

    def __init__(self, belief: Belief, means: Means | None = None) -> None:
        """Take what is open to choose from. Once the table is sure, only what confirms it for little time."""
        case = belief.case
        self._belief = belief
        self._confirms = belief.is_decided and not belief.failed
        self._shares = belief.mixed if belief.is_decided or belief.failed else belief.shares
        self._likely = [index for index, share in enumerate(self._shares) if share > NEGLIGIBLE]
        fixes = list(dict.fromkeys(case.faults[index].fix for index in self._likely))
        self._fix_of = [fixes.index(case.faults[index].fix) for index in self._likely]
        self._fixes = fixes
        done = {key for item in belief.seen for key in all_done_by(item, case, belief.focus)}
        self._tests = [test for test in menu(case, means) if test.key not in done]
        if self._confirms:
            most = case.table.stop["confirm_share"] * minutes_of(belief.by_table[0][2], case)
            self._tests = [test for test in self._tests if test.minutes <= most]

    def joint(self, test: Test) -> tuple[tuple[str, ...], list[list[float]]]:
        """Compute the joint probability of each fix and each outcome."""
        table = answers_of(test, self._belief.case, self._belief.focus)
        together: dict[tuple[int, int], float] = {}
        shares = self._shares
        for index, fix in zip(self._likely, self._fix_of, strict=True):
            key = (fix, table.number(index))
            together[key] = together.get(key, 0.0) + shares[index]
        joint = [[0.0] * len(table.names) for _ in self._fixes]
        for (fix, number), share in together.items():
            into = joint[fix]
            for column, chance in enumerate(table.rows[number]):
                into[column] += share * chance
        return table.names, joint

    def _cost(self, test: Test) -> float:
        """Compute the cost of a test, with the time to ask and answer [min]."""
        return test.minutes + self._belief.case.table.minutes["asking"]

    def ranked(self) -> list[tuple[float, float, Test]]:
        """List all tests with bits a minute and bits, the best first."""
        found = []
        for test in self._tests:
            bits = information(self.joint(test)[1])
            found.append((bits / self._cost(test), bits, test))
        return sorted(found, key=lambda item: -item[0])

    def _by_fix(self, numbers: Container[int] | None = None) -> list[float]:
        """Sum the shares of faults by their fix; of all, or of those that are not among some."""
        sums = [0.0] * len(self._fixes)
        for index, fix in zip(self._likely, self._fix_of, strict=True):
            if numbers is None or index not in numbers:
                sums[fix] += self._shares[index]
        return sums

    def _most(self, test: Test, all_by_fix: list[float]) -> float:
        """Compute an upper bound of the information of a test [bit], without the chances of its answers.

        No test of n answers tells more than log2 n, and no meter tells apart what it cannot see: for what it can, all
        there is to know, H(A) - P(unseen) · H(A | unseen).
        """
        everything = entropy(all_by_fix)
        if test.point is None:
            return min(everything, log2(len(answers(test)) + 1))
        unseen = self._by_fix(self._belief.case.seen_from(test.run, test.point, test.pair))
        return everything - sum(unseen) / sum(all_by_fix) * entropy(unseen)

    def _best(self, minimum_bits: float) -> tuple[float, Test] | None:
        """Find the test of most bits a minute among those that give enough; the first on the menu where several do.

        The quick ones come first, and what could not win even if it told the most that it can is not worked out.
        """
        all_by_fix = self._by_fix()
        everything = entropy(all_by_fix)
        best: tuple[float, int, float, Test] | None = None
        for place, test in sorted(enumerate(self._tests), key=lambda item: item[1].minutes):
            beaten = 0.0 if best is None else best[0] * self._cost(test) * (1.0 - 1e-9)
            if everything < beaten or self._most(test, all_by_fix) < beaten:
                continue
            bits = information(self.joint(test)[1])
            rate = bits / self._cost(test)
            if bits >= minimum_bits and (best is None or (rate, -place) > (best[0], -best[1])):
                best = rate, place, bits, test
        return best and best[2:]

    def next(self) -> Next | None:
        """Choose the next test; None where one fix is sure enough and all answers fit it, or no test tells enough."""
        stop = self._belief.case.table.stop
        if self._belief.is_sure:
            return None
        best = self._best(stop["confirm_bits" if self._confirms else "minimum_bits"])
        if best is None:
            return None
        bits, test = best
        return Next(test, bits, self._why(test), self._explained(test))

    def _why(self, test: Test) -> str:
        if self._confirms:
            return f"confirms for {test.minutes:g} min what all answers so far point at: {self._belief.by_table[0][0]}"
        return f"tells most about what to do for its {test.minutes:g} min"

    def _explained(self, test: Test) -> tuple[Outcome, ...]:
        names, joint = self.joint(test)
        words = dict(answers(test)) if test.kind != "meter" else {}
        found = []
        total = sum(map(sum, joint))
        for column, name in enumerate(names):
            chance = sum(row[column] for row in joint) / total
            if chance < 0.01:
                continue
            best = max(range(len(joint)), key=lambda row: joint[row][column])
            share = joint[best][column] / (chance * total)
            found.append(Outcome(name, chance, f"{self._fixes[best]} ({share:.0%})", words.get(name)))
        return tuple(sorted(found, key=lambda item: -item.chance))
