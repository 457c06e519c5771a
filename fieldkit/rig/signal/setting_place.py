"""Gain, delay, polarity and filters of an account: what a preset brings, what is set on top, what that comes to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from fieldkit.formulas import delays
from fieldkit.gear.amplifier import Hosts
from fieldkit.gear.loudspeaker import Preset
from fieldkit.rig.connect.lines import Load
from fieldkit.rig.signal.delays import DEFAULT_SAMPLE_RATE_HZ
from fieldkit.rig.signal.entries import AccountEntry
from fieldkit.show.document import Box

Parts = Sequence[tuple[str, float]]


class SettingPlace(msgspec.Struct, frozen=True, gc=False):
    """Where gain, delay and polarity are set, and what it can do."""

    where: str
    rate_hz: float
    longest_s: float | None

    def on_top(self, gains: Parts, waits: Parts) -> Iterator[AccountEntry]:
        """List the gain and the delay to set on top; nothing where they come to nothing."""
        gain_db, wait_s = sum(value for _, value in gains), sum(value for _, value in waits)
        if gain_db:
            basis = " and ".join(f"{name} {value:+.1f} dB" for name, value in gains)
            yield AccountEntry("gain on top", gain_db, "dB", self.where, basis)
        if wait_s:
            basis = " and ".join(f"{name} {1e3 * value:.2f} ms" for name, value in waits)
            high = None if self.longest_s is None else 1e3 * self.longest_s
            yield AccountEntry(
                "delay on top", 1e3 * wait_s, "ms", self.where, basis, (self.samples(wait_s),), None, high
            )

    def turned_over(self, box: Box) -> Iterator[AccountEntry]:
        """Say that a box is to be against its preset: whatever that brings is turned over."""
        if box.polarity == "inverted":
            yield AccountEntry("polarity", "turn over", "", self.where, f"box {box.id} is inverted")

    def in_all(self, gains: Parts, waits: Parts, turned: str, temperature_c: float) -> Iterator[AccountEntry]:
        """List what gain, delay and polarity come to, preset and all."""
        delay_s = sum(value for _, value in waits)
        yield AccountEntry("gain in all", float(sum(value for _, value in gains)), "dB", self.where)
        way = (delays.distance_of_delay(delay_s, temperature_c), "m")
        also = (self.samples(delay_s), way) if delay_s else ()
        yield AccountEntry("delay in all", 1e3 * delay_s, "ms", self.where, "", also)
        yield AccountEntry("polarity in all", turned, "", self.where)

    def samples(self, delay_s: float) -> tuple[float, str]:
        """Convert a delay to samples, with their rate named."""
        return delays.delay_in_samples(delay_s, self.rate_hz), f"samples at {self.rate_hz / 1e3:g} kHz"


def rate_hz(hosts: Hosts | None) -> float:
    """Look up the sample rate of a host [Hz]."""
    return hosts.sample_rate.value if hosts is not None and hosts.sample_rate else DEFAULT_SAMPLE_RATE_HZ


def longest_s(hosts: Hosts | None) -> float | None:
    """Look up the longest delay of a host [s]; None where nothing is said of it."""
    return hosts.longest_delay.value if hosts is not None and hosts.longest_delay else None


def processing_brought(load: Load, preset: Preset | None, place: SettingPlace) -> Iterator[AccountEntry]:
    """List what a preset that runs brings, its limiter aside."""
    if preset is None:
        return
    yield AccountEntry("preset", preset.id, "", place.where, load.choice.why)
    for name, corner, kind, slope in (
        ("high-pass", preset.high_pass, preset.high_pass_type, preset.high_pass_slope),
        ("low-pass", preset.low_pass, preset.low_pass_type, preset.low_pass_slope),
    ):
        if corner is not None:
            yield AccountEntry(f"preset {name}", corner.value, "Hz", place.where, _shape(kind, slope))
    if preset.gain is not None and preset.gain.value:
        yield AccountEntry("preset gain", preset.gain.value, "dB", place.where)
    if preset.delay is not None and preset.delay.value:
        also = (place.samples(preset.delay.value),)
        yield AccountEntry("preset delay", 1e3 * preset.delay.value, "ms", place.where, "", also)
    if preset.polarity == "inverted":
        yield AccountEntry("preset polarity", "inverted", "", place.where)


def _shape(kind: str | None, slope: int | None) -> str:
    """Say type and slope of a filter; what the model does not say is said to be unsaid."""
    if kind is None and slope is None:
        return "type and slope not in the model"
    return f"{kind or 'type not in the model'}, {f'{slope} dB per octave' if slope else 'slope not in the model'}"
