"""What positions, angles and distances say: subs that are too far apart, fills with gaps, levels not reached."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, show_rule
from fieldkit.formulas.coverage import meeting_distance
from fieldkit.formulas.delays import distance_between
from fieldkit.formulas.interference import half_wavelength
from fieldkit.formulas.sound import add_incoherent, level_of_power
from fieldkit.rig.connect.uses import is_sub
from fieldkit.rig.signal.delays import standing
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Box, Zone

CLOSE_DB = 0.5
"""A target missed by less is not spoken of."""


@show_rule
def subs_close_enough(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a sub that is over half a wavelength from its nearest neighbour at the top of its band."""
    yield from rig.memory.once(("subs that are far apart",), _rests_on(rig), lambda: [*_subs_far_apart(rig)])


def _subs_far_apart(rig: Rig) -> Iterator[Finding]:
    for zone in rig.show.zones:
        subs = [box for box in _placed(rig, zone) if is_sub(rig.show_index.speakers[box.id])]
        if len(subs) < 2:
            continue
        gap_m = max(min(_between(one, other) for other in subs if other is not one) for one in subs)
        tops = [
            section.high.value for box in subs for section in rig.show_index.speakers[box.id].sections if section.high
        ]
        if not tops:
            continue
        limit_m = half_wavelength(max(tops), rig.conditions.temperature_c)
        if gap_m > limit_m:
            yield finding(
                "note",
                "subs-far-apart",
                ("zone", zone.id),
                f"subs stand {gap_m:.2f} m apart; half a wavelength at {max(tops):.0f} Hz is {limit_m:.2f} m",
                why="wider than that the row breaks into lobes, loud in one place and thin in the next",
                fix="move them closer together, low-pass them lower, or put them all in one place",
                gap_m=gap_m,
                limit_m=limit_m,
            )


@show_rule
def fills_meet(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find fills whose fields meet only behind the listeners that they are for."""
    yield from rig.memory.once(("fills that leave gaps",), _rests_on(rig), lambda: [*_fills_that_leave_gaps(rig)])


def _fills_that_leave_gaps(rig: Rig) -> Iterator[Finding]:
    for zone in rig.show.zones:
        boxes = sorted(_placed(rig, zone), key=lambda box: box.position.metres[1] if box.position else 0.0)
        boxes = [box for box in boxes if rig.show_index.speakers[box.id].horizontal is not None]
        listeners_m = _to_listeners(zone, boxes)
        if zone.use == "wedge" or listeners_m is None or len(boxes) < 2:
            continue
        meets = [
            (meeting_distance(_between(one, other), angle.value), one, other)
            for one, other in pairwise(boxes)
            if (angle := rig.show_index.speakers[one.id].horizontal) is not None
        ]
        far_m, one, other = max(meets, key=lambda item: item[0])
        if far_m > listeners_m:
            yield finding(
                "note",
                "fills-leave-gaps",
                ("zone", zone.id),
                f"{one.id} and {other.id} meet {far_m:.1f} m in front of them, "
                f"and their first listeners are {listeners_m:.1f} m away",
                why="between two fills the first rows hear neither of them well",
                fix="put another fill between them, or wider ones",
                meets_m=far_m,
                listeners_m=listeners_m,
            )


@show_rule
def level_reached(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a side of a zone whose boxes together do not make the wanted level at the farthest listeners."""
    wanted = {zone.id: zone for zone in rig.show.zones if zone.target is not None and zone.throw is not None}
    levels: dict[tuple[str, str], dict[str, float]] = {}
    for output in rig.outputs if wanted else ():
        for solved in (item for line in output.lines for item in line.boxes):
            box, sensitivity = solved.load.box, solved.load.section.sensitivity
            zone = wanted.get(box.zone)
            throw = zone.throw if zone is not None else None
            if throw is None or not throw.value or sensitivity is None or solved.threshold_w <= 0.0:
                continue
            level = level_of_power(sensitivity.value, solved.threshold_w, throw.value)
            of_side = levels.setdefault((box.zone, box.side), {})
            of_side[box.id] = min(level, of_side.get(box.id, level))  # the weakest band of a box is its level
    for (name, side), of_boxes in levels.items():
        target = wanted[name].target
        reached = add_incoherent(*of_boxes.values())
        if target is not None and reached < target.value - CLOSE_DB:
            yield finding(
                "note",
                "level-not-reached",
                ("zone", name),
                f"{f'{side}: ' if side else ''}{len(of_boxes)} boxes make {reached:.1f} dB at {wanted[name].throw}, "
                f"limited and on the axis; {target.value:.1f} dB are wanted",
                why="the limiters will work all evening, and the last rows will still ask for more",
                fix="add boxes, bring them nearer with a delay, or agree on less",
                reached_db=reached,
                target_db=target.value,
            )


def _rests_on(rig: Rig) -> tuple[object, ...]:
    """List what these rules rest on: where boxes stand, of which models, for whom, in which air; and no line."""
    return (rig.show.zones, standing(rig), rig.show_index.speakers, rig.conditions)


def _placed(rig: Rig, zone: Zone) -> list[Box]:
    return [box for box in rig.show_index.in_zone[zone.id] if box.position is not None]


def _to_listeners(zone: Zone, boxes: list[Box]) -> float | None:
    """Find the way from a zone to its first listeners [m]: as measured, else from the nearest box to their place."""
    if zone.own_distance is not None:
        return zone.own_distance.value
    if zone.listeners is None:
        return None
    ways = [distance_between(*box.position.metres, *zone.listeners.metres) for box in boxes if box.position is not None]
    return min(ways, default=None)


def _between(one: Box, other: Box) -> float:
    assert one.position is not None  # noqa: S101  (only boxes with a position come here)
    assert other.position is not None  # noqa: S101
    return distance_between(*one.position.metres, *other.position.metres)
