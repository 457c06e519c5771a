"""What can be wrong with a box: its drivers, its crossover, its switch, what it is, and whether it is there."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.rig.connect.lines import load_of
from fieldkit.rig.solve.impedances import at_dc, at_frequency, is_known
from fieldkit.rig.solve.meters import METER_HZ
from fieldkit.triage.model import edits
from fieldkit.triage.model.circuit import ESTIMATE_SPREAD, Circuit, Element, is_open
from fieldkit.triage.model.fault import Fault
from fieldkit.triage.model.hearing import Chances
from fieldkit.triage.model.odds import OddsTable

RUBBING = {"distorted": 0.6, "rattle": 0.3, "quiet": 0.03, "crackle": 0.07}
SHORTED_OHM = (0.1, 1.0)
"""What is left of a shorted driver: common practice, no source."""

BURNT_TIMES = (0.35, 0.7)
"""What is left of a coil whose turns are burnt together: common practice, no source."""

CONTACT_OHM = (0.6, 8.0)
"""A bad contact adds a few ohms: common practice, no source."""

WEAK_CONTACT = {"crackle": 0.35, "quiet": 0.25, "normal": 0.3, "distorted": 0.1}
HALF = {"quiet": 0.6, "normal": 0.4}

NO_WOOFER = {"no-low": 0.7, "silent": 0.3}
"""Of a passive box: some have one driver for all, and are silent without it."""

CANCELLED_DB = -25.0
"""What is left of a section whose two drivers work against each other: common practice, no source."""

BURNT = {"distorted": 0.35, "quiet": 0.35, "normal": 0.25, "rattle": 0.05}


def driver_faults(circuit: Circuit, index: int, table: OddsTable) -> Iterator[Fault]:
    """List what can be wrong with the drivers of a box, and with what stands before them."""
    station = circuit.stations[index]
    box = station.box

    def fault(kind: str, says: str, *changed: Circuit, ears: Chances | None = None, odds: str = "") -> Fault:
        return Fault(
            kind, box, says, "change-box", f"change the box {box} for a spare", "box",
            table.odds[odds or kind], circuit.run, changed, ears=((box, ears),) if ears else (), box=box, odds_of=odds,
        )  # fmt: skip

    names = [element.section for element in station.elements]
    for number, element in enumerate(station.elements):
        what = element.section
        if names.count(what) > 1:
            what = f"{what} (pair {element.plus[:-1]})"
        gone = edits.with_element(circuit, index, number, _like(element, inf, complex(inf)))
        touching = tuple(edits.with_element(circuit, index, number, _shorted(element, ohm)) for ohm in SHORTED_OHM)
        burnt = tuple(edits.with_element(circuit, index, number, _shrunk(element, left)) for left in BURNT_TIMES)
        worse = tuple(edits.with_element(circuit, index, number, _in_series(element, more)) for more in CONTACT_OHM)
        contact = f"a contact of the {what} section inside {box} is bad"
        yield fault("contact-inside", contact, *worse, ears=WEAK_CONTACT)
        turned = edits.element_reversed(circuit, index, number)
        yield fault("section-reversed", f"the {what} section is reversed inside {box}", turned)
        yield fault(
            "coil-burnt", f"a coil of the {what} section of {box} is burnt to a part of its turns", *burnt, ears=BURNT
        )
        double = edits.with_element(circuit, index, number, _like(element, element.dc_ohm * 2.0, element.z1k * 2.0))
        if element.section == "full":
            # A passive box: the meter sees its low driver, and the high one hides behind the crossover.
            yield fault("driver-open", f"the low driver of {box} is open", gone, ears=NO_WOOFER)
            yield fault("driver-shorted", f"the low driver of {box} is shorted", *touching, ears=NO_WOOFER)
            high = "high-driver-open"
            yield fault("driver-open", f"the high driver of {box} is open", circuit, ears={"no-high": 1.0}, odds=high)
            yield fault("crossover-low", f"the low leg of the crossover in {box} is open", gone, ears={"no-low": 1.0})
            yield fault(
                "crossover-high", f"the high leg of the crossover in {box} is open", circuit, ears={"no-high": 1.0}
            )
        else:
            odds = "high-driver-open" if element.section == "high" else ""
            yield fault("driver-open", f"the {what} driver of {box} is open", gone, odds=odds)
            yield fault("driver-shorted", f"the {what} driver of {box} is shorted", *touching)
            yield fault(
                "one-driver-of-two", f"one of two drivers in the {what} section of {box} is open", double, ears=HALF
            )
            turned_one = fault(
                "one-driver-reversed", f"one of two drivers in the {what} section of {box} is reversed", circuit
            )
            yield edits.replace(turned_one, weaker=(box, element.section, CANCELLED_DB))
    yield Fault(
        "driver-rubbing", box, f"a driver of {box} rubs", "change-box", f"change the box {box} for a spare", "box",
        table.odds["driver-rubbing"], circuit.run, (circuit,), ears=((box, RUBBING),), box=box,
    )  # fmt: skip


def _shorted(element: Element, ohm: float) -> Element:
    """Short a driver; a capacitor ahead of it still blocks direct current."""
    if is_open(element.dc_ohm):
        return _like(element, element.dc_ohm, complex(ohm, element.z1k.imag))
    return _like(element, min(element.dc_ohm, ohm), complex(ohm))


def _in_series(element: Element, more_ohm: float) -> Element:
    return _like(element, element.dc_ohm + more_ohm, element.z1k + more_ohm)


def _shrunk(element: Element, left: float) -> Element:
    """Leave a part of a coil; what stands before it stays."""
    if is_open(element.dc_ohm):
        return _like(element, element.dc_ohm, complex(element.z1k.real * left, element.z1k.imag))
    return _like(element, element.dc_ohm * left, element.z1k * left)


def _like(element: Element, dc_ohm: float, z1k: complex) -> Element:
    return edits.replace(element, dc_ohm=dc_ohm, z1k=z1k)


def box_faults(circuit: Circuit, index: int, table: OddsTable, others: tuple[Loudspeaker, ...]) -> Iterator[Fault]:
    """List what can be wrong with a box as a whole: missing, switched wrong, another model."""
    station = circuit.stations[index]
    box, speaker = station.box, station.elements[0].load.speaker
    yield Fault(
        "box-missing", box, f"{box} is not connected, and the line goes on without it", "connect-box",
        f"connect {box}", "box", table.odds["box-missing"],
        circuits=(edits.with_elements(circuit, index, ()),), ears=((box, {"silent": 1.0}),),
        run=circuit.run, seen_at=(box,), box=box,
    )  # fmt: skip
    drive = station.elements[0].load.drive
    for other in speaker.drives() if speaker.switch else ():
        if other in {drive, "self-powered"}:
            continue
        elements = tuple(_sections(circuit, index, speaker, other))
        yield Fault(
            "switch-wrong", box, f"the switch on {box} stands at {other} and not at {drive}", "set-switch",
            f"set the switch on {box} to {drive}", "box", table.odds["switch-wrong"],
            circuits=(edits.with_elements(circuit, index, elements),), ears=((box, {"no-high": 0.8, "quiet": 0.2}),),
            run=circuit.run, seen_at=(box,), box=box,
        )  # fmt: skip
    for model in others:
        elements = tuple(_sections(circuit, index, model, drive))
        if elements:
            yield Fault(
                "wrong-model", box, f"{box} is another model, '{model.id}'", "change-box",
                f"change the box {box} for a spare", "box", table.odds["wrong-model"] / len(others),
                circuits=(edits.with_elements(circuit, index, elements),),
                ears=((box, {"normal": 0.6, "quiet": 0.4}),), run=circuit.run, seen_at=(box,), box=box,
            )  # fmt: skip


def _sections(circuit: Circuit, index: int, speaker: Loudspeaker, drive: str) -> Iterator[Element]:
    """List the sections that another drive or model has on the pins of a box."""
    station = circuit.stations[index]
    first = station.elements[0]
    lines = {element.plus[:-1]: element.line for element in station.elements}
    for section in speaker.sections:
        pair = str(section.pair)
        if section.drive != drive or section.impedance is None:
            continue
        load = load_of(first.load.box, speaker, section.drive, section, first.load.zone_use)
        yield Element(
            f"{pair}+", f"{pair}-", lines.get(pair, first.line), section.section, at_dc(load),
            at_frequency(load, METER_HZ), load, 0.0 if section.dc_resistance else ESTIMATE_SPREAD, is_known(section),
        )  # fmt: skip
