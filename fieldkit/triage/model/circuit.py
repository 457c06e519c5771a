"""A run as a circuit: every conductor of every piece, every section of every box. Faults are edits of it.

A run is a row of segments (a cable, an adaptor, a panel), each ending at a station, which may be a box. Conductors
are named by pin pair and side, ``1+`` and ``1-``, as they are numbered at that very place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf
from typing import Literal

import msgspec

from fieldkit.rig.connect.lines import Line, Load, Piece, loop_ohm
from fieldkit.rig.solve.impedances import at_dc, at_frequency, is_known
from fieldkit.rig.solve.meters import METER_HZ
from fieldkit.text.words import ordinal

End = Literal["near", "far"]

MINIMUM_WIRE_OHM = 1e-6
"""An adaptor without a stated resistance still has two nodes."""


class Wire(msgspec.Struct, frozen=True, gc=False):
    """One conductor of a segment."""

    near: str
    far: str
    ohm: float


class Bridge(msgspec.Struct, frozen=True, gc=False):
    """Two conductors that touch at one end of a segment."""

    end: End
    one: str
    other: str
    ohm: float = 0.01


class Segment(msgspec.Struct, frozen=True, gc=False):
    """A cable, adaptor, panel or wire inside a rack, with a plug at each end."""

    name: str
    """As a person would say it: ``the lead to ML2``."""
    kind: str
    model: str
    wires: tuple[Wire, ...]
    bridges: tuple[Bridge, ...] = ()
    near_home: bool = True
    """Whether the plug at the near end is in its socket and locked."""
    far_home: bool = True

    def wire(self, near: str) -> Wire | None:
        """Find the conductor that begins at a pin of the near end."""
        return next((wire for wire in self.wires if wire.near == near), None)


class Element(msgspec.Struct, frozen=True, gc=False):
    """One section of a box between two pins."""

    plus: str
    minus: str
    line: str
    """The line that feeds it when all is well."""
    section: str
    dc_ohm: float
    """inf behind a capacitor."""
    z1k: complex
    load: Load
    dc_guess: float = 0.0
    """Relative uncertainty of an estimated DC resistance; 0 where the model gives it."""
    z1k_known: bool = True


class Station(msgspec.Struct, frozen=True, gc=False):
    """Where a segment ends: a box, or a join."""

    box: str
    """Its id; empty for a join."""
    label: str
    """What stands there: the box, or the adaptor or panel."""
    panel: str
    """The panel that ends here; empty for anything else."""
    elements: tuple[Element, ...] = ()


class Circuit(msgspec.Struct, frozen=True, gc=False):
    """A run: ``stations[k]`` stands at the far end of ``segments[k]``."""

    run: str
    segments: tuple[Segment, ...]
    stations: tuple[Station, ...]
    feeds: tuple[tuple[str, str], ...]
    """Pin pair at the amplifier and the output that feeds it."""

    @property
    def boxes(self) -> tuple[str, ...]:
        """List the boxes of the run, from the amplifier outward."""
        return tuple(station.box for station in self.stations if station.box)


def plus(pair: str) -> str:
    """Name the plus pin of a pair."""
    return f"{pair}+"


def minus(pair: str) -> str:
    """Name the minus pin of a pair."""
    return f"{pair}-"


def circuit_of(lines: Sequence[Line], temperature_c: float) -> Circuit:
    """Build the circuit of a run from its lines, as planned and healthy; cables at a temperature [°C]."""
    run = lines[0].run
    steps: dict[int, list[tuple[Line, Piece]]] = {}
    for line in lines:
        for piece in line.pieces:
            steps.setdefault(piece.step, []).append((line, piece))
    segments, stations = [], []
    ahead = _names_ahead([steps[number][0][1] for number in sorted(steps)])
    for number, name in zip(sorted(steps), ahead, strict=True):
        through = steps[number]
        piece = through[0][1]
        wires = tuple(wire for _, one in through for wire in _wires(one, temperature_c))
        segments.append(Segment(name, piece.kind, piece.model, wires))
        elements = tuple(_element(line.id, one.pair_out, load) for line, one in through for load in one.loads)
        box = next((one.box.id for _, one in through if one.box), "")
        stations.append(Station(box, box or piece.model, piece.model if piece.kind == "panel" else "", elements))
    feeds = tuple((line.pair, line.output.id if line.output else "") for line in lines)
    return Circuit(run.id, tuple(segments), tuple(stations), feeds)


def _names_ahead(pieces: Sequence[Piece]) -> Iterator[str]:
    """Name each piece by what it is and the box that it leads to; of several the first is next to the amplifier."""
    last = next((piece.box.id for piece in reversed(pieces) if piece.box), "")
    for index, piece in enumerate(pieces):
        onward = next((later.box.id for later in pieces[index:] if later.box), last)
        word = {"cable": "lead", "adaptor": "adaptor", "panel": "panel", "wiring": "rack wiring"}[piece.kind]
        same = sum(1 for other in pieces[:index] if other.kind == piece.kind and _leads_to(pieces, other) == onward)
        many = sum(1 for other in pieces if other.kind == piece.kind and _leads_to(pieces, other) == onward) > 1
        which = f"{ordinal(same + 1)} {word}" if many else word
        yield f"{which} to {onward}" if onward else which


def _leads_to(pieces: Sequence[Piece], piece: Piece) -> str:
    index = next(number for number, other in enumerate(pieces) if other is piece)
    return next((later.box.id for later in pieces[index:] if later.box), "")


def _wires(piece: Piece, temperature_c: float) -> tuple[Wire, Wire]:
    each = max(loop_ohm(piece, temperature_c) / 2.0, MINIMUM_WIRE_OHM)
    return (
        Wire(plus(piece.pair_in), plus(piece.pair_out), each),
        Wire(minus(piece.pair_in), minus(piece.pair_out), each),
    )


ESTIMATE_SPREAD = 0.058
"""One sigma of a DC resistance that is estimated as 0.75 of the rated impedance: 0.70 to 0.85 taken as even
(a width of 0.2 of the estimate over √12). Common practice, no source."""


def _element(line: str, pair: str, load: Load) -> Element:
    return Element(
        plus=plus(pair),
        minus=minus(pair),
        line=line,
        section=load.section.section,
        dc_ohm=at_dc(load),
        z1k=at_frequency(load, METER_HZ),
        load=load,
        dc_guess=0.0 if load.section.dc_resistance is not None else ESTIMATE_SPREAD,
        z1k_known=is_known(load.section),
    )


def metered(element: Element, *, dc: bool) -> complex:
    """Return the resistance or impedance of a section for a meter of the kind [ohm]; inf where it sees none."""
    return element.dc_ohm if dc else element.z1k


def is_open(ohm: complex) -> bool:
    """Tell whether a resistance is no connection at all."""
    return abs(ohm) == inf
