"""Racks: too full, two units in one place, heavy, hot."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.rig.power.supplies import supplies_of
from fieldkit.rig.racks import RackFacts, racks_of
from fieldkit.rig.solve.evaluation import Rig


@show_rule
def racks_hold(rig: Rig, choices: Choices) -> Iterator[Finding]:
    """Look at each rack of a show."""
    if not rig.show.racks:
        return

    def look(facts: RackFacts) -> list[Finding]:
        return [*_places(facts), *_burdens(facts, choices)]

    every = racks_of(rig, supplies_of(rig).draws)
    yield from chain.from_iterable(rig.memory.each("racks that hold", every, look, (choices,)))


@show_rule
def racks_stand_on_their_side(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a rack whose side is not that of any box on it, where another side is meant by all of them."""
    sides = {rack.id: rack.side for rack in rig.show.racks if rack.side}
    if not sides:
        return
    fed: dict[str, dict[str, str]] = {name: {} for name in sides}
    for outputs in rig.amplifiers:
        boxes = fed.get(outputs[0].output.unit.rack or "") if outputs else None
        if boxes is not None:
            boxes.update((load.box.id, load.box.side) for output in outputs for load in output.loads)
    meant = {box.side for box in rig.show.boxes}
    for name, boxes in fed.items():
        other = set(boxes.values())
        if len(other) != 1 or sides[name] in other or "" in other or sides[name] not in meant:
            continue
        yield finding(
            "note",
            "rack-on-the-other-side",
            ("rack", name),
            f"it stands on the side '{sides[name]}', and drives '{other.pop()}' alone: {', '.join(boxes)}",
            why="every lead crosses the stage: longer, and more is lost in it",
            fix="exchange the racks, or the runs, or correct 'side'",
        )


def _places(facts: RackFacts) -> Iterator[Finding]:
    name = facts.rack.id
    if facts.units is not None and (facts.used > facts.units or facts.outside):
        above = f"; {', '.join(facts.outside)} stick out at the top" if facts.outside else ""
        yield finding(
            "error",
            "rack-overfull",
            ("rack", name),
            f"{facts.used} units are planned in a rack of {facts.units}{above}",
            why="what does not fit stays on the truck",
            fix="move a unit to another rack, or correct 'units' and 'unit'",
            used_units=facts.used,
            rack_units=facts.units,
        )
    for low, high in facts.overlaps:
        yield finding(
            "error",
            "rack-units-overlap",
            ("rack", name),
            f"{low} and {high} want the same place",
            why="two units do not fit in one place",
            fix="give one of them another 'unit', counted from the bottom",
        )


def _burdens(facts: RackFacts, choices: Choices) -> Iterator[Finding]:
    name = facts.rack.id
    if facts.weight_kg > choices.rack_weight_kg:
        more = f", and {', '.join(facts.unweighed)} besides" if facts.unweighed else ""
        yield finding(
            "note",
            "rack-heavy",
            ("rack", name),
            f"it weighs {facts.weight_kg:.0f} kg, over {choices.rack_weight_kg:g} kg{more}",
            why="heavy to lift: 100 kg is a load for four people, 25 kg each",
            fix="keep it on its wheels, use a ramp or a lift, or split it",
            weight_kg=facts.weight_kg,
            limit_kg=choices.rack_weight_kg,
        )
    if facts.heat_w > choices.rack_heat_w:
        yield finding(
            "note",
            "rack-hot",
            ("rack", name),
            f"{facts.heat_w:.0f} W of heat ({facts.heat_btu_per_h:.0f} BTU/h) at the duty of the programme,"
            f" over {choices.rack_heat_w:g} W",
            why="amplifiers turn themselves down or off when they cannot breathe",
            fix="doors off, front and back; no cloth over it, shade from the sun, cool air to its intakes",
            heat_w=facts.heat_w,
            limit_w=choices.rack_heat_w,
            heat_btu_per_h=facts.heat_btu_per_h,
        )
