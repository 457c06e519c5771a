"""The limiters of one host output: what the preset holds, what is to be set where, and where it then acts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from fieldkit.formulas import crest, levels, limiters
from fieldkit.formulas.figures import direct
from fieldkit.rig.connect.hosts import Host
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.connect.outputs import input_socket, permission_note
from fieldkit.rig.signal.entries import AccountEntry, written
from fieldkit.rig.signal.gains import GainChain, valid_at
from fieldkit.rig.signal.processing import limiter_times, protection_texts, slow_limiter_times
from fieldkit.rig.solve.limits import CLIPS_FIRST, Limiter, limiter_basis, peak_v_of
from fieldkit.rig.solve.solving import SolvedOutput

AT_CLIP = 1.0005
"""A peak threshold this near to the amplifier's own peak is the amplifier's."""
NO_PLACE = "no place here"
"""Where a limiter would have to be that nothing on the line can hold."""


class HostLimits(msgspec.Struct, frozen=True, gc=False):
    """The outputs behind one host output, of which the one whose threshold comes first as the level rises rules."""

    name: str
    outputs: tuple[SolvedOutput, ...]
    ruling: SolvedOutput
    margin_db: float

    @property
    def host(self) -> Host | None:
        """Where the limiters are set."""
        return self.ruling.host

    @property
    def limiter(self) -> Limiter | None:
        """What rules; None where it would be 0 V, which has no level: a sheet may say 0 W."""
        found = self.ruling.limiter
        return found if found is not None and min(found.thermal_v, found.peak_v) > 0.0 else None

    @property
    def takes(self) -> bool:
        """Whether the host can be set for all that hangs on it."""
        return self.host is not None and all(
            self.host.takes(load.speaker.id) for output in self.outputs for load in output.loads
        )

    @property
    def inside(self) -> bool:
        """Whether the host is the amplifier itself, and so takes volts."""
        return self.host is not None and self.host.kind == "amplifier"

    @property
    def is_brought(self) -> bool:
        """Whether the slow limiter is in the preset. Watts cannot stand for a level that a knob moves: only inside."""
        return self.limiter is not None and self.limiter.held and self.inside

    @property
    def bears(self) -> Load:
        """The section that bears least, which the slow limiter is for."""
        named = self.limiter.ruled_by if self.limiter is not None else ""
        its = [load for load in self.ruling.loads if load.box.id == named and load.continuous_w > 0.0]
        return min(its, key=lambda load: load.continuous_w * load.rated_ohm, default=self.ruling.loads[0])


def limiter_brought(limits: HostLimits) -> Iterator[AccountEntry]:
    """List the slow limiter of a preset that runs in an amplifier, and the times of its fast one."""
    bears = limits.bears
    if bears.limiter_w is not None and limits.inside and limits.takes:
        volts = limiters.limiter_voltage(bears.limiter_w, bears.rated_ohm)
        basis = limiter_basis(bears, limits.host, limits.margin_db)
        yield AccountEntry("preset slow limiter", volts, "V rms", limits.name, basis)
    preset = bears.choice.preset
    if preset is not None and limits.takes:
        for name, value in (
            ("fast attack", preset.attack),
            ("fast release", preset.release),
            ("slow attack", preset.slow_attack),
            ("slow release", preset.slow_release),
        ):
            if value is not None:
                yield AccountEntry(f"preset {name}", 1e3 * value.value, "ms", limits.name)


def limiters_to_set(limits: HostLimits) -> Iterator[AccountEntry]:
    """List the thresholds to set: the slow one where no preset holds it, the fast one, and its times by rule."""
    limiter = limits.limiter
    if limiter is None:
        return
    if not limits.is_brought:
        ruled = len({output.gain_db for output in limits.outputs}) > 1
        more = f"; {limits.ruling.output.id} rules" if ruled else ""
        basis = limiter_basis(limits.bears, limits.host, limits.margin_db) + more
        yield from _threshold(limits, slow_of(limiter), basis)
    yield from _threshold(limits, fast_of(limiter), _fast_basis(limiter.peak_v, limits.outputs))
    if not limits.takes:
        return
    preset = limits.bears.choice.preset
    attack, release, _ = limiter_times(limits.bears)
    slow_attack, slow_release, _ = slow_limiter_times(limits.bears)
    for name, value, own in (
        ("fast attack", attack, preset and preset.attack),
        ("fast release", release, preset and preset.release),
        ("slow attack", None if limits.is_brought else slow_attack, preset and preset.slow_attack),
        ("slow release", None if limits.is_brought else slow_release, preset and preset.slow_release),
    ):
        if value is not None and own is None:
            yield AccountEntry(name, 1e3 * value, "ms", limits.name, "rule of thumb")


class Threshold(NamedTuple):
    """One of the two thresholds of an output, at its posts."""

    name: str
    volts: float
    rms_v: float
    """Of a sine that reaches it [V rms]."""
    unit: str


def slow_of(limiter: Limiter) -> Threshold:
    """Name the slow threshold of a limiter."""
    return Threshold("slow limiter", limiter.thermal_v, limiter.thermal_v, "V rms")


def fast_of(limiter: Limiter) -> Threshold:
    """Name the fast threshold of a limiter."""
    return Threshold("fast limiter", limiter.peak_v, crest.sine_of_peak(limiter.peak_v), "V peak")


def _threshold(limits: HostLimits, threshold: Threshold, basis: str) -> Iterator[AccountEntry]:
    """List a threshold where and how its host takes it: volts in an amplifier, a level in a processor."""
    name, volts, rms_v, unit = threshold
    host, gain_db = limits.host, limits.ruling.gain_db
    if host is None or not limits.takes:
        yield AccountEntry(name, volts, unit, NO_PLACE, basis)
        return
    if gain_db is None:
        if limits.inside:
            yield AccountEntry(name, volts, unit, host.id, basis)
        return  # a processor's threshold cannot be given; the notes say so
    level = levels.input_level_for_output(rms_v, gain_db)
    full, minimum = host.full_scale_dbu, host.hosts.lowest_threshold
    also = ((levels.level_below_full_scale(level, full), "dBFS"),) if full is not None else ()
    low = levels.dbu_from_voltage(minimum.value) if minimum is not None else None
    if not limits.inside:
        yield AccountEntry(name, level, "dBu", host.id, basis, also, low, full)
        return
    lowest_v, highest_v = (None if end is None else volts * levels.voltage_ratio(end - level) for end in (low, full))
    yield AccountEntry(name, volts, unit, host.id, basis, also, lowest_v, highest_v)


def _fast_basis(volts: float, outputs: Sequence[SolvedOutput]) -> str:
    """Say what a fast threshold is bound by, and what the boxes would bear."""
    bears_v = min(peak_v_of(load, direct) for output in outputs for load in output.loads if load.continuous_w > 0.0)
    clip_v = min(crest.sine_peak(output.clip_v) for output in outputs)
    bears = f"the boxes can take {written(bears_v, 'V peak')}"
    if volts * AT_CLIP >= clip_v:
        return f"the amplifier's own clip; {bears}"
    return f"{bears}; the amplifier could give {written(clip_v, 'V peak')}"


def limiters_read(limits: HostLimits, output: SolvedOutput, chain: GainChain | None) -> Iterator[AccountEntry]:
    """List where the limiters act: at the posts, at the input socket, and in the host, where it measures.

    One level in the host is other volts behind another gain.
    """
    limiter, host, name = limits.limiter, limits.host, output.output.id
    if limiter is None or host is None or not limits.takes:
        return
    posts, known = f"{name} posts", limits.ruling.gain_db
    for what, volts, rms_v, unit in (slow_of(limiter), fast_of(limiter)):
        if output.gain_db is None or known is None:
            if limits.inside:
                yield AccountEntry(f"{what} at the posts", volts, unit, posts, output=name)
            continue
        factor = levels.voltage_ratio(output.gain_db - known) if output.gain_db != known else 1.0
        dbu = levels.dbu_from_voltage(rms_v * factor)
        yield AccountEntry(f"{what} at the posts", volts * factor, unit, posts, "", ((dbu, "dBu"),), output=name)
        level = levels.input_level_for_output(rms_v, known)
        if chain is not None:
            socket = level - chain.behind_db
            yield AccountEntry(f"{what} at the input socket", socket, "dBu", input_socket(output.output), output=name)
        also = [(levels.dbv_from_voltage(levels.voltage_from_dbu(level)), "dBV")]
        if host.full_scale_dbu is not None:
            also.append((levels.level_below_full_scale(level, host.full_scale_dbu), "dBFS"))
        yield AccountEntry(f"{what} in the host", level, "dBu", host.id, "", tuple(also), output=name)


def limiter_notes(limits: HostLimits) -> Iterator[str]:
    """Say what the levels hold for, why the limiters are as they are, and where a threshold cannot be given."""
    yield from _permissions(limits)
    limiter = limits.limiter
    if limiter is not None:
        yield f"{limiter.ruled_by} is {limiter.rating}"
        if limiter.clips_first:
            yield CLIPS_FIRST
        yield from protection_texts(limits.bears)
        yield from _holding(limits, limiter)


def limiter_conditions(limits: HostLimits) -> Iterator[str]:
    """Pick from the notes those without which nobody can set the host: what the levels hold for, and what lacks."""
    yield from _permissions(limits)
    if limits.limiter is not None:
        yield from _holding(limits, limits.limiter)


def _permissions(limits: HostLimits) -> Iterator[str]:
    yield from filter(None, (permission_note(output.output) for output in limits.outputs))


def _holding(limits: HostLimits, limiter: Limiter) -> Iterator[str]:
    host, ruling = limits.host, limits.ruling
    if ruling.gain_db is not None:
        yield f"levels hold only with the amplifier at {valid_at(ruling)}"
    elif host is not None and limits.takes and not limits.inside:
        volts = f"{written(limiter.thermal_v, 'V rms')} and {written(limiter.peak_v, 'V peak')}"
        yield f"no threshold can be given: the gain behind {host.id} is not known; the boxes can take {volts}"
