"""Feeding: the signal or processor output that feeds boxes at a new place, or the desk for want of one."""

from __future__ import annotations

from fieldkit.gear.amplifier import Hosts
from fieldkit.gear.processor import Processor
from fieldkit.planning.failover.plugs import PairNeed
from fieldkit.planning.failover.processor_outputs import entered, free_processor_outputs
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import Output
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.failures import Failures
from fieldkit.rig.signal.chain import own_send, signal_paths
from fieldkit.rig.solve.evaluation import Rig


class SourceChoice:
    """Knows what a plug can be fed with at a new place."""

    def __init__(self, rig: Rig, failures: Failures) -> None:
        self.rig, self.failures = rig, failures
        self.free = free_processor_outputs(rig, failures)
        self.heard_by_tops = _heard_by_tops(rig)

    def source(self, need: PairNeed, output: Output) -> str | None:
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

    def desk_signal(self, need: PairNeed) -> str:
        """Name the signal with which boxes can do without their processor; empty where they cannot.

        Passive ones over the whole band can, and subs: from their signal where nothing else hears it, so that the desk
        may low-pass it, else from an output of the desk of their own. A sub of which nobody says where its high-pass
        stands, and a section of a bi-amp box, never can.
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
        if not signal or sections != {"sub"} or not held:
            return ""
        return own_send(signal) if signal in self.heard_by_tops else signal

    def will_host(self, processor: str, need: PairNeed) -> bool:
        """Tell whether a processor can hold a need's preset, and gets its signals or can be given them."""
        unit = self.rig.show_index.units[processor]
        model = self.rig.show_index.models[unit.model]
        if not isinstance(model, Processor) or not _takes(model.hosts, {item.speaker.id for item in need.loads}):
            return False
        if not need.signals:  # nobody has said what it is to hear: only the processor that has it is sure to
            return need.source.partition(".")[0] == processor
        return entered(unit, model, need.signals) is not None


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


def _takes(hosts: Hosts | None, speakers: set[str]) -> bool:
    return hosts is not None and hosts.takes(*speakers)
