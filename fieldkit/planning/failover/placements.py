"""Placements: where one plug may go, what feeds it there, and what must be set for it. Each is tried on the solver."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, choices_of, output_rules
from fieldkit.gear.amplifier import Amplifier, Hosts
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.plugs import PairNeed, Plug, with_modes
from fieldkit.planning.failover.processor_outputs import entered, free_processor_outputs
from fieldkit.planning.failover.sockets import Socket
from fieldkit.rig.connect.connectors import has_larger_plugs, takes_plug
from fieldkit.rig.connect.hosts import Host, host_of, source_of
from fieldkit.rig.connect.lines import Line, ShowIndex, lines_of
from fieldkit.rig.connect.outputs import Output, output_of
from fieldkit.rig.failures import Failures
from fieldkit.rig.signal import siblings
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput, Wired, solve_output
from fieldkit.show.document import Run, Step

ALIKE_DB = 0.1
"""Gains this near are the same to a limiter."""


class PlacedFeed(msgspec.Struct, frozen=True, eq=False):
    """One pin pair of a plug at its new place."""

    need: PairNeed
    output: Output
    source: str
    """A signal or a processor output; one that is free where ``pool`` names the processor."""
    pool: str
    host: Host | None
    gain_db: float | None
    desk: bool = False
    """Straight from the desk, for want of the processor that held its preset: high-passed there, low, unlimited."""


class Placement(msgspec.Struct, frozen=True, eq=False):
    """A plug in a socket."""

    plug: Plug
    socket: Socket
    adaptor: str | None
    feeds: tuple[PlacedFeed, ...]
    runs: tuple[Run, ...]
    """As they are in the show then."""
    reach: int
    """0 in the same rack, 1 in another one, 2 elsewhere: on the other side, or where an amplifier stands alone."""
    risk: int
    """Outputs that nothing limits any more."""
    worse: int
    """Warnings that the old place did not have, and outputs that are weaker for being no pair any more."""

    @property
    def moved(self) -> bool:
        """Tell whether somebody has to plug it."""
        return self.socket.id != self.plug.start or self.adaptor is not None

    def takes_from(self, other: Plug) -> bool:
        """Tell whether another plug has to give up its connector or a channel for this."""
        channels = {(feed.output.unit.id, number) for feed in self.feeds for number in feed.output.channels}
        its = {(need.output.unit.id, number) for need in other.needs for number in need.output.channels}
        return self.socket.id == other.start or bool(channels & its)


class Decision(msgspec.Struct, frozen=True, eq=False):
    """What becomes of a plug: a new place, or it stays where it was, or it is pulled and waits."""

    plug: Plug
    place: Placement | None
    stays: bool = False


class Options:
    """Finds the placements of plugs in a show, spares included."""

    def __init__(
        self, rig: Rig, failures: Failures, sockets: Sequence[Socket], adaptors: Sequence[str], spares: Collection[str]
    ) -> None:
        """``adaptors`` are the models of which the stock has a free one, ``spares`` the units that it has."""
        self.rig, self.failures, self.sockets, self.spares = rig, failures, sockets, spares
        self.choices: Choices = choices_of(rig)
        models = rig.show_index.models
        self.adaptors = [model for name in adaptors if isinstance(model := models[name], Adaptor)]
        self.free = free_processor_outputs(rig, failures)
        self.larger = has_larger_plugs(model for model in models.values() if isinstance(model, Cable))

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
        for adaptor in (None, *self.adaptors):
            pins = self._pins(plug, socket, adaptor)
            if pins is not None:
                for pool in ("", *self.free):
                    yield from self._fed(plug, socket, adaptor, pins, pool)
                if socket.id != plug.start:
                    return  # with fewer things between where that will do

    def _pins(self, plug: Plug, socket: Socket, adaptor: Adaptor | None) -> dict[str, tuple[str, str]] | None:
        """Map each pair of the plug to the pair at the socket and its output; None where they do not fit."""
        shape = socket.shape
        if adaptor is not None:
            if len(adaptor.connectors) < 2:
                return None
            if not takes_plug(shape, adaptor.connectors[0], larger=self.larger):
                return None
            shape = adaptor.connectors[-1]
        stays = socket.id == plug.start and adaptor is None
        if not stays and not takes_plug(shape, plug.shape, larger=self.larger):
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
            source, drawn = self._source(need, output), ""
            desk = source is None and not pool and stays and self._desk_will_do(need)
            if desk:
                source = need.signal
            elif source is None:
                if not pool or not self._will_host(pool, need):
                    return
                source, drawn = self.free[pool][0], pool
            feeds.append(PlacedFeed(need, output, source or "", drawn, None, None, desk))
        if pool and not any(feed.pool for feed in feeds):
            return
        runs = tuple(_moved(run, plug, socket, adaptor, pins) for run in plug.runs)
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
        yield Placement(plug, socket, between, tuple(feeds), runs, self._reach(plug, socket), risk, worse)

    def _source(self, need: PairNeed, output: Output) -> str | None:
        """Choose what feeds a need at an output; None where only another processor output can."""
        speakers = {load.speaker.id for load in need.loads}
        wants = any(load.choice.preset for load in need.loads)
        alive = not self.failures.of_source(need.source, self.rig.show_index.units)
        outboard = need.host is not None and need.host.kind == "processor"
        if wants and _takes(output.model.hosts, speakers):
            # The preset then runs in the amplifier, so the signal must come without another one.
            return need.source if alive and not outboard else need.signal or None
        if alive and (outboard or need.host is None):
            return need.source
        return need.signal or None if need.host is None else None

    def _desk_will_do(self, need: PairNeed) -> bool:
        """Tell whether boxes can do without their processor: passive ones over the whole band, with their own signal.

        A sub would need a low-pass and a high-pass on a desk output of its own; a section of a bi-amp box never can.
        """
        whole = all(load.drive == "passive" and load.section.section == "full" for load in need.loads)
        return whole and bool(need.signal) and bool(self.failures.of_source(need.source, self.rig.show_index.units))

    def _will_host(self, processor: str, need: PairNeed) -> bool:
        """Tell whether a processor can hold a need's preset, and gets its signals or can be given them."""
        unit = self.rig.show_index.units[processor]
        model = self.rig.show_index.models[unit.model]
        if not isinstance(model, Processor) or not _takes(model.hosts, {item.speaker.id for item in need.loads}):
            return False
        if not need.signals:  # nobody has said what it is to hear: only the processor that has it is sure to
            return need.source.partition(".")[0] == processor
        return entered(unit, model, need.signals) is not None

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

    def _reach(self, plug: Plug, socket: Socket) -> int:
        here, there = self._rack(plug.start), self._rack(socket.id)
        if here == there or socket.id.partition(".")[0] in self.spares:
            return 0
        racks = self.rig.show_index.racks
        sides = [racks[name].side if name in racks else "" for name in (here, there)]
        elsewhere = not here or not there or (all(sides) and sides[0] != sides[1])
        return 2 if elsewhere else 1

    def _rack(self, start: str) -> str:
        name = start.partition(".")[0]
        unit = self.rig.show_index.units.get(name)
        return (unit.rack or "") if unit else name


def _takes(hosts: Hosts | None, speakers: set[str]) -> bool:
    return hosts is not None and hosts.takes(*speakers)


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
