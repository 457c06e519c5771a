"""What a meter should read on a healthy line: DC ohms and impedance at 1 kHz, at every point one can meter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import inf

import msgspec

from fieldkit.rig.connect.lines import Line, Load, Piece, loop_ohm
from fieldkit.rig.solve.impedances import at_dc, at_frequency, is_known
from fieldkit.rig.solve.ladder import Number, Rung, looking_in

ESTIMATE_LOW, ESTIMATE_HIGH = 0.70 / 0.75, 0.85 / 0.75
"""Band of an estimated DC resistance, 0.70 to 0.85 of the rated impedance: common practice, no source."""

DRIVER_SPREAD = 0.05
"""Spread of a known DC resistance from box to box and with the weather: common practice, no source."""

IMPEDANCE_SPREAD = 0.10
"""Spread of an impedance at 1 kHz, where inductance counts too: common practice, no source."""

METER_OHM = 0.1
"""Contacts, leads and the meter's last digit: common practice, no source."""

METER_HZ = 1000.0


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
    """A place where a plug can be pulled, and the pieces of the line that a meter sees from there."""

    at: str
    pieces: tuple[Piece, ...]
    at_box: bool
    """True where the first piece's own cable is not seen, since its plug is in the hand."""


def expected_readings(line: Line, temperature_c: float) -> tuple[Expected, ...]:
    """List what every meter point of a line should read at a temperature [°C], from the amplifier outward."""
    return tuple(_expected(point, temperature_c) for point in points(line))


def points(line: Line) -> Iterator[Point]:
    """List the meter points of a line."""
    pieces = line.pieces
    yield Point("amp", pieces, at_box=False)
    for index, piece in enumerate(pieces):
        onward = pieces[index + 1 :]
        if piece.kind == "panel":
            yield Point(f"{piece.model}.out", onward, at_box=False)
        if piece.box is not None:
            yield Point(f"{piece.box.id}.in", pieces[index:], at_box=True)
            if onward:
                yield Point(f"{piece.box.id}.out", onward, at_box=False)
            yield Point(f"{piece.box.id}.alone", (piece,), at_box=True)


def _expected(point: Point, temperature_c: float) -> Expected:
    loads = [load for piece in point.pieces for load in piece.loads]
    return Expected(
        at=point.at,
        dc=_dc_band(point, temperature_c),
        z1k=_z1k_band(point, temperature_c) if loads and all(is_known(load.section) for load in loads) else None,
        assumed=any(load.section.dc_resistance is None or load.speaker.assumed for load in loads),
    )


def _dc_band(point: Point, temperature_c: float) -> Band | None:
    value = _seen(point, temperature_c, float, at_dc)
    if value is None or value == inf:
        return None
    low = _seen(point, temperature_c, float, lambda load: at_dc(load) * _dc_spread(load)[0]) or 0.0
    high = _seen(point, temperature_c, float, lambda load: at_dc(load) * _dc_spread(load)[1]) or 0.0
    return Band(max(0.0, low - METER_OHM), value, high + METER_OHM)


def _z1k_band(point: Point, temperature_c: float) -> Band | None:
    seen = _seen(point, temperature_c, complex, lambda load: at_frequency(load, METER_HZ))
    if seen is None:
        return None
    value = abs(seen)
    low, high = value * (1.0 - IMPEDANCE_SPREAD), value * (1.0 + IMPEDANCE_SPREAD)
    return Band(max(0.0, low - METER_OHM), value, high + METER_OHM)


def _dc_spread(load: Load) -> tuple[float, float]:
    if load.section.dc_resistance is None:
        return ESTIMATE_LOW, ESTIMATE_HIGH
    return 1.0 - DRIVER_SPREAD, 1.0 + DRIVER_SPREAD


def _seen(
    point: Point, temperature_c: float, number: Callable[[float], Number], of: Callable[[Load], Number]
) -> Number | None:
    """Give what is seen into a point, with each section's impedance as ``of`` gives it; None for nothing."""
    rungs = [
        Rung(
            number(0.0 if point.at_box and index == 0 else loop_ohm(piece, temperature_c)),
            tuple(of(load) for load in piece.loads),
        )
        for index, piece in enumerate(point.pieces)
    ]
    return looking_in(rungs)[0] if rungs else None
