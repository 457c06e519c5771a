"""The probability of each fault after what was observed.

Formula: p_i ∝ w_i · Σ_c P(c) · Π_t P(o_t | f_i, c), with one fault at a time and circumstances c that all readings
share (Bayes, by definition). Weights are estimates, and their table says so. What is named to a person leaves room for
a fault of a kind that the table does not have (``doubt``).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from fieldkit.text.words import nearest, printable
from fieldkit.triage.belief.doubt import as_planned, chance_of_unknown
from fieldkit.triage.belief.likelihood import Circumstance, answer_chance, broad_density, circumstances, of_reading
from fieldkit.triage.belief.observations import (
    Ear,
    Inverted,
    Light,
    Look,
    Metered,
    Observation,
    Played,
    Polarity,
    SwapSeen,
    Tried,
)
from fieldkit.triage.belief.search import FaultSearch, Share
from fieldkit.triage.errors import ObservationError
from fieldkit.triage.model.fault import NONE_OF_THESE, NOTHING, Fault

UNFIT = 0.09
"""An answer in words with a smaller chance under a fault is a slip, or does not fit it."""

FITS_TIMES = 20.0
"""A reading fits when it is so much likelier than one of something else altogether: some four sigma."""

UNREAL = {NOTHING, NONE_OF_THESE}


class Belief:
    """What is believed of a case after some observations."""

    def __init__(
        self, case: FaultSearch, seen: Sequence[Observation], *, worked_before: bool = False, running: bool = False
    ) -> None:
        """Weigh all faults. Raises ObservationError for an observation of something that is not part of the case."""
        self.case, self.seen = case, tuple(seen)
        said = [item.warm for item in seen if isinstance(item, Metered) and item.warm is not None]
        self.shared: tuple[Circumstance, ...] = circumstances(
            case.table.meter, warm=said[-1] if said else True if running else None
        )
        self._weights = [self._prior(fault, worked_before=worked_before) for fault in case.faults]
        first = [item.weight for item in self.shared]
        self._joint = [[weight * part for part in first] for weight in self._weights]
        self._by_place = list(self._weights)
        self._left = [1.0] * len(case.faults)
        """What the fixes that did not help leave of each fault."""
        self.failed: list[str] = []
        """Fixes that were done and did not help."""
        self.focus = case.focus
        self._fits: list[tuple[Observation, list[bool]]] = []
        for item in seen:
            self._observe(item)
        total = sum(map(sum, self._joint))
        self.shares = [sum(row) / total for row in self._joint]
        """By the table alone, of which something else than any of these is a part."""

    def _prior(self, fault: Fault, *, worked_before: bool) -> float:
        weight = fault.odds
        return weight * self.case.table.worked_before.get(fault.kind, 1.0) if worked_before else weight

    def _observe(self, item: Observation) -> None:
        case = self.case
        if isinstance(item, Metered):
            run, point, pair = case.point(item.point, item.pair)
            predicted = case.predictions(run, point, pair, dc=item.kind == "dc")
            rows = [
                of_reading(reading, item.ohm, item.word, self.shared, case.table.meter)
                for reading in (*predicted.readings, None)  # the last for something that is none of these
            ]
            minimum = FITS_TIMES * case.table.meter["slip"] * broad_density(item.ohm) if item.ohm is not None else UNFIT
            fits = [max(row) > minimum for row in rows]
            self._fits.append((item, [fits[number] for number in predicted.of_fault]))
            self._weigh([rows[number] for number in predicted.of_fault])
            self._place(as_planned(case, item, ()))
            return
        if isinstance(item, Tried):
            self._has_not_helped(item)
            return
        if isinstance(item, Ear):
            case.check_heard(item.box)
            if item.word != "normal" and not self.focus and item.box in case.bench.places:
                self.focus = item.box
        elif isinstance(item, Polarity):
            case.check_box(item.box, "polarity")
            if item.word == "reversed" and not self.focus:
                self.focus = item.box
        elif isinstance(item, Light):
            case.check_output(item.output)
        elif isinstance(item, Look) and not case.is_at_amplifier(item.place):
            case.check_box(item.place, "looked")
        elif isinstance(item, Inverted):
            case.check_box(item.box, "inverted")
            case.check_box(item.beside, "inverted")
        elif isinstance(item, Played):
            case.check_played(item)
        if isinstance(item, SwapSeen) and item.at:
            case.check_box(item.at, "swapped")
        elif isinstance(item, SwapSeen) and not self.focus:
            self.focus = case.boxes[0] if len(case.boxes) == 1 else ""
        chances = [answer_chance(signature, item, self.focus) for signature in case.signatures]
        self._fits.append((item, [chance > UNFIT for chance in chances]))
        self._weigh([[chance] * len(self.shared) for chance in chances])
        self._place(as_planned(case, item, chances))

    def _place(self, chances: Sequence[float]) -> None:
        self._by_place = [share * chance for share, chance in zip(self._by_place, chances, strict=True)]

    def _weigh(self, rows: Sequence[Sequence[float]]) -> None:
        """Multiply in the likelihoods of an observation, a row a fault and a column a circumstance.

        What is none of these answers half like anything at all, and half like the faults that are known do: it is a
        fault too, and most of the rig is well.
        """
        weights = self._weights
        known = [index for index, signature in enumerate(self.case.signatures) if signature is not None]
        total = sum(weights[index] for index in known)
        usual = [
            sum(weights[index] * rows[index][column] for index in known) / total for column in range(len(self.shared))
        ]
        for index, signature in enumerate(self.case.signatures):
            row = rows[index]
            if signature is None:
                row = [(one + other) / 2.0 for one, other in zip(row, usual, strict=True)]
            self._multiply(index, row)
        self._rescale()

    def _multiply(self, index: int, row: Sequence[float]) -> None:
        self._joint[index] = [old * new for old, new in zip(self._joint[index], row, strict=True)]

    def _has_not_helped(self, item: Tried) -> None:
        """Take their weight from the faults that a fix fixes; what is none of these keeps all of its own."""
        fix, slip = self._fixed_by(item), self.case.table.repaired["slip"]
        done = next(fault for fault in self.case.faults if fault.fix == fix)
        self.failed.append(fix)
        for index, fault in enumerate(self.case.faults):
            if fault.is_fixed_by(done):
                self._multiply(index, [slip] * len(self.shared))
                self._by_place[index] *= slip
                self._left[index] *= slip
        self._rescale()

    def _fixed_by(self, item: Tried) -> str:
        """Find the fix that was tried. Raises ObservationError for none, or for several."""
        fixes = list(dict.fromkeys(fault.fix for fault in self.case.faults if fault.kind not in UNREAL))
        wanted = item.fix.casefold()
        found = [fix for fix in fixes if fix.casefold() == wanted] or [fix for fix in fixes if wanted in fix.casefold()]
        if len(found) == 1:
            return found[0]
        shown = f"tried: '{printable(item.fix)}' is"
        if found:
            raise ObservationError(f"{shown} part of several fixes: {'; '.join(found[:3])}")
        raise ObservationError(f"{shown} no fix of this case{nearest(item.fix, fixes)}")

    @property
    def misfits(self) -> list[Observation]:
        """List the answers that the likeliest fault makes nearly impossible: while there are some, nothing is sure."""
        best = max(range(len(self.shares)), key=self.shares.__getitem__)
        return [item for item, fits in self._fits if not fits[best]]

    def _rescale(self) -> None:
        """Keep the numbers away from zero: only their ratios count."""
        total = sum(map(sum, self._joint))
        self._joint = [[value / total for value in row] for row in self._joint]

    @cached_property
    def by_place(self) -> list[float]:
        """Return the shares where answers count only as planned or not, as for a fault of an unknown kind."""
        known = [
            0.0 if fault.kind == NONE_OF_THESE else share
            for fault, share in zip(self.case.faults, self._by_place, strict=True)
        ]
        total = sum(known)
        return [share / total for share in known]

    @cached_property
    def unknown(self) -> float:
        """The chance that the fault is of a kind that the table does not have."""
        return chance_of_unknown(self.case.table.stop["unknown"], self.shares, self.by_place, self._left)

    @cached_property
    def doubt(self) -> float:
        """The chance of a fault of an unknown kind that the likeliest fix does not fix."""
        best = next((fault for _, _, fault in self.by_table if fault.kind != NONE_OF_THESE), None)
        if best is None:
            return self.unknown
        places = zip(self.case.faults, self.by_place, strict=True)
        return self.unknown * (1.0 - sum(share for fault, share in places if fault.is_fixed_by(best)))

    @property
    def mixed(self) -> list[float]:
        """Return the shares of all faults, with those of an unknown kind added at their places."""
        part = self.unknown
        return [(1.0 - part) * one + part * two for one, two in zip(self.shares, self.by_place, strict=True)]

    @property
    def is_decided(self) -> bool:
        """Tell whether one fix is nearly sure by the table, and all answers fit."""
        return self.by_table[0][1] >= self.case.table.stop["sure"] and not self.misfits

    @property
    def is_sure(self) -> bool:
        """Tell whether one fix is nearly sure, with room left for faults of an unknown kind, and all answers fit."""
        return self.fixes[0][1] >= self.case.table.stop["sure"] and not self.misfits

    @cached_property
    def ranked(self) -> list[Share]:
        """List the faults, the likeliest first, with the doubt left to something else than any of these."""
        doubt = self.doubt
        honest = (
            Share(fault, share * (1.0 - doubt) + (doubt if fault.kind == NONE_OF_THESE else 0.0))
            for fault, share in zip(self.case.faults, self.shares, strict=True)
        )
        return sorted(honest, key=lambda item: -item.share)

    @cached_property
    def by_table(self) -> list[tuple[str, float, Fault]]:
        """List the fixes with the sum of what each fixes, by the table alone, and its likeliest fault."""
        pairs = sorted(zip(self.case.faults, self.shares, strict=True), key=lambda pair: -pair[1])
        return _by_fix([Share(fault, share) for fault, share in pairs])

    @cached_property
    def fixes(self) -> list[tuple[str, float, Fault]]:
        """List the fixes with the sum of what each fixes, the likeliest first, and its likeliest fault."""
        return _by_fix(self.ranked)

    @property
    def rise(self) -> float:
        """Compute the mean common rise of all drivers by the readings."""
        columns = [sum(row[index] for row in self._joint) for index in range(len(self.shared))]
        total = sum(columns)
        return sum(part * item.rise for part, item in zip(columns, self.shared, strict=True)) / total

    @property
    def nothing_wrong(self) -> float:
        """Return the share of "nothing is wrong here"."""
        return sum(item.share for item in self.ranked if item.fault.kind == NOTHING)


def _by_fix(ranked: Sequence[Share]) -> list[tuple[str, float, Fault]]:
    sums: dict[str, float] = {}
    best: dict[str, Fault] = {}
    for item in ranked:
        sums[item.fault.fix] = sums.get(item.fault.fix, 0.0) + item.share
        best.setdefault(item.fault.fix, item.fault)
    return sorted(((fix, share, best[fix]) for fix, share in sums.items()), key=lambda item: -item[1])
