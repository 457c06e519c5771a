"""Observations in words for people, and as the command takes them."""

from __future__ import annotations

from fieldkit.triage.belief.observations import (
    Ear,
    Inverted,
    Light,
    Look,
    Metered,
    Observation,
    Played,
    Polarity,
    SwapSeen,
    Tried,
)

SAID = {
    "no-low": "no low end",
    "no-high": "no high end",
    "quiet": "weak",
    "crackle": "crackles, comes and goes",
    "distorted": "rough, distorted",
    "right": "all right there",
    "wrong": "something is wrong there",
    "plug-half": "a plug is half out",
    "empty": "a socket is empty",
    "label": "wrong label or plug here",
    "switch": "the switch stands wrong",
    "lead": "the wrong lead",
    "model": "another model",
    "extra": "a box too many hangs on it",
    "mute": "muted",
    "level": "gain, delay or limiter wrong",
    "polarity": "polarity inverted",
    "preset": "another preset",
    "input": "another input, or none",
    "off": "off",
    "wet": "wet, or corroded",
    "burnt": "burnt, or it smells so",
    "loose": "something is loose",
    "no-mid": "no mids",
    "loud": "too loud against its twin",
    "rattle": "rattles",
    "late": "late, or an echo",
    "louder-alone": "louder when its neighbour is muted",
    "other-signal": "plays another signal",
    "hum": "hum",
    "buzz": "buzz",
    "hiss": "hiss",
    "radio": "radio",
    "nothing": "nothing to hear",
    "fuller": "fuller together",
    "thinner": "thinner together",
    "same": "no clear difference",
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
    if isinstance(item, SwapSeen):
        beside = f" to {item.at}" if item.at else ""
        return f"other {item.what}{beside}: the fault {'moved' if item.moved else 'stayed'}"
    if isinstance(item, Polarity):
        return f"polarity of {item.box}: {SAID.get(item.word, item.word)}"
    if isinstance(item, Inverted):
        return f"{item.box} with {item.beside}, one of them inverted: {SAID[item.word]}"
    if isinstance(item, Played):
        return f"noise on {item.output} alone: {' and '.join(sorted(item.boxes)) or 'nothing'} played"
    if isinstance(item, Tried):
        return f"done, and it did not help: {item.fix}"
    return f"look at {item.place}: {SAID.get(item.word, item.word)}"


def as_typed(item: Observation) -> str:
    """Write an observation as an option of the command, without quotes of a shell."""
    if isinstance(item, Ear):
        return f"--heard {item.box}={item.word}"
    if isinstance(item, Light):
        return f"--lights {item.output}={item.word}"
    if isinstance(item, Metered):
        value = item.word or (f"{item.ohm:g}ohm" if item.ohm is not None else "OHM")
        return f"--reading {item.point}:{item.pair}={value}:{item.kind}"
    if isinstance(item, SwapSeen):
        beside = f"{item.at}." if item.at else ""
        return f"--swapped {beside}{item.what}={'moved' if item.moved else 'stayed'}"
    if isinstance(item, Polarity):
        return f"--polarity {item.box}={item.word}"
    if isinstance(item, Inverted):
        return f"--inverted {item.box}+{item.beside}={item.word}"
    if isinstance(item, Played):
        return f"--played {item.output}={'+'.join(sorted(item.boxes)) or 'nothing'}"
    if isinstance(item, Look):
        return f"--looked {item.place}={item.word}"
    return f"--tried {item.fix}"
