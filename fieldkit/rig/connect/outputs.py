"""Amplifier outputs: channels, bridged pairs, paralleled pairs; their ratings, minimum loads and gain."""

from __future__ import annotations

from typing import Literal

import msgspec

from fieldkit.formulas import levels, outputs
from fieldkit.formulas.figures import Apply, given
from fieldkit.gear.amplifier import Amplifier, PairMode, Permission
from fieldkit.show.document import RackUnit

Mode = Literal["single", "bridged", "paralleled"]


class Output(msgspec.Struct, frozen=True, gc=False):
    """An amplifier channel, or two that work as one."""

    id: str
    unit: RackUnit
    model: Amplifier
    channels: tuple[int, ...]
    mode: Mode

    @property
    def minimum_ohm(self) -> float:
        """Lowest load that the maker allows in this mode [ohm]."""
        if self.mode == "paralleled":
            return self.model.minimum_load_ohm(bridged=False) / 2.0
        return self.model.minimum_load_ohm(bridged=self.mode == "bridged")

    @property
    def permission(self) -> Permission:
        """Whether the model allows this mode; a single channel is always allowed."""
        return "allowed" if self.mode == "single" else self.model.permission(self.mode)


def allows(model: Amplifier, mode: Mode) -> bool:
    """Tell whether a model allows a mode: what nobody says is never proposed."""
    return mode == "single" or model.permission(mode) == "allowed"


def permission_text(model: Amplifier, mode: PairMode) -> str:
    """Say why a pair of a model may not be used so, or rests on an assumption; empty where the model allows it."""
    permission = model.permission(mode)
    field = "bridgeable" if mode == "bridged" else "parallelable"
    if permission == "allowed":
        return ""
    said = model.bridgeable if mode == "bridged" else model.parallelable
    if said is False:
        return f"the model '{model.id}' says that its channels must not be {mode}"
    lacks = f"no bridged power and no '{field} = true'" if mode == "bridged" else f"no '{field} = true'"
    posts = ", and both posts of its outputs are driven" if permission == "refused" else ""
    return f"nothing says that channels of '{model.id}' may be {mode}: its model has {lacks}{posts}"


def permission_note(output: Output) -> str:
    """Say of an output that its pair is not allowed, or that it rests on an assumption; empty where all is allowed."""
    if output.mode == "single" or output.permission == "allowed":
        return ""
    word = "not allowed" if output.permission == "refused" else "assumed"
    return f"{word}: {permission_text(output.model, output.mode)}"


def output_of(unit: RackUnit, model: Amplifier, channels: str) -> Output:
    """Find the output that carries these channels of a unit, such as ``3`` or ``3+4``."""
    numbers = tuple(int(part) for part in channels.split("+"))
    mode: Mode = "single"
    if channels in unit.bridged:
        mode = "bridged"
    elif channels in unit.paralleled:
        mode = "paralleled"
    return Output(f"{unit.id}.{channels}", unit, model, numbers, mode)


def outputs_of(unit: RackUnit, model: Amplifier) -> tuple[Output, ...]:
    """List the outputs of a unit as it is set: each pair, and the channels that are left single."""
    pairs = {int(pair.partition("+")[0]): pair for pair in (*unit.bridged, *unit.paralleled)}
    taken = {int(part) for pair in pairs.values() for part in pair.split("+")}
    names = [
        pairs.get(channel, str(channel))
        for channel in range(1, model.channels + 1)
        if channel in pairs or channel not in taken
    ]
    return tuple(output_of(unit, model, name) for name in names)


def can_give_v(output: Output, load_ohm: float, apply: Apply, *, trace: bool = False) -> float:
    """Compute the terminal volts of an output at its rated limit into a load [V]."""
    bridged_table = output.model.ratings(bridged=True)
    table = bridged_table if output.mode == "bridged" and bridged_table else output.model.ratings(bridged=False)
    flat: list[float] = []
    for rating in table:
        load, power = rating.load.value, rating.power.value
        if trace:
            where = f"model {output.model.id}, powers{', bridged' if rating.bridged else ''}"
            assumed = output.permission != "allowed"
            load = given(load, "rated load", "ohm", where, assumed=assumed)
            power = given(power, "rated power", "W", where, assumed=assumed)
        flat += (load, power)
    if output.mode == "paralleled":
        return apply(outputs.paralleled_voltage, load_ohm, *flat)
    if output.mode == "bridged" and not bridged_table:
        return apply(outputs.bridged_voltage, load_ohm, *flat)
    return apply(outputs.output_voltage, load_ohm, *flat)


def source_ohm(output: Output, *, trace: bool = False) -> float:
    """Compute the resistance of the source [ohm]: two in series when bridged, in parallel when paralleled.

    0 where the model does not say: the damping factor is then that of the cable alone.
    """
    known = output.model.output_resistance
    value = (known.value if known else 0.0) * {"single": 1.0, "bridged": 2.0, "paralleled": 0.5}[output.mode]
    if not trace:
        return value
    where = f"model {output.model.id}, output_resistance '{known}', {output.mode}" if known else "not in the model; 0"
    return given(value, "output resistance", "ohm", where)


def gain_db(output: Output, apply: Apply, *, trace: bool = False) -> float | None:
    """Compute the gain from input to terminals [dB], attenuator and bridging included; None where unknown."""
    unit, model = output.unit, output.model
    gain = unit.gain or model.gain
    if gain is not None:
        where = f"rack unit {unit.id}, gain" if unit.gain else f"model {model.id}, gain"
        result: float = given(gain.value, "gain", "dB", where) if trace else gain.value
    elif model.sensitivity is not None:
        top = max(model.ratings(bridged=False), key=lambda rating: rating.load.value)
        result = _gain_of_sensitivity(top.power.value, top.load.value, model, apply, trace=trace)
    else:
        return None
    channel = ruling_channel(output)
    knob = unit.attenuators.get(str(channel))
    if knob is not None:
        where = f"rack unit {unit.id}, attenuator {channel}"
        result = result + (given(knob.value, "attenuator", "dB", where) if trace else knob.value)
    return apply(levels.bridged_gain, result) if output.mode == "bridged" else result


def knob_at(output: Output, channel: int) -> float:
    """Look up the position of a channel's knob [dB]; 0, which is fully up, where it is not said."""
    knob = output.unit.attenuators.get(str(channel))
    return knob.value if knob is not None else 0.0


def input_socket(output: Output) -> str:
    """Name the socket that the signal of an output goes in at: of a pair, the first channel's."""
    return f"{output.unit.id} input {output.channels[0]}"


def ruling_channel(output: Output) -> int:
    """Name the channel whose knob sets the gain: the lower one of a bridged pair, else the first."""
    if output.mode != "bridged":
        return output.channels[0]
    return min(output.channels, key=lambda channel: knob_at(output, channel))


def _gain_of_sensitivity(power_w: float, load_ohm: float, model: Amplifier, apply: Apply, *, trace: bool) -> float:
    sensitivity_v = model.sensitivity.value if model.sensitivity else 0.0
    if trace:
        power_w = given(power_w, "rated power", "W", f"model {model.id}, powers")
        load_ohm = given(load_ohm, "rated load", "ohm", f"model {model.id}, powers")
        sensitivity_v = given(sensitivity_v, "sensitivity", "V", f"model {model.id}")
    return apply(levels.gain_from_sensitivity, power_w, load_ohm, sensitivity_v)
