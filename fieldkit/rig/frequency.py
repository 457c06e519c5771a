"""An output at a frequency: complex loads and volts, where rated impedance is not good enough."""

from __future__ import annotations

from math import inf

import msgspec

from fieldkit.formulas.loads import parallel
from fieldkit.rig.impedances import at_frequency
from fieldkit.rig.ladder import Rung, looking_in, node_volts
from fieldkit.rig.lines import Line, loop_ohm
from fieldkit.rig.solving import SolvedOutput


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
