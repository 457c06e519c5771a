"""Where a run can start: the connectors of every amplifier, and the sockets of every rack as built."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.rack import BuiltRack
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import Show


class Start(msgspec.Struct, frozen=True):
    """A connector that a run can start from."""

    name: str
    """``SR-1.A``, as the run's ``from`` has it."""
    holder: str
    """The unit or rack that it is on."""
    rack: str
    """The rack that it is in; empty where nobody said."""
    model: str
    outputs: tuple[str, ...]
    """What its pin pairs carry, as the model says: ``SR-1.1``. Bridging may change that."""


def starts(show: Show) -> Iterator[Start]:
    """List the connectors of a show, in the order of its units and racks."""
    models = models_by_id(show)
    for unit in all_units(show):
        model = models.get(unit.model)
        if isinstance(model, Amplifier):
            for name, pins in {**model.connectors, **model.connectors_bridged}.items():
                outputs = tuple(f"{unit.id}.{channels}" for channels in pins.values())
                yield Start(f"{unit.id}.{name}", unit.id, unit.rack or "", unit.model, outputs)
    for rack in show.racks:
        built = models.get(rack.as_built or "")
        if isinstance(built, BuiltRack):
            for socket, pins in built.panel.items():
                outputs = tuple(f"{rack.id}-{channel}" for channel in pins.values())
                yield Start(f"{rack.id}.{socket}", rack.id, rack.id, built.id, outputs)
