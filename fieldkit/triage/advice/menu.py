"""The tests that can be done in a case: what is asked, where, how long it takes, and what each fault would answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from math import inf

import msgspec

from fieldkit.triage.advice.safe_swaps import safe_partner
from fieldkit.triage.belief.search import FaultSearch
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
    box: str = ""
    """Of a swap: the box whose lead it is, where that is not the one with the symptom."""
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
    "tester": lambda test: test.kind == "polarity" and not test.what,
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
    focus: str = ""
    """The box with the symptom, where that is not the one that was asked about."""
    has_symptom: bool = True
    """Whether anything was found wrong at a box, which a swap could move."""

    def allow(self, test: Test, case: FaultSearch) -> bool:
        """Tell whether a test can be done."""
        if test.minutes > self.left_min or (self.running and test.kind not in SHOW_IS_ON):
            return False
        if any(MISSING[item](test) for item in self.without):
            return False
        if test.kind == "polarity" and test.what and "tester" not in self.without:
            return False  # a tester says it of one box, and needs no neighbour
        if test.kind == "swap" and (self.muted or not self.has_symptom):
            return False
        if self.muted and test.kind in {"listen", "polarity"}:
            boxes = (test.at, test.what) if test.kind == "polarity" and test.what else (test.at,)
            return not any(placed.output in self.muted for box in boxes for placed in case.bench.sections(box))
        return True


def menu(case: FaultSearch, means: Means | None = None) -> tuple[Test, ...]:
    """List the tests of a case that are safe and can be done."""
    means = means or Means()
    return tuple(test for test in _menu(case, means.focus or case.focus) if means.allow(test, case))


MANY_OUTPUTS = 6
"""Over so many outputs a look at the amplifiers answers for all of them together."""


def _menu(case: FaultSearch, focus: str) -> Iterator[Test]:
    minutes = case.table.minutes
    for output in case.outputs:
        name = output.output.id
        yield Test("lights", name, f"look at the lights of {name}", minutes["lights"])
    processors = [name for name, *_ in case.before.of("processor")]
    beside = f"; the same at {', '.join(processors)}" if processors else ""
    yield Test(
        "look",
        "amp",
        f"look at {_amplifiers(case)}: plugs home and in their sockets, mute, preset, input{beside}",
        minutes["look-amp"],
        outputs=(*case.output_names, *processors) if len(case.outputs) <= MANY_OUTPUTS else (),
    )
    for box in case.boxes:
        far = minutes["look-box"] * _reach(case, box)
        yield Test("listen", box, f"listen to {box}", minutes["listen"])
        yield Test("look", box, f"look at {box}: plugs home, switch, model, lead", far)
        yield Test("polarity", box, f"polarity tester at {box}", minutes["polarity"] * _reach(case, box))
    for box in case.witnesses:
        yield Test("listen", box, f"listen to {box} on another line, which hangs on the same", minutes["listen"])
    for run in case.runs:
        yield from _meter_tests(case, run)
    yield from _together(case, focus)
    if focus:
        yield from _swaps(case, focus)


def _amplifiers(case: FaultSearch) -> str:
    """Name the amplifiers of a case where they are few: which of a rack full it is."""
    names = list(dict.fromkeys(output.output.unit.id for output in case.outputs))
    return (
        f"the amplifier{'s' if len(names) > 1 else ''} {' and '.join(names)}"
        if 0 < len(names) < 3
        else "the amplifiers"
    )


MOST_TOGETHER = 3
"""So many boxes are held against each other by ear: a third one tells which of two it is."""


def _together(case: FaultSearch, focus: str) -> Iterator[Test]:
    """Hold two boxes on different outputs against each other, one of them inverted."""
    first = focus or (case.boxes[0] if case.boxes else "")
    boxes = [first, *(other for other in case.bench.beside.get(first, ()) if other in case.bench.places)]
    for one, other in combinations(boxes[:MOST_TOGETHER], 2):
        mine, its = ({placed.output for placed in case.bench.sections(box)} for box in (one, other))
        if mine and its and not mine & its:
            outputs = " and ".join(sorted(mine))
            says = f"mute all but {one} and {other}, quiet; invert {outputs} in its settings: how do they sound?"
            yield Test("polarity", one, says, case.table.minutes["listen"], what=other)


def _meter_tests(case: FaultSearch, run: str) -> Iterator[Test]:
    minutes = case.table.minutes
    single = len(case.runs) == 1
    for point in case.points[run]:
        box = point.name.rpartition(".")[0]
        time = minutes[{"amp": "meter-amp", "alone": "meter-alone"}.get(point.kind, "meter-box")]
        time *= _reach(case, box) if box in case.bench.places else 1.0
        name = point.name if single else f"{run}.{point.name}"
        # The hand at the rack pulls the plug by its label.
        at = f"into {case.plugs[run]} at amp" if point.kind == "amp" and run in case.plugs else f"at {name}"
        for pair in point.pairs:
            for dc in (True, False):
                more = 0.0 if dc else minutes["z1k-more"]
                kind = "DC ohms" if dc else "impedance at 1 kHz"
                says = f"{kind} {at}, pins {pair}+ and {pair}-, plug pulled"
                yield Test("meter", name, says, time + more, pair, dc, run, point)


def _swaps(case: FaultSearch, box: str) -> Iterator[Test]:
    minutes = case.table.minutes
    run, place = case.bench.places[box][0]
    partner = safe_partner(case.rig, run)
    if partner:
        says = f"exchange the plugs of {run} and {partner} at the amplifier (same presets and limiters)"
        yield Test("swap", run, says, minutes["swap-output"], what="output")
    stations = case.bench.circuits[run].stations
    for ahead in [index for index in range(place + 1) if stations[index].box][::-1][:MOST_SWAPPED]:
        yield from _pieces(case, run, ahead, box)
    reach = _reach(case, box)
    yield Test(
        "swap", box, f"a spare in place of {box}, same model and switch", minutes["swap-box"] * reach, what="box"
    )


MOST_SWAPPED = 4
"""Leads of so many boxes are worth changing one by one, from the box with the symptom toward the amplifier."""


def _pieces(case: FaultSearch, run: str, place: int, focus: str) -> Iterator[Test]:
    """Change what lies between a box and the box before it: all its leads together, and its adaptors."""
    circuit, minutes = case.bench.circuits[run], case.table.minutes["swap-cable"]
    box = circuit.stations[place].box
    start = max((index + 1 for index in range(place) if circuit.stations[index].box), default=0)
    segments = circuit.segments[start : place + 1]
    reach = _reach(case, box)
    for kind, what in (("cable", "cable"), ("adaptor", "adaptor")):
        names = [segment.name for segment in segments if segment.kind == kind]
        stays = sorted({SWAPS[segment.kind] for segment in segments if segment.kind not in {kind, "wiring"}})
        if names:
            good = f"known-good {'leads' if len(names) > 1 else 'lead'}" if what == "cable" else "a known-good adaptor"
            says = f"{good} in place of the {' and the '.join(names)}{''.join(f'; the {it} stays' for it in stays)}"
            elsewhere = "" if box == focus else box
            yield Test("swap", box, says, minutes * reach * len(names), what=what, box=elsewhere)


SWAPS = {"cable": "lead", "adaptor": "adaptor", "panel": "panel"}


def _reach(case: FaultSearch, box: str) -> float:
    found = case.rig.show_index.boxes.get(box)
    return case.table.reach[found.reach] if found else 1.0
