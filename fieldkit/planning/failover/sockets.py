"""Sockets: the connectors that could take a plug, each in every way that the channels behind it may be paired."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.rack import BuiltRack
from fieldkit.planning.failover.plugs import PairMode, Plug, channel_pairs, mode_of, with_modes
from fieldkit.rig.connect.connectors import shape_at
from fieldkit.rig.connect.lines import ShowIndex, connector_outputs, panel_outputs
from fieldkit.rig.connect.outputs import allows
from fieldkit.rig.failures import Failures
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import RackUnit, Run


class Junction(msgspec.Struct, frozen=True, eq=False):
    """Where a plug can join runs that go on playing: the link socket of their last box, or a Y-lead at their start."""

    beside: Plug
    """The plug of those runs, which has to stay where it is."""
    runs: tuple[Run, ...]
    """The runs that change."""
    box: str = ""
    """Whose link socket it is."""
    panel: str = ""
    """The model of the Y-lead."""
    own_socket: str = ""
    """The socket of the Y-lead that what plays goes into."""
    socket: str = ""
    """The socket of the Y-lead that is left for whoever comes."""


class Socket(msgspec.Struct, frozen=True, eq=False):
    """A connector of one unit, or of a rack's panel, with its pairs set in one way."""

    id: str
    shape: str
    pins: Mapping[str, str]
    """Pin pair -> output."""
    modes: tuple[tuple[str, str, PairMode], ...]
    """Unit, channel pair and mode, for each pair that the connector touches."""
    changes: tuple[tuple[str, str, PairMode], ...]
    """Those of them that are not so yet."""
    wired: frozenset[str] = frozenset()
    """Outputs on it that a rack as built has wired to its panel: they may be there, and nothing may use them."""
    junction: Junction | None = None


def sockets_of(rig: Rig, failures: Failures, plugs: Sequence[Plug]) -> list[Socket]:
    """List the connectors of all amplifiers that work, each in every way that its channels may be paired."""
    known = _Wiring(rig.show_index, _seen_shapes(rig, plugs), _wired_inside(rig.show_index))
    result: list[Socket] = []
    for unit in rig.show_index.units.values():
        model = rig.show_index.models[unit.model]
        if isinstance(model, Amplifier) and unit.id not in failures.units:
            for name in dict.fromkeys((*model.connectors, *model.connectors_bridged)):
                result += _of_connector(unit, model, name, known)
    for rack in rig.show_index.racks.values():
        built = rig.show_index.models.get(rack.as_built or "")
        for name in built.panel if isinstance(built, BuiltRack) else ():
            pins = panel_outputs(rack, name, rig.show_index)
            if any(output.partition(".")[0] not in failures.units for output in pins.values()):
                start = f"{rack.id}.{name}"
                result.append(Socket(start, shape_at(start, rig.show_index), pins, (), ()))
    return result


class _Wiring(msgspec.Struct, frozen=True):
    """What is known of the connectors of a show."""

    show_index: ShowIndex
    shapes: Mapping[tuple[str, str], str]
    """Model and the shape assumed for its sockets -> the shape seen by the plugs in them."""
    inside: Mapping[str, set[int]]
    """Unit of a rack as built -> its channels that are wired to the panel."""


def _of_connector(unit: RackUnit, model: Amplifier, name: str, known: _Wiring) -> Iterator[Socket]:
    show_index, shapes, inside = known.show_index, known.shapes, known.inside
    start = f"{unit.id}.{name}"
    guessed = shape_at(start, show_index)
    shape = shapes.get((model.id, guessed), guessed)
    listed = [*model.connectors.get(name, {}).values(), *model.connectors_bridged.get(name, {}).values()]
    touched = {int(part) for channels in listed for part in channels.split("+") if part.isdecimal()}
    within = inside.get(unit.id, set())
    if touched <= within or (touched & within and (unit.bridged or unit.paralleled)):
        return  # a rack as built has its own wires in there
    wired = frozenset(f"{unit.id}.{channel}" for channel in touched & within)
    pairs = channel_pairs(unit, model, touched)
    ways = [_modes_of(unit, model, pair) for pair in pairs]
    for chosen in product(*ways):
        modes = tuple((unit.id, pair, mode) for pair, mode in zip(pairs, chosen, strict=True))
        changes = tuple(item for item in modes if item[2] != mode_of(unit, item[1]))
        if changes and unit.id in inside:
            continue  # a rack as built stays as it was built
        pins = connector_outputs(with_modes(unit, changes), name, show_index)
        if pins:
            yield Socket(start, shape, pins, modes, changes, wired)


def _modes_of(unit: RackUnit, model: Amplifier, pair: str) -> tuple[PairMode, ...]:
    now = mode_of(unit, pair)
    able = any(
        pair in table.values() for table in (*model.connectors.values(), *model.connectors_bridged.values())
    ) and allows(model, "bridged")
    others: tuple[PairMode, ...] = ("single", "bridged") if able else ("single",)
    return (now, *(mode for mode in others if mode != now))


def _seen_shapes(rig: Rig, plugs: Sequence[Plug]) -> dict[tuple[str, str], str]:
    """Learn from the plugs that are in amplifiers of a model what its sockets look like."""
    seen: dict[tuple[str, str], str] = {}
    for plug in plugs:
        unit = rig.show_index.units.get(plug.start.partition(".")[0])
        if unit is not None and plug.shape:
            seen.setdefault((unit.model, shape_at(plug.start, rig.show_index)), plug.shape)
    return seen


def _wired_inside(show_index: ShowIndex) -> dict[str, set[int]]:
    """Say which channels of the units of racks as built are wired to the panel."""
    inside: dict[str, set[int]] = {}
    for rack in show_index.racks.values():
        built = show_index.models.get(rack.as_built or "")
        if not isinstance(built, BuiltRack):
            continue
        for number in range(1, len(built.contents) + 1):
            inside[f"{rack.id}-{number}"] = set()
        for socket in built.panel:
            for output in panel_outputs(rack, socket, show_index).values():
                unit, _, channels = output.partition(".")
                inside[unit].update(int(part) for part in channels.split("+"))
    return inside
