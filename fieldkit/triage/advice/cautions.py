"""The cautions that go with a step, in two tiers, by what the outputs at hand can give.

The limit of 50 V: the end of class ES2 in IEC 62368-1 (from a reproduction), and where OSHA 1910.333 asks to
de-energise. The steps are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fieldkit.rig.solve.solving import SolvedOutput

TOUCHABLE_V = 50.0

ALWAYS = (
    "Never put ohms on an amplifier's output: pull the plug first. Local codes rule; licensed people connect mains."
)
LOW_TIER = "Mute, pull the plug at the amplifier, volts AC first, then ohms."
HIGH_TIER = "Switch the amplifier off, isolate it, wait, then pull the plug and meter."
BRIDGED = "Neither side of a bridged output is ground: no earthed instrument on it."


def is_hazardous(output: SolvedOutput) -> bool:
    """Tell whether an output counts as mains: bridged, or able to give more than 50 V."""
    return output.output.mode == "bridged" or output.clip_v > TOUCHABLE_V


def cautions(outputs: Sequence[SolvedOutput], kinds: Iterable[str]) -> tuple[str, ...]:
    """List the cautions for steps of these kinds on these outputs."""
    wanted = set(kinds)
    if not wanted & {"meter", "swap", "polarity"}:
        return ()
    found = []
    if wanted & {"meter", "swap"}:
        found.append(HIGH_TIER if any(map(is_hazardous, outputs)) else LOW_TIER)
    if any(output.output.mode == "bridged" for output in outputs):
        found.append(BRIDGED)
    if "polarity" in wanted:
        found.append("A polarity tester clicks: keep it quiet, and nobody before the boxes.")
    return (*found, ALWAYS)
