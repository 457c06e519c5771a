"""What the signal of an amplifier rests on, as one object for each amplifier.

It is the very object of the rig before for as long as none of its parts has changed, so that whatever follows from it
(paths, gain chains, findings) is kept by comparing one pointer, and one edit of a large show works out little.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.rig.signal.delays import delays_by_side
from fieldkit.rig.signal.siblings import Trim, trims
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.latest import Latest
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import RackUnit


class Basis(msgspec.Struct, frozen=True, eq=False, gc=False):
    """An amplifier's outputs, on condition that what else their signal rests on is as it was.

    That is zones, delays and trims of their boxes, the units before it, and what is so of the desk. It equals nothing
    but itself: another one of the same outputs stands for other zones or delays.
    """

    outputs: tuple[SolvedOutput, ...]


def _bases(rig: Rig) -> tuple[Basis, ...]:
    about, zones, index = rig.show.about, rig.show_index.zones, rig.show_index
    delays, trimmed = delays_by_side(rig), rig.memory.same("trims", trims(rig))
    desk = rig.memory.same("desk", (about.desk_outputs, about.desk_level, about.desk_clip))

    def parts(outputs: tuple[SolvedOutput, ...]) -> tuple[object, ...]:
        unit = outputs[0].output.unit
        found: list[object] = [desk]
        for zone, side in sides_of(outputs):
            found += (zones[zone], delays[zone, side])
        if any("." in source for source in unit.inputs.values()):
            found += _upstream(rig, unit)
        if trimmed:
            found += _own_trims(outputs, trimmed)
        return tuple(found)

    outputs = [its for its in rig.amplifiers if its]
    return rig.memory.each_of("bases", outputs, (desk, zones, delays, trimmed, index.units, index.models), parts, Basis)


def sides_of(outputs: Iterable[SolvedOutput]) -> tuple[tuple[str, str], ...]:
    """List the sides of zones that the boxes of an amplifier stand on, each with its zone."""
    return tuple(dict.fromkeys([(load.box.zone, load.box.side) for output in outputs for load in output.loads]))


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


bases = Latest[tuple[Basis, ...]](_bases)
"""Each amplifier with what its signal rests on, in the order of the show; of the last rig, once."""
