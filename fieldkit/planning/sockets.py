"""Sockets: every connector that a plug could go into, with what its pins carry as the unit may be set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Literal

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.rack import BuiltRack
from fieldkit.planning.plugs import Plug, connector_shape
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.lines import Ground, connector_outputs, panel_outputs
from fieldkit.rig.losses import Losses
from fieldkit.rig.outputs import allows
from fieldkit.show.document import RackUnit

PairMode = Literal["single", "bridged", "paralleled"]


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


def sockets_of(rig: Rig, losses: Losses, plugs: Sequence[Plug]) -> list[Socket]:
    """List the connectors of all amplifiers that work, each in every way that its channels may be paired."""
    shapes = _seen_shapes(rig, plugs)
    inside = _wired_inside(rig.ground)
    result: list[Socket] = []
    for unit in rig.ground.units.values():
        model = rig.ground.models[unit.model]
        if isinstance(model, Amplifier) and unit.id not in losses.units:
            for name in dict.fromkeys((*model.connectors, *model.connectors_bridged)):
                result += _of_connector(unit, model, name, rig.ground, shapes, inside)
    for rack in rig.ground.racks.values():
        built = rig.ground.models.get(rack.as_built or "")
        for name in built.panel if isinstance(built, BuiltRack) else ():
            pins = panel_outputs(rack, name, rig.ground)
            if any(output.partition(".")[0] not in losses.units for output in pins.values()):
                start = f"{rack.id}.{name}"
                result.append(Socket(start, connector_shape(start, rig.ground), pins, (), ()))
    return result


def _of_connector(
    unit: RackUnit,
    model: Amplifier,
    name: str,
    ground: Ground,
    shapes: Mapping[tuple[str, str], str],
    inside: Mapping[str, set[int]],
) -> Iterator[Socket]:
    start = f"{unit.id}.{name}"
    guessed = connector_shape(start, ground)
    shape = shapes.get((model.id, guessed), guessed)
    listed = [*model.connectors.get(name, {}).values(), *model.connectors_bridged.get(name, {}).values()]
    touched = {int(part) for channels in listed for part in channels.split("+") if part.isdecimal()}
    if touched & inside.get(unit.id, set()):
        return  # a rack as built has its own wires in there
    pairs = _pairs(unit, model, touched)
    ways = [_modes_of(unit, model, pair) for pair in pairs]
    for chosen in product(*ways):
        modes = tuple((unit.id, pair, mode) for pair, mode in zip(pairs, chosen, strict=True))
        changes = tuple(item for item in modes if item[2] != mode_of(unit, item[1]))
        if changes and unit.id in inside:
            continue  # a rack as built stays as it was built
        pins = connector_outputs(with_modes(unit, changes), name, ground)
        if pins:
            yield Socket(start, shape, pins, modes, changes)


def _pairs(unit: RackUnit, model: Amplifier, touched: set[int]) -> list[str]:
    """Name the pairs of channels that these channels belong to, as set or as they could be set."""
    named = {*unit.bridged, *unit.paralleled}
    for table in (*model.connectors.values(), *model.connectors_bridged.values()):
        named.update(channels for channels in table.values() if "+" in channels)
    return sorted(pair for pair in named if touched & {int(part) for part in pair.split("+") if part.isdecimal()})


def _modes_of(unit: RackUnit, model: Amplifier, pair: str) -> tuple[PairMode, ...]:
    now = mode_of(unit, pair)
    able = any(
        pair in table.values() for table in (*model.connectors.values(), *model.connectors_bridged.values())
    ) and allows(model, "bridged")
    others: tuple[PairMode, ...] = ("single", "bridged") if able else ("single",)
    return (now, *(mode for mode in others if mode != now))


def mode_of(unit: RackUnit, pair: str) -> PairMode:
    """Say how a pair of channels is set."""
    if pair in unit.bridged:
        return "bridged"
    return "paralleled" if pair in unit.paralleled else "single"


def with_modes(unit: RackUnit, changes: Sequence[tuple[str, str, PairMode]]) -> RackUnit:
    """Give a unit with some of its channel pairs set in another way."""
    for _, pair, mode in changes:
        bridged = tuple(item for item in unit.bridged if item != pair)
        paralleled = tuple(item for item in unit.paralleled if item != pair)
        if mode == "bridged":
            bridged = (*bridged, pair)
        unit = msgspec.structs.replace(unit, bridged=bridged, paralleled=paralleled)
    return unit


def _seen_shapes(rig: Rig, plugs: Sequence[Plug]) -> dict[tuple[str, str], str]:
    """Learn from the plugs that are in amplifiers of a model what its sockets look like."""
    seen: dict[tuple[str, str], str] = {}
    for plug in plugs:
        unit = rig.ground.units.get(plug.start.partition(".")[0])
        if unit is not None and plug.shape:
            seen.setdefault((unit.model, connector_shape(plug.start, rig.ground)), plug.shape)
    return seen


def _wired_inside(ground: Ground) -> dict[str, set[int]]:
    """Say which channels of the units of racks as built are wired to the panel."""
    inside: dict[str, set[int]] = {}
    for rack in ground.racks.values():
        built = ground.models.get(rack.as_built or "")
        if not isinstance(built, BuiltRack):
            continue
        for number in range(1, len(built.contents) + 1):
            inside[f"{rack.id}-{number}"] = set()
        for socket in built.panel:
            for output in panel_outputs(rack, socket, ground).values():
                unit, _, channels = output.partition(".")
                inside[unit].update(int(part) for part in channels.split("+"))
    return inside
