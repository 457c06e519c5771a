"""What the processing of one section comes to: preset, zone and box together."""

from __future__ import annotations

from collections.abc import Mapping

from fieldkit.formulas import limiters
from fieldkit.rig.connect.hosts import Host, running_preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.signal.delays import ZoneDelay
from fieldkit.rig.signal.siblings import trims
from fieldkit.rig.solve.evaluation import Rig


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
    """Say what the processing gain of a section is made of [dB]: preset, zone, box, and its trim to its siblings."""
    zone = rig.show_index.zones[load.box.zone]
    preset = running_preset(load, host)
    named = [(f"preset {preset.id}", preset.gain)] if preset is not None else []
    named += [(f"zone {zone.id}", zone.level), (f"box {load.box.id}", load.box.level)]
    parts = [(name, gain.value) for name, gain in named if gain is not None]
    trim = trims(rig).get((load.box.id, load.section.section)) if host is not None else None
    if trim is not None and trim.in_host:
        parts.append((f"trim to play as {trim.like}", trim.trim_db))
    return tuple(parts)


def polarity(load: Load, host: Host | None) -> str:
    """Find the polarity of a section: the preset's, turned where the box is to be against it."""
    preset = running_preset(load, host)
    inverted = (preset is not None and preset.polarity == "inverted") != (load.box.polarity == "inverted")
    return "inverted" if inverted else "normal"


def limiter_times(load: Load) -> tuple[float | None, float | None, bool]:
    """Find attack and release [s], and whether one of them is the rule of thumb.

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


SLOW_ATTACK_S = {"high": 0.5, "mid": 1.0, "full": 0.5, "low": 2.0, "sub": 4.0}
"""Attack of a slow limiter by section [s]: the smaller a voice coil, the sooner it is hot; a full-range box goes by its
tweeter. Common practice, no source."""
SLOW_RELEASE = 4.0
"""Release of a slow limiter over its attack: a coil cools more slowly than it heats. Common practice, no source."""


def slow_limiter_times(load: Load) -> tuple[float, float, bool]:
    """Find attack and release of the slow limiter [s], and whether one of them is the rule of thumb."""
    preset = load.choice.preset
    attack = preset.slow_attack.value if preset is not None and preset.slow_attack is not None else None
    release = preset.slow_release.value if preset is not None and preset.slow_release is not None else None
    by_rule = attack is None or release is None
    attack = SLOW_ATTACK_S[load.section.section] if attack is None else attack
    return attack, SLOW_RELEASE * attack if release is None else release, by_rule


def protection_texts(load: Load) -> tuple[str, str]:
    """Say in a sentence each what the slow and the fast limiter of a section can protect, and what they cannot."""
    attack_s, release_s, by_rule = slow_limiter_times(load)
    rule = ", rule of thumb" if by_rule else ""
    blind = load.drive == "passive" and load.section.section == "full"
    slow = (
        f"slow limiter (attack {attack_s:g} s, release {release_s:g} s{rule}): keeps heat from the voice coil, and "
        "lets peaks pass"
    )
    fast = "fast limiter: keeps peaks and travel in bounds, with no time known to set it to; it knows no heat"
    fast_s, fast_release_s, fast_rule = limiter_times(load)
    if fast_s is not None and fast_release_s is not None:
        attack, release = f"{1e3 * fast_s:.3g} ms", f"{1e3 * fast_release_s:.3g} ms"
        rule = ", one cycle at the bottom of the band: rule of thumb" if fast_rule else ""
        fast = (
            f"fast limiter (attack {attack}, release {release}{rule}): keeps peaks and travel in bounds, but "
            f"what comes in the first {attack} passes; it knows no heat"
        )
    if blind:
        slow += "; it sits before a passive crossover and does not know the tweeter, which burns on less"
        fast += "; nor does it know the tweeter"
    return slow, fast
