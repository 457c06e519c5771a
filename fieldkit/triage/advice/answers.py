"""What tests may answer: which observation an answer is, and how likely it is under each fault."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import inf

from fieldkit.triage.advice.menu import Test
from fieldkit.triage.belief.likelihood import answer_chance, below
from fieldkit.triage.belief.observations import (
    POLARITIES,
    TOGETHER,
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
from fieldkit.triage.belief.saying import as_typed
from fieldkit.triage.belief.search import FaultSearch
from fieldkit.triage.model.hearing import HEARD, LIGHTS
from fieldkit.triage.model.looking import LOOKED, SETTINGS


def done_by(item: Observation, case: FaultSearch, focus: str = "") -> tuple[str, str, str, bool, str]:
    """Return the key of the test that an observation answers."""
    if isinstance(item, Metered):
        run, point, pair = case.point(item.point, item.pair)
        name = point.name if len(case.runs) == 1 else f"{run}.{point.name}"
        return "meter", name, pair, item.kind == "dc", ""
    if isinstance(item, SwapSeen):
        box = item.at or focus or case.focus or (case.boxes[0] if case.boxes else "")
        run = case.bench.places[box][0][0] if box else ""
        return "swap", run if item.what == "output" else box, "", True, item.what
    if isinstance(item, Light):
        return "lights", item.output, "", True, ""
    if isinstance(item, Tried):
        return "tried", item.fix, "", True, ""
    if isinstance(item, Look):
        return "look", "amp" if case.is_at_amplifier(item.place) else item.place, "", True, ""
    if isinstance(item, Inverted):
        return "polarity", item.box, "", True, item.beside
    if isinstance(item, Played):
        return "noise", item.output, "", True, ""
    return "listen" if isinstance(item, Ear) else "polarity", item.box, "", True, ""


def all_done_by(item: Observation, case: FaultSearch, focus: str) -> list[tuple[str, str, str, bool, str]]:
    """Return the keys of all tests that an observation answers.

    What a zone does, each of its boxes does; and what a box does against its neighbours, they do against it.
    """
    of_zone = case.bench.zones.get(item.box, ()) if isinstance(item, Ear) else ()
    if isinstance(item, Ear) and item.word == "louder-alone":
        of_zone = (item.box, *case.bench.beside.get(item.box, ()))
    return [("listen", box, "", True, "") for box in of_zone] or [done_by(item, case, focus)]


def answers(test: Test) -> tuple[tuple[str, Observation], ...]:
    """List the answers of a test that is answered in words."""
    if test.kind == "listen":
        return tuple((word, Ear(test.at, word)) for word in HEARD)
    if test.kind == "lights":
        return tuple((word, Light(test.at, word)) for word in LIGHTS)
    if test.kind == "polarity" and test.what:
        return tuple((word, Inverted(test.at, test.what, word)) for word in TOGETHER)  # type: ignore[arg-type]
    if test.kind == "polarity":
        return tuple((word, Polarity(test.at, word)) for word in POLARITIES)  # type: ignore[arg-type]  # its words
    if test.kind == "look":
        found = [(word, Look(test.at, word)) for word in LOOKED if not test.outputs or word not in SETTINGS]
        return (
            *found,
            *((f"{word} of {name}", Look(name, word)) for name in test.outputs for word in sorted(SETTINGS)),
        )
    return tuple((word, SwapSeen(test.what, word == "moved", test.box)) for word in ("moved", "stayed"))  # type: ignore[arg-type]


def typed_answer(test: Test) -> str:
    """Write how the command is told an answer: ``OHM``, ``open`` or ``short``, or ``WORD`` of the outcomes."""
    if test.kind == "meter":
        return as_typed(Metered(test.at, test.pair, None, "", "dc" if test.dc else "1khz"))
    said = as_typed(answers(test)[0][1])
    return f"{said.partition('=')[0]}=WORD"


Row = tuple[float, ...]


class Answers:
    """What a test may answer, and the chances of each answer; faults that answer alike share a row.

    A row is worked out when it is first asked for: most faults are soon out of the running.
    """

    def __init__(self, names: tuple[str, ...], keys: Sequence[int], row_of: Callable[[int], Row]) -> None:
        """Keep how rows are made: ``keys`` gives for each fault what ``row_of`` makes its row of."""
        self.names = names
        self.rows: list[Row] = []
        self._keys, self._row_of = keys, row_of
        self._by_key: dict[int, int] = {}
        self._by_row: dict[Row, int] = {}

    def number(self, fault: int) -> int:
        """Return the number of the row of a fault of the case."""
        key = self._keys[fault]
        if key not in self._by_key:
            row = self._row_of(key)
            if row not in self._by_row:
                self._by_row[row] = len(self.rows)
                self.rows.append(row)
            self._by_key[key] = self._by_row[row]
        return self._by_key[key]


def answers_of(test: Test, case: FaultSearch, focus: str) -> Answers:
    """Return the chances of a test's answers under each fault of a case; computed once."""
    key = (*test.key, focus if test.kind == "swap" else "")
    if key not in case.answers:
        case.answers[key] = _meter_answers(test, case) if test.kind == "meter" else _word_answers(test, case, focus)
    found: Answers = case.answers[key]
    return found


def outcomes(
    test: Test, case: FaultSearch, focus: str, likely: list[int]
) -> tuple[tuple[str, ...], list[tuple[float, ...]]]:
    """List a test's outcomes, and their chances under each of the likely faults, given by number."""
    table = answers_of(test, case, focus)
    return table.names, [table.rows[table.number(index)] for index in likely]


def _word_answers(test: Test, case: FaultSearch, focus: str) -> Answers:
    words = answers(test)

    def row_of(fault: int) -> Row:
        signature = case.signatures[fault]
        if signature is None:
            return tuple(1.0 / len(words) for _ in words)
        if test.kind in {"listen", "lights"}:
            chances = signature.heard(test.at) if test.kind == "listen" else signature.lights(test.at)
            return tuple(chances[word] for word, _ in words)
        row = tuple(answer_chance(signature, item, focus) for _, item in words)
        whole = sum(row)
        return tuple(chance / whole for chance in row)

    return Answers(tuple(word for word, _ in words), range(len(case.signatures)), row_of)


WIDE = 3.0
"""Sigmas between two predictions that count as apart when outcomes are named."""


def _meter_answers(test: Test, case: FaultSearch) -> Answers:
    """Cut the scale half-way between the predictions that differ by more than their spread."""
    if test.point is None:
        raise ValueError("expected a meter test with its point")
    predicted = case.predictions(test.run, test.point, test.pair, dc=test.dc)
    batch = case.table.meter["batch_spread"] * 1.5
    # An interval counts by its middle, so that it does not join what lies within it.
    spans = sorted(
        ((item.low + item.high) / 2.0, item.spread + batch * item.common)
        for item in predicted.readings
        if item.low < inf
    )
    middles: list[float] = []
    for middle, sigma in spans:
        if not middles or middle - middles[-1] > WIDE * sigma:
            middles.append(middle)
    cuts = [(before + after) / 2.0 for before, after in pairwise(middles)]
    count = len(middles) + 1
    slip = case.table.meter["slip"]

    def row_of(number: int) -> Row:
        if number < 0:
            return tuple(1.0 / count for _ in range(count))
        reading = predicted.readings[number]
        if reading.low == inf:
            return (*(slip / count for _ in middles), 1.0 - slip * len(middles) / count)
        ends = reading.low, reading.high, reading.spread + batch * reading.common
        marks = [0.0, *(below(*ends, cut) for cut in cuts), 1.0]
        parts = [after - before for before, after in pairwise(marks)]
        return (*(part * (1.0 - slip) + slip / count for part in parts), slip / count)

    return Answers((*(f"about {middle:.1f} ohm" for middle in middles), "open"), predicted.of_fault, row_of)
