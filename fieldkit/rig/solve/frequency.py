"""An output at a frequency: complex loads and volts, where rated impedance is not good enough."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, inf, log2
from typing import TypeAlias

import msgspec

from fieldkit.formulas.loads import parallel
from fieldkit.gear.loudspeaker import Section
from fieldkit.rig.connect.lines import Line, Load, loop_ohm
from fieldkit.rig.solve.impedances import at_frequency, is_known, section_at
from fieldkit.rig.solve.ladder import Rung, looking_in, node_volts
from fieldkit.rig.solve.solving import SolvedOutput


class BoxAt(msgspec.Struct, frozen=True, gc=False):
    """One section of one box at a frequency."""

    line: str
    box: str
    section: str
    impedance_ohm: complex
    share: complex
    """Volts at the box over volts at the output's terminals; its angle is the phase of the cable."""


class OutputAt(msgspec.Struct, frozen=True, gc=False):
    """An output and its boxes at a frequency."""

    frequency_hz: float
    load_ohm: complex | None
    """Seen from the terminals, cables included; None without a box."""
    boxes: tuple[BoxAt, ...]


def at(solved: SolvedOutput, frequency_hz: float, temperature_c: float) -> OutputAt:
    """Solve an output at a frequency above 0 Hz, with cables at a temperature in °C.

    A section whose model gives DC resistance and inductance counts as the complex impedance that follows from
    them (``formulas.impedance.section_impedance``), any other as its rated one.

    Raises ValueError for a frequency that is not above zero and finite.
    """
    if not 0.0 < frequency_hz < inf:
        raise ValueError(f"expected a frequency above 0 Hz, got {frequency_hz:g} Hz")
    loads, boxes = [], []
    for item in solved.lines:
        load, its = _line_at(item.line, frequency_hz, temperature_c)
        boxes.extend(its)
        if load is not None:
            loads.append(load)
    return OutputAt(frequency_hz, parallel(*loads) if loads else None, tuple(boxes))


def _line_at(line: Line, frequency_hz: float, temperature_c: float) -> tuple[complex | None, list[BoxAt]]:
    rungs = [
        Rung(complex(loop_ohm(piece, temperature_c)), tuple(at_frequency(load, frequency_hz) for load in piece.loads))
        for piece in line.pieces
    ]
    seen = looking_in(rungs)
    shares = node_volts(rungs, 1 + 0j, seen)
    boxes = [
        BoxAt(line.id, load.box.id, load.section.section, impedance, share)
        for piece, rung, share in zip(line.pieces, rungs, shares, strict=True)
        for load, impedance in zip(piece.loads, rung.across_ohm, strict=True)
    ]
    return (seen[0] if seen else None), boxes


STEPS_PER_OCTAVE = 12
LOWEST_HZ, HIGHEST_HZ = 20.0, 20_000.0
"""The band in which a load is looked at, where its section does not say which band it is rated for."""

_STEPS = range(ceil(STEPS_PER_OCTAVE * log2(HIGHEST_HZ / LOWEST_HZ)))
GRID_HZ = (*(LOWEST_HZ * 2.0 ** (step / STEPS_PER_OCTAVE) for step in _STEPS), HIGHEST_HZ)
FINER = 8
"""Steps to each side of the lowest point of the grid, each an eighth of the grid's."""


Ladder: TypeAlias = tuple[tuple[float, tuple[tuple[Section, float], ...]], ...]
"""One line as numbers: of each piece its loop resistance [ohm], and sections with their rated impedances [ohm]."""


class Lowest(msgspec.Struct, frozen=True, gc=False):
    """The lowest modulus that an output sees, cables included, and where."""

    ohm: float
    frequency_hz: float
    every: bool
    """False where some sections have no model of their impedance and count as rated at every frequency."""


def lowest_modulus(solved: SolvedOutput, temperature_c: float) -> Lowest | None:
    """Find the lowest modulus of an output's load in the band of its boxes, cables at a temperature in °C.

    None where no section on it has DC resistance and inductance in its model: the rated load is all that is known.
    """
    if not any(is_known(load.section) for load in solved.loads):
        return None
    ladders = tuple(
        tuple(
            (loop_ohm(piece, temperature_c), tuple((load.section, load.impedance_ohm) for load in piece.loads))
            for piece in item.line.pieces
        )
        for item in solved.lines
    )
    return _lowest(ladders)


@lru_cache(maxsize=4096)
def _lowest(ladders: tuple[Ladder, ...]) -> Lowest:
    """Look along the grid, then finer around its lowest point; outputs that are wired alike are looked at once."""
    sections = [section for ladder in ladders for _, its in ladder for section, _ in its]
    known = [section for section in sections if is_known(section)]
    low_hz = min(_band(section)[0] for section in known)
    high_hz = max(_band(section)[1] for section in known)
    best = _lowest_at([low_hz, *(hz for hz in GRID_HZ if low_hz < hz < high_hz), high_hz], ladders)
    step = 2.0 ** (1.0 / STEPS_PER_OCTAVE / FINER)
    around = [best[1] * step**number for number in range(-FINER, FINER + 1)]
    ohm, hz = min(best, _lowest_at([hz for hz in around if low_hz <= hz <= high_hz], ladders))
    return Lowest(ohm, hz, len(known) == len(sections))


def lowest_bound_ohm(loads: Sequence[Load]) -> float:
    """Find a bound that the modulus of these loads in parallel stays above at every frequency of their bands [ohm].

    Cables only add to it. It costs a look in a table, so that the whole curve is worked out only where it matters.
    """
    return parallel(*(_lowest_of(load.section, load.impedance_ohm) for load in loads))


@lru_cache(maxsize=1024)
def _lowest_of(section: Section, rated_ohm: float) -> float:
    if not is_known(section):
        return rated_ohm
    # Between two points of the grid the modulus falls a little further: where coil and capacitor cancel, by 4 % at
    # most while their reactances there are no more than five times the coil's resistance.
    return 0.95 * min(abs(section_at(section, rated_ohm, hz)) for hz in GRID_HZ)


def _band(section: Section) -> tuple[float, float]:
    low = section.low.value if section.low else LOWEST_HZ
    high = section.high.value if section.high else HIGHEST_HZ
    return (low, high) if 0.0 < low < high else (LOWEST_HZ, HIGHEST_HZ)


def _lowest_at(grid_hz: Sequence[float], ladders: Sequence[Ladder]) -> tuple[float, float]:
    alike = {(section, rated_ohm) for ladder in ladders for _, its in ladder for section, rated_ohm in its}
    best = (inf, inf)
    for hz in grid_hz:
        known = {key: section_at(*key, hz) for key in alike}
        seen = []
        for ladder in ladders:
            first = looking_in([Rung(complex(along), tuple(known[key] for key in its)) for along, its in ladder])
            if first and first[0] is not None:
                seen.append(first[0])
        if seen:
            best = min(best, (abs(parallel(*seen)), hz))
    return best
