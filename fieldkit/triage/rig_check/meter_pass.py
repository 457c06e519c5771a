"""The rig check's meter pass: every line in walking order, what it should read, what it read, and the verdict."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import combinations
from typing import Literal

import msgspec

from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.meters import Band, Expected, expected_readings
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Reading
from fieldkit.show.keep.measured import Key, Measured, latest
from fieldkit.triage.model.circuit import Circuit, circuit_of
from fieldkit.triage.model.odds import Numbers, OddsTable
from fieldkit.triage.model.points import PlugPoint, labels, points, points_at
from fieldkit.triage.rig_check.progress import walking_order
from fieldkit.triage.rig_check.verdicts import NUMBERS, SIGMAS, Judge, Verdict, differs_from_before

NOTHING_THERE = 8.0
"""So many times the planned load is no load at all."""


def reported_band(output: SolvedOutput, meter: Numbers) -> Band | None:
    """Compute the load that the amplifier should report [ohm]; None for an output that drives nothing."""
    if output.load_ohm is None:
        return None
    wide = 1.0 + SIGMAS * meter["reported_spread"]
    return Band(output.load_ohm / wide, output.load_ohm, output.load_ohm * wide)


def reported_verdict(output: SolvedOutput, ohm: float | None, word: str, meter: Numbers) -> Verdict:
    """Judge a load that the amplifier reports [ohm], or a word for it."""
    band = reported_band(output, meter)
    boxes = list(dict.fromkeys(load.box.id for load in output.loads))
    if band is None:
        return Verdict(ok=None, says="no verdict: the plan drives nothing here")
    if word == "open" or (ohm is not None and ohm > NOTHING_THERE * band.value):
        return Verdict(ok=False, says="no load seen: some need signal to measure; else meter the line, plug pulled")
    if word == "short" or ohm is None:
        return Verdict(ok=False, says="a short: mute it, pull the plug at the amplifier, meter the line")
    if band.low <= ohm <= band.high:
        more = ""
        if len(boxes) > 1 and band.value * len(boxes) / (len(boxes) - 1) <= band.high:
            more = f"; it cannot tell {_said_of_load(len(boxes))} boxes from {_said_of_load(len(boxes) - 1)}"
        return Verdict(ok=True, says=f"as expected of what an amplifier can tell{more}")
    if ohm > band.high:
        left = max(1, round(len(boxes) * band.value / ohm))
        what = (
            f"about {_said_of_load(left)} of {_said_of_load(len(boxes))} boxes" if left < len(boxes) else "a high load"
        )
        return Verdict(ok=False, says=f"reads as {what}: meter the line, plug pulled")
    return Verdict(ok=False, says="reads low: more boxes than planned, or a short: mute, pull the plug, meter the line")


def _said_of_load(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


NOT_READ = "not read yet"


class Said(msgspec.Struct, frozen=True):
    """The latest reading of one kind at one point, and what it says."""

    reading: Reading
    verdict: Verdict
    before: float | None
    """What the same place read before, when that was well [ohm]."""
    change: str


class CheckedLine(msgspec.Struct, frozen=True):
    """One point of one line."""

    line: str
    at: str
    pair: str
    """As the pins are numbered there."""
    expected: Expected
    dc: Said | None
    z1k: Said | None
    load: Said | None = None
    """What the amplifier itself reports of the line's output; only at the amplifier."""
    reported: Band | None = None
    """What it should report; None elsewhere, and where nothing is driven."""
    exchanged: str = ""
    """The line that reads what this one should, and the reverse."""

    @property
    def all_said(self) -> tuple[Said, ...]:
        """The latest readings of every kind."""
        return tuple(item for item in (self.dc, self.z1k, self.load) if item is not None)

    @property
    def says(self) -> str:
        """The verdict in words."""
        parts = [
            (f"{item.verdict.says}; {item.change}" if item.change else item.verdict.says)
            for item in (self.dc, self.z1k)
            if item
        ]
        said = "; at 1 kHz: ".join(parts) if self.dc else f"at 1 kHz: {parts[0]}" if parts else ""
        if self.load is not None:
            told = f"the amplifier reports: {self.load.verdict.says}"
            said = f"{said}; {told}" if said else told
        if self.exchanged:
            said = f"reads what {self.exchanged} should, and the reverse: exchanged? {said}"
        return said or NOT_READ


def known_items(rig: Rig) -> dict[Key, Measured]:
    """Load the readings of single boxes at earlier shows; none where no box has a serial. Raises FileError."""
    return latest() if any(box.serial for box in rig.show.boxes) else {}


def entries(
    rig: Rig, table: OddsTable, runs: Collection[str] | None = None, known: Mapping[Key, Measured] | None = None
) -> Iterator[CheckedLine]:
    """List every point of every line in walking order, the amplifier's end first; of some runs where they are given.

    ``known`` is what single boxes read at earlier shows: a box alone is compared with that.
    """
    by_run: dict[str, list[Line]] = {}
    for line in rig.lines:
        if line.pieces:
            by_run.setdefault(line.run.id, []).append(line)
    readings: dict[tuple[str, str], list[Reading]] = {}
    for reading in rig.show.readings:
        readings.setdefault((reading.line, reading.at), []).append(reading)
    _under_points(rig, readings)
    outputs = {solved.line.id: output for output in rig.outputs for solved in output.lines}
    circuits: dict[str, tuple[Circuit, tuple[PlugPoint, ...]]] = {}
    for line in walking_order(rig):
        run = line.run.id
        if runs is not None and run not in runs:
            continue
        if run not in circuits:
            circuit = circuit_of(by_run[run], rig.conditions.temperature_c)
            circuits[run] = circuit, points(circuit, {one.pair: one.id for one in by_run[run]})
        circuit, places = circuits[run]
        for expected in expected_readings(line, rig.conditions.temperature_c):
            point = next((one for one in places if one.name == expected.at and line.id in one.lines), None)
            if point is None:
                continue
            pair = point.pairs[point.lines.index(line.id)]
            mine = readings.pop((line.id, expected.at), [])
            judge = Judge(circuit, point, pair, table.meter)
            last = [_of_item(rig, expected.at, pair, kind, known or {}) for kind in ("dc", "1khz")]
            yield CheckedLine(
                line.id,
                expected.at,
                pair,
                expected,
                _said(judge, [one for one in mine if one.kind == "dc"], table, last[0]),
                _said(judge, [one for one in mine if one.kind == "1khz"], table, last[1]),
                *_reported(expected.at, outputs.get(line.id), [one for one in mine if one.kind == "load"], table),
            )
    if runs is None:
        for (name, at), left in readings.items():
            yield _elsewhere(name, at, left)


def _under_points(rig: Rig, readings: dict[tuple[str, str], list[Reading]]) -> None:
    """Move what was read at the label of a cable end to the meter point that it is."""
    others = [key for key in readings if key[1] != "amp" and key[1].rpartition(".")[2] not in {"in", "out", "alone"}]
    known = labels(rig) if others else {}
    for line, at in others:
        for _, point in points_at(known.get(at), rig, [line.rpartition("/")[0]]):
            readings.setdefault((line, point), []).extend(readings.pop((line, at)))


def _elsewhere(line: str, at: str, readings: list[Reading]) -> CheckedLine:
    """Keep a reading in sight whose place the plan no longer has."""
    verdict = Verdict(ok=None, says="no verdict: the plan has no such line or place now")
    last = in_time(readings)[-1]
    said = Said(last, verdict, None, "")
    nothing = Expected(at=at, dc=None, z1k=None, assumed=False)
    dc, z1k, load = (said if last.kind == kind else None for kind in ("dc", "1khz", "load"))
    return CheckedLine(line, at, "", nothing, dc, z1k, load)


_LONG_AGO = dt.datetime.min.replace(tzinfo=dt.UTC)


def in_time(readings: list[Reading]) -> list[Reading]:
    """Sort readings by their time, those without one as they stand in the file, before all others."""
    return sorted(
        readings,
        key=lambda one: _moment(one.time),
    )


def _moment(time: dt.datetime | None) -> dt.datetime:
    if time is None:
        return _LONG_AGO
    return time if time.tzinfo else time.replace(tzinfo=dt.UTC)


def _reported(
    at: str, output: SolvedOutput | None, readings: list[Reading], table: OddsTable
) -> tuple[Said | None, Band | None]:
    """Judge the last load that an amplifier reported, and give what it should report."""
    if output is None or at != "amp":
        return None, None
    band = reported_band(output, table.meter)
    if not readings:
        return None, band
    last = in_time(readings)[-1]
    return Said(last, reported_verdict(output, last.value.ohm, last.value.word or "", table.meter), None, ""), band


def _of_item(rig: Rig, at: str, pair: str, kind: str, known: Mapping[Key, Measured]) -> Measured | None:
    """Find what the box at a point read by itself at an earlier show."""
    name, _, place = at.rpartition(".")
    box = rig.show_index.boxes.get(name) if place == "alone" and known else None
    return known.get((box.model or "", box.serial, pair, kind)) if box is not None and box.serial else None


def _said(judge: Judge, readings: list[Reading], table: OddsTable, item: Measured | None = None) -> Said | None:
    """Judge the last of some readings by those before it that were well; ``item`` is from an earlier show."""
    before: float | None = item.value.ohm if item is not None else None
    said = None
    for reading in in_time(readings):
        kind: Literal["dc", "1khz"] = "1khz" if reading.kind == "1khz" else "dc"
        verdict = judge.verdict(reading.value.ohm, reading.value.word or "", kind, warm=reading.warm, before=before)
        change = ""
        if before is not None and reading.value.ohm is not None:
            change = differs_from_before(reading.value.ohm, before, table.meter)
            if item is not None and before == item.value.ohm:
                change = f"{change or 'as last time'} ({item.says})"
        said = Said(reading, verdict, before, change)
        if reading.value.ohm is not None and verdict.ok is not False and not reading.warm:
            before = reading.value.ohm
    return said


def combined(found: Iterable[CheckedLine]) -> list[CheckedLine]:
    """Read lines together: of those that are exchanged each names the other."""
    listed = list(found)
    pairs = exchanged(listed)
    return [
        msgspec.structs.replace(one, exchanged=pairs[one.line]) if one.at == "amp" and one.line in pairs else one
        for one in listed
    ]


def exchanged(found: Iterable[CheckedLine]) -> dict[str, str]:
    """Pair up lines of which each reads at the amplifier what the other should: line and line.

    Two that changed together are one fault first.
    """
    wrong = [
        one
        for one in found
        if one.at == "amp"
        and one.dc is not None
        and one.dc.verdict.ok is False
        and one.dc.reading.value.ohm is not None
    ]
    pairs: dict[str, str] = {}
    for one, other in combinations(wrong, 2):
        alike = one.pair == other.pair and one.line not in pairs and other.line not in pairs
        if alike and _would_fit(one, other) and _would_fit(other, one):
            pairs[one.line], pairs[other.line] = other.line, one.line
    return pairs


def _would_fit(one: CheckedLine, other: CheckedLine) -> bool:
    """Tell whether what one line reads is what another should read."""
    ohm = one.dc.reading.value.ohm if one.dc else None
    band = other.expected.dc
    return ohm is not None and band is not None and band.low <= ohm <= band.high


def exchanged_with(rig: Rig, table: OddsTable, runs: Collection[str]) -> list[str]:
    """Name the runs that read as if they stood in the place of some runs."""
    if not rig.show.readings:
        return []
    pairs = exchanged(entries(rig, table))
    return [pairs[line].rpartition("/")[0] for line in pairs if line.rpartition("/")[0] in runs]
