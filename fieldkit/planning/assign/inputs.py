"""What is patched into the inputs of a new plan: signals, links between inputs, processor outputs, shared or not."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

import msgspec

from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.placing import Cluster
from fieldkit.planning.assign.problem import HostKey, Question
from fieldkit.planning.assign.sources import Unavailable
from fieldkit.rig.connect.hosts import followed
from fieldkit.rig.failures import failed_now, failures_of
from fieldkit.show.contents import all_units, models_by_id
from fieldkit.show.document import RackUnit, Show
from fieldkit.text.words import all_of


class Wanted(msgspec.Struct, frozen=True):
    """What one output wants at its input."""

    unit: str
    channels: str
    signal: str
    host: Hashable | None
    """Outputs with the same one share a processor output; None where no processor is wanted."""
    what: str = ""
    """What the processor output has to hold, in words."""
    also: tuple[str, ...] = ()
    """Signals that are mixed to the first one there."""
    side: str = ""
    """The side that its boxes stand on: each gets a processor output of its own, while there are any."""
    zone: str = ""
    held: str = ""
    """A processor output that holds the same already, for boxes that stay."""
    before: str = ""
    """The one that held the same for its boxes before they moved."""


def wants_of(
    clusters: Sequence[Cluster], question: Question, before: Mapping[tuple[HostKey, str], str]
) -> tuple[Wanted, ...]:
    """List what the outputs of all clusters want; ``before`` says what held a preset for a side until now."""
    found, held = [], question.held()
    for cluster in clusters:
        group = question.groups[cluster.option.group]
        signal = group.signal(cluster.side)
        for (_, feed), (_, loads) in zip(cluster.spot.place.feeds, cluster.option.way.loads, strict=True):
            unit, _, channels = cluster.spot.output(feed).partition(".")
            preset = loads[0].choice.id or ""
            key: HostKey = (group.zone.id, signal, group.speaker.id, preset)
            outside = cluster.option.hosting == "outside"
            what = f"the preset '{preset}' of zone '{group.zone.id}'"
            side = group.sides[cluster.side]
            host = key if outside else None
            own = held.get(key, "") if outside else ""
            until_now = before.get((key, side), "") if outside else ""
            found.append(Wanted(unit, channels, signal, host, what, (), side, group.zone.id, own, until_now))
    return tuple(found)


def fed(show: Show, wants: Sequence[Wanted], taken: Unavailable) -> tuple[Show, tuple[str, ...]]:
    """Set the inputs and bridged pairs of the show; return it with what could not be set, in words."""
    hosts = _Hosts(show, taken)
    wants = hosts.by_side(wants)
    own: dict[str, list[Wanted]] = {}
    for want in wants:
        own.setdefault(want.unit, []).append(want)
    units = {unit.id: unit for unit in all_units(show)}
    changed: dict[str, RackUnit] = {}
    for name, its in own.items():
        unit = _bridged(units[name], its, taken.channels.get(name, frozenset()))
        sources = {want.channels.partition("+")[0]: hosts.source(want, unit) for want in its}
        inputs = _inputs(unit, {channel: text for channel, text in sources.items() if text}, taken)
        changed[name] = msgspec.structs.replace(unit, inputs=inputs)
        for channel in sources:
            hosts.hears(name, channel, followed(inputs, channel))
    changed |= hosts.changed()
    known = {unit.id: unit for unit in show.rack_units}
    rack_units = [
        _own(changed[unit.id], units[unit.id], unit) if unit.id in changed else unit for unit in show.rack_units
    ]
    for name, unit in changed.items():
        if name not in known and unit != units[name]:
            rack_units.append(_own(unit, units[name], RackUnit(id=name, model=unit.model)))
    return msgspec.structs.replace(show, rack_units=tuple(rack_units)), tuple(hosts.problems)


def _own(now: RackUnit, before: RackUnit, written: RackUnit) -> RackUnit:
    """Write down only what has changed: a rack as built says the rest of its units itself."""
    inputs = {name: text for name, text in now.inputs.items() if before.inputs.get(name) != text}
    routes = {name: text for name, text in now.routes.items() if before.routes.get(name) != text}
    bridged = now.bridged if now.bridged != before.bridged else written.bridged
    return msgspec.structs.replace(
        written, inputs=written.inputs | inputs, routes=written.routes | routes, bridged=bridged
    )


def _bridged(unit: RackUnit, wants: Sequence[Wanted], taken: frozenset[int]) -> RackUnit:
    """Set the pairs that are wanted, and take apart those whose channels are wanted single."""
    wanted = {want.channels for want in wants}
    single = {channel for channels in wanted if "+" not in channels for channel in (channels,)}
    kept = [
        pair
        for pair in unit.bridged
        if pair not in wanted and (not single & set(pair.split("+")) or set(map(int, pair.split("+"))) & taken)
    ]
    pairs = sorted({*kept, *(c for c in wanted if "+" in c and c not in unit.paralleled)}, key=_number)
    return msgspec.structs.replace(unit, bridged=tuple(pairs))


def _number(pair: str) -> int:
    return int(pair.partition("+")[0])


def _inputs(unit: RackUnit, sources: dict[str, str], taken: Unavailable) -> dict[str, str]:
    """Set the inputs of these channels to these sources; channels in use keep their own."""
    inputs = dict(unit.inputs)
    staying = {str(channel): followed(inputs, str(channel)) for channel in taken.channels.get(unit.id, ())}
    due = {channel: text for channel, text in staying.items() if text} | sources
    for channel in sorted(due, key=int):
        if followed(inputs, channel) != due[channel]:
            inputs[channel] = due[channel]
    for channel in due:  # a link may have led to an input that has changed since
        if followed(inputs, channel) != due[channel]:
            inputs[channel] = due[channel]
    return dict(sorted(inputs.items(), key=lambda item: int(item[0])))


class _Hosts:
    """The processors: which of their outputs are free, what they hold, which signals they get."""

    def __init__(self, show: Show, taken: Unavailable) -> None:
        self._models = models_by_id(show)
        self._units = {unit.id: unit for unit in all_units(show)}
        self._processors = {
            unit.id: unit for unit in self._units.values() if isinstance(self._models.get(unit.model), Processor)
        }
        self._inputs = {name: dict(unit.inputs) for name, unit in self._processors.items()}
        self._routes = {name: dict(unit.routes) for name, unit in self._processors.items()}
        self._held: dict[Hashable, str] = {}
        self._busy = host_outputs_in_use(show, taken)
        self._losses = failures_of(show, self._units, failed_now(show))
        self._before: set[str] = set()
        """Processor outputs that held a preset before, which is wanted again."""
        self.problems: dict[str, None] = {}

    def by_side(self, wants: Sequence[Wanted]) -> list[Wanted]:
        """Assign a processor output to each side while any is free; note which sides share one."""
        sides: dict[Hashable, dict[str, None]] = {}
        self._before = {want.before for want in wants}
        shared = {want.host for want in wants if want.held}
        for want in wants:
            if want.host is not None:
                sides.setdefault(want.host, {})[want.side] = None
        left = len(self._free()) - len(sides.keys() - shared)
        for host in sides.keys() & shared:
            if left > 0:
                left -= 1
            else:
                self._held |= {want.host: want.held for want in wants if want.host == host}
        own: set[Hashable] = set()
        for host, names in sides.items():
            more = len(names) - 1
            if more and more <= left:
                own.add(host)
                left -= more
        for want in wants:
            if want.host is not None and want.host not in own and len(sides[want.host]) > 1:
                both = all_of(list(sides[want.host]))
                self.problems[f"{both} of zone '{want.zone}' share a processor output: no other is free"] = None
        return [
            msgspec.structs.replace(want, host=(want.host, want.side)) if want.host in own else want for want in wants
        ]

    def _free(self) -> list[str]:
        """List the processor outputs that nothing uses."""
        return [
            f"{name}.{number}"
            for name, unit in self._processors.items()
            for number in range(1, self._most(unit) + 1)
            if f"{name}.{number}" not in self._busy
        ]

    def source(self, want: Wanted, unit: RackUnit) -> str:
        """Say what feeds an output: its signal, or a processor output; empty where nothing is planned."""
        if want.host is None:
            return self._signal(want.signal)
        if want.host not in self._held:
            output = self._output(want, followed(unit.inputs, want.channels.partition("+")[0]))
            if output is None:
                self.problems[f"no processor has an output, and an input for its signal, left for {want.what}"] = None
                return ""
            self._held[want.host] = output
            self._busy.add(output)
        return self._held[want.host]

    def hears(self, unit: str, channel: str, source: str) -> None:
        """Say so where an output is left with a source that has failed, for want of anything else to give it."""
        failed = self._losses.of_source(source, self._units)
        if failed:
            says = f"{unit} channel {channel} gets {source}, and {failed}"
            self.problems[f"{says}: nothing is heard there until its input gets something else"] = None

    def _signal(self, signal: str) -> str:
        """Return a signal's name for an input; empty, with a problem noted, where it would mean an output."""
        if signal.startswith("=") or "." in signal:
            self.problems[f"the signal '{signal}' cannot be an input's: names with '.' and '=' mean outputs"] = None
            return ""
        return signal

    def _output(self, want: Wanted, present: str) -> str | None:
        free = self._free()
        # What is loaded stays where it is, and then what is wired.
        free.sort(key=lambda output: (output != want.before, output in self._before, output != present))
        for output in free:
            name, _, number = output.partition(".")
            signals = [signal for signal in map(self._signal, (want.signal, *want.also)) if signal]
            if all(self._gets(name, signal) for signal in signals):
                self._route(name, number, signals)
                return output
        return None

    def _route(self, name: str, number: str, signals: Sequence[str]) -> None:
        """Lead the inputs with these signals to an output, as far as somebody said which signals there are."""
        entries = {signal: entry for entry, signal in reversed(self._inputs[name].items())}
        if signals:
            self._routes[name][number] = "+".join(entries[signal] for signal in signals)

    def _most(self, unit: RackUnit) -> int:
        model = self._models[unit.model]
        if not isinstance(model, Processor) or model.hosts is None:
            return 0
        return min(model.outputs, model.hosts.slots or model.outputs)

    def _gets(self, name: str, signal: str) -> bool:
        """Feed a signal to a processor, on a free input where it does not have it yet. False where none is free."""
        inputs = self._inputs[name]
        if signal in inputs.values():
            return True
        model = self._models[self._processors[name].model]
        count = model.inputs if isinstance(model, Processor) else 0
        free = next((str(number) for number in range(1, count + 1) if str(number) not in inputs), None)
        if free is None:
            return False
        inputs[free] = signal
        return True

    def changed(self) -> dict[str, RackUnit]:
        """Return the processors whose inputs or routes have changed."""
        return {
            name: msgspec.structs.replace(unit, inputs=self._inputs[name], routes=self._routes[name])
            for name, unit in self._processors.items()
            if (self._inputs[name], self._routes[name]) != (unit.inputs, unit.routes)
        }


def host_outputs_in_use(show: Show, taken: Unavailable) -> set[str]:
    """List the processor outputs that feed what stays, self-powered boxes among it, or have failed."""
    busy: set[str] = set()
    models = models_by_id(show)
    for unit in all_units(show):
        gone = taken.channels.get(unit.id, ())
        if isinstance(models.get(unit.model), Processor):
            busy.update(f"{unit.id}.{number}" for number in gone)
            continue
        for channel in gone:
            source = followed(unit.inputs, str(channel))
            if "." in source:
                busy.add(source)
    busy.update(box.input for box in show.boxes if "." in box.input)
    return busy
