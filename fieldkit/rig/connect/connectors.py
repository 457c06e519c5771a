"""Connectors: what each looks like, which plugs go into it, and which of a plug's pairs lead to a box.

One model for all that plans: the assignment, fail-over. A model names its connector, or nobody has said: then its
pins tell. More than two pairs need eight poles; with two pairs or fewer it stays without a name, takes any plug of
up to four poles, and not that of small columns where there are cables with larger plugs. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor, Cable, Panel
from fieldkit.gear.rack import BuiltRack
from fieldkit.rig.connect.lines import ShowIndex, lines_of
from fieldkit.show.document import Model, Run

MOST_PAIRS = 8
"""Pin pairs of the largest connectors that loudspeakers are wired with."""

EIGHT, FOUR, SMALL = "8-pole", "4-pole", "2-pole"


def socket_shape(pairs: Iterable[str], known: str = "") -> str:
    """Name a connector by what is known of it, else by its pin pairs; empty where up to two pairs leave it open."""
    return known or (EIGHT if any(int(pair) > 2 for pair in pairs if pair.isdecimal()) else "")


def has_larger_plugs(cables: Iterable[Cable]) -> bool:
    """Tell whether there are cables with plugs of four poles, so that one of two poles is for small columns."""
    return any(cable.connectors and cable.connectors[0] == FOUR for cable in cables)


def takes_plug(socket: str, plug: str, *, larger: bool) -> bool:
    """Tell whether a connector takes a plug; what has no name is taken as the module says.

    ``larger`` tells whether there are cables with plugs of four poles.
    """
    if not plug or socket:
        return not plug or plug == socket
    return plug != EIGHT and not (plug == SMALL and larger)


def shape_at(start: str, show_index: ShowIndex) -> str:
    """Say what the connector of a unit or of a rack as built looks like, ``SR-1.A``; empty where nobody knows."""
    name, _, connector = start.partition(".")
    rack = show_index.racks.get(name)
    if rack is not None:
        built = show_index.models.get(rack.as_built or "")
        return built.connector if isinstance(built, BuiltRack) else ""
    unit = show_index.units.get(name)
    model = show_index.models.get(unit.model) if unit else None
    if not isinstance(model, Amplifier):
        return ""
    return socket_shape([*model.connectors.get(connector, {}), *model.connectors_bridged.get(connector, {})])


def plug_shape(run: Run, models: Mapping[str, Model]) -> str:
    """Say what the plug of a run looks like: as its first piece says; empty where that does not."""
    step = run.path[0] if run.path else None
    model = models.get((step.cable or step.adaptor or step.panel or "") if step else "")
    if isinstance(model, (Cable, Adaptor)) and model.connectors:
        return model.connectors[0]
    return model.connector if isinstance(model, Panel) else ""


def pairs_reached(run: Run, show_index: ShowIndex) -> frozenset[str]:
    """Name the pin pairs of a run's plug that lead to a section of a box, whether or not they are fed."""
    every = {str(pair): "-" for pair in range(1, MOST_PAIRS + 1)}
    probe = msgspec.structs.replace(run, feeds=every)
    return frozenset(line.pair for line in lines_of(probe, show_index) if line.loads)
