"""Where in the show a label is edited: the tables and the names of what stands behind it."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.rig.cable_ends import cable_ends
from fieldkit.rig.evaluation import Rig

Place = tuple[str, str]
"""A table of the show, and a label in it."""


def places_of(rig: Rig, kind: str, name: str) -> tuple[Place, ...]:
    """List what to edit for a label, what it names first; nothing for a label that nobody has."""
    tables = {"box": "boxes", "run": "runs", "unit": "rack_units", "zone": "zones", "rack": "racks"}
    tables["supply"] = "supplies"
    found = [(tables[kind], name)] if kind in tables else []
    if kind in {"output", "processor output", "signal cable"}:
        found.append(("rack_units" if name.partition(".")[0] in rig.ground.units else "boxes", name.partition(".")[0]))
    if kind == "box":
        found += [("zones", rig.ground.boxes[name].zone)] if name in rig.ground.boxes else []
    if kind in {"box", "output", "cable end"}:
        found += [("runs", run) for run in dict.fromkeys(_runs(rig, kind, name))]
    return tuple(found)


def _runs(rig: Rig, kind: str, name: str) -> Iterator[str]:
    """List the runs that go to a box, leave an output, or have a cable end."""
    if kind == "box":
        yield from (run.id for run in rig.show.runs if any(step.box == name for step in run.path))
    elif kind == "output":
        output = rig.output(name)
        yield from (solved.line.run.id for solved in (output.lines if output else ()))
    else:
        yield from (run for end in cable_ends(rig.show, rig.ground) if end.label == name for run in end.runs)
