"""What a look at the amplifier, or at a box and its plugs, finds: not one bit, but what was seen.

Which fault shows as what, and how often a hidden one leaves a trace, is common practice, no source.
"""

from __future__ import annotations

from fieldkit.triage.model.fault import NOTHING, Fault
from fieldkit.triage.model.hearing import Chances
from fieldkit.triage.model.odds import Numbers

LOOKED = (
    "right", "plug-half", "empty", "label", "switch", "lead", "model", "extra", "mute", "level", "polarity", "preset",
    "input", "off", "wet", "burnt", "loose",
)  # fmt: skip
"""``wrong`` is an answer too, of somebody who does not say what."""

SHOWS_AS: dict[str, Chances] = {
    "not-home": {"plug-half": 0.6, "empty": 0.25, "loose": 0.15},
    "box-missing": {"empty": 0.7, "plug-half": 0.3},
    "switch-wrong": {"switch": 1.0},
    "two-core": {"lead": 1.0},
    "wrong-model": {"model": 0.8, "label": 0.2},
    "box-too-many": {"extra": 1.0},
    "muted": {"mute": 0.7, "level": 0.3},
    "mute-group": {"mute": 1.0},
    "input-wrong": {"input": 1.0},
    "set-up-lost": {"preset": 0.4, "mute": 0.3, "input": 0.3},
    "preset-wrong": {"preset": 1.0},
    "limiter-low": {"level": 0.8, "preset": 0.2},
    "limiter-wrong": {"level": 0.7, "preset": 0.3},
    "gain-wrong": {"level": 1.0},
    "delay-wrong": {"level": 0.8, "preset": 0.2},
    "polarity-wrong": {"polarity": 0.7, "level": 0.2, "preset": 0.1},
    "amplifier-off": {"off": 1.0},
    "clock-lost": {"input": 0.8, "off": 0.2},
    "runs-exchanged": {"label": 0.9, "plug-half": 0.1},
    "bridged-as-single": {"label": 0.7, "preset": 0.3},
    "processor-output": {"mute": 0.3, "preset": 0.3, "input": 0.2, "level": 0.2},
}

SETTINGS = {"mute", "level", "polarity", "preset", "input"}
"""Words of what is set at one output."""

NO_INPUT_SHOWS = 0.5
"""Chance that somebody at the amplifier sees that no signal arrives, where nothing is set wrong there."""

TRACES: dict[str, tuple[str, float]] = {
    "coil-burnt": ("burnt", 0.2),
    "driver-shorted": ("burnt", 0.1),
    "driver-open": ("burnt", 0.05),
    "short": ("wet", 0.05),
    "bad-contact": ("wet", 0.05),
    "loose-contact": ("loose", 0.2),
}


def seen(fault: Fault, place: str, word: str, numbers: Numbers) -> float:
    """Compute the chance that a look at a place answers a word; ``wrong`` is all that is not ``right``."""
    slip = numbers["slip"] / (2.0 if fault.kind == NOTHING else 1.0)
    each = slip / (len(LOOKED) - 1)
    # A setting is seen where it is set; that nothing arrives, at the outputs that get nothing.
    outputs = set() if "amp" not in fault.seen_at else {name for name, _ in fault.states}
    outputs = {fault.at} if fault.kind == "processor-output" else outputs
    at_hand = place in fault.seen_at or place in outputs
    shows = dict(SHOWS_AS.get(fault.kind, {"loose": 1.0})) if at_hand else {}
    finds = numbers["reads" if shows.keys() <= SETTINGS else "finds"] - slip
    starved = {name for name, state in fault.states if state == "no input"}
    if not shows and starved and (place == "amp" or place in starved):
        shows, finds, outputs = {"input": 1.0}, NO_INPUT_SHOWS, starved
    if not shows and fault.kind in TRACES and place == fault.box:
        trace, finds = TRACES[fault.kind]
        shows = {trace: 1.0}
    if word in {"right", "wrong"}:
        right = 1.0 - slip - (finds if shows else 0.0)
        return right if word == "right" else 1.0 - right
    share = 1.0 / len(outputs) if place in outputs else 1.0
    return finds * share * shows.get(word, 0.0) + each
