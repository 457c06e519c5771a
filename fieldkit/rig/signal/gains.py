"""What clips first from the desk to the driver, for one output: every stage's limit against what full output needs.

Filters are left out: the levels are those of a tone in the band that the preset passes. Gain of the processing
(preset, zone, box) lies before the amplifier's input where a processor hosts it, else behind it. Rules, pages and the
settings account all take their levels from here.
"""

from __future__ import annotations

import msgspec

from fieldkit.formulas import levels
from fieldkit.gear.processor import Processor
from fieldkit.rig.connect.outputs import ruling_channel
from fieldkit.rig.signal.basis import Basis, bases
from fieldkit.rig.signal.chain import SignalPath, amplifier_paths
from fieldkit.rig.signal.processing import gain_parts
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput

DEFAULT_DESK_DBU = 4.0
"""Professional line level."""


class GainStage(msgspec.Struct, frozen=True, gc=False):
    """One place on the way, with the level at which it ends."""

    name: str
    """``desk``, ``processor input``, ``processor output``, ``amplifier input``, ``amplifier output``, ``driver``."""
    at: str
    """Which one: a signal, a unit, an output, a box."""
    limit_dbu: float
    """Level at which it clips, or that it bears for long."""
    full_dbu: float
    """Level there when the amplifier is at its rated limit."""

    @property
    def margin_db(self) -> float:
        """How far it could go beyond full output; below zero it is in the way."""
        return self.limit_dbu - self.full_dbu


class GainChain(msgspec.Struct, frozen=True, gc=False):
    """The gain of one output, and what ends first on the way."""

    output: str
    amplifier_db: float
    """Input to terminals: gain, attenuator and bridging."""
    processing_db: float
    """Preset, zone and box."""
    behind_db: float
    """How much of it lies behind the amplifier's input socket: all where the amplifier hosts it, else nothing."""
    socket_dbu: float
    """Level at the amplifier's input socket when it is at its rated limit."""
    parts: tuple[tuple[str, float], ...]
    """What the gain is made of, each with its decibels."""
    stages: tuple[GainStage, ...]
    """From the desk to the driver; stages that nothing is known of are left out."""
    nominal_v: float
    """Volts at the terminals with the desk at its nominal level [V rms], before any limit."""
    valid_at: str
    """The settings that the thresholds at the input hold for, in words."""

    @property
    def first(self) -> GainStage:
        """What ends first, the amplifier's output and the driver included."""
        return min(self.stages, key=lambda stage: stage.margin_db)

    @property
    def clips_first(self) -> GainStage:
        """What clips first; a driver does not clip."""
        return min((stage for stage in self.stages if stage.name != "driver"), key=lambda stage: stage.margin_db)


def gain_chain(rig: Rig, output: SolvedOutput, path: SignalPath | None = None) -> GainChain | None:
    """Work out the gain chain of an output; None where the amplifier's gain is not known or nothing hangs on it."""
    if output.gain_db is None or not output.loads or output.clip_v <= 0.0:
        return None
    extra = gain_parts(rig, output.loads[0], output.host)
    processing = sum(part for _, part in extra)
    at_output = levels.dbu_from_voltage(output.clip_v)
    at_input = levels.input_level_for_output(output.clip_v, output.gain_db)
    outside = output.host is not None and output.host.kind == "processor"
    behind = 0.0 if outside else processing
    socket = at_input - behind
    stages = [*_before(rig, output, path, at_input - processing, socket)]
    clip = output.output.model.input_clip
    if clip is not None:
        limit = levels.dbu_from_voltage(clip.value)
        stages.append(GainStage("amplifier input", output.output.unit.id, limit, socket))
    if not outside and output.host is not None and output.host.full_scale_dbu is not None:
        # Before its gain it is the converter that ends there, behind a gain above 0 dB the numbers themselves.
        stages.append(
            GainStage("amplifier converter", output.output.id, output.host.full_scale_dbu, max(socket, at_input))
        )
    stages.append(GainStage("amplifier output", output.output.id, at_output, at_output))
    if output.limiter is not None:
        stages.append(GainStage("driver", output.limiter.ruled_by, output.limiter.thermal_dbu, at_output))
    desk = rig.show.about.desk_level
    nominal_dbu = levels.dbu_from_voltage(desk.value) if desk else DEFAULT_DESK_DBU
    return GainChain(
        output=output.output.id,
        amplifier_db=output.gain_db,
        processing_db=processing,
        behind_db=behind,
        socket_dbu=socket,
        parts=(*amplifier_parts(output), *extra),
        stages=tuple(stages),
        nominal_v=levels.output_for_input(levels.voltage_from_dbu(nominal_dbu), output.gain_db + processing),
        valid_at=valid_at(output),
    )


def gain_chains(rig: Rig) -> tuple[tuple[GainChain, ...], ...]:
    """List the gain chains of each amplifier, its signals known; kept from one edit to the next."""
    paths = dict(zip(map(id, bases(rig)), amplifier_paths(rig), strict=True))

    def of(basis: Basis) -> tuple[GainChain, ...]:
        known = {path.to: path for path in paths[id(basis)]}
        chains = (gain_chain(rig, output, known.get(output.output.id)) for output in basis.outputs)
        return tuple(chain for chain in chains if chain is not None)

    return rig.memory.each("gain chains", bases(rig), of)


def amplifier_parts(output: SolvedOutput) -> tuple[tuple[str, float], ...]:
    """Say what the gain from an amplifier's input to its terminals is made of [dB]."""
    if output.gain_db is None:
        return ()
    unit, mode = output.output.unit, output.output.mode
    channel = ruling_channel(output.output)
    knob = unit.attenuators.get(str(channel))
    turned = knob.value if knob is not None else 0.0
    bridging = levels.BRIDGED_DB if mode == "bridged" else 0.0
    parts = [("amplifier", output.gain_db - turned - bridging)]
    if knob is not None:
        parts.append((f"knob {channel}", turned))
    if bridging:
        parts.append(("bridged", bridging))
    return tuple(parts)


def valid_at(output: SolvedOutput) -> str:
    """Say in words which settings of the amplifier the thresholds at its input hold for."""
    if output.gain_db is None:
        return "gain not known"
    parts = [f"{output.gain_db:.1f} dB in all"]
    knob = output.output.unit.attenuators.get(str(ruling_channel(output.output)))
    if output.output.model.attenuators:
        position = f"at {knob.value:+.1f} dB" if knob is not None and knob.value else "fully up"
        locked = "locked" if output.output.unit.attenuators_locked else "not locked"
        parts.append(f"knob {position}, {locked}")
    if output.output.unit.gain is not None:
        parts.append(f"gain set to {output.output.unit.gain}")
    if output.output.mode != "single":
        parts.append(output.output.mode)
    return ", ".join(parts)


def _before(
    rig: Rig, output: SolvedOutput, path: SignalPath | None, before_dbu: float, after_dbu: float
) -> list[GainStage]:
    """List the stages before the amplifier; ``before_dbu`` is the level before the processing, ``after_dbu`` behind."""
    found = []
    name = output.source.partition(".")[0] if "." in output.source else ""
    unit = rig.show_index.units.get(name)
    model = rig.show_index.models.get(unit.model) if unit else None
    clip = rig.show.about.desk_clip
    if clip is not None:
        signals = " + ".join(path.signals) if path is not None and path.signals else "any signal"
        found.append(GainStage("desk", signals, levels.dbu_from_voltage(clip.value), before_dbu))
    if not isinstance(model, Processor):
        return found
    if model.input_clip is not None:
        found.append(GainStage("processor input", name, levels.dbu_from_voltage(model.input_clip.value), before_dbu))
    if model.hosts is not None and model.hosts.full_scale is not None:
        full_scale = levels.dbu_from_voltage(model.hosts.full_scale.value)
        found.append(GainStage("processor output", output.source, full_scale, after_dbu))
    return found
