"""What the processing of one section comes to: preset, zone and box together."""

from __future__ import annotations

from collections.abc import Mapping

from fieldkit.formulas import limiters
from fieldkit.gear.loudspeaker import Preset
from fieldkit.rig.delays import ZoneDelay
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.hosts import Host
from fieldkit.rig.lines import Load


def running_preset(load: Load, host: Host | None) -> Preset | None:
    """Give the preset of a section where something runs it."""
    return load.choice.preset if host is not None and host.takes(load.speaker.id) else None


def delay_parts(
    load: Load, found: Mapping[tuple[str, str], ZoneDelay], host: Host | None
) -> tuple[tuple[str, float], ...]:
    """Say what the delay of a section is made of [s]: zone, box, preset."""
    zone = found[load.box.zone, load.box.side]
    parts = [(f"zone {zone.zone} {zone.side}".strip(), zone.delay_s)]
    if load.box.delay is not None:
        parts.append((f"box {load.box.id}", load.box.delay.value))
    preset = running_preset(load, host)
    if preset is not None and preset.delay is not None:
        parts.append((f"preset {preset.id}", preset.delay.value))
    return tuple((name, value) for name, value in parts if value)


def gain_parts(rig: Rig, load: Load, host: Host | None) -> tuple[tuple[str, float], ...]:
    """Say what the processing gain of a section is made of [dB]: preset, zone, box."""
    zone = next(zone for zone in rig.show.zones if zone.id == load.box.zone)
    preset = running_preset(load, host)
    named = [(f"preset {preset.id}", preset.gain)] if preset is not None else []
    named += [(f"zone {zone.id}", zone.level), (f"box {load.box.id}", load.box.level)]
    return tuple((name, gain.value) for name, gain in named if gain is not None)


def polarity(load: Load, host: Host | None) -> str:
    """Give the polarity of a section: the preset's, turned where the box is to be against it."""
    preset = running_preset(load, host)
    inverted = (preset is not None and preset.polarity == "inverted") != (load.box.polarity == "inverted")
    return "inverted" if inverted else "normal"


def limiter_times(load: Load) -> tuple[float | None, float | None, bool]:
    """Give attack and release [s], and whether one of them is the rule of thumb.

    The rule goes by the lowest frequency that the section plays: the preset's high-pass, else the section's own.
    """
    preset = load.choice.preset
    attack = preset.attack.value if preset is not None and preset.attack is not None else None
    release = preset.release.value if preset is not None and preset.release is not None else None
    lowest = (preset.high_pass if preset is not None else None) or load.section.low
    by_rule = attack is None or release is None
    if lowest is not None:
        attack = limiters.attack_time(lowest.value) if attack is None else attack
        release = limiters.release_time(lowest.value) if release is None else release
    return attack, release, by_rule
