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


REACHED = {
    "ladder": "A ladder: somebody holds it, and nothing above is live or plays.",
    "flown": "Flown: only with the rigger, nobody below, and nothing above plays.",
}
"""What reaching a box asks for. Common practice, no source."""

SHORT_HIGH = "amplifier off, isolated, waited?"
SHORT_LOW = "muted, plug out, volts AC first?"
NOISE = "all others muted, level down, nobody near the boxes, ears protected"
CLICKS = "it clicks: quiet, all others muted, nobody before the boxes"


def before_metering(outputs: Iterable[SolvedOutput]) -> str:
    """Ask in a few words what must be done before a meter is put on lines of these outputs."""
    return SHORT_HIGH if any(map(is_hazardous, outputs)) else SHORT_LOW


def cautions(outputs: Sequence[SolvedOutput], kinds: Iterable[str], reach: str = "floor") -> tuple[str, ...]:
    """List the cautions for steps of these kinds on these outputs, at a box that is reached so."""
    wanted = set(kinds)
    found = [REACHED[reach]] if reach in REACHED and wanted & {"meter", "swap", "polarity", "look"} else []
    if not wanted & {"meter", "swap", "polarity"}:
        return tuple(found)
    if wanted & {"meter", "swap"}:
        found.append(HIGH_TIER if any(map(is_hazardous, outputs)) else LOW_TIER)
    if any(output.output.mode == "bridged" for output in outputs):
        found.append(BRIDGED)
    if "polarity" in wanted:
        found.append("A polarity tester clicks: keep it quiet, and nobody before the boxes.")
    return (*found, ALWAYS)
