"""What the outputs on one host ask of it: how long to wait, and in what its boxes do not agree."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import Generic, NamedTuple, TypeVar

import msgspec

from fieldkit.rig.connect.hosts import running_preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.signal.basis import Basis, bases
from fieldkit.rig.signal.chain import SignalPath, box_paths
from fieldkit.rig.signal.delays import ZoneDelay, delays_by_side
from fieldkit.rig.signal.processing import delay_parts, gain_parts, polarity
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

Value = TypeVar("Value")


def by_host(outputs: Iterable[SolvedOutput]) -> dict[str, list[SolvedOutput]]:
    """Group the outputs that drive something by what is set for them: their host output, else the output itself."""
    found: dict[str, list[SolvedOutput]] = {}
    for output in outputs:
        if output.loads:
            found.setdefault(output.host.id if output.host is not None else output.output.id, []).append(output)
    return found


class Asked(msgspec.Struct, frozen=True, gc=False):
    """What a check needs to know of a host output: how long it waits, and what its boxes do not agree in."""

    host: str
    kind: str
    outputs: tuple[str, ...]
    boxes: tuple[str, ...]
    delay_s: float
    longest_delay_s: float | None
    disagreements: tuple[str, ...]


class _OnHosts(NamedTuple, Generic[Value]):
    """What was made of the host outputs of one amplifier, in their order."""

    own: tuple[Value, ...]
    """Of hosts that nothing else hangs on."""
    shared: tuple[tuple[int, str, tuple[SolvedOutput, ...]], ...]
    """Processor outputs, which other amplifiers may hang on: the place among its own, the name, the outputs."""


def of_hosts(rig: Rig, name: str, make: Callable[[str, Sequence[SolvedOutput]], Value]) -> Iterator[tuple[Value, ...]]:
    """Make a value of each host output and the outputs on it, by the amplifier that comes first; kept between edits.

    What is made must follow from the outputs and from what their ``Basis`` stands for.
    """
    every = rig.memory.each(name, bases(rig), partial(_on_hosts, make))
    shared: dict[str, list[tuple[Basis, tuple[SolvedOutput, ...]]]] = {}
    for basis, made in zip(bases(rig), every, strict=True):
        for _, host, its in made.shared:
            shared.setdefault(host, []).append((basis, its))
    for made in every:
        if not made.shared:
            yield made.own
            continue
        own = list(made.own)
        for place, host, _ in reversed(made.shared):
            hanging = shared.pop(host, ())
            if hanging:
                outputs = [output for _, its in hanging for output in its]
                parts = tuple(basis for basis, _ in hanging)
                own.insert(place, rig.memory.once((name, host), parts, partial(make, host, outputs)))
        yield tuple(own)


def _on_hosts(make: Callable[[str, Sequence[SolvedOutput]], Value], basis: Basis) -> _OnHosts[Value]:
    own: list[Value] = []
    shared = []
    for name, outputs in by_host(basis.outputs).items():
        host = outputs[0].host
        if host is not None and host.kind == "processor":
            shared.append((len(own), name, tuple(outputs)))
        else:
            own.append(make(name, outputs))
    return _OnHosts(tuple(own), tuple(shared))


def asked_of_hosts(rig: Rig) -> Iterator[tuple[Asked, ...]]:
    """Find what is asked of every host output, without working out its thresholds: a check runs at every edit.

    It comes by the amplifier that asks first, as the very object of last time where it can be; boxes come last.
    """
    delays = delays_by_side(rig)
    yield from of_hosts(rig, "asked of hosts", partial(_asked, rig, delays))
    yield tuple(_asked_for_box(rig, path, delays) for path in box_paths(rig))


def _asked_for_box(rig: Rig, path: SignalPath, delays: Mapping[tuple[str, str], ZoneDelay]) -> Asked:
    box = rig.show_index.boxes[path.to]
    unit = rig.show_index.units.get(path.processor.partition(".")[0])
    hosts = getattr(rig.show_index.models.get(unit.model), "hosts", None) if unit is not None else None
    return Asked(
        host=path.processor or box.id,
        kind="processor" if path.processor else "none",
        outputs=(),
        boxes=(box.id,),
        delay_s=delays[box.zone, box.side].delay_s + (box.delay.value if box.delay is not None else 0.0),
        longest_delay_s=hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None,
        disagreements=(),
    )


def _asked(rig: Rig, found: Mapping[tuple[str, str], ZoneDelay], name: str, outputs: Sequence[SolvedOutput]) -> Asked:
    loads = [(output, load) for output in outputs for load in output.loads]
    host, first = most_held(outputs).host, loads[0][1]
    hosts = host.hosts if host is not None else None
    return Asked(
        host=name,
        kind=host.kind if host is not None else "none",
        outputs=tuple(output.output.id for output in outputs),
        boxes=tuple(dict.fromkeys(load.box.id for _, load in loads)),
        delay_s=sum(value for _, value in delay_parts(first, found, host)),
        longest_delay_s=hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None,
        disagreements=disagreements(rig, loads, found),
    )


def most_held(outputs: Sequence[SolvedOutput]) -> SolvedOutput:
    """Find the output whose threshold comes first as the level rises: it rules where several share a host."""

    def comes(output: SolvedOutput) -> float:
        limiter = output.limiter
        if limiter is None:
            return float("inf")
        return limiter.thermal_dbu if limiter.input_dbu is None else limiter.input_dbu

    return min(outputs, key=comes)


def disagreements(
    rig: Rig, loads: Sequence[tuple[SolvedOutput, Load]], found: Mapping[tuple[str, str], ZoneDelay]
) -> tuple[str, ...]:
    """Say in which settings the boxes of one host output want different things."""
    first_output, first = loads[0]
    # Boxes alike want the same, and most lines have no others.
    alike = {
        (load.speaker.id, load.section.section, load.choice.id, load.box.zone, load.box.side)
        for _, load in loads
        if load.box.delay is None and load.box.level is None and load.box.polarity == first.box.polarity
    }
    plain = sum(load.box.delay is None and load.box.level is None for _, load in loads)
    if len(alike) == 1 and plain == len(loads) and len({id(output.host) for output, _ in loads}) == 1:
        return ()
    said = []
    for what, read in (
        (
            "preset",
            lambda output, load: (load.speaker.id, load.choice.id) if running_preset(load, output.host) else None,
        ),
        ("delay", lambda output, load: round(sum(v for _, v in delay_parts(load, found, output.host)), 6)),
        ("level", lambda output, load: round(sum(v for _, v in gain_parts(rig, load, output.host)), 3)),
        ("polarity", lambda output, load: polarity(load, output.host)),
    ):
        other = next((load for output, load in loads if read(output, load) != read(first_output, first)), None)
        if other is not None:
            said.append(f"{what}: {first.box.id} and {other.box.id} want different ones")
    return tuple(said)
