"""The chain in words: the delays of a zone, the settings of a host, and what another temperature does to delays."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.formulas.delays import delay_in_samples, distance_of_delay
from fieldkit.rig.signal.account import Account
from fieldkit.rig.signal.account_text import amplifier_text, brought_text, read_lines, set_lines
from fieldkit.rig.signal.chain import SignalPath
from fieldkit.rig.signal.delays import DEFAULT_SAMPLE_RATE_HZ, ZoneDelay, delay_changes
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.units import UNITS
from fieldkit.units.conversion import from_computing

WORTH_SETTING_S = 0.001
"""A change of delay below a millisecond is left alone: common practice, no source."""


def delay_text(delay_s: float, temperature_c: float, sample_rate_hz: float = DEFAULT_SAMPLE_RATE_HZ) -> str:
    """Write a delay in every unit that a processor may ask for: ms, metres, feet, samples."""
    metres = distance_of_delay(delay_s, temperature_c)
    feet = from_computing(metres, UNITS["ft"])
    samples = round(delay_in_samples(delay_s, sample_rate_hz))
    rate = f"{sample_rate_hz / 1e3:g} kHz"
    return f"{1e3 * delay_s:.2f} ms = {metres:.2f} m = {feet:.2f} ft = {samples} samples at {rate}"


def zone_lines(delays: tuple[ZoneDelay, ...], temperature_c: float) -> Iterator[str]:
    """Say how each side of a zone is delayed, and why."""
    told = {(item.delay_s, item.why): item for item in delays}
    for item in told.values():
        sides = ", ".join(other.side for other in delays if (other.delay_s, other.why) == (item.delay_s, item.why))
        where = f"{sides}: " if sides.strip(", ") and len(told) > 1 else ""
        if item.guess_s is not None:
            yield f"{where}delay guessed, not to be set: {delay_text(item.guess_s, temperature_c)}"
            yield f"  {item.why}"
        elif item.delay_s or item.reference or item.by_hand:
            yield f"{where}delay {delay_text(item.delay_s, temperature_c)}"
            offset = f", {1e3 * item.precedence_s:.1f} ms of it by choice" if item.precedence_s else ""
            yield f"  {item.why}{offset}"


def path_line(path: SignalPath) -> str:
    """Write a signal's way in one line."""
    return "signal: " + (" > ".join(path.stations) if path.signals else "not planned from the desk on")


def account_lines(account: Account) -> Iterator[str]:
    """Say what the preset brings, what to set on a host, and what reads back."""
    routed = f", from input {' + '.join(account.inputs)}" if account.inputs else ""
    yield f"settings of {account.host if account.kind != 'none' else 'no host'}{routed}:"
    yield f"  {brought_text(account)}"
    for output in account.outputs:
        orders = amplifier_text(account, output)
        if orders:
            yield f"  set at the amplifier: {orders}"
    for lines in (set_lines(account), read_lines(account), account.notes):
        yield from (f"  {line}" for line in lines)
    yield from (f"  ! {text}" for text in account.disagreements)


def weather_lines(rig: Rig, after_c: float) -> tuple[str, ...]:
    """Say what every delay is today, at another temperature, and whether the change is worth setting."""
    changes = delay_changes(rig, rig.conditions.temperature_c, after_c)
    if not changes:
        return ("no zone has a delay: give a zone timed_to and its distances",)
    lines = [f"{'zone':<22}{'before ms':>10}{'after ms':>10}{'change ms':>11}"]
    for change in changes:
        what = f"{change.zone} {change.side}".strip()
        advice = "by hand" if change.by_hand else "set it" if abs(change.change_s) >= WORTH_SETTING_S else "leave it"
        lines.append(
            f"{what[:21]:<22}{1e3 * change.before_s:>10.2f}{1e3 * change.after_s:>10.2f}"
            f"{1e3 * change.change_s:>+11.2f}  {advice}"
        )
    lines.append("a change below 1 ms is left alone (common practice, no source)")
    return tuple(lines)
