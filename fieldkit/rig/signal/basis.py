"""What the signal of an amplifier rests on, as one object for each amplifier.

It is the very object of the rig before for as long as none of its parts has changed, so that whatever follows from it
(paths, gain chains, findings) is kept by comparing one pointer, and one edit of a large show works out little.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.rig.signal.delays import delays_by_side
from fieldkit.rig.signal.siblings import trims
from fieldkit.rig.solve.derived import Derived
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import RackUnit


class Basis(msgspec.Struct, frozen=True, eq=False, gc=False):
    """An amplifier's outputs, on condition that what else their signal rests on is as it was.

    That is zones, delays and trims of their boxes, the units before it, and what is so of the desk. It equals nothing
    but itself: another one of the same outputs stands for other zones or delays.
    """

    outputs: tuple[SolvedOutput, ...]


class _Wiring(msgspec.Struct, frozen=True, eq=False, gc=False):
    """An amplifier's outputs, with what is to be looked up for them."""

    outputs: tuple[SolvedOutput, ...]
    unit: RackUnit
    sides: tuple[tuple[str, str], ...]
    sections: tuple[tuple[str, str], ...]
    """Box and section of each of its loads."""
    is_fed: bool
    """Whether any of its inputs hangs on another unit."""


def _bases(rig: Rig) -> tuple[Basis, ...]:
    about, zones, models = rig.show.about, rig.show_index.zones, rig.show_index.models
    delays, trimmed = delays_by_side(rig), rig.memory.same("trims", trims(rig))
    desk = rig.memory.same("desk", (about.desk_outputs, about.desk_level, about.desk_clip))

    def parts(wiring: _Wiring) -> tuple[object, ...]:
        found: list[object] = [desk]
        for side in wiring.sides:
            found += (zones[side[0]], delays[side])
        if wiring.is_fed:
            found += _upstream(rig, wiring.unit)
        return (*found, *map(trimmed.get, wiring.sections))

    wirings = rig.memory.each("wirings", [its for its in rig.amplifiers if its], _wiring)
    within = (desk, zones, delays, trimmed, _feeding(rig), models)
    return rig.memory.each_of("bases", wirings, within, parts, lambda wiring: Basis(wiring.outputs))


def _wiring(outputs: tuple[SolvedOutput, ...]) -> _Wiring:
    unit = outputs[0].output.unit
    sections = tuple((load.box.id, load.section.section) for output in outputs for load in output.loads)
    return _Wiring(outputs, unit, sides_of(outputs), sections, any("." in source for source in unit.inputs.values()))


def _feeding(rig: Rig) -> dict[str, RackUnit]:
    """Index the units that others are fed by; the very dict of last time where none is another."""
    units = rig.show_index.units
    named = rig.memory.each("units before", units.values(), _units_before)
    names = dict.fromkeys(name for its in named for name in its)
    return rig.memory.same("feeding", {name: units[name] for name in names if name in units})


def _units_before(unit: RackUnit) -> tuple[str, ...]:
    return tuple(source.partition(".")[0] for source in unit.inputs.values() if "." in source)


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


bases = Derived[tuple[Basis, ...]](_bases)
"""Each amplifier with what its signal rests on, in the order of the show."""
