"""What a meter should read on a healthy line: DC ohms and impedance at 1 kHz, at every point one can meter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import inf
from operator import or_
from typing import Literal

import msgspec

from fieldkit.rig.connect.lines import Line, Load, loop_ohm
from fieldkit.rig.solve.impedances import at_dc, at_frequency, is_known
from fieldkit.rig.solve.ladder import Number, Rung, looking_in, node_load

ESTIMATE_LOW, ESTIMATE_HIGH = 0.70 / 0.75, 0.85 / 0.75
"""Band of an estimated DC resistance, 0.70 to 0.85 of the rated impedance: common practice, no source."""

DRIVER_SPREAD = 0.05
"""Spread of a known DC resistance from box to box and with the weather: common practice, no source."""

IMPEDANCE_SPREAD = 0.10
"""Spread of an impedance at 1 kHz, where inductance counts too: common practice, no source."""

METER_OHM = 0.1
"""Contacts, leads and the meter's last digit: common practice, no source."""

METER_HZ = 1000.0

Sees = Literal["onward", "from the box", "the box by itself"]
"""From a plug on a cable that is seen, from a box whose cable is not, and with the box's link pulled too."""


class Band(msgspec.Struct, frozen=True):
    """An expected reading and the range in which it is unremarkable [ohm]."""

    low: float
    value: float
    high: float


class Expected(msgspec.Struct, frozen=True):
    """What a meter should read at one point of a line."""

    at: str
    """``amp``, ``ML2.in``, ``ML2.out``, ``ML2.alone``, ``PANEL.out``."""
    dc: Band | None
    """None reads as open: nothing there, or only what sits behind a capacitor."""
    z1k: Band | None
    """None where the model does not allow a prediction."""
    assumed: bool
    """True where a DC resistance was estimated from the rated impedance."""


class Point(msgspec.Struct, frozen=True):
    """A place where a plug can be pulled, and what a meter sees of the line from there."""

    at: str
    piece: int
    """Index of the first piece that is seen; the number of pieces where none is."""
    sees: Sees


def expected_readings(line: Line, temperature_c: float) -> tuple[Expected, ...]:
    """List what every meter point of a line should read at a temperature [°C], from the amplifier outward.

    The line is walked once from its end for each kind of reading, however many points it has.
    """
    pieces, places = line.pieces, tuple(points(line))
    along = [loop_ohm(piece, temperature_c) for piece in pieces]
    dc, low, high = (
        _seen([Rung(ohm, tuple(map(of, piece.loads))) for ohm, piece in zip(along, pieces, strict=True)], places)
        for of in (at_dc, _at_dc_low, _at_dc_high)
    )
    # An impedance at 1 kHz is told only where every load that is seen has one.
    unknown = [not all(is_known(load.section) for load in piece.loads) for piece in pieces]
    z1k: list[complex | None] = [None] * len(places)
    if not all(unknown):
        rungs = [Rung(complex(ohm), tuple(map(_at_1k, piece.loads))) for ohm, piece in zip(along, pieces, strict=True)]
        z1k = _seen(rungs, places)
    assumed = [any(_is_assumed(load) for load in piece.loads) for piece in pieces]
    unknown_on, assumed_on = _onward(unknown), _onward(assumed)
    return tuple(
        Expected(
            at=point.at,
            dc=_dc_band(dc[number], low[number], high[number]),
            z1k=None if _of(point, unknown, unknown_on) else _z1k_band(z1k[number]),
            assumed=_of(point, assumed, assumed_on),
        )
        for number, point in enumerate(places)
    )


def points(line: Line) -> Iterator[Point]:
    """List the meter points of a line."""
    pieces = line.pieces
    yield Point("amp", 0, "onward")
    for index, piece in enumerate(pieces):
        if piece.kind == "panel":
            yield Point(f"{piece.model}.out", index + 1, "onward")
        if piece.box is not None:
            yield Point(f"{piece.box.id}.in", index, "from the box")
            if index + 1 < len(pieces):
                yield Point(f"{piece.box.id}.out", index + 1, "onward")
            yield Point(f"{piece.box.id}.alone", index, "the box by itself")


def _seen(rungs: Sequence[Rung[Number]], places: Sequence[Point]) -> list[Number | None]:
    """Compute what a meter sees at each place of a line [ohm], its rungs walked once from the end; None for nothing."""
    onward = looking_in(rungs)
    onward.append(None)  # behind the last one is nothing
    return [
        onward[place.piece]
        if place.sees == "onward"
        else node_load(rungs[place.piece], onward[place.piece + 1] if place.sees == "from the box" else None)
        for place in places
    ]


def _onward(flags: Sequence[bool]) -> list[bool]:
    """Tell of each piece whether it or one that follows has a flag; the last one, behind them all, has not."""
    return [*accumulate(reversed(flags), or_, initial=False)][::-1]


def _of(point: Point, flags: Sequence[bool], onward: Sequence[bool]) -> bool:
    return flags[point.piece] if point.sees == "the box by itself" else onward[point.piece]


def _dc_band(value: float | None, low: float | None, high: float | None) -> Band | None:
    if value is None or value == inf:
        return None
    return Band(max(0.0, (low or 0.0) - METER_OHM), value, (high or 0.0) + METER_OHM)


def _z1k_band(seen: complex | None) -> Band | None:
    if seen is None:
        return None
    value = abs(seen)
    low, high = value * (1.0 - IMPEDANCE_SPREAD), value * (1.0 + IMPEDANCE_SPREAD)
    return Band(max(0.0, low - METER_OHM), value, high + METER_OHM)


def _at_1k(load: Load) -> complex:
    return at_frequency(load, METER_HZ)


def _at_dc_low(load: Load) -> float:
    return at_dc(load) * (ESTIMATE_LOW if load.section.dc_resistance is None else 1.0 - DRIVER_SPREAD)


def _at_dc_high(load: Load) -> float:
    return at_dc(load) * (ESTIMATE_HIGH if load.section.dc_resistance is None else 1.0 + DRIVER_SPREAD)


def _is_assumed(load: Load) -> bool:
    return load.section.dc_resistance is None or load.speaker.assumed
