"""Observations in a few words."""

from __future__ import annotations

from fieldkit.triage.observations import Ear, Light, Metered, Observation, Polarity, Swap, Tried

SAID = {
    "no-low": "no low end",
    "no-high": "no high end",
    "quiet": "weak",
    "crackle": "crackles, comes and goes",
    "distorted": "rough, distorted",
    "right": "all right there",
    "wrong": "something is wrong there",
    "on": "on, no signal",
    "limit": "in limit",
    "planned": "as planned",
}


def spoken(item: Observation) -> str:
    """Say an observation in a few words."""
    if isinstance(item, Ear):
        return f"{item.box}: {SAID.get(item.word, item.word)}"
    if isinstance(item, Light):
        return f"lights of {item.output}: {SAID.get(item.word, item.word)}"
    if isinstance(item, Metered):
        kind = "DC" if item.kind == "dc" else "1 kHz"
        return f"{item.point} pins {item.pair}, {kind}: {item.word or f'{item.ohm:g} ohm'}"
    if isinstance(item, Swap):
        return f"other {item.what}: the fault {'moved' if item.moved else 'stayed'}"
    if isinstance(item, Polarity):
        return f"polarity of {item.box}: {'reversed' if item.is_reversed else 'as planned'}"
    if isinstance(item, Tried):
        return f"done, and it did not help: {item.fix}"
    return f"look at {item.place}: {'something is wrong' if item.wrong else 'all right'}"
