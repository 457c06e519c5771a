"""Options: each plug tried in each socket, and at each junction, on the solver and by the rules of the checks."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, choices_of, output_rules
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.cabling import Adaptor
from fieldkit.planning.failover.feeding import SourceChoice
from fieldkit.planning.failover.junctions import joined
from fieldkit.planning.failover.placements import ELSEWHERE, PlacedFeed, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug, with_modes
from fieldkit.planning.failover.reach import Reach, tail_with, with_lead
from fieldkit.planning.failover.sockets import Junction, Socket
from fieldkit.planning.failover.spares import SpareLead
from fieldkit.rig.connect.connectors import takes_plug
from fieldkit.rig.connect.hosts import host_of, source_of
from fieldkit.rig.connect.lines import Line, ShowIndex, lines_of
from fieldkit.rig.connect.outputs import Output, output_of
from fieldkit.rig.failures import Failures
from fieldkit.rig.signal import siblings
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput, Wired, solve_output
from fieldkit.show.document import Run, Step
from fieldkit.units import Length

UNSAID = "?"
"""A signal that nobody has named."""


class Options:
    """Finds the placements of plugs in a show, spares included."""

    def __init__(
        self, rig: Rig, failures: Failures, sockets: Sequence[Socket], adaptors: Sequence[str], spares: Collection[str]
    ) -> None:
        """``adaptors`` are the models of which the stock has a free one, ``spares`` the units that it has."""
        self.rig, self.failures, self.sockets = rig, failures, sockets
        self.choices: Choices = choices_of(rig)
        models = rig.show_index.models
        self.adaptors = [model for name in adaptors if isinstance(model := models[name], Adaptor)]
        self.reach, self.feeding = Reach(rig, spares), SourceChoice(rig, failures)

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
        for adaptor in (None, *self.adaptors):
            pins = self._pins(plug, socket, adaptor)
            if pins is not None and socket.junction is not None:
                yield from self._joining(plug, socket, adaptor, pins)
                return
            if pins is not None:
                for pool in ("", *self.feeding.free):
                    yield from self._fed(plug, socket, adaptor, pins, pool)
                if socket.id != plug.start:
                    return  # with fewer things between where that will do

    def _pins(self, plug: Plug, socket: Socket, adaptor: Adaptor | None) -> dict[str, tuple[str, str]] | None:
        """Map each pair of the plug to the pair at the socket and its output; None where they do not fit."""
        shape = socket.shape
        if adaptor is not None:
            if len(adaptor.connectors) < 2:
                return None
            if not takes_plug(shape, adaptor.connectors[0], larger=self.reach.larger):
                return None
            shape = adaptor.connectors[-1]
        stays = socket.id == plug.start and adaptor is None
        if not stays and not takes_plug(shape, plug.shape, larger=self.reach.larger):
            return None
        found: dict[str, tuple[str, str]] = {}
        for pair, output in socket.pins.items():
            far = adaptor.far_pair(pair) if adaptor else pair
            if far in plug.reach:
                found[far] = (pair, output)
        needed = {need.pair for need in plug.needs}
        if stays:
            return {pair: found[pair] for pair in needed} if needed <= set(found) else None
        # A pair that reaches a section which the plan does not feed must not arrive live.
        if set(found) != needed or len({output for _, output in found.values()}) < len(needed):
            return None
        if socket.wired & {output for _, output in found.values()}:
            return None
        used = {output.partition(".")[2] for _, output in found.values()}
        idle = [pair for _, pair, _ in socket.changes if not _touches(pair, used)]
        return None if idle else found

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

    def _joining(
        self, plug: Plug, socket: Socket, adaptor: Adaptor | None, pins: Mapping[str, tuple[str, str]]
    ) -> Iterator[Placement]:
        """Let a plug join runs that play: boxes of the same zone, which want the same preset."""
        at = socket.junction
        if at is None or len(plug.runs) > 1:
            return
        feeds: list[PlacedFeed] = []
        for need in plug.needs:
            playing = _playing_on(pins[need.pair][1], at)
            if playing is None or playing.settings != need.settings or playing.output.mode != need.output.mode:
                return
            zones = {load.box.zone for load in (*need.loads, *playing.loads)}
            if len(zones) > 1 or self.failures.of_output(playing.output):
                return
            heard = " ".join(need.signals) or need.signal
            alike = heard == (" ".join(playing.signals) or playing.signal) and (heard or need.source == playing.source)
            also = "" if alike else heard or UNSAID
            host, gain_db = playing.host, playing.gain_db
            feeds.append(PlacedFeed(need, playing.output, playing.source, "", host, gain_db, shared=also))
        reach, between = self.reach.to_junction(plug, at), adaptor.id if adaptor else None
        flown = any(load.box.reach == "flown" for need in plug.needs for load in need.loads)
        for lead in (*(self.reach.longer(socket) if reach else ()), None):
            tail = tail_with(plug.runs[0], adaptor, lead, flown=flown)
            if tail is None:
                continue
            runs, path = joined(at, tail)
            start = at.beside.start if path else ""
            fed = {pins[need.pair][0]: pins[need.pair][1] for need in plug.needs} if path else {}
            coming = msgspec.structs.replace(plug.runs[0], start=start, feeds=fed, path=path)
            worse = self._worse_joined(feeds, (*runs, coming) if path else runs)
            if worse is not None:
                yield Placement(
                    plug=plug,
                    socket=socket,
                    adaptor=between,
                    feeds=tuple(feeds),
                    runs=(coming,),
                    reach=reach,
                    risk=0,
                    worse=worse,
                    joined=runs,
                    lead=lead or SpareLead("", Length("0 m")),
                )
                if not reach:
                    return

    def _worse_joined(self, feeds: Sequence[PlacedFeed], runs: Sequence[Run]) -> int | None:
        """Count new warnings where boxes join what plays; None where that brings an error, or not all are reached."""
        lines = [line for run in runs for line in lines_of(run, self.rig.show_index)]
        others = [line for line in self.rig.lines if line.run.id not in {run.id for run in runs}]
        worse = 0
        for feed in feeds:
            on_it = [line for line in (*lines, *others) if line.output and line.output.id == feed.output.id]
            its = tuple(line for line in on_it if line.loads)
            old = next(item for item in self.rig.outputs if item.output.id == feed.output.id)
            if sum(len(line.loads) for line in its) != len(old.loads) + len(feed.need.loads):
                return None
            new = _solved(its, feed, self.rig.show_index, self.rig)
            now, before = self._findings(new), self._findings(old)
            if {item.rule for item in now if item.severity == "error"} - {
                item.rule for item in before if item.severity == "error"
            }:
                return None
            worse += len({item.rule for item in now if item.severity == "warning"} - {item.rule for item in before})
        return worse

    def _tried(
        self, socket: Socket, feeds: Sequence[PlacedFeed], runs: Sequence[Run]
    ) -> tuple[list[SolvedOutput], int] | None:
        """Solve the plug at its new place alone; None where that brings an error that its old place did not have."""
        show_index = _ground_with(self.rig.show_index, socket, feeds)
        lines = [line for run in runs for line in lines_of(run, show_index)]
        solved, worse = [], 0
        for feed in feeds:
            its = tuple(line for line in lines if line.output is not None and line.output.id == feed.output.id)
            if not its or sum(len(line.loads) for line in its) != len(feed.need.loads):
                return None
            new = _solved(its, feed, show_index, self.rig)
            if _must_be_hosted(feed.need) and not feed.desk and not _is_hosted(new):
                return None
            old = next(item for item in self.rig.outputs if item.output.id == feed.need.output.id)
            now, before = self._findings(new), self._findings(old)
            errors = {item.rule for item in now if item.severity == "error"}
            if errors - {item.rule for item in before if item.severity == "error"}:
                return None
            worse += new.output.mode != feed.need.output.mode or not _as_loud(new, old)
            worse += len({item.rule for item in now if item.severity == "warning"} - {item.rule for item in before})
            solved.append(new)
        return solved, worse

    def _findings(self, solved: SolvedOutput) -> list[Finding]:
        return [item for rule in output_rules for item in rule(solved, self.choices)]


def _playing_on(output: str, at: Junction) -> PairNeed | None:
    """Find what the runs of a junction feed from an output; None where they feed nothing from it."""
    runs = {run.id for run in at.runs}
    return next(
        (
            need
            for need in at.beside.needs
            if need.output.id == output and not need.failed and any(line.run.id in runs for line in need.lines)
        ),
        None,
    )


def _touches(pair: str, used: set[str]) -> bool:
    return any(part in channels.split("+") for channels in used for part in pair.split("+"))


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


def _ground_with(show_index: ShowIndex, socket: Socket, feeds: Sequence[PlacedFeed]) -> ShowIndex:
    """Return the show index with the units of a socket as they will be set."""
    units = dict(show_index.units)
    for feed in feeds:
        unit = with_modes(
            units[feed.output.unit.id], [item for item in socket.changes if item[0] == feed.output.unit.id]
        )
        inputs = {**unit.inputs, str(feed.output.channels[0]): feed.source}
        units[unit.id] = msgspec.structs.replace(unit, inputs=inputs)
    return msgspec.structs.replace(show_index, units=units)


def _solved(lines: tuple[Line, ...], feed: PlacedFeed, show_index: ShowIndex, rig: Rig) -> SolvedOutput:
    output = lines[0].output or feed.output
    source = source_of(output, show_index.units, show_index.models)
    loads = [load for line in lines for load in line.loads]
    wired = Wired(output, lines, host_of(output, loads, source), source.text)
    return solve_output(wired, rig.conditions, 1.0)
