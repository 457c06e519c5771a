"""Self-powered boxes that a loss silences: no plug of a loudspeaker line helps, and a signal by hand may."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.planning.reasons import StaysSilent
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.losses import Losses
from fieldkit.rig.uses import planned_drive
from fieldkit.show.document import Box


def silent_boxes(rig: Rig, losses: Losses) -> Iterator[StaysSilent]:
    """List the self-powered boxes that are silent, each with what a hand can do about it."""
    for box in rig.show.boxes:
        if planned_drive(box, rig.ground.speakers[box.id]) == "self-powered":
            because = _because(box, rig, losses)
            if because:
                yield StaysSilent(box.id, box.zone, box.side, ("full",), f"{because}; {_by_hand(box, rig, losses)}")


def _because(box: Box, rig: Rig, losses: Losses) -> str:
    if box.id in losses.boxes:
        return losses.boxes[box.id]
    dark = losses.supplies.get(box.supply or "")
    if dark:
        return f"{box.id} hangs on {dark}"
    dead = losses.of_source(box.input, rig.ground.units)
    return f"{box.id} gets {box.input}: {dead}" if dead else ""


def _by_hand(box: Box, rig: Rig, losses: Losses) -> str:
    """Say what brings it back without moving anything else."""
    if box.id in losses.boxes:
        return "a spare of its kind in its place, if there is one, its level right down at first"
    if box.supply in losses.supplies:
        return "another live socket within its reach, if an electrician agrees; its level right down at first"
    zone = next(zone for zone in rig.show.zones if zone.id == box.zone)
    signal = zone.signals.get(box.side, "")
    if not signal or losses.of_source(signal, rig.ground.units):
        return "another source for it, its level right down at first"
    return (
        f"it has processing of its own: its level right down, the signal '{signal}' straight into {box.id}, then up; "
        "level and delay of its zone are then the desk's"
    )
