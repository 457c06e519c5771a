"""Reach: how far a lead must go, as far as the show says, and which lead of the stock would do."""

from __future__ import annotations

from collections.abc import Collection

import msgspec

from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.planning.failover.placements import ELSEWHERE, OUT_OF_REACH
from fieldkit.planning.failover.plugs import Plug
from fieldkit.planning.failover.sockets import Junction, Socket
from fieldkit.planning.failover.spares import SpareLead, spare_leads
from fieldkit.rig.connect.connectors import has_larger_plugs, takes_plug
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run, Step
from fieldkit.units import Length

MOST_LEADS = 2
"""So many leads of the stock are tried at a link socket, the longest first."""


class Reach:
    """Knows how far the leads of a show go, and which are left in the stock."""

    def __init__(self, rig: Rig, spares: Collection[str]) -> None:
        """``spares`` are the units of the stock, which come to where they are wanted."""
        self.rig, self.spares = rig, spares
        models = rig.show_index.models
        self.larger = has_larger_plugs(model for model in models.values() if isinstance(model, Cable))
        self.leads = sorted(spare_leads(rig), key=lambda lead: -lead.length.value)
        known = zone_priorities(rig.show, rig.show_index.speakers)
        self.far = {name for name, priority in known.items() if priority.role == "delay"}

    def of(self, plug: Plug, target: str) -> int:
        """Say how far a plug must go: 0 within a rack, 1 to another, 2 to who knows where, 3 where nothing goes."""
        if target.partition(".")[0] in self.spares:
            return 0
        zones = {load.box.zone for need in plug.needs for load in need.loads}
        if self._is_far(zones) != self._is_far(self._served(target)):
            return OUT_OF_REACH
        if plug.parent:
            return ELSEWHERE  # nobody has said how far a stage box is from a rack
        here, there = self._rack(plug.start), self._rack(target)
        if here == there:
            return 0
        racks = self.rig.show_index.racks
        sides = [racks[name].side if name in racks else "" for name in (here, there)]
        elsewhere = not here or not there or (all(sides) and sides[0] != sides[1])
        return ELSEWHERE if elsewhere else 1

    def to_junction(self, plug: Plug, at: Junction) -> int:
        """Say how far a lead must go to boxes that play: 0 on the same side, 2 to another one."""
        if not at.box:
            return self.of(plug, at.beside.start)
        sides = {load.box.side for need in plug.needs for load in need.loads}
        return 0 if sides == {self.rig.show_index.boxes[at.box].side} else ELSEWHERE

    def lead_back(self, plug: Plug, socket: Socket) -> SpareLead | None:
        """Find a lead that brings what hangs on a stage box back to where its multicore begins: its own, or a spare.

        The shortest will do that is as long as the multicore; None where there is none.
        """
        own = _lead_m(plug.runs[0])
        if not plug.parent or own >= plug.behind_m:
            return SpareLead("", Length("0 m"))
        flown = any(load.box.reach == "flown" for need in plug.needs for load in need.loads)
        if len(plug.runs) > 1 or flown or not _is_plain(plug.runs[0]):
            return None
        fitting = (lead for lead in reversed(self.leads) if self._plugs_in(lead, socket))
        return next((lead for lead in fitting if lead.length.value >= plug.behind_m), None)

    def _plugs_in(self, lead: SpareLead, socket: Socket) -> bool:
        cable = self.rig.show_index.models[lead.model]
        shape = cable.connectors[0] if isinstance(cable, Cable) and cable.connectors else ""
        return takes_plug(socket.shape, shape, larger=self.larger)

    def _is_far(self, zones: Collection[str]) -> bool:
        """Tell whether all of these zones stand by themselves, away from the others."""
        return bool(zones) and set(zones) <= self.far

    def _served(self, start: str) -> set[str]:
        """Name the zones that a unit or a rack as built serves."""
        name = start.partition(".")[0]
        mine = [item for item in self.rig.outputs if name in {item.output.unit.id, item.output.unit.rack}]
        return {load.box.zone for item in mine for load in item.loads}

    def _rack(self, start: str) -> str:
        name = start.partition(".")[0]
        unit = self.rig.show_index.units.get(name)
        return (unit.rack or "") if unit else name

    def longer(self, socket: Socket) -> list[SpareLead]:
        """List leads of the stock that go into a link socket, the longest first."""
        return [lead for lead in self.leads if self._fits(lead, socket)][:MOST_LEADS]

    def _fits(self, lead: SpareLead, socket: Socket) -> bool:
        """Tell whether a lead of the stock goes into a link socket at both ends."""
        cable = self.rig.show_index.models[lead.model]
        return not isinstance(cable, Cable) or not cable.connectors or set(cable.connectors) == {socket.shape}


def tail_with(run: Run, adaptor: Adaptor | None, lead: SpareLead | None, *, flown: bool) -> tuple[Step, ...] | None:
    """Give the path of what comes: its own lead, or one of the stock to its first box; None where that is no better."""
    between = (Step(adaptor=adaptor.id),) if adaptor else ()
    if lead is None:
        return (*between, *run.path)
    first = next((number for number, step in enumerate(run.path) if step.box), None)
    if first is None or flown:
        return None
    if not _is_plain(run) or lead.length.value <= _lead_m(run):
        return None
    new = Step(cable=lead.model, length=lead.length, box=run.path[first].box)
    return (*between, new, *run.path[first + 1 :])


def _lead_m(run: Run) -> float:
    """Say how long a run is up to its first box [m]."""
    first = next((number for number, step in enumerate(run.path, start=1) if step.box), len(run.path))
    return sum(step.length.value for step in run.path[:first] if step.length)


def _is_plain(run: Run) -> bool:
    """Tell whether a run gets to its first box by cable alone."""
    first = next((number for number, step in enumerate(run.path, start=1) if step.box), 0)
    return bool(first) and all(step.cable for step in run.path[:first])


def with_lead(run: Run, lead: SpareLead) -> Run:
    """Return a run whose first box is fed by a lead of the stock."""
    first = next(number for number, step in enumerate(run.path) if step.box)
    between = run.path[:1] if run.path[0].adaptor else ()
    new = Step(cable=lead.model, length=lead.length, box=run.path[first].box)
    return msgspec.structs.replace(run, path=(*between, new, *run.path[first + 1 :]))
