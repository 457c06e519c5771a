"""What the signal of an amplifier rests on, as one object for each amplifier.

It is the very object of the rig before for as long as none of its parts has changed, so that whatever follows from it
(paths, gain chains, findings) is kept by comparing one pointer, and one edit of a large show works out little.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TypeAlias

from fieldkit.gear.processor import Processor
from fieldkit.rig.signal.delays import delays_by_side
from fieldkit.rig.signal.siblings import Trim, trims
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.latest import Latest
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import RackUnit

Basis: TypeAlias = tuple[object, ...]
"""An amplifier's outputs, zones, delays and trims of their boxes, the units before it, and what is so of the desk."""


def _bases(rig: Rig) -> tuple[tuple[tuple[SolvedOutput, ...], Basis], ...]:
    delays, trimmed, zones, about = delays_by_side(rig), trims(rig), rig.show_index.zones, rig.show.about
    desk = rig.memory.once(("desk",), parts := (about.desk_outputs, about.desk_level, about.desk_clip), lambda: parts)
    found = []
    for outputs in rig.amplifiers:
        if not outputs:
            continue
        unit = outputs[0].output.unit
        sides = rig.memory.once(("sides", unit.id), (outputs,), partial(sides_of, outputs))
        basis = (
            outputs,
            desk,
            *(zones[zone] for zone, _ in sides),
            *(delays[side] for side in sides),
            *(_upstream(rig, unit) if any("." in source for source in unit.inputs.values()) else ()),
            *(_own_trims(outputs, trimmed) if trimmed else ()),
        )
        found.append((outputs, rig.memory.once(("basis", unit.id), basis, lambda basis=basis: basis)))  # type: ignore[misc]
    return tuple(found)


def sides_of(outputs: tuple[SolvedOutput, ...]) -> tuple[tuple[str, str], ...]:
    """List the sides of zones that the boxes of an amplifier stand on, each with its zone."""
    return tuple(dict.fromkeys((load.box.zone, load.box.side) for output in outputs for load in output.loads))


def _upstream(rig: Rig, unit: RackUnit) -> Iterator[object]:
    """List the units that a signal may come through, each with its model; processors may stand in a ring."""
    seen, waiting = {unit.id}, [unit]
    while waiting:
        for source in waiting.pop().inputs.values():
            name, dot, _ = source.partition(".")
            before = rig.show_index.units.get(name) if dot else None
            if before is not None and name not in seen:
                seen.add(name)
                model = rig.show_index.models.get(before.model)
                yield before
                yield model
                if isinstance(model, Processor):
                    waiting.append(before)


def _own_trims(outputs: tuple[SolvedOutput, ...], trimmed: dict[tuple[str, str], Trim]) -> Iterator[object]:
    for output in outputs:
        for load in output.loads:
            yield trimmed.get((load.box.id, load.section.section))


bases = Latest[tuple[tuple[tuple[SolvedOutput, ...], Basis], ...]](_bases)
"""The outputs of each amplifier with what their signal rests on, in the order of the show; of the last rig, once."""
