"""What ears and the amplifier's lights report of a faulted rig.

The volts at every section, against those of the healthy run, become one of a few words a box. Words and limits are
common practice, no source: 3 dB less is "quiet", 20 dB less is "silent".
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from functools import lru_cache
from math import log10

import msgspec

from fieldkit.gear.amplifier import Topology
from fieldkit.triage.model import netlist
from fieldkit.triage.model.circuit import Circuit, is_open, plus
from fieldkit.triage.model.seeing import Views

HEARD = (
    "normal", "silent", "quiet", "no-low", "no-high", "distorted", "crackle", "hum",
    "no-mid", "loud", "rattle", "late", "louder-alone", "other-signal", "buzz", "hiss", "radio",
)  # fmt: skip
"""``louder-alone``: louder when its neighbour is muted; ``loud``, ``quiet``: against its twin."""
LIGHTS = ("signal", "off", "on", "limit", "protect", "mute")

QUIET_DB, SILENT_DB = -3.0, -20.0
LOWS = {"low", "sub"}

Chances = Mapping[str, float]


class Drive(msgspec.Struct, frozen=True, gc=False):
    """What reaches one section, as a share of the volts of an output."""

    own: complex = 0j
    """From the output that is meant for it; negative when reversed."""
    foreign: tuple[tuple[str, float], ...] = ()
    """Lines whose signal reaches it too, and the share of their volts."""


class Drives:
    """What reaches every section of a run, each worked out when it is asked for."""

    def __init__(
        self,
        circuit: Circuit,
        seen: Views,
        lines: Mapping[str, str],
        topology: Mapping[str, Topology],
        only: Container[str] | None = None,
    ) -> None:
        """Follow every output to the sections; ``lines`` gives the line of each pin pair at the amplifier.

        Where ``only`` names lines, nothing is said of sections on others.
        """
        self._circuit, self._lines = circuit, lines
        if seen.joins_pairs:
            self._shares = _by_nodes(circuit, topology)
        else:
            pairs = [pair for pair, _ in circuit.feeds if only is None or lines.get(pair) in only]
            self._shares = _followed(circuit, seen, pairs)

    def of(self, index: int, number: int) -> Drive:
        """Return the drive of a section of the box at a station; no drive for a section that is not there."""
        elements = self._circuit.stations[index].elements
        if number >= len(elements):
            return Drive()
        own, foreign = 0j, []
        for pair, value in self._shares.get((index, number), {}).items():
            line = self._lines.get(pair)
            if line == elements[number].line:
                own += value
            elif line is not None and abs(value) > AUDIBLE:
                foreign.append((line, abs(value)))
        return Drive(own, tuple(foreign))


AUDIBLE = 0.05
"""Share of another output's volts that counts: common practice, no source."""


def _is_in_phase(pair: str, topology: Mapping[str, Topology]) -> bool:
    return not (topology[pair] == "alternate" and int(pair) % 2 == 0)


def _by_nodes(circuit: Circuit, topology: Mapping[str, Topology]) -> dict[tuple[int, int], dict[str, complex]]:
    """Solve every section's volts for each driven pair; slow, and always right."""
    shares: dict[tuple[int, int], dict[str, complex]] = {}
    pairs = [pair for pair, _ in circuit.feeds]
    for pair in pairs:
        volts = netlist.section_volts(circuit, {name: float(name == pair) for name in pairs}, topology)
        for place, value in volts.items():
            shares.setdefault(place, {})[pair] = value if _is_in_phase(pair, topology) else -value
    return shares


def _followed(circuit: Circuit, seen: Views, pairs: Sequence[str]) -> dict[tuple[int, int], dict[str, complex]]:
    """Follow some pairs along the ladder."""
    here: dict[str, tuple[str, complex]] = {pair: (pair, 1 + 0j) for pair in pairs}
    shares: dict[tuple[int, int], dict[str, complex]] = {}
    for index, segment in enumerate(circuit.segments):
        if not segment.near_home or not segment.far_home:
            return shares
        onward: dict[str, tuple[str, complex]] = {}
        ends = {wire.near: wire for wire in segment.wires}
        for pair, (source, share) in here.items():
            one, other = ends.get(plus(pair)), ends.get(f"{pair}-")
            if one is None or other is None:
                continue
            far = one.far[:-1]
            node = seen.at[index].get(far)
            shorted = any(bridge.end == "far" and bridge.one[:-1] == far for bridge in segment.bridges)
            factor: complex = 0.0 if shorted else 1.0
            if not shorted and node is not None and not is_open(node.ohm):
                factor = node.ohm / (node.ohm + one.ohm + other.ohm)
            onward[far] = (source, share * factor * (1.0 if one.far.endswith("+") else -1.0))
        here = onward
        for number, element in enumerate(circuit.stations[index].elements):
            source_share = here.get(element.plus[:-1])
            if source_share is not None and element.minus[:-1] == element.plus[:-1]:
                way_round = 1.0 if element.plus.endswith("+") else -1.0
                shares.setdefault((index, number), {})[source_share[0]] = way_round * source_share[1]
    return shares


class Heard(msgspec.Struct, frozen=True, gc=False):
    """One section as an ear would have it."""

    section: str
    level_db: float
    """Against the healthy rig; -120 for nothing."""
    endangered: bool = False
    """A high or mid section that gets a band which it cannot bear."""
    is_reversed: bool = False


def level_db(now: float, healthy: float) -> float:
    """Compute a level against the healthy one [dB], minimum -120."""
    return -120.0 if now <= 0.0 or healthy <= 0.0 else max(-120.0, 20.0 * log10(now / healthy))


@lru_cache(maxsize=4096)
def word_of(sections: tuple[Heard, ...]) -> str:
    """Say in one word what a box does. Kept, since most faults leave most boxes as they were."""
    if any(item.endangered for item in sections):
        return "distorted"
    groups: dict[str, list[float]] = {}
    for item in sections:
        volts = 10 ** (item.level_db / 20)
        groups.setdefault(item.section, []).append(-volts if item.is_reversed else volts)
    # Sections of one band in one box add as they stand: one of two that is reversed takes the other away.
    levels = {name: abs(sum(every)) / len(every) for name, every in groups.items()}
    failed = {name for name, level in levels.items() if level < 10 ** (SILENT_DB / 20)}
    if failed == set(levels):
        return "silent"
    if failed:
        return "no-low" if failed & LOWS else "no-mid" if failed == {"mid"} else "no-high"
    if min(levels.values()) < 10 ** (QUIET_DB / 20):
        return "quiet"
    return "normal"


def weakened(sections: tuple[Heard, ...]) -> Chances:
    """Say what a box is called whose band is down by a few decibels: weak, or without that band."""
    low = [item.level_db for item in sections if item.section in LOWS]
    others = [item.level_db for item in sections if item.section not in LOWS]
    if not low or not others or abs(max(low) - max(others)) < -QUIET_DB:
        return {"quiet": 1.0}
    return {"quiet": 0.6, "no-low" if max(low) < max(others) else "no-high": 0.4}


UNHEARD_THROUGH = {"high": ("hum",), "low": ("hiss",), "sub": ("hiss", "buzz", "radio")}
"""Noises that a section hardly lets through: hum is 50 or 60 Hz and its first multiples, hiss is all highs."""


def through(section: str, noises: Chances) -> Chances:
    """Weigh noises by what a section lets through."""
    return {word: share * (0.1 if word in UNHEARD_THROUGH.get(section, ()) else 1.0) for word, share in noises.items()}


ORDINARY = {"normal", "silent", "quiet", "no-low", "no-high", "distorted", "crackle", "hum"}
"""What an ear says by mistake is most often one of these."""

SELDOM = 0.15
"""How much seldomer one of the other words is said by mistake. Common practice, no source."""


@lru_cache(maxsize=8)
def _mistaken(words: tuple[str, ...]) -> Chances:
    """Return the share that each word has in what is said by mistake: all alike where none is ordinary."""
    known = ORDINARY & set(words)
    weights = {word: SELDOM if known and word not in ORDINARY else 1.0 for word in words}
    return {word: weight / sum(weights.values()) for word, weight in weights.items()}


@lru_cache(maxsize=256)
def chances(word: str, words: tuple[str, ...], slip: float) -> Chances:
    """Compute the chance of each report when one is true: 1 - slip for it, the rest shared by the others."""
    shares = _mistaken(words)
    others = slip / (1.0 - shares[word])
    return {name: 1.0 - slip if name == word else others * shares[name] for name in words}


def blurred(shares: Chances, words: tuple[str, ...], slip: float) -> Chances:
    """Compute the chance of each report when several are likely."""
    total = sum(shares.values())
    mistaken = _mistaken(words)
    return {name: (1.0 - slip) * shares.get(name, 0.0) / total + slip * mistaken[name] for name in words}
