"""What can be wrong with a run: walk it from plug to plug and edit each thing that one meets."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.triage.model import edits
from fieldkit.triage.model.circuit import Circuit
from fieldkit.triage.model.fault import Fault
from fieldkit.triage.model.inside import box_faults, driver_faults
from fieldkit.triage.model.odds import OddsTable

WORST_CONTACT_OHM, MINIMUM_CONTACT_OHM = 8.0, 0.6
"""A bad contact adds a few ohms: common practice, no source."""

CRACKLING = {"crackle": 0.4, "quiet": 0.25, "normal": 0.25, "distorted": 0.1}
COMES_AND_GOES = {"crackle": 0.5, "normal": 0.25, "silent": 0.15, "quiet": 0.1}


def run_faults(circuit: Circuit, table: OddsTable, others: dict[str, tuple[Loudspeaker, ...]]) -> Iterator[Fault]:
    """List all faults of a run's leads, plugs and boxes; ``others`` gives models that could stand in for each box."""
    for index in range(len(circuit.segments)):
        yield from _segment_faults(circuit, index, table)
        yield from _plug_faults(circuit, index, table)
    for index, station in enumerate(circuit.stations):
        if station.box and station.elements:
            yield from driver_faults(circuit, index, table)
            yield from box_faults(circuit, index, table, others.get(station.box, ()))
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
            "cable" if segment.kind == "cable" else "adaptor",
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
            hot = edits.plus_wires_crossed(circuit, index, pairs[one], pairs[other])
            yield fault("plus-crossed", f"the plus wires of {names} are exchanged in the {segment.name}", hot)
            for fed in (one, other) if segment.kind == "adaptor" else ():
                joined = edits.fed_from_one(circuit, index, fed, pairs[one], pairs[other])
                yield fault("pairs-joined", f"the {segment.name} feeds {names} both from pair {fed}", joined)
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
