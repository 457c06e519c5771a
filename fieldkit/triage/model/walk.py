"""What can be wrong with a run: walk it from plug to plug and edit each thing that one meets."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import inf

from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.rig.connect.lines import load_of
from fieldkit.rig.solve.impedances import at_dc, at_frequency, is_known
from fieldkit.rig.solve.meters import METER_HZ
from fieldkit.triage.model import edits
from fieldkit.triage.model.circuit import ESTIMATE_SPREAD, Circuit, Element, is_open
from fieldkit.triage.model.fault import Fault
from fieldkit.triage.model.odds import OddsTable

WORST_CONTACT_OHM, MINIMUM_CONTACT_OHM = 8.0, 0.6
"""A bad contact adds a few ohms: common practice, no source."""

CRACKLING = {"crackle": 0.4, "quiet": 0.25, "normal": 0.25, "distorted": 0.1}
COMES_AND_GOES = {"crackle": 0.5, "normal": 0.25, "silent": 0.15, "quiet": 0.1}
RUBBING = {"distorted": 0.85, "quiet": 0.05, "crackle": 0.1}
SHORTED_OHM = (0.1, 1.0)
"""What is left of a shorted driver: common practice, no source."""


def run_faults(circuit: Circuit, table: OddsTable, others: dict[str, tuple[Loudspeaker, ...]]) -> Iterator[Fault]:
    """List all faults of a run's leads, plugs and boxes; ``others`` gives models that could stand in for each box."""
    for index in range(len(circuit.segments)):
        yield from _segment_faults(circuit, index, table)
        yield from _plug_faults(circuit, index, table)
    for index, station in enumerate(circuit.stations):
        if station.box and station.elements:
            yield from _driver_faults(circuit, index, table)
            yield from _box_faults(circuit, index, table, others.get(station.box, ()))
    if any(station.box and station.elements for station in circuit.stations):
        yield Fault(
            "box-too-many",
            circuit.boxes[-1],
            f"there is one box too many on {circuit.run}",
            "unplug-box",
            f"unplug the box that the plan does not have from {circuit.run}",
            "box",
            table.odds["box-too-many"],
            circuit.run,
            (edits.one_more_box(circuit),),
            seen_at=(circuit.boxes[-1],),
            box=circuit.boxes[-1],
        )


def _box_after(circuit: Circuit, index: int) -> str:
    ahead = [station.box for station in circuit.stations[index:] if station.box]
    return ahead[0] if ahead else (circuit.boxes[-1] if circuit.boxes else "")


def _boxes_from(circuit: Circuit, index: int) -> tuple[str, ...]:
    return tuple(station.box for station in circuit.stations[index:] if station.box)


def _segment_faults(circuit: Circuit, index: int, table: OddsTable) -> Iterator[Fault]:
    segment = circuit.segments[index]
    share = table.kinds[segment.kind]
    box = _box_after(circuit, index)
    replace = f"replace the {segment.name}"
    pairs = {wire.near[:-1]: wire.far[:-1] for wire in segment.wires if wire.near.endswith("+")}

    def fault(kind: str, says: str, *circuits: Circuit, looks: bool = False, **more: object) -> Fault:
        return Fault(
            kind,
            segment.name,
            says,
            "replace-piece",
            replace,
            "cable",
            table.odds[kind] * share,
            circuit.run,
            circuits,
            seen_at=(box,) if looks else (),
            box=box,
            piece=segment.name,
            **more,  # type: ignore[arg-type]  # ears only
        )

    for pair, far in pairs.items():
        where = f"pair {pair} of the {segment.name}"
        yield fault(
            "conductor-open", f"a conductor in {where} is open", edits.conductor_open(circuit, index, f"{pair}+")
        )
        yield fault(
            "short",
            f"the conductors in {where} touch",
            edits.shorted(circuit, index, pair, "near"),
            edits.shorted(circuit, index, far, "far"),
        )
        after = tuple((name, CRACKLING) for name in _boxes_from(circuit, index))
        yield fault(
            "bad-contact",
            f"a contact in {where} is bad",
            edits.conductor_worse(circuit, index, f"{pair}+", MINIMUM_CONTACT_OHM),
            edits.conductor_worse(circuit, index, f"{pair}+", WORST_CONTACT_OHM),
            ears=after,
        )
        yield fault("reversed", f"plus and minus are exchanged in {where}", edits.reversed_pair(circuit, index, far))
    if len(pairs) > 1:
        cut = circuit
        for pair in pairs:
            cut = edits.conductor_open(cut, index, f"{pair}+")
        yield fault("lead-failed", f"nothing goes through the {segment.name}: several conductors are open", cut)
    after = tuple((name, COMES_AND_GOES) for name in _boxes_from(circuit, index))
    yield fault("loose-contact", f"a contact in the {segment.name} comes and goes", circuit, ears=after)
    listed = list(pairs)
    if len(listed) > 1 and segment.kind in {"cable", "adaptor"}:
        for one, other in pairwise(listed):
            names = f"pairs {one} and {other}"
            crossed = edits.pairs_crossed(circuit, index, pairs[one], pairs[other])
            yield fault("pairs-crossed", f"{names} are exchanged in the {segment.name}", crossed)
            mixed = edits.minus_wires_crossed(circuit, index, pairs[one], pairs[other])
            yield fault("minus-crossed", f"the minus wires of {names} are exchanged in the {segment.name}", mixed)
        if segment.kind == "cable":
            two = edits.only_pair(circuit, index, listed[0])
            yield fault("two-core", f"the {segment.name} has two cores where more are needed", two, looks=True)


def _plug_faults(circuit: Circuit, index: int, table: OddsTable) -> Iterator[Fault]:
    segment = circuit.segments[index]
    if segment.kind == "wiring":
        return
    before = circuit.stations[index - 1] if index else None
    after = circuit.stations[index]
    ends = [("near", _socket(circuit, index))] + ([("far", f"{after.label}.in")] if after.box or after.panel else [])
    if before is None or circuit.segments[index - 1].kind == "wiring":
        ends[0] = ("near", "amp")
    for end, place in ends:
        yield Fault(
            "not-home",
            place,
            f"the plug of the {segment.name} is not home at {place}",
            "lock-plug",
            f"push the plug of the {segment.name} home at {place} and lock it",
            "plug",
            table.odds["not-home"] * table.kinds[segment.kind],
            circuit.run,
            (edits.plug_not_home(circuit, index, "near" if end == "near" else "far"),),
            seen_at=(place.rpartition(".")[0] or place, _box_after(circuit, index)),
            box=_box_after(circuit, index),
            piece=segment.name,
        )


def _socket(circuit: Circuit, index: int) -> str:
    """Name the socket that the near plug of a segment goes into: a box's link, a panel's socket, or a join."""
    if not index:
        return "amp"
    before = circuit.stations[index - 1]
    return f"{before.label}.out" if before.box or before.panel else f"the {circuit.segments[index - 1].name}"


def _driver_faults(circuit: Circuit, index: int, table: OddsTable) -> Iterator[Fault]:
    station = circuit.stations[index]
    box = station.box

    def fault(kind: str, says: str, *changed: Circuit, word: str = "", odds: str = "") -> Fault:
        ears = ((box, {word: 1.0}),) if word else ()
        return Fault(
            kind, box, says, "change-box", f"change the box {box} for a spare", "box",
            table.odds[odds or kind], circuit.run, changed, ears=ears, box=box, odds_of=odds,
        )  # fmt: skip

    names = [element.section for element in station.elements]
    for number, element in enumerate(station.elements):
        what = element.section
        if names.count(what) > 1:
            what = f"{what} (pair {element.plus[:-1]})"
        gone = edits.with_element(circuit, index, number, _like(element, inf, complex(inf)))
        touching = tuple(edits.with_element(circuit, index, number, _shorted(element, ohm)) for ohm in SHORTED_OHM)
        double = edits.with_element(circuit, index, number, _like(element, element.dc_ohm * 2.0, element.z1k * 2.0))
        if element.section == "full":
            # A passive box: the meter sees its low driver, and the high one hides behind the crossover.
            yield fault("driver-open", f"the low driver of {box} is open", gone, word="no-low")
            yield fault("driver-shorted", f"the low driver of {box} is shorted", *touching, word="no-low")
            high = "high-driver-open"
            yield fault("driver-open", f"the high driver of {box} is open", circuit, word="no-high", odds=high)
            yield fault("crossover-low", f"the low leg of the crossover in {box} is open", gone, word="no-low")
            yield fault("crossover-high", f"the high leg of the crossover in {box} is open", circuit, word="no-high")
        else:
            odds = "high-driver-open" if element.section == "high" else ""
            yield fault("driver-open", f"the {what} driver of {box} is open", gone, odds=odds)
            yield fault("driver-shorted", f"the {what} driver of {box} is shorted", *touching)
            yield fault("one-driver-of-two", f"one of two drivers in the {what} section of {box} is open", double)
    yield Fault(
        "driver-rubbing", box, f"a driver of {box} rubs", "change-box", f"change the box {box} for a spare", "box",
        table.odds["driver-rubbing"], circuit.run, (circuit,), ears=((box, RUBBING),), box=box,
    )  # fmt: skip


def _shorted(element: Element, ohm: float) -> Element:
    """Short a driver; a capacitor ahead of it still blocks direct current."""
    if is_open(element.dc_ohm):
        return _like(element, element.dc_ohm, complex(ohm, element.z1k.imag))
    return _like(element, min(element.dc_ohm, ohm), complex(ohm))


def _like(element: Element, dc_ohm: float, z1k: complex) -> Element:
    return edits.replace(element, dc_ohm=dc_ohm, z1k=z1k)


def _box_faults(circuit: Circuit, index: int, table: OddsTable, others: tuple[Loudspeaker, ...]) -> Iterator[Fault]:
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
    """Give what another drive or model puts on the pins of a box."""
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
