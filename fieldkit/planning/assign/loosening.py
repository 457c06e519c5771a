"""Which runs must move, for what that brings: as few plugs as can be.

Every run that is there may stay, at no move, or give its place away. The whole numbers choose which; what must move is
then planned as if it had no run yet.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.loudspeaker import Drive
from fieldkit.planning.assign.fitting import Fit, fit
from fieldkit.planning.assign.inquiry import AssignProblem
from fieldkit.planning.assign.patterns import Kind, Place, Use
from fieldkit.planning.assign.problem import ClusterOption, Group, Question, Stay, Way
from fieldkit.planning.assign.search import climbs
from fieldkit.planning.assign.sources import OutputSource
from fieldkit.planning.assign.standing import hosting_of, hosts_of, kind_of
from fieldkit.planning.assign.tails import HeldConnector, tails_of
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedLine, SolvedOutput
from fieldkit.show.contents import all_units
from fieldkit.show.document import Run

MOST_LOOSE, MOST_ASKED = 100, 200
"""Boxes of a show, up to which the runs that must move are looked for, and up to which where somebody asks for moves.

Between them only what must move and the best are looked for.
"""


class PluggedRuns(msgspec.Struct, frozen=True):
    """What is plugged now."""

    rig: Rig
    """With all its runs."""
    movable: Collection[str]
    """Runs that may move."""
    wrong: Collection[str]
    """Those of them that cannot stay: something about them is an error."""
    room: Mapping[str, Sequence[str]]
    """Run -> boxes without a run that it has room for."""


class Loosening:
    """Finds which runs would move for what."""

    def __init__(self, problem: AssignProblem, now: PluggedRuns) -> None:
        """Put the question; ``problem`` is of the show without the runs that may move, with all their boxes."""
        self._boxes = len(now.rig.show.boxes)
        self._bundles = _bundles(now.rig, now.movable)
        stay = {start: runs for start, runs in self._bundles.items() if not any(r.id in now.wrong for r in runs)}
        tails = tails_of(now.rig, stay)
        uses = {start: HeldConnector(tails.get(start), _use(start, runs, now.rig)) for start, runs in stay.items()}
        asked = problem.split(problem.building(stays=uses))
        self._question = msgspec.structs.replace(asked, stays=tuple(_Standing(asked, now).stays(stay)))

    def runs_to_move(self, cancelled: Callable[[], bool], progress: Callable[[str], None]) -> Iterator[frozenset[str]]:
        """Name the runs that move, the fewest first; what more of them bring is better for some goal."""
        only_ends = self._boxes > MOST_LOOSE
        for climb in climbs(self._question, cancelled, progress, only_ends=only_ends):
            gone = set(self._bundles) - climb.staying
            yield frozenset(run.id for start in gone for run in self._bundles[start])


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


class _Standing:
    """What the runs that are there are to the goals."""

    def __init__(self, question: Question, now: PluggedRuns) -> None:
        self._question, self._now = question, now
        groups = question.groups
        self._group_of = {box: n for n, group in enumerate(groups) for names in group.boxes for box in names}
        self._source_of = _sources_of(question.sources)
        self._lines: dict[str, list[tuple[SolvedOutput, SolvedLine]]] = defaultdict(list)
        for output in now.rig.outputs:
            for line in output.lines:
                self._lines[line.line.run.id].append((output, line))

    def stays(self, bundles: Mapping[str, tuple[Run, ...]]) -> Iterator[Stay]:
        """List what may stay, by connector."""
        for start, runs in bundles.items():
            boxes = Counter(self._group_of[step.box] for run in runs for step in run.path if step.box in self._group_of)
            if not boxes or _kind(start) not in self._source_of:
                continue
            outputs = [output for run in runs for output, _ in self._lines[run.id]]
            steps = {
                (step.shared or (run.id, place), step.adaptor or step.panel)
                for run in runs
                for place, step in enumerate(run.path)
            }
            behind = (box for run in runs for box in self._now.room.get(run.id, ()) if box in self._group_of)
            source = self._source_of[_kind(start)]
            yield Stay(
                start,
                source,
                _kind(start),
                tuple(boxes.items()),
                tuple(dict.fromkeys(hosts_of(self._now.rig, outputs))),
                dict(Counter(name for _, name in steps if name)),
                plugs=len(runs),
                standing=tuple(option for run in runs for option in self._clusters(run, source)),
                more=tuple(Counter(self._group_of[box] for box in behind).items()),
            )

    def _clusters(self, run: Run, source: int) -> Iterator[ClusterOption]:
        """Describe a run as the clusters of its groups."""
        boxes = Counter(self._group_of[step.box] for step in run.path if step.box in self._group_of)
        for index, number in boxes.items():
            group = self._question.groups[index]
            of_group = {name for names in group.boxes for name in names}
            drive: Drive | None = None
            feeds: dict[str, SolvedOutput] = {}
            loss_db = 0.0
            for output, line in self._lines[run.id]:
                for solved in line.boxes:
                    if solved.load.box.id in of_group:
                        drive = solved.load.drive
                        feeds[str(solved.load.section.pair)] = output
                        loss_db = max(loss_db, solved.loss_db)
            way = next((way for way in group.ways if way.drive == drive), group.ways[0])
            limit_db = self._question.limits[group.zone.id].loss_db
            yield ClusterOption(
                index,
                way,
                source,
                kind_of(feeds),
                number,
                self._fit(group, way, feeds, number),
                hosting_of(feeds.values()),
                apart=False,
                over_loss=max(0, round(10.0 * (loss_db - limit_db))),
            )

    def _fit(self, group: Group, way: Way, feeds: Mapping[str, SolvedOutput], boxes: int) -> Fit:
        on = [(loads, feeds[pair].output) for pair, loads in way.loads if pair in feeds]
        asked = [(loads, output.model, output.mode) for loads, output in on]
        found = fit(asked, boxes, self._question.limits[group.zone.id])
        nothing = Fit(is_weak=True, is_short=True, under_preferred=len(on), needs_host=False, is_hosted=False)
        return found or nothing


def _sources_of(sources: Sequence[OutputSource]) -> dict[Kind, int]:
    """Find the source that each run which may stay is on, by the kind of its place."""
    return {
        kind: number
        for number, source in enumerate(sources)
        for pattern in source.patterns
        for kind in pattern.counts
        if not kind.feeds
    }
