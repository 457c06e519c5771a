"""Joinings: each plug tried at each junction, where it joins what plays on or what the plan itself brings there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from fieldkit.gear.cabling import Adaptor
from fieldkit.planning.failover.fitting import Fitting
from fieldkit.planning.failover.junctions import joined, links_upon
from fieldkit.planning.failover.placements import PlacedFeed, Placement
from fieldkit.planning.failover.plugs import PairNeed, Plug
from fieldkit.planning.failover.reach import Reach, tail_with
from fieldkit.planning.failover.sockets import Junction, Socket
from fieldkit.planning.failover.spares import SpareLead
from fieldkit.rig.connect.lines import lines_of
from fieldkit.rig.failures import Failures
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.show.document import Run
from fieldkit.units import Length

UNSAID = "?"
"""A signal that nobody has named."""


class Joinings:
    """Finds where plugs can join what plays."""

    def __init__(self, rig: Rig, failures: Failures, reach: Reach, fitting: Fitting) -> None:
        self.rig, self.failures, self.reach, self.fitting = rig, failures, reach, fitting

    def upon(self, plug: Plug, place: Placement) -> list[Placement]:
        """List how a plug can join what another one brings to its place: of the same zones, for the same presets."""
        mine, theirs = ({(need.settings, *_zones(need)) for need in item.needs} for item in (plug, place.plug))
        if plug.unclear or place.plug.start in {plug.start, plug.parent} or not mine <= theirs:
            return []
        then = msgspec.structs.replace(self.rig, show_index=self.fitting.grounded(place.socket, place.feeds))
        found: list[Placement] = []
        for socket in links_upon(then, self.failures, place):
            for adaptor in (None, *self.fitting.adaptors):
                pins = self.fitting.pins(plug, socket, adaptor)
                if pins is not None:
                    found += self.at(plug, socket, adaptor, pins, place)
                    break
        return found

    def at(
        self,
        plug: Plug,
        socket: Socket,
        adaptor: Adaptor | None,
        pins: Mapping[str, tuple[str, str]],
        upon: Placement | None = None,
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
            feed = PlacedFeed(need, playing.output, playing.source, "", host, gain_db, shared=also)
            beside = next((one for one in upon.feeds if one.output.id == playing.output.id), None) if upon else None
            if beside is not None:
                feed = msgspec.structs.replace(feed, pool=beside.pool, desk=beside.desk, beside=beside)
            feeds.append(feed)
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
            worse = self._worse_joined(feeds, (*runs, coming) if path else runs, upon)
            if worse is not None:
                yield Placement(
                    plug=plug,
                    socket=socket,
                    adaptor=between,
                    feeds=tuple(feeds),
                    runs=(coming,),
                    reach=reach,
                    risk=sum(feed.desk for feed in feeds),
                    worse=worse,
                    joined=runs,
                    lead=lead or SpareLead("", Length("0 m")),
                    upon=upon,
                )
                if not reach:
                    return

    def _worse_joined(self, feeds: Sequence[PlacedFeed], runs: Sequence[Run], upon: Placement | None) -> int | None:
        """Count new warnings where boxes join what plays; None where that brings an error, or not all are reached."""
        show_index = self.fitting.grounded(upon.socket, upon.feeds) if upon else self.rig.show_index
        lines = [line for run in runs for line in lines_of(run, show_index)]
        names = {run.id for run in runs}
        before = [line for line in self.rig.lines if line.run.id in names]
        others = [line for line in self.rig.lines if line.run.id not in names]
        if upon is not None:  # what else comes to its output, or stays there, is for the whole plan to say
            before, others = [line for run in upon.runs for line in lines_of(run, show_index)], []
        worse = 0
        for feed in feeds:
            its, old = (
                [line for line in (*some, *others) if line.output and line.output.id == feed.output.id and line.loads]
                for some in (lines, before)
            )
            counts = [sum(len(line.loads) for line in some) for some in (its, old)]
            if not old or counts[0] != counts[1] + len(feed.need.loads):
                return None
            now, was = (self.fitting.at(show_index, feed, some) for some in (its, old))
            if self.fitting.errors(now) - self.fitting.errors(was):
                return None
            worse += len(self.fitting.warnings(now) - self.fitting.warnings(was))
        return worse


def _zones(need: PairNeed) -> tuple[str, ...]:
    return tuple(sorted({load.box.zone for load in need.loads}))


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
