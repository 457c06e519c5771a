"""The rig check's verdict on one reading, in words: as expected, so many boxes of so many, a short and where.

A verdict compares the reading with what the circuit would read with boxes missing or added, a pair shorted at each
place along the run, or warm coils. Where two of these are nearer than the meter can tell, the verdict says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, sqrt
from typing import Literal

import msgspec

from fieldkit.formulas.conductors import resistance_at_temperature
from fieldkit.triage.belief.likelihood import COPPER_PER_K
from fieldkit.triage.model import edits
from fieldkit.triage.model.circuit import Circuit, is_open
from fieldkit.triage.model.odds import Numbers
from fieldkit.triage.model.points import PlugPoint
from fieldkit.triage.model.seeing import Seen, look, views

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")

SIGMAS = 2.0
"""Nearer than this a reading fits; further apart two explanations can be told. Common practice, no source."""

FITS = 2.5
"""Sigmas within which a reading is as expected: 1.2 % of healthy lines lie beyond, one in a rig of 80."""

WARM_C = 100.0
"""A voice coil that has just played hard, against 20 °C: 80 K more. Common practice, no source."""

SUSPECT_ALONE = 1.25
"""Times its cold reading over which a box by itself is a suspect, and not a warm one: 64 K over. Common practice."""

Kind = Literal["dc", "1khz"]


class Verdict(msgspec.Struct, frozen=True):
    """What a reading says."""

    ok: bool | None
    """None where nothing can be said."""
    says: str


class ExpectedOhm(msgspec.Struct, frozen=True):
    """What a reading should be, of coils as cold as planned."""

    ohm: float
    sigma: float
    """One sigma [ohm]."""
    common: float
    """Part of it that rises with the temperature of the coils [ohm]."""


class Judge:
    """Judges readings at one point and pin pair of one run."""

    def __init__(self, circuit: Circuit, point: PlugPoint, pair: str, meter: Numbers) -> None:
        self._circuit, self._point, self._pair, self._meter = circuit, point, pair, meter

    def verdict(
        self, ohm: float | None, word: str, kind: Kind = "dc", *, warm: bool = False, before: float | None = None
    ) -> Verdict:
        """Judge a reading [ohm], or a word for it; ``before`` is what this very place read when it was well."""
        dc = kind == "dc"
        healthy = self._see(self._circuit, dc=dc)
        if not self._boxes():
            return self._nothing_there(ohm, word)
        if not dc and not healthy.known and before is None:
            return self._unknown(ohm, word)
        if is_open(healthy.ohm):
            return self._behind_capacitor(ohm, word)
        if word == "open":
            return Verdict(ok=False, says=f"open: {self._first_look()}")
        if word == "short" or ohm is None:
            return Verdict(ok=False, says="short; type the ohms, and they say how far along the run")
        expected = abs(healthy.ohm) if before is None else before
        sigma = self._sigma(healthy, known=before is not None)
        rises = self._warm_rise() if warm else 0.0
        if expected - FITS * sigma <= ohm <= expected + rises * healthy.common + FITS * sigma:
            return self._fits(ohm, expected, sigma, dc=dc, warm=warm)
        if ohm < expected:
            return self._too_low(ohm, expected, dc=dc)
        return self._too_high(ohm, ExpectedOhm(expected, sigma, healthy.common), dc=dc, warm=warm)

    def _see(self, circuit: Circuit, *, dc: bool) -> Seen:
        return look(views(circuit, dc=dc), self._point, self._pair)

    def _boxes(self) -> list[int]:
        """List the stations whose boxes this pair meets from this point on."""
        start = self._point.index if self._point.kind in {"amp", "in", "alone"} else self._point.index + 1
        stop = self._point.index + 1 if self._point.kind == "alone" else len(self._circuit.stations)
        line = self._point.lines[self._point.pairs.index(self._pair)]
        return [
            index
            for index in range(start, stop)
            if any(element.line == line for element in self._circuit.stations[index].elements)
        ]

    def _sigma(self, seen: Seen, *, known: bool) -> float:
        """Compute one sigma of a healthy reading [ohm]; less where this place was read before."""
        meter = self._meter
        shared = 0.0 if known else meter["batch_spread"] * seen.common
        own = meter["own_spread"] * sqrt(seen.own) * (0.3 if known else 1.0)
        guess = 0.0 if known else seen.guess
        return sqrt(shared**2 + own**2 + guess**2 + meter["contact_ohm"] ** 2)

    def _warm_rise(self) -> float:
        return resistance_at_temperature(1.0, WARM_C) - 1.0

    def _without(self, missing: tuple[int, ...]) -> Circuit:
        circuit = self._circuit
        for index in missing:
            circuit = edits.with_elements(circuit, index, ())
        return circuit

    def _nothing_there(self, ohm: float | None, word: str) -> Verdict:
        if word == "open":
            return Verdict(ok=True, says="as expected: no box listens on this pair from here on")
        read = "short" if ohm is None else f"{ohm:.2f} ohm"
        return Verdict(ok=False, says=f"reads {read} where no box listens on this pair: pairs crossed, or another box")

    def _unknown(self, ohm: float | None, word: str) -> Verdict:
        if word == "open" or ohm is None:
            return Verdict(ok=False, says=f"{word}: {self._first_look()}")
        return Verdict(
            ok=None, says="no verdict: the model gives no inductance or crossover; kept to compare with next time"
        )

    def _behind_capacitor(self, ohm: float | None, word: str) -> Verdict:
        section = self._section()
        if word == "open":
            return Verdict(
                ok=True,
                says=f"as expected: the {section} section sits behind a capacitor: a DC meter cannot see it; use an "
                "impedance meter at 1 kHz, or listen",
            )
        if ohm is None or ohm < self._loop() + SIGMAS * 0.2 + 0.4:
            return self._short(ohm or 0.0)
        return Verdict(
            ok=False,
            says=f"should read open (the {section} section sits behind a capacitor) and reads {ohm:.1f} ohm: pairs "
            "crossed, the switch on a box, or another model",
        )

    def _section(self) -> str:
        elements = self._circuit.stations[self._boxes()[0]].elements
        line = self._point.lines[self._point.pairs.index(self._pair)]
        return next(element.section for element in elements if element.line == line)

    def _first_look(self) -> str:
        where = "the plug and the first lead" if self._point.kind in {"amp", "out"} else "the box and its plug"
        boxes = [self._circuit.stations[index].box for index in self._boxes()]
        listed = boxes[0] if len(boxes) == 1 else f"any of {', '.join(boxes)}"
        return f"no connection to {listed}; look at {where} first"

    def _shorts(self) -> Iterator[tuple[str, float]]:
        """Compute what a short reads at each plug along the run, from this point outward [ohm]."""
        start = self._point.index if self._point.kind == "amp" else self._point.index + 1
        pair, along = self._pair, 0.0
        if self._point.kind in {"in", "alone"}:
            yield f"in {self._circuit.stations[self._point.index].box}", 0.0
        if self._point.kind == "alone":
            return
        for index in range(start, len(self._circuit.segments)):
            segment = self._circuit.segments[index]
            one, other = segment.wire(f"{pair}+"), segment.wire(f"{pair}-")
            if one is None or other is None:
                return
            if index == start and self._point.kind != "in":
                yield "near end", 0.0
            along += one.ohm + other.ohm
            pair = one.far[:-1]
            yield f"at {self._circuit.stations[index].label}", along

    def _loop(self) -> float:
        """Compute the loop resistance to the end of the run [ohm]."""
        return max((ohm for _, ohm in self._shorts()), default=0.0)

    def _short(self, ohm: float) -> Verdict:
        places = list(self._shorts())
        blur = self._meter["contact_ohm"] * SIGMAS
        if len(places) < 2:
            return Verdict(ok=False, says=f"short {places[0][0]}" if places else "short")
        last = places[-1]
        if last[1] < 2.0 * blur:
            return Verdict(ok=False, says="short; the run is too short for this meter to say where")
        nearest = min(places, key=lambda place: abs(place[1] - ohm))
        if nearest[0] == "near end" or ohm <= blur:
            return Verdict(ok=False, says="short, near end: the plug in your hand, or the first of the lead")
        share = blur / (last[1] or 1.0)
        where = "far end, " if nearest == last else ""
        if abs(nearest[1] - ohm) <= blur:
            says = f"short, {where}{nearest[0]}, or within {share:.0%} of the run's length of it"
            return Verdict(ok=False, says=says)
        before = max((place for place in places if place[1] <= ohm), key=lambda place: place[1])
        after = min((place for place in places if place[1] > ohm), key=lambda place: place[1], default=last)
        ends = [place[0].removeprefix("at ") for place in (before, after)]
        return Verdict(ok=False, says=f"short, between {ends[0]} and {ends[1]}")

    def _fits(self, ohm: float, expected: float, sigma: float, *, dc: bool, warm: bool) -> Verdict:
        boxes = self._boxes()
        if len(boxes) > 1:
            less = abs(self._see(self._without((boxes[-1],)), dc=dc).ohm)
            if less < inf and less - expected < SIGMAS * sigma * 1.5 and ohm > expected:
                middle = self._circuit.stations[boxes[len(boxes) // 2 - 1]].box
                return Verdict(
                    ok=True,
                    says=f"as expected, but {_of(len(boxes) - 1, len(boxes))} would read {less:.2f} ohm, "
                    f"too near to tell: unplug the link after {middle} and meter each half",
                )
        if warm and ohm > expected + SIGMAS * sigma:
            return Verdict(ok=True, says="as expected of coils that have just played; meter again when cold")
        return Verdict(ok=True, says="as expected")

    def _counts(self, *, dc: bool) -> Iterator[tuple[int, float]]:
        """Compute the readings of fewer boxes, the far ones missing, and of one box more [ohm]."""
        boxes = self._boxes()
        for missing in range(1, len(boxes)):
            seen = self._see(self._without(tuple(boxes[-missing:])), dc=dc)
            yield len(boxes) - missing, abs(seen.ohm)
        if self._point.kind != "alone":
            yield len(boxes) + 1, abs(self._see(edits.one_more_box(self._circuit), dc=dc).ohm)

    def _too_high(self, ohm: float, wanted: ExpectedOhm, *, dc: bool, warm: bool) -> Verdict:
        expected, sigma = wanted.ohm, wanted.sigma
        total = len(self._boxes())
        fewer = [(count, value) for count, value in self._counts(dc=dc) if count < total]
        # The spread of fewer boxes is that of their own reading, which is larger.
        fitting = [
            (count, value)
            for count, value in fewer
            if abs(ohm - value) <= SIGMAS * sigma * value / expected + 0.02 * value
        ]
        warmest = expected + self._warm_rise() * wanted.common + SIGMAS * sigma
        if fitting:
            count, _ = min(fitting, key=lambda item: abs(item[1] - ohm))
            text = f"reads as {_of(count, total)}"
            if ohm <= warmest and not warm:
                kelvin = (ohm - expected) / wanted.common / COPPER_PER_K
                text += f", or as coils {kelvin:.0f} K warmer: cold, or just played?"
            boxes = self._boxes()
            last = self._circuit.stations[boxes[-1]].box
            text += f"; look at {last} and its link first" if count == total - 1 else ""
            return Verdict(ok=False, says=text)
        more = ohm - expected
        if self._point.kind == "alone" and not warm and dc and ohm > SUSPECT_ALONE * expected and more <= 15.0:
            says = (
                f"{ohm / expected:.0%} of what it should: a bad contact in the box, a worn lead-in, or another driver"
            )
            return Verdict(ok=False, says=f"{says}; tag it, keep it out; cold it must read less")
        if ohm <= warmest and dc:
            leads = "leads that were not nulled, " if more <= 1.5 * self._meter["leads_ohm"] else ""
            says = f"{more:.1f} ohm high: {leads}coils that have just played, or a bad contact; meter again when cold"
            return Verdict(ok=False, says=says)
        if more <= 15.0:
            return Verdict(ok=False, says=f"{more:.1f} ohm high: a bad contact, a driver open, or another model of box")
        says = f"{more:.0f} ohm high: as good as open, a contact hardly touches; {self._first_look()}"
        return Verdict(ok=False, says=says)

    def _too_low(self, ohm: float, expected: float, *, dc: bool) -> Verdict:
        total = len(self._boxes())
        limit = self._loop() + SIGMAS * self._meter["contact_ohm"] + self._meter["leads_ohm"]
        more = next((value for count, value in self._counts(dc=dc) if count == total + 1), inf)
        if ohm <= limit and ohm < 0.6 * expected and abs(ohm - more) > 0.25 * more:
            return self._short(ohm)
        if abs(ohm - more) <= SIGMAS * self._sigma(self._see(self._circuit, dc=dc), known=False):
            return Verdict(
                ok=False,
                says=f"reads as {_of(total + 1, total)}: one box too many on this line, or a coil burnt in part",
            )
        if ohm < 0.6 * expected:
            says = f"{expected - ohm:.1f} ohm low: a driver or a pair shorted along the run, or more boxes than planned"
            return Verdict(ok=False, says=says)
        alone = self._point.kind == "alone"
        what = (
            "a coil burnt in part, or another model" if alone else "a coil burnt in part, a switch, or a box too many"
        )
        return Verdict(ok=False, says=f"{expected - ohm:.1f} ohm low: {what}")


def _of(count: int, total: int) -> str:
    """Write ``two boxes of three``."""
    words = [NUMBERS[number] if number < len(NUMBERS) else str(number) for number in (count, total)]
    return f"{words[0]} box{'' if count == 1 else 'es'} of {words[1]}"


def differs_from_before(ohm: float, before: float, meter: Numbers) -> str:
    """Say how a reading differs from last time; empty where the meter cannot tell."""
    change = ohm - before
    if abs(change) <= SIGMAS * sqrt(2.0) * meter["contact_ohm"] + 0.03 * before:
        return ""
    return f"{abs(change):.1f} ohm {'more' if change > 0 else 'less'} than last time"
