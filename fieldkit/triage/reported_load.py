"""The load that an amplifier reports itself: what it should say of an output, and what it says when it does not.

An amplifier measures an impedance, at a frequency of its own choosing or over the programme; a loudspeaker's runs from
its DC resistance to several times its rating over the band. So the band is wide: a hint where to take the meter, and
never more. Common practice, no source.
"""

from __future__ import annotations

from fieldkit.rig.meters import Band
from fieldkit.rig.solving import SolvedOutput
from fieldkit.triage.table import Numbers
from fieldkit.triage.verdicts import NUMBERS, SIGMAS, Verdict

NOTHING_THERE = 8.0
"""So many times the planned load is no load at all."""


def reported_band(output: SolvedOutput, meter: Numbers) -> Band | None:
    """Give what the amplifier should report [ohm]; None for an output that drives nothing."""
    if output.load_ohm is None:
        return None
    wide = 1.0 + SIGMAS * meter["reported_spread"]
    return Band(output.load_ohm / wide, output.load_ohm, output.load_ohm * wide)


def reported_verdict(output: SolvedOutput, ohm: float | None, word: str, meter: Numbers) -> Verdict:
    """Judge a load that the amplifier reports [ohm], or a word for it."""
    band = reported_band(output, meter)
    boxes = list(dict.fromkeys(load.box.id for load in output.loads))
    if band is None:
        return Verdict(ok=None, says="no verdict: the plan drives nothing here")
    if word == "open" or (ohm is not None and ohm > NOTHING_THERE * band.value):
        return Verdict(ok=False, says="no load seen: some need signal to measure; else meter the line, plug pulled")
    if word == "short" or ohm is None:
        return Verdict(ok=False, says="a short: mute it, pull the plug at the amplifier, meter the line")
    if band.low <= ohm <= band.high:
        more = ""
        if len(boxes) > 1 and band.value * len(boxes) / (len(boxes) - 1) <= band.high:
            more = f"; it cannot tell {_said(len(boxes))} boxes from {_said(len(boxes) - 1)}"
        return Verdict(ok=True, says=f"as expected of what an amplifier can tell{more}")
    if ohm > band.high:
        left = max(1, round(len(boxes) * band.value / ohm))
        what = f"about {_said(left)} of {_said(len(boxes))} boxes" if left < len(boxes) else "a high load"
        return Verdict(ok=False, says=f"reads as {what}: meter the line, plug pulled")
    return Verdict(ok=False, says="reads low: more boxes than planned, or a short: mute, pull the plug, meter the line")


def _said(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number)
