"""Where the preset of an output runs: in the amplifier, or on the processor output that feeds it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from fieldkit.formulas import levels
from fieldkit.gear.amplifier import Hosts
from fieldkit.gear.loudspeaker import Preset
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import Output
from fieldkit.show.document import Model, RackUnit


class Host(msgspec.Struct, frozen=True, gc=False):
    """A place for a preset."""

    kind: Literal["amplifier", "processor"]
    id: str
    """The output that hosts: ``SR-1.3`` or ``DP.6``."""
    hosts: Hosts
    full_scale_dbu: float | None

    def takes(self, speaker: str) -> bool:
        """Tell whether presets of this loudspeaker can run here."""
        return self.hosts.takes(speaker)


class InputSource(msgspec.Struct, frozen=True, gc=False):
    """What feeds an input in the end, links followed."""

    text: str
    """A signal's name or a processor output; empty where nothing is planned."""
    processor: RackUnit | None
    model: Processor | None


def followed(inputs: Mapping[str, str], channel: str) -> str:
    """Follow the links of an input to what it gets: a signal, a processor output, or nothing; a ring ends somewhere."""
    text = inputs.get(channel, "")
    for _ in range(len(inputs)):
        if not text.startswith("="):
            break
        text = inputs.get(text[1:], "")
    return text


def link_chain(inputs: Mapping[str, str], channel: str) -> list[str]:
    """List the inputs that a channel is linked through, its own first and the patched one last."""
    chain = [channel]
    while (text := inputs.get(chain[-1], "")).startswith("=") and text[1:] not in chain:
        chain.append(text[1:])
    return chain


def source_of(output: Output, units: Mapping[str, RackUnit], models: Mapping[str, Model]) -> InputSource:
    """Follow the input of an output's first channel to a signal or a processor output."""
    text = followed(output.unit.inputs, str(output.channels[0]))
    unit = units.get(text.partition(".")[0]) if "." in text else None
    model = models.get(unit.model) if unit else None
    if unit is None or not isinstance(model, Processor):
        return InputSource(text, None, None)
    return InputSource(text, unit, model)


def host_of(output: Output, loads: Sequence[Load], source: InputSource) -> Host | None:
    """Choose the host of an output: the amplifier where it takes these boxes, else the processor output.

    None where neither hosts anything. A host that does not take the box is given all the same, so that a
    check can say what is wrong with it.
    """
    inside = _host("amplifier", output.id, output.model.hosts)
    outside = _host("processor", source.text, source.model.hosts if source.model else None)
    wanted = {load.speaker.id for load in loads}
    for host in (inside, outside):
        if host is not None and all(host.takes(speaker) for speaker in wanted):
            return host
    return outside or inside


def _host(kind: Literal["amplifier", "processor"], name: str, hosts: Hosts | None) -> Host | None:
    if hosts is None:
        return None
    full_scale = levels.dbu_from_voltage(hosts.full_scale.value) if hosts.full_scale else None
    return Host(kind, name, hosts, full_scale)


def running_preset(load: Load, host: Host | None) -> Preset | None:
    """Choose the preset of a section where something runs it."""
    return load.choice.preset if host is not None and host.takes(load.speaker.id) else None
