"""Which output could put out what harms a driver under a fault: before anybody listens, it is muted.

A high or mid driver is harmed by a band that it is not meant for, whatever the watts: so a wrong wiring or a wrong
preset on its output counts. Any driver is harmed by a multiple of its rating.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.loudspeaker import FRAGILE
from fieldkit.triage.model.circuit import Circuit, Element
from fieldkit.triage.model.fault import Fault
from fieldkit.triage.model.hearing import Drives

HARMFUL_SHARE = 0.1
"""Share of an output's volts that harms where it does not belong, 20 dB less than the whole. Common practice."""

TIMES_RATED = 2.0
"""Times the continuous rating that count as harm: common practice, no source."""


Volts = Callable[[str], float]
"""The most that an output gives, by its id [V rms]."""


class Harm(msgspec.Struct, frozen=True, gc=False):
    """An output that could harm a driver, and how."""

    output: str
    says: str


def of_wiring(
    circuit: Circuit, drives: Drives, lines: Mapping[str, str], bands: Mapping[str, frozenset[str]], most_v: Volts
) -> Iterator[Harm]:
    """List the outputs of a changed run whose band would reach a driver that is not made for it.

    ``lines`` gives the line of each pin pair at the amplifier, ``bands`` the sections that each line is planned for.
    """
    feeds = {lines[pair]: output for pair, output in circuit.feeds if pair in lines}
    for index, station in enumerate(circuit.stations):
        for number, element in enumerate(station.elements):
            if element.section not in FRAGILE or not station.box:
                continue
            drive = drives.of(index, number)
            for line, share in (*drive.foreign, (element.line, abs(drive.own))):
                band, output = bands.get(line, frozenset()), feeds.get(line, "")
                if share > HARMFUL_SHARE and output and band and element.section not in band:
                    yield Harm(output, _band_says(station.box, element, band, share * most_v(output)))


def of_exchange(own: Circuit, other: Circuit, most_v: Volts) -> Iterator[Harm]:
    """List the outputs of two runs that stand in each other's sockets, where one would harm a driver of the other."""
    for fed, feeding in ((own, other), (other, own)):
        for pair, output in feeding.feeds:
            band = frozenset(_sections(feeding, pair))
            for box, element in _on(fed, pair):
                watts = most_v(output) ** 2 / element.load.impedance_ohm
                foreign = element.section in FRAGILE and bool(band) and element.section not in band
                if output and (foreign or watts > TIMES_RATED * element.load.continuous_w > 0.0):
                    yield Harm(output, _band_says(box, element, band, most_v(output)))
                    break


def of_preset(fault: Fault, circuits: Sequence[Circuit], most_v: Volts) -> Iterator[Harm]:
    """List the outputs whose preset may be another one, and that feed a driver which only bears its own band."""
    for output, state in fault.states:
        if state not in {"wrong preset", "wrong limits"}:
            continue
        for circuit in circuits:
            pairs = [pair for pair, name in circuit.feeds if name == output]
            fragile = [(box, each) for pair in pairs for box, each in _on(circuit, pair) if each.section in FRAGILE]
            if fragile:
                box, element = fragile[0]
                yield Harm(output, _band_says(box, element, frozenset(), most_v(output)))
                break


def _on(circuit: Circuit, pair: str) -> Iterator[tuple[str, Element]]:
    """List the sections that hang on a pin pair of the amplifier when all is well."""
    lines = {pair}
    for segment, station in zip(circuit.segments, circuit.stations, strict=True):
        lines = {wire.far[:-1] for wire in segment.wires if wire.near[:-1] in lines}
        for element in station.elements:
            if element.plus[:-1] in lines:
                yield station.box, element


def _sections(circuit: Circuit, pair: str) -> Iterator[str]:
    for _, element in _on(circuit, pair):
        yield element.section


def _band_says(box: str, element: Element, band: frozenset[str], volts: float) -> str:
    what = f"what is meant for {' and '.join(sorted(band))}" if band else "another band"
    watts = volts**2 / element.load.impedance_ohm
    rated = f", rated {element.load.continuous_w:.0f} W" if element.load.continuous_w else ""
    return f"up to {watts:.0f} W of {what} into the {element.section} driver of {box}{rated}"
