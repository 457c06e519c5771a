"""Which runs must move, when not everything finds room beside those that are plugged: as few boxes as can be.

Every run that is there may stay, at no move, or give its place away. The whole numbers choose which; what must move is
then planned as if it had no run yet.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.planning.assign.goals import BOXES_DRIVEN, MOVES, POWER, PRESETS, SIDES, count
from fieldkit.planning.assign.inquiry import AssignProblem
from fieldkit.planning.assign.patterns import Kind, Place, Use
from fieldkit.planning.assign.problem import Group, Stay
from fieldkit.planning.assign.sources import OutputSource
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.contents import all_units
from fieldkit.show.document import Run

MOST_LOOSE = 60
"""Boxes of a show, up to which the runs that must move are looked for."""


class PluggedRuns(msgspec.Struct, frozen=True):
    """What is plugged now."""

    rig: Rig
    """With all its runs."""
    movable: Collection[str]
    """Runs that may move."""
    room: Mapping[str, Sequence[str]]
    """Run -> boxes without a run that it has room for."""


def runs_to_move(
    problem: AssignProblem, now: PluggedRuns, *, sides: bool, cancelled: Callable[[], bool]
) -> frozenset[str] | None:
    """Name the runs that have to move, so that as much as can be is driven; None where nobody found out.

    problem: of the show without the runs that may move, with all boxes to drive that are on them or on none
    sides: runs move for the sake of keeping sides apart as well
    """
    plugged = now.rig
    bundles = _bundles(plugged, now.movable)
    uses = {start: _use(start, runs, plugged) for start, runs in bundles.items()}
    asked = problem.split(problem.building(stays=uses))
    stays = tuple(_stays(asked.groups, asked.sources, bundles, plugged, now.room))
    # Nobody moves a box to have its side apart and its sibling driven in another mode.
    question = msgspec.structs.replace(asked, stays=stays, modes=_modes(plugged) if sides else {})
    wanted = {BOXES_DRIVEN, PRESETS, POWER, MOVES} | ({SIDES} if sides else set())
    counts = count(question, cancelled=cancelled, only=wanted)
    if counts.answer.stopped:
        return None
    gone = {stay.start for stay in stays} - set(counts.staying)
    return frozenset(run.id for start in gone for run in bundles[start])


def _modes(plugged: Rig) -> dict[tuple[str, str], frozenset[tuple[str, ...]]]:
    """List the modes of the outputs that drive each model in each zone now, by pin pair."""
    modes: dict[tuple[str, str, str], dict[str, str]] = defaultdict(dict)
    for line in plugged.lines:
        for load in line.loads:
            if line.output is not None:
                modes[load.box.zone, load.speaker.id, load.box.id][str(load.section.pair)] = line.output.mode
    found: dict[tuple[str, str], set[tuple[str, ...]]] = defaultdict(set)
    for (zone, speaker, _), pairs in modes.items():
        found[zone, speaker].add(tuple(mode for _, mode in sorted(pairs.items())))
    return {key: frozenset(own) for key, own in found.items()}


def _bundles(plugged: Rig, movable: Collection[str]) -> dict[str, tuple[Run, ...]]:
    """Gather the runs that may move by the connector that they start from: they move together."""
    found: dict[str, list[Run]] = defaultdict(list)
    for run in plugged.show.runs:
        if run.id in movable:
            found[run.start].append(run)
    return {start: tuple(runs) for start, runs in found.items()}


def _use(start: str, runs: Sequence[Run], plugged: Rig) -> Use:
    """Return how the runs that are on a connector now use it."""
    numbers = {
        unit.id: _number(unit.id, unit.rack) if start.partition(".")[0] == unit.rack else 0
        for unit in all_units(plugged.show)
    }
    names = {run.id for run in runs}
    outputs = [line.output for line in plugged.lines if line.run.id in names and line.output is not None]
    channels = frozenset((numbers[output.unit.id], channel) for output in outputs for channel in output.channels)
    return Use((Place(_kind(start), ()),), channels, ())


def _number(unit: str, rack: str | None) -> int:
    """Return the number of a unit in its rack as built; 0 for a unit of no such rack."""
    number = unit.removeprefix(f"{rack}-")
    return int(number) if number.isdigit() else 0


def _kind(start: str) -> Kind:
    return Kind((), f"stays on {start}", passes_on=False)


def _stays(
    groups: Sequence[Group],
    sources: Sequence[OutputSource],
    bundles: Mapping[str, tuple[Run, ...]],
    plugged: Rig,
    room: Mapping[str, Sequence[str]],
) -> Iterator[Stay]:
    group_of = {box: index for index, group in enumerate(groups) for names in group.boxes for box in names}
    at = {
        kind: number
        for number, source in enumerate(sources)
        for pattern in source.patterns
        for kind in pattern.counts
        if not kind.feeds
    }
    for start, runs in bundles.items():
        names = {run.id for run in runs}
        boxes = Counter(group_of[step.box] for run in runs for step in run.path if step.box in group_of)
        if not boxes or _kind(start) not in at:
            continue
        outputs = [output for output in plugged.outputs if any(line.line.run.id in names for line in output.lines)]
        hosts = frozenset(output.source for output in outputs if "." in output.source)
        steps = {
            (step.shared or (run.id, place), step.adaptor or step.panel)
            for run in runs
            for place, step in enumerate(run.path)
        }
        parts = Counter(name for _, name in steps if name)
        more = Counter(group_of[box] for run in runs for box in room.get(run.id, ()) if box in group_of)
        yield Stay(start, at[_kind(start)], _kind(start), tuple(boxes.items()), hosts, dict(parts), tuple(more.items()))
