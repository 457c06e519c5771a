"""Options: each plug tried in each socket, and at each junction, on the solver and by the rules of the checks."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor
from fieldkit.planning.failover.feeding import SourceChoice
from fieldkit.planning.failover.fitting import Fitting
from fieldkit.planning.failover.joinings import Joinings
from fieldkit.planning.failover.placements import ELSEWHERE, PlacedFeed, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug, with_modes
from fieldkit.planning.failover.reach import Reach, with_lead
from fieldkit.planning.failover.sockets import Socket
from fieldkit.rig.connect.lines import lines_of
from fieldkit.rig.connect.outputs import Output, output_of
from fieldkit.rig.failures import Failures
from fieldkit.rig.signal import siblings
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Run, Step

UNSAID = "?"
"""A signal that nobody has named."""


class Options:
    """Finds the placements of plugs in a show, spares included."""

    def __init__(self, rig: Rig, failures: Failures, sockets: Sequence[Socket], spares: Collection[str]) -> None:
        """``spares`` are the units that the stock has."""
        self.rig, self.failures, self.sockets = rig, failures, sockets
        self.fitting = Fitting(rig)
        self.reach, self.feeding = Reach(rig, spares), SourceChoice(rig, failures)
        self.joinings = Joinings(rig, failures, self.reach, self.fitting)

    def of(self, plug: Plug) -> list[Placement]:
        """List the places of a plug, the plainest first; none where it must be left alone."""
        if plug.unclear:
            return []
        found = [place for socket in self.sockets for place in self._in(plug, socket)]
        place = {id(socket): number for number, socket in enumerate(self.sockets)}
        return sorted(
            found,
            key=lambda item: (
                item.moved,
                len(item.socket.changes),
                item.reach,
                item.worse,
                item.adaptor is not None,
                place[id(item.socket)],
            ),
        )

    def _in(self, plug: Plug, socket: Socket) -> Iterator[Placement]:
        if socket.id == plug.start and socket.changes:
            return
        if socket.junction is not None and plug.start == socket.junction.beside.start:
            return
        for adaptor in (None, *self.fitting.adaptors):
            pins = self.fitting.pins(plug, socket, adaptor)
            if pins is not None and socket.junction is not None:
                yield from self.joinings.at(plug, socket, adaptor, pins)
                return
            if pins is not None:
                for pool in ("", *self.feeding.free):
                    yield from self._fed(plug, socket, adaptor, pins, pool)
                if socket.id != plug.start:
                    return  # with fewer things between where that will do

    def _fed(
        self, plug: Plug, socket: Socket, adaptor: Adaptor | None, pins: Mapping[str, tuple[str, str]], pool: str
    ) -> Iterator[Placement]:
        """Feed a plug in a socket; where the old source will not do, from a free output of one processor."""
        feeds: list[PlacedFeed] = []
        for need in plug.needs:
            _, name = pins[need.pair]
            unit = with_modes(self.rig.show_index.units[name.partition(".")[0]], socket.changes)
            model = self.rig.show_index.models[unit.model]
            if not isinstance(model, Amplifier):
                return
            output = output_of(unit, model, name.partition(".")[2])
            if self.failures.of_output(output) or not _mode_will_do(need.output, output):
                return
            stays = socket.id == plug.start and adaptor is None
            if not stays and output.permission != "allowed":
                return
            source, drawn = self.feeding.source(need, output), ""
            straight = self.feeding.desk_signal(need) if source is None and not pool and stays else ""
            if straight:
                source = straight
            elif source is None:
                if not pool or not self.feeding.will_host(pool, need):
                    return
                source, drawn = self.feeding.free[pool][0], pool
            feeds.append(PlacedFeed(need, output, source or "", drawn, None, None, bool(straight)))
        if pool and not any(feed.pool for feed in feeds):
            return
        lead = self.reach.lead_back(plug, socket)
        if lead is None:
            return
        runs = tuple(_moved(run, plug, socket, adaptor, pins) for run in plug.runs)
        if lead.model:
            runs = tuple(with_lead(run, lead) for run in runs)
        tried = self._tried(socket, feeds, runs)
        if tried is None:
            return
        solved, worse = tried
        feeds = [
            msgspec.structs.replace(feed, host=item.host, gain_db=item.gain_db, output=item.output)
            for feed, item in zip(feeds, solved, strict=True)
        ]
        between = adaptor.id if adaptor else None
        risk = sum(feed.desk for feed in feeds)
        reach = self.reach.of(plug, socket.id)
        if reach > ELSEWHERE:
            return
        yield Placement(plug, socket, between, tuple(feeds), runs, reach, risk, worse, lead=lead)

    def _tried(
        self, socket: Socket, feeds: Sequence[PlacedFeed], runs: Sequence[Run]
    ) -> tuple[list[SolvedOutput], int] | None:
        """Solve the plug at its new place alone; None where that brings an error that its old place did not have."""
        show_index = self.fitting.grounded(socket, feeds)
        lines = [line for run in runs for line in lines_of(run, show_index)]
        solved, worse = [], 0
        for feed in feeds:
            its = tuple(line for line in lines if line.output is not None and line.output.id == feed.output.id)
            if not its or sum(len(line.loads) for line in its) != len(feed.need.loads):
                return None
            new = self.fitting.at(show_index, feed, its)
            if _must_be_hosted(feed.need) and not feed.desk and not _is_hosted(new):
                return None
            old = next(item for item in self.rig.outputs if item.output.id == feed.need.output.id)
            if self.fitting.errors(new) - self.fitting.errors(old):
                return None
            worse += new.output.mode != feed.need.output.mode or not _as_loud(new, old)
            worse += len(self.fitting.warnings(new) - {item.rule for item in self.fitting.findings(old)})
            solved.append(new)
        return solved, worse


def _mode_will_do(old: Output, new: Output) -> bool:
    """A bridged pair may be replaced by a single output, which is weaker; never the other way round."""
    return new.mode in {old.mode, "single"}


def _as_loud(new: SolvedOutput, old: SolvedOutput) -> bool:
    """Tell whether an output has the gain of the old one, so that its boxes play as their siblings without a trim."""
    if new.gain_db is None or old.gain_db is None:
        return True
    return abs(new.gain_db - old.gain_db) < siblings.ALIKE_DB


def _must_be_hosted(need: PairNeed) -> bool:
    """Tell whether the preset has a place to run now, or cannot be done without."""
    speakers = {load.speaker.id for load in need.loads}
    hosted = need.host is not None and all(need.host.takes(name) for name in speakers)
    return any(load.choice.preset for load in need.loads) and (
        hosted or any(load.drive == "bi-amp" for load in need.loads)
    )


def _is_hosted(solved: SolvedOutput) -> bool:
    return solved.host is not None and all(solved.host.takes(load.speaker.id) for load in solved.loads)


def _moved(run: Run, plug: Plug, socket: Socket, adaptor: Adaptor | None, pins: Mapping[str, tuple[str, str]]) -> Run:
    """Return a run with the start, feeds and adaptor of its new socket."""
    if socket.id == plug.start and adaptor is None:
        return run
    its = {need.pair for need in plug.needs if any(line.run.id == run.id for line in need.lines)}
    feeds = {pins[pair][0]: pins[pair][1] for pair in sorted(its)}
    path = (Step(adaptor=adaptor.id), *run.path) if adaptor else run.path
    return msgspec.structs.replace(run, start=socket.id, feeds=feeds, path=path)
