"""The runs that a label stands for."""

from __future__ import annotations

from fieldkit.gear.wording import nearest, printable
from fieldkit.rig.cable_ends import cable_ends
from fieldkit.rig.evaluation import Rig
from fieldkit.triage.observations import ObservationError


def runs_of(rig: Rig, word: str) -> tuple[str, ...]:
    """Find the runs of a box, run, line, output, unit, rack, zone or cable end. Raises ObservationError for none."""
    show = rig.show
    runs = {run.id: run for run in show.runs}
    if word in runs:
        return (word,)
    run, slash, pair = word.rpartition("/")
    if slash and run in runs:
        if any(line.id == word for line in rig.lines):
            return (run,)
        known = [line.id for line in rig.lines if line.run.id == run]
        raise ObservationError(f"no line '{printable(word)}' of pair '{printable(pair)}'{nearest(word, known)}")
    if word in rig.ground.boxes:
        return tuple(run.id for run in show.runs if any(step.box == word for step in run.path))
    zones = {zone.id for zone in show.zones}
    if word in zones:
        boxes = {box.id for box in show.boxes if box.zone == word}
        return tuple(run.id for run in show.runs if any(step.box in boxes for step in run.path))
    found = dict.fromkeys(
        line.run.id
        for line in rig.lines
        if line.output and word in {line.output.id, line.output.unit.id, line.output.unit.rack}
    )
    if found:
        return tuple(found)
    ends = {end.label: tuple(end.runs) for end in cable_ends(show, rig.ground)}
    if word in ends:
        return ends[word]
    outputs = {output.output.id for output in rig.outputs}
    units = {*rig.ground.units, *rig.ground.racks}
    if word in outputs | units:
        return ()
    names = {*runs, *rig.ground.boxes, *zones, *outputs, *units, *(line.id for line in rig.lines)}
    raise ObservationError(f"nothing has the label '{printable(word)}'{nearest(word, names)}")
