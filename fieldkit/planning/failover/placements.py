"""Placements: where one plug may go, what feeds it there, and what must be set for it. Each is tried on the solver."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, choices_of, output_rules
from fieldkit.gear.amplifier import Amplifier, Hosts
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.junctions import joined
from fieldkit.planning.failover.plugs import PairNeed, Plug, with_modes
from fieldkit.planning.failover.processor_outputs import entered, free_processor_outputs
from fieldkit.planning.failover.sockets import Junction, Socket
from fieldkit.planning.failover.spares import SpareLead, spare_leads
from fieldkit.rig.connect.connectors import has_larger_plugs, takes_plug
from fieldkit.rig.connect.hosts import Host, host_of, source_of
from fieldkit.rig.connect.lines import Line, Load, ShowIndex, lines_of
from fieldkit.rig.connect.outputs import Output, output_of
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.signal import siblings
from fieldkit.rig.signal.chain import signal_paths
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput, Wired, solve_output
from fieldkit.show.document import Run, Step

ELSEWHERE = 2
"""Reach from which on a plug may use what is free, and take nothing from others."""

MOST_LEADS = 2
"""So many leads of the stock are tried at a link socket, the longest first."""

OUT_OF_REACH = 3
"""Reach of what stands by itself, such as a delay tower: no lead goes from there to the stage, or back."""

UNSAID = "?"
"""A signal that nobody has named."""

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
    shared: str = ""
    """What its boxes are to hear, where they hear it only if the desk adds it to the signal of the output they join."""


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
    joined: tuple[Run, ...] = ()
    """Runs that go on playing, as they are once this plug has joined them."""
    lead: tuple[str, str] = ("", "")
    """Model and length of a lead from the stock that it takes."""

    @property
    def mixed(self) -> int:
        """Count the outputs that carry the sum of two signals then."""
        return sum(bool(feed.shared) for feed in self.feeds)

    @property
    def moved(self) -> bool:
        """Tell whether somebody has to plug it."""
        return self.socket.id != self.plug.start or self.adaptor is not None

    def takes_from(self, other: Plug) -> bool:
        """Tell whether another plug has to give up its connector or a channel for this."""
        if self.joined:
            return False
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
        self.leads = sorted(spare_leads(rig), key=lambda lead: -lead.length.value)
        known = zone_priorities(rig.show, rig.show_index.speakers)
        self.far = {name for name, priority in known.items() if priority.role == "delay"}
        self.heard_by_tops = _heard_by_tops(rig)
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
        if socket.junction is not None and plug.start == socket.junction.beside.start:
            return
        for adaptor in (None, *self.adaptors):
            pins = self._pins(plug, socket, adaptor)
            if pins is not None and socket.junction is not None:
                yield from self._joining(plug, socket, adaptor, pins)
                return
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
            source, drawn = self._source(need, output), ""
            straight = self._desk_signal(need) if source is None and not pool and stays else ""
            if straight:
                source = straight
            elif source is None:
                if not pool or not self._will_host(pool, need):
                    return
                source, drawn = self.free[pool][0], pool
            feeds.append(PlacedFeed(need, output, source or "", drawn, None, None, bool(straight)))
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
        reach = self._reach(plug, socket.id)
        if reach > ELSEWHERE:
            return
        yield Placement(plug, socket, between, tuple(feeds), runs, reach, risk, worse)

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
        reach, between = self._reach_to(plug, at), adaptor.id if adaptor else None
        flown = any(load.box.reach == "flown" for need in plug.needs for load in need.loads)
        longer = [lead for lead in self.leads if self._fits(lead, socket)] if reach else []
        for lead in (*longer[:MOST_LEADS], None):
            tail = _tail(plug.runs[0], adaptor, lead, flown=flown)
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
                    lead=(lead.model, lead.length) if lead else ("", ""),
                )
                if not reach:
                    return

    def _fits(self, lead: SpareLead, socket: Socket) -> bool:
        """Tell whether a lead of the stock goes into a link socket at both ends."""
        cable = self.rig.show_index.models[lead.model]
        return not isinstance(cable, Cable) or not cable.connectors or set(cable.connectors) == {socket.shape}

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

    def _reach_to(self, plug: Plug, at: Junction) -> int:
        """Say how far a lead must go to boxes that play: 0 on the same side, 2 to another one."""
        if not at.box:
            return self._reach(plug, at.beside.start)
        sides = {load.box.side for need in plug.needs for load in need.loads}
        return 0 if sides == {self.rig.show_index.boxes[at.box].side} else ELSEWHERE

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

    def _desk_signal(self, need: PairNeed) -> str:
        """Name the signal with which boxes can do without their processor; empty where they cannot.

        Passive ones over the whole band can, and subs whose signal nothing else hears, so that the desk may low-pass
        it; a sub of which nobody says where its high-pass stands, and a section of a bi-amp box, never can.
        """
        if not self.failures.of_source(need.source, self.rig.show_index.units):
            return ""
        signal = need.signal or (need.signals[0] if len(need.signals) == 1 else "")
        if not all(load.drive == "passive" for load in need.loads):
            return ""
        sections = {load.section.section for load in need.loads}
        if sections == {"full"}:
            return signal
        held = all(desk_high_pass_hz(load) is not None for load in need.loads)
        return signal if sections == {"sub"} and held and signal not in self.heard_by_tops else ""

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

    def _reach(self, plug: Plug, target: str) -> int:
        if target.partition(".")[0] in self.spares:
            return 0
        zones = {load.box.zone for need in plug.needs for load in need.loads}
        if self._is_far(zones) != self._is_far(self._served(target)):
            return OUT_OF_REACH
        if plug.parent:
            return ELSEWHERE  # nobody has said how far a stage box is from a rack
        here, there = self._rack(plug.start), self._rack(target)
        if here == there:
            return 0
        racks = self.rig.show_index.racks
        sides = [racks[name].side if name in racks else "" for name in (here, there)]
        elsewhere = not here or not there or (all(sides) and sides[0] != sides[1])
        return ELSEWHERE if elsewhere else 1

    def _is_far(self, zones: Collection[str]) -> bool:
        """Tell whether all of these zones stand by themselves, away from the others."""
        return bool(zones) and set(zones) <= self.far

    def _served(self, start: str) -> set[str]:
        """Name the zones that a unit or a rack as built serves."""
        name = start.partition(".")[0]
        mine = [item for item in self.rig.outputs if name in {item.output.unit.id, item.output.unit.rack}]
        return {load.box.zone for item in mine for load in item.loads}

    def _rack(self, start: str) -> str:
        name = start.partition(".")[0]
        unit = self.rig.show_index.units.get(name)
        return (unit.rack or "") if unit else name


def _heard_by_tops(rig: Rig) -> set[str]:
    """Name the signals that reach boxes other than subs, or are to."""
    tops = {load.box.id for output in rig.outputs for load in output.loads if load.section.section != "sub"}
    tops |= {box.id for box in rig.show.boxes if planned_drive(box, rig.show_index.speakers[box.id]) == "self-powered"}
    zones = {rig.show_index.boxes[name].zone for name in tops}
    heard = {signal for name in zones for signal in rig.show_index.zones[name].signals.values()}
    fed = {output.output.id for output in rig.outputs if any(load.box.id in tops for load in output.loads)} | tops
    return heard | {signal for path in signal_paths(rig) if path.to in fed for signal in path.signals}


def desk_high_pass_hz(load: Load) -> float | None:
    """Give the corner of the high-pass that boxes need without their preset: of the preset, else where a sub begins."""
    preset = load.choice.preset
    if preset is not None and preset.high_pass is not None:
        return preset.high_pass.value
    return load.section.low.value if load.section.section == "sub" and load.section.low is not None else None


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


def _tail(run: Run, adaptor: Adaptor | None, lead: SpareLead | None, *, flown: bool) -> tuple[Step, ...] | None:
    """Give the path of what comes: its own lead, or one of the stock to its first box; None where that is no better."""
    between = (Step(adaptor=adaptor.id),) if adaptor else ()
    if lead is None:
        return (*between, *run.path)
    first = next((number for number, step in enumerate(run.path) if step.box), None)
    if first is None or flown:
        return None
    own = run.path[: first + 1]
    if any(step.adaptor or step.panel for step in own):
        return None
    if lead.length.value <= sum(step.length.value for step in own if step.length):
        return None
    new = Step(cable=lead.model, length=lead.length, box=run.path[first].box)
    return (*between, new, *run.path[first + 1 :])


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
