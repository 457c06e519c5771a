"""What the loss of one amplifier would take away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.rig.signal.basis import sides_of
from fieldkit.rig.solve.evaluation import Rig


@show_rule
def both_sides_on_one_amplifier(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a zone with two sides that hang on one amplifier, where there are others."""
    sides = rig.memory.each("sides", rig.amplifiers, sides_of)
    rests_on = (sides, rig.show.zones, rig.show_index.units)  # the sides of each amplifier, in the order of the units
    yield from rig.memory.once(("sides on one amplifier",), rests_on, lambda: [*_on_one_amplifier(rig, sides)])


def _on_one_amplifier(rig: Rig, of_amplifiers: Sequence[Sequence[tuple[str, str]]]) -> Iterator[Finding]:
    feeding: dict[str, dict[str, set[str]]] = {}
    for outputs, sides_there in zip(rig.amplifiers, of_amplifiers, strict=True):
        for zone, side in sides_there:
            if side:  # a box whose side nobody noted is on neither
                feeding.setdefault(zone, {}).setdefault(side, set()).add(outputs[0].output.unit.id)
    front = {zone.id for zone in rig.show.zones if zone.use != "wedge"}
    if len(rig.amplifiers) < 2:
        return
    for zone, sides in feeding.items():
        if len(sides) < 2 or zone not in front:
            continue  # the sides of a zone of wedges are mixes, each for one musician
        units = set.union(*sides.values())
        if len(units) == 1:
            unit = next(iter(units))
            yield finding(
                "warning",
                "both-sides-on-one-amplifier",
                ("zone", zone),
                f"{' and '.join(sorted(sides))} are driven by {unit} alone",
                why="if it fails, the whole zone is silent at once",
                fix="carry one side on another amplifier, or have a spare patched and loaded",
            )
