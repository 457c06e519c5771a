"""The signal's way: desk, processor, amplifier input, output; and every signal cable with a label at each end.

A unit's ``inputs`` say what feeds it, its ``ways`` what the signal goes through, a processor's ``routes`` which
inputs feed an output. What is not planned is left open.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from itertools import chain, pairwise
from typing import Literal

import msgspec

from fieldkit.gear.cabling import Adaptor
from fieldkit.gear.processor import Processor
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.signal.basis import Basis, bases
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Box, RackUnit

CableKind = Literal["signal cable", "link", "inside the rack"]


class SignalCable(msgspec.Struct, frozen=True, gc=False):
    """One signal cable, or a link from one input to the next."""

    id: str
    """Its label, by rule: the input that it ends in, ``A1.in1``, with ``/1`` and so on where it has several legs."""
    kind: CableKind
    signal: str
    """What it carries: a signal's name, a processor output, or what the linked input carries."""
    start: str
    """Where it comes from: ``desk Out 1``, ``DP output 3``, ``A1 input 1``, ``multicore 3``."""
    end: str
    balanced: bool
    shares: int
    """How many cables start at the same socket: over one it takes a split, or a loop through another input."""


class SignalPath(msgspec.Struct, frozen=True, gc=False):
    """How a signal gets to an output of an amplifier, or to a self-powered box."""

    to: str
    """An output such as ``SR-1.3``, or the label of a self-powered box."""
    input: str
    """The input that it goes in at: ``SR-1 input 3``; empty for a self-powered box."""
    stations: tuple[str, ...]
    """Desk, processor input, processor output, amplifier inputs and links, output; as far as they are planned."""
    signals: tuple[str, ...]
    """What arrives; empty where it is not planned."""
    processor: str
    """The processor output on the way, ``DP.6``; empty where there is none."""
    wanted: tuple[str, ...]
    """Signals that the zones of its boxes are to be fed with."""


def amplifier_paths(rig: Rig) -> tuple[tuple[SignalPath, ...], ...]:
    """Follow the signal to each output that drives a box, by amplifier: those of ``bases``, in that order."""
    return rig.memory.each("signal paths", bases(rig), partial(_paths_of, rig))


def box_paths(rig: Rig) -> tuple[SignalPath, ...]:
    """Follow the signal to each self-powered box."""
    found = []
    for box in rig.show.boxes:
        if box.input:
            stations, signals, processor = _source(rig, box.input)
            found.append(SignalPath(box.id, "", (*stations, box.id), signals, processor, _wanted(rig, [box])))
    return tuple(found)


def _signal_paths(rig: Rig) -> tuple[SignalPath, ...]:
    return (*chain.from_iterable(amplifier_paths(rig)), *box_paths(rig))


def _paths_of(rig: Rig, basis: Basis) -> tuple[SignalPath, ...]:
    found = []
    for output in basis.outputs:
        if output.loads:
            unit = output.output.unit
            stations, signals, processor = _back_from(rig, unit, str(output.output.channels[0]))
            wanted = _wanted(rig, [load.box for load in output.loads])
            entry = f"{unit.id} input {output.output.channels[0]}"
            way = (*stations, f"{output.output.id}")
            found.append(SignalPath(output.output.id, entry, way, signals, processor, wanted))
    return tuple(found)


def routed_inputs(unit: RackUnit, output: str) -> tuple[str, ...]:
    """List the inputs of a processor that feed one of its outputs; none where that is not planned."""
    text = unit.routes.get(output, "")
    return tuple(part.strip() for part in text.split("+")) if text else ()


def signal_cables(rig: Rig) -> tuple[SignalCable, ...]:
    """List every signal cable of the patch: desk to processor, processor to amplifier, links, and what is between.

    What goes the same way for a while, as to a multicore that ends in a split, is one cable there.
    """
    cables = [cable for unit in rig.show_index.units.values() for cable in _cables_into(rig, unit)]
    for box in rig.show.boxes:
        if box.input:
            start = _socket(rig, box.input)
            cables.append(SignalCable(f"{box.id}.in", "signal cable", box.input, start, box.id, True, 1))
    once: dict[tuple[str, str], SignalCable] = {}
    for cable in cables:
        once.setdefault((cable.start, cable.end), cable)
    cables = list(once.values())
    counts: dict[str, int] = {}
    for cable in cables:
        if cable.kind == "signal cable":
            counts[cable.start] = counts.get(cable.start, 0) + 1
    return tuple(
        msgspec.structs.replace(cable, shares=counts[cable.start]) if cable.kind == "signal cable" else cable
        for cable in cables
    )


def _cables_into(rig: Rig, unit: RackUnit) -> Iterator[SignalCable]:
    prewired = _prewired(rig, unit)
    for name in sorted(unit.inputs, key=lambda name: (len(name), name)):
        source = unit.inputs[name]
        label, end = f"{unit.id}.in{name}", f"{unit.id} input {name}"
        balanced = name not in unit.unbalanced_inputs
        if source.startswith("="):
            start = f"{unit.id} input {source[1:]}"
            kind: CableKind = "inside the rack" if prewired.get(name) == source else "link"
            yield SignalCable(label, kind, _carried(unit, source), start, end, balanced, 1)
            continue
        kind = "inside the rack" if prewired.get(name) == source else "signal cable"
        places = [_socket(rig, source), *_stops(rig, unit, name, end)]
        for leg, (start, stop) in enumerate(pairwise(places), start=1):
            its = label if len(places) == 2 else f"{label}/{leg}"
            yield SignalCable(its, kind, source, start, stop, balanced, 1)


def way_pieces(unit: RackUnit, name: str) -> list[str]:
    """List what the signal of an input goes through, in the signal's order."""
    return [part.strip() for part in unit.ways.get(name, "").split(">") if part.strip()]


def adaptors_on_ways(rig: Rig) -> Iterator[str]:
    """List the model of every adaptor that a signal goes through: a piece of a way that is called like one."""
    for unit in rig.show_index.units.values():
        for name in unit.ways:
            for piece in way_pieces(unit, name):
                if isinstance(rig.show_index.models.get(piece), Adaptor):
                    yield piece


def _stops(rig: Rig, unit: RackUnit, name: str, end: str) -> Iterator[str]:
    """List where the cables to an input end; an adaptor has no cable behind it, it sits in the next place."""
    through = ""
    for piece in (*way_pieces(unit, name), end):
        if piece != end and isinstance(rig.show_index.models.get(piece), Adaptor):
            through += f" by {piece}"
        else:
            yield f"{piece}{through}"
            through = ""


def _prewired(rig: Rig, unit: RackUnit) -> dict[str, str]:
    """List the inputs that a rack as built brings wired."""
    rack = rig.show_index.racks.get(unit.rack or "")
    built = rig.show_index.models.get(rack.as_built or "") if rack is not None else None
    number = unit.id.removeprefix(f"{unit.rack}-")
    if not isinstance(built, BuiltRack) or not number.isdecimal() or not 1 <= int(number) <= len(built.contents):
        return {}
    return dict(built.contents[int(number) - 1].inputs)


def _carried(unit: RackUnit, source: str) -> str:
    """Follow links between inputs to what they carry."""
    for _ in range(len(unit.inputs)):
        if not source.startswith("="):
            return source
        source = unit.inputs.get(source[1:], "")
    return source


def _socket(rig: Rig, source: str) -> str:
    """Name the socket that a source comes out of."""
    unit, dot, number = source.partition(".")
    if dot and unit in rig.show_index.units:
        return f"{unit} output {number}"
    at = rig.show.about.desk_outputs.get(source, "")
    return f"desk {at} ({source})" if at and at != source else f"desk {source}"


def _back_from(rig: Rig, unit: RackUnit, name: str) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    """Follow an input back to the desk: stations in the signal's order, signals, the processor output."""
    here = [f"{unit.id} input {name}"]
    source = unit.inputs.get(name, "")
    for _ in range(len(unit.inputs)):
        if not source.startswith("="):
            break
        here.insert(0, f"{unit.id} input {source[1:]}")
        source = unit.inputs.get(source[1:], "")
    stations, signals, processor = _source(rig, source)
    return (*stations, *here), signals, processor


def _source(rig: Rig, source: str) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    """Follow a signal or a processor output back to the desk; processors may stand one behind the other."""
    if not source or source.startswith("="):
        return (), (), ""
    name, dot, number = source.partition(".")
    unit = rig.show_index.units.get(name) if dot else None
    if unit is None or not isinstance(rig.show_index.models.get(unit.model), Processor):
        return (_socket(rig, source),), (sent_signal(source) or source,), ""
    stations: list[str] = []
    signals: list[str] = []
    for entry in routed_inputs(unit, number):
        way, arriving, _ = _back_from(rig, unit, entry)
        stations += way
        signals += arriving
    return (*stations, f"{name} output {number}"), tuple(dict.fromkeys(signals)), source


def _wanted(rig: Rig, boxes: Iterable[Box]) -> tuple[str, ...]:
    wanted = [rig.show_index.zones[box.zone].signals.get(box.side, "") for box in boxes]
    return tuple(dict.fromkeys(sent_signal(signal) or signal for signal in wanted if signal))


FOR_SUBS = " for subs"
"""What the name of an output of the desk ends in that carries the low end of a signal to subs alone."""


def own_send(signal: str) -> str:
    """Name the output of the desk that carries the low end of a signal to subs alone."""
    return f"{signal}{FOR_SUBS}"


def sent_signal(source: str) -> str:
    """Name the signal whose low end an output of the desk carries to subs alone; empty for any other source."""
    return source.removesuffix(FOR_SUBS) if source.endswith(FOR_SUBS) else ""


signal_paths = Derived[tuple[SignalPath, ...]](_signal_paths)
"""Follow the signal to each output that drives a box, and to each self-powered box."""
