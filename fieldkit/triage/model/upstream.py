"""What can be wrong before the plug at the amplifier: signals, processor outputs, amplifiers, outputs, the patch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import msgspec

from fieldkit.gear.loudspeaker import FRAGILE
from fieldkit.rig.connect.hosts import source_of
from fieldkit.rig.signal.chain import routed_inputs
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.triage.model.circuit import Circuit
from fieldkit.triage.model.fault import WRONG_PRESET, Fault
from fieldkit.triage.model.hearing import Chances
from fieldkit.triage.model.odds import OddsTable

Thing = tuple[str, str]
"""Something before the amplifiers' plugs that several outputs may have in common: its kind and name."""

ALL: Thing = "all", ""
"""What feeds or holds every output: the desk, a mute group."""


def things_before(rig: Rig, output: SolvedOutput) -> frozenset[Thing]:
    """List what an output has before it: signals, processor output, unit, supply; only signals that can reach it."""
    units = rig.show_index.units
    source = source_of(output.output, units, rig.show_index.models)
    found: set[Thing] = {ALL, ("unit", output.output.unit.id)}
    if source.processor is not None:
        found.add(("processor", source.text))
        routed = routed_inputs(source.processor, source.text.rpartition(".")[2])
        inputs = source.processor.inputs
        found |= {("signal", inputs[name]) for name in routed or inputs if name in inputs}
    else:
        found |= {("signal", name) for name in ((source.text,) if source.text else _zone_signals(rig, output))}
    supply = units[output.output.unit.id].supply
    if supply:
        found.add(("supply", supply))
    return frozenset(found)


class Upstream:
    """What feeds the outputs of a case, and what else in the show hangs on the same."""

    def __init__(self, rig: Rig, outputs: Sequence[SolvedOutput]) -> None:
        """Follow every output of the show: those of the case, and the others, which bear witness."""
        own = {output.output.id for output in outputs}
        self.outputs: dict[Thing, list[str]] = {}
        """Of the case."""
        self.boxes: dict[Thing, frozenset[str]] = {}
        """Elsewhere, of what the case has before it too."""
        self.is_rest = False
        """Whether the show has outputs that are not of the case."""
        for output in outputs:
            for thing in sorted(things_before(rig, output)):
                self.outputs.setdefault(thing, []).append(output.output.id)
        inside = {load.box.id for output in outputs for load in output.loads}
        for output in rig.outputs:
            names = frozenset(load.box.id for load in output.loads) - inside
            if output.output.id in own or not names:
                continue
            self.is_rest = True
            for thing in things_before(rig, output) & self.outputs.keys():
                self.boxes[thing] = self.boxes.get(thing, frozenset()) | names

    def of(self, kind: str) -> Iterator[tuple[str, list[str], frozenset[str]]]:
        """List the things of a kind: name, outputs of the case, boxes elsewhere."""
        for thing, names in self.outputs.items():
            if thing[0] == kind:
                yield thing[1], names, self.boxes.get(thing, frozenset())

    @property
    def everywhere(self) -> frozenset[str]:
        """All boxes elsewhere that are fed by the amplifiers of the show."""
        return self.boxes.get(ALL, frozenset())


def upstream_faults(outputs: Sequence[SolvedOutput], before: Upstream, table: OddsTable) -> Iterator[Fault]:
    """List the faults of everything that feeds these outputs."""
    yield from _signal_faults(outputs, before, table)
    for unit, its, elsewhere in before.of("unit"):
        off = tuple((name, "off") for name in its)
        yield Fault(
            "amplifier-off", unit, f"{unit} is off or has no mains", "power-amplifier",
            f"give {unit} its mains and switch it on", "output", table.odds["amplifier-off"],
            states=off, seen_at=("amp",), elsewhere=elsewhere,
        )  # fmt: skip
        lost = tuple((name, "no input") for name in its)
        yield Fault(
            "clock-lost", unit, f"the digital input of {unit} has no clock or no route", "set-output",
            f"give {unit} clock and route, or its analogue input", "output", table.odds["clock-lost"],
            states=lost, seen_at=("amp",), elsewhere=elsewhere,
        )  # fmt: skip
    units = {output.output.id: output.output.unit.id for output in outputs}
    for supply, its, elsewhere in before.of("supply"):
        if len({units[name] for name in its}) > 1 or elsewhere - before.boxes.get(("unit", units[its[0]]), frozenset()):
            yield Fault(
                "amplifier-off", supply, f"the supply {supply} is off", "power-amplifier",
                f"have the supply {supply} seen to by whoever is responsible for it", "output",
                table.odds["amplifier-off"], states=tuple((name, "off") for name in its), seen_at=("amp",),
                elsewhere=elsewhere,
            )  # fmt: skip
    groups: list[tuple[str, frozenset[str]]] = [("all outputs", before.everywhere)] if before.is_rest else []
    groups += [("these outputs", frozenset())] if len(outputs) > 1 else []
    for which, elsewhere in groups:
        yield Fault(
            "mute-group", "all outputs", f"a mute group holds {which}", "set-output",
            "release the mute group", "output", table.odds["mute-group"] / len(groups),
            states=tuple((output.output.id, "mute") for output in outputs), seen_at=("amp",), elsewhere=elsewhere,
        )  # fmt: skip
    for output in outputs:
        yield from _output_faults(output, table)


def _signal_faults(outputs: Sequence[SolvedOutput], before: Upstream, table: OddsTable) -> Iterator[Fault]:
    signals = list(before.of("signal"))
    for signal, its, elsewhere in signals:
        yield Fault(
            "signal-missing", signal, f"the signal '{signal}' does not arrive", "find-signal",
            f"follow the signal '{signal}' from the desk on", "signal", table.odds["signal-missing"],
            states=tuple((name, "no input") for name in its), elsewhere=elsewhere,
        )  # fmt: skip
    if len(signals) > 1 or before.is_rest:
        yield Fault(
            "signal-missing", "desk", "nothing arrives from the desk: its outputs, the snake or the network",
            "find-signal", "follow the signals from the desk on: outputs, snake, network", "signal",
            table.odds["signal-missing"] / 2,
            states=tuple((output.output.id, "no input") for output in outputs), elsewhere=before.everywhere,
        )  # fmt: skip
    for name, its, elsewhere in before.of("processor"):
        yield Fault(
            "processor-output", name, f"the processor output {name} is muted or wrongly routed", "set-output",
            f"set the processor output {name} right: route, mute, level, preset", "signal",
            table.odds["processor-output"], states=tuple((output, "no input") for output in its), seen_at=("amp",),
            elsewhere=elsewhere,
        )  # fmt: skip


def _zone_signals(rig: Rig, output: SolvedOutput) -> Iterable[str]:
    """Name what feeds the boxes of an output whose input is not planned."""
    zones = {zone.id: zone for zone in rig.show.zones}
    for load in output.loads:
        zone = zones[load.box.zone]
        yield zone.signals.get(load.box.side) or f"{zone.id} {load.box.side}".strip()
        return


WRONG_INPUT = {"no input": "no input, or the wrong route", "other input": "another signal than planned"}


INSIDE = {"protect", "failed", "noisy", "picks up"}
"""States of an output that a look at its settings does not show."""


def _output_faults(output: SolvedOutput, table: OddsTable) -> Iterator[Fault]:
    name = output.output.id
    right = "set-output", f"set {name} right: input, mute, level, preset, limiter"
    preset = ", ".join(dict.fromkeys(load.choice.id for load in output.loads if load.choice.id)) or "its preset"

    def fault(kind: str, says: str, repair: tuple[str, str], state: str, part: float = 1.0) -> Fault:
        seen_at = ("amp",) if state not in INSIDE else ()
        return Fault(
            kind, name, says, *repair, "output", table.odds[kind] * part, states=((name, state),), seen_at=seen_at
        )

    yield fault("muted", f"{name} is muted, or its level is down", right, "mute")
    for state, half in (("no input", 0.5), ("other input", 0.5)):
        yield fault("input-wrong", f"{name} has {WRONG_INPUT[state]}", right, state, half)
    for state, half in (("gain low", 0.6), ("gain high", 0.4)):
        yield fault("gain-wrong", f"{name} is set {state[5:]}er than planned", right, state, half)
    yield fault("limiter-wrong", f"the limiter of {name} is higher than planned, or off", right, "wrong limits")
    yield fault("polarity-wrong", f"the polarity of {name} is inverted in its settings", right, "inverted")
    yield fault("delay-wrong", f"{name} has another delay than planned", right, "late")
    yield fault("set-up-lost", f"{name} lost its preset, mute or input at a power-up", right, "mute")
    wrong: dict[str, Chances] = {load.box.id: WRONG_PRESET[load.section.section] for load in output.loads}
    other = fault("preset-wrong", f"{name} has another preset than {preset}", right, "wrong preset")
    yield msgspec.structs.replace(other, ears=tuple(wrong.items()))
    yield fault("limiter-low", f"the limiter of {name} is set absurdly low", right, "low limiter")
    reset = "reset-output", f"let {name} cool, clear its protection; if it comes back, use another output"
    yield fault("output-protect", f"{name} protects itself", reset, "protect")
    lead = "change-input", f"change the signal lead into {name}, or take it away from what it runs beside"
    yield fault("input-noisy", f"the signal lead into {name} picks up hum or radio", lead, "picks up")
    change = "change-output", f"use another output with the same preset and limiter for {name}"
    yield fault("output-failed", f"{name} gives nothing", change, "failed")
    yield fault("output-noisy", f"{name} adds noise or distortion", change, "noisy")
    if output.output.mode == "bridged":
        wire = "exchange-plugs", f"wire {name} across both hot posts, as a bridged output wants it"
        yield fault("bridged-as-single", f"{name} is wired as a single output", wire, "half")


OTHER_PRESET = {"distorted": 0.4, "no-low": 0.15, "no-high": 0.15, "quiet": 0.1, "other-signal": 0.2}


def exchange_faults(circuit: Circuit, others: Sequence[Circuit], rig: Rig, table: OddsTable) -> Iterator[Fault]:
    """List the runs that may stand in this run's place at the amplifier or panel: same rack or unit, same pairs."""
    own = _presets(rig, circuit)
    for other in others:
        foreign = _presets(rig, other)
        same = own == foreign
        danger = any(
            pair in foreign and foreign[pair][0] != preset and FRAGILE & set(sections)
            for pair, (preset, sections) in own.items()
        )
        word = {"normal": 0.45, "other-signal": 0.45, "quiet": 0.1} if same else OTHER_PRESET
        yield Fault(
            "runs-exchanged", f"{circuit.run} and {other.run}",
            f"{circuit.run} and {other.run} are exchanged at the amplifier or panel"
            + (": a high section may get a low band, keep both muted" if danger else ""),
            "exchange-plugs", f"mute both, put {circuit.run} and {other.run} in their own sockets", "plug",
            table.odds["runs-exchanged"] / len(others), circuit.run, (circuit,), at_amp=other,
            ears=tuple((box, word) for box in (*circuit.boxes, *other.boxes)), seen_at=("amp",),
            box=circuit.boxes[0] if circuit.boxes else "",
        )  # fmt: skip


def _presets(rig: Rig, circuit: Circuit) -> dict[str, tuple[str, tuple[str, ...]]]:
    found: dict[str, tuple[str, tuple[str, ...]]] = {}
    for pair, name in circuit.feeds:
        output = rig.output(name)
        loads = output.loads if output else ()
        found[pair] = (
            ",".join(dict.fromkeys(load.choice.id or "" for load in loads)),
            tuple(dict.fromkeys(load.section.section for load in loads)),
        )
    return found
