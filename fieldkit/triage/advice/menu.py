"""The tests that can be done in a case: what is asked, where, how long it takes, and what each fault would answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import inf

import msgspec

from fieldkit.triage.advice.safe_swaps import safe_partner
from fieldkit.triage.belief.likelihood import answer_chance, below
from fieldkit.triage.belief.observations import (
    POLARITIES,
    Ear,
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
from fieldkit.triage.model.points import PlugPoint


class Test(msgspec.Struct, frozen=True):
    """A test that somebody can do."""

    kind: str
    """``listen``, ``lights``, ``look``, ``meter``, ``swap``, ``polarity``."""
    at: str
    says: str
    minutes: float
    pair: str = ""
    dc: bool = True
    run: str = ""
    point: PlugPoint | None = None
    what: str = ""
    outputs: tuple[str, ...] = ()
    """Of a look at the amplifier: the outputs whose settings are looked at one by one."""

    @property
    def meter(self) -> str:
        """The kind of meter, as a reading names it; empty for other tests."""
        return "" if self.kind != "meter" else "dc" if self.dc else "1khz"

    @property
    def key(self) -> tuple[str, str, str, bool, str]:
        """What makes it the same test as another."""
        return self.kind, self.at, self.pair, self.dc, self.what


SHOW_IS_ON = {"listen", "lights", "look"}
"""What can be done while the show is running: nothing is pulled that plays, and no test signal."""


MISSING: dict[str, Callable[[Test], bool]] = {
    "meter": lambda test: test.kind == "meter",
    "1khz": lambda test: test.kind == "meter" and not test.dc,
    "tester": lambda test: test.kind == "polarity",
    "spares": lambda test: test.kind == "swap" and test.what != "output",
    "help": lambda test: test.kind == "swap" and test.what == "box",
}
"""What may be missing, and which tests cannot be done then; without help one is alone, and carries no box."""


class Means(msgspec.Struct, frozen=True):
    """What can be done here and now."""

    running: bool = False
    """Whether the show is on."""
    left_min: float = inf
    """Until the doors [min]."""
    muted: frozenset[str] = frozenset()
    """Outputs that stay muted, since they could harm a driver: what they feed is not listened to."""
    without: frozenset[str] = frozenset()
    """What there is not, of ``MISSING``."""
    has_symptom: bool = True
    """Whether anything was found wrong at a box, which a swap could move."""

    def allow(self, test: Test, case: FaultSearch) -> bool:
        """Tell whether a test can be done."""
        if test.minutes > self.left_min or (self.running and test.kind not in SHOW_IS_ON):
            return False
        if any(MISSING[item](test) for item in self.without):
            return False
        if test.kind == "swap" and (self.muted or not self.has_symptom):
            return False
        if self.muted and test.kind in {"listen", "polarity"}:
            return not any(placed.output in self.muted for placed in case.bench.sections(test.at))
        return True


def menu(case: FaultSearch, means: Means | None = None) -> tuple[Test, ...]:
    """List the tests of a case that are safe and can be done."""
    means = means or Means()
    return tuple(test for test in _menu(case) if means.allow(test, case))


MANY_OUTPUTS = 6
"""Over so many outputs a look at the amplifiers answers for all of them together."""


def _menu(case: FaultSearch) -> Iterator[Test]:
    minutes = case.table.minutes
    for output in case.outputs:
        name = output.output.id
        yield Test("lights", name, f"look at the lights of {name}", minutes["lights"])
    yield Test(
        "look",
        "amp",
        "look at the amplifier: plugs home and in their sockets, mute, preset, input",
        minutes["look-amp"],
        outputs=tuple(case.output_names) if len(case.outputs) <= MANY_OUTPUTS else (),
    )
    for box in case.boxes:
        far = minutes["look-box"] * _reach(case, box)
        yield Test("listen", box, f"listen to {box}", minutes["listen"])
        yield Test("look", box, f"look at {box}: plugs home, switch, model, lead", far)
        yield Test("polarity", box, f"polarity tester at {box}", minutes["polarity"] * _reach(case, box))
    for run in case.runs:
        yield from _meter_tests(case, run)
    if case.focus:
        yield from _swaps(case)


def _meter_tests(case: FaultSearch, run: str) -> Iterator[Test]:
    minutes = case.table.minutes
    single = len(case.runs) == 1
    for point in case.points[run]:
        box = point.name.rpartition(".")[0]
        time = minutes[{"amp": "meter-amp", "alone": "meter-alone"}.get(point.kind, "meter-box")]
        time *= _reach(case, box) if box in case.bench.places else 1.0
        name = point.name if single else f"{run}.{point.name}"
        for pair in point.pairs:
            for dc in (True, False):
                more = 0.0 if dc else minutes["z1k-more"]
                kind = "DC ohms" if dc else "impedance at 1 kHz"
                says = f"{kind} at {name}, pins {pair}+ and {pair}-, plug pulled"
                yield Test("meter", name, says, time + more, pair, dc, run, point)


def _swaps(case: FaultSearch) -> Iterator[Test]:
    minutes, box = case.table.minutes, case.focus
    run = case.bench.places[box][0][0]
    reach = _reach(case, box)
    partner = safe_partner(case.rig, run)
    if partner:
        says = f"exchange the plugs of {run} and {partner} at the amplifier (same presets and limiters)"
        yield Test("swap", run, says, minutes["swap-output"], what="output")
    steps = [segment.kind for segment in case.bench.circuits[run].segments[: case.bench.places[box][0][1] + 1]]
    beside = [kind for kind in steps if kind == "adaptor"]
    stays = "; the adaptor stays" if beside else ""
    says = f"a known-good lead in place of the one to {box}{stays}"
    yield Test("swap", box, says, minutes["swap-cable"] * reach, what="cable")
    if beside:
        says = f"a known-good adaptor in place of the one to {box}"
        yield Test("swap", box, says, minutes["swap-cable"] * reach, what="adaptor")
    yield Test(
        "swap", box, f"a spare in place of {box}, same model and switch", minutes["swap-box"] * reach, what="box"
    )


def _reach(case: FaultSearch, box: str) -> float:
    found = case.rig.show_index.boxes.get(box)
    return case.table.reach[found.reach] if found else 1.0


def done_by(item: Observation, case: FaultSearch) -> tuple[str, str, str, bool, str]:
    """Return the key of the test that an observation answers."""
    if isinstance(item, Metered):
        run, point, pair = case.point(item.point, item.pair)
        name = point.name if len(case.runs) == 1 else f"{run}.{point.name}"
        return "meter", name, pair, item.kind == "dc", ""
    if isinstance(item, SwapSeen):
        box = case.focus or (case.boxes[0] if case.boxes else "")
        run = case.bench.places[box][0][0] if box else ""
        return "swap", run if item.what == "output" else box, "", True, item.what
    if isinstance(item, Light):
        return "lights", item.output, "", True, ""
    if isinstance(item, Tried):
        return "tried", item.fix, "", True, ""
    if isinstance(item, Look):
        return "look", "amp" if item.place in case.output_names else item.place, "", True, ""
    if isinstance(item, Played):
        return "noise", item.output, "", True, ""
    return "listen" if isinstance(item, Ear) else "polarity", item.box, "", True, ""


def answers(test: Test) -> tuple[tuple[str, Observation], ...]:
    """List the answers of a test that is answered in words."""
    if test.kind == "listen":
        return tuple((word, Ear(test.at, word)) for word in HEARD)
    if test.kind == "lights":
        return tuple((word, Light(test.at, word)) for word in LIGHTS)
    if test.kind == "polarity":
        return tuple((word, Polarity(test.at, word)) for word in POLARITIES)  # type: ignore[arg-type]  # its words
    if test.kind == "look":
        found = [(word, Look(test.at, word)) for word in LOOKED if not test.outputs or word not in SETTINGS]
        return (
            *found,
            *((f"{word} of {name}", Look(name, word)) for name in test.outputs for word in sorted(SETTINGS)),
        )
    return ("moved", SwapSeen(test.what, moved=True)), ("stayed", SwapSeen(test.what, moved=False))  # type: ignore[arg-type]


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
