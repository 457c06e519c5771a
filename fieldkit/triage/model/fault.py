"""One thing that can be wrong: an edit of the circuit, or a state of an output, with the act that fixes it."""

from __future__ import annotations

from typing import Literal

import msgspec

from fieldkit.triage.model.circuit import Circuit
from fieldkit.triage.model.hearing import Chances

Part = Literal["cable", "adaptor", "output", "box", "signal", "plug", "none"]
"""``adaptor`` is a panel and the wiring of a rack too."""

NOTHING, NONE_OF_THESE = "nothing-wrong", "none-of-these"


class Fault(msgspec.Struct, frozen=True, gc=False):
    """A fault at a place. What it would read and sound like follows from its circuit and states."""

    kind: str
    """Most are called as in the table of odds."""
    at: str
    says: str
    act: str
    """As the table of repairs names it."""
    fix: str
    """What to do, in words; faults with the same fix need not be told apart."""
    part: Part
    odds: float
    run: str = ""
    """The run whose circuit is changed; empty for what lies before all runs."""
    circuits: tuple[Circuit, ...] = ()
    """The changed circuit; two for the ends of an interval (where along the cable, how bad the contact)."""
    at_amp: Circuit | None = None
    """What hangs on the run's socket at the amplifier, where that is another run."""
    states: tuple[tuple[str, str], ...] = ()
    """Outputs and what they do in place of playing."""
    ears: tuple[tuple[str, Chances], ...] = ()
    """Boxes whose sound does not follow from the volts."""
    weaker: tuple[str, str, float] | None = None
    """Box, section and gain [dB] of what is weaker than the volts on it say: drivers that work against each other."""
    elsewhere: frozenset[str] = frozenset()
    """Boxes on other lines that it silences too."""
    seen_at: tuple[str, ...] = ()
    """Places where a look finds it: ``amp``, or a box."""
    box: str = ""
    """The box that it is at, or that the piece leads to."""
    piece: str = ""
    """The cable, adaptor or panel that it is in, or whose plug it is."""
    odds_of: str = ""
    """The row of the table of odds, where that is not called like the kind."""

    @property
    def counted_as(self) -> str:
        """The row of the table of odds that a case of it counts in."""
        return self.odds_of or self.kind

    def weaker_db(self, box: str, section: str) -> float:
        """Return by how much a section is weaker than the volts on it say [dB]; 0 where it is not."""
        return self.weaker[2] if self.weaker and self.weaker[:2] == (box, section) else 0.0

    @property
    def name(self) -> str:
        """The kind in words: ``conductor open``."""
        return self.kind.replace("-", " ")

    @property
    def place(self) -> str:
        """Where it sits, in words: a piece, a box, an output, a signal."""
        return f"the {self.piece}" if self.piece else self.at

    def is_fixed_by(self, other: Fault) -> bool:
        """Tell whether doing what fixes another fault fixes this one too: a spare box has its switch right."""
        if self.fix == other.fix:
            return True
        if other.act == "change-box":
            return self.part == "box" and self.box == other.box and self.act != "unplug-box"
        if other.act == "replace-piece":
            return bool(self.piece) and (self.run, self.piece) == (other.run, other.piece)
        if other.act == "change-output":
            return self.part == "output" and self.at == other.at and self.act in {"set-output", "reset-output"}
        return False


class OutputState(msgspec.Struct, frozen=True):
    """What an output does when something is wrong with it."""

    level_db: float
    lights: Chances
    ears: Chances | None = None
    """What is heard of the sections on it, where the level does not say it."""


STATES = {
    "mute": OutputState(-120.0, {"mute": 0.5, "signal": 0.25, "on": 0.25}),
    "no input": OutputState(-120.0, {"on": 0.9, "mute": 0.1}),
    "off": OutputState(-120.0, {"off": 1.0}),
    "failed": OutputState(-120.0, {"signal": 0.6, "on": 0.3, "off": 0.1}),
    "protect": OutputState(-120.0, {"protect": 0.95, "off": 0.05}),
    "half": OutputState(-6.02, {"signal": 1.0}),
    "low limiter": OutputState(-12.0, {"limit": 0.8, "signal": 0.2}, {"distorted": 0.5, "quiet": 0.5}),
    "noisy": OutputState(
        0.0,
        {"signal": 1.0},
        {"hum": 0.15, "buzz": 0.15, "hiss": 0.15, "crackle": 0.2, "distorted": 0.35},
    ),
    "other input": OutputState(0.0, {"signal": 0.7, "on": 0.3}, {"other-signal": 0.85, "distorted": 0.15}),
    "inverted": OutputState(0.0, {"signal": 1.0}),
    "picks up": OutputState(0.0, {"signal": 0.9, "on": 0.1}, {"radio": 0.6, "hum": 0.2, "buzz": 0.15, "hiss": 0.05}),
    "gain low": OutputState(-9.0, {"signal": 1.0}),
    "gain high": OutputState(6.0, {"signal": 0.7, "limit": 0.3}, {"loud": 0.7, "distorted": 0.2, "normal": 0.1}),
    "wrong limits": OutputState(0.0, {"signal": 1.0}, {"normal": 0.6, "loud": 0.2, "distorted": 0.2}),
    "late": OutputState(0.0, {"signal": 1.0}, {"late": 0.6, "louder-alone": 0.15, "quiet": 0.1, "normal": 0.15}),
    "wrong preset": OutputState(0.0, {"signal": 0.9, "limit": 0.1}, {}),
}
"""Common practice, no source."""

WRONG_PRESET: dict[str, Chances] = {
    "low": {"no-low": 0.4, "quiet": 0.2, "distorted": 0.2, "normal": 0.2},
    "sub": {"no-low": 0.3, "quiet": 0.4, "distorted": 0.1, "normal": 0.2},
    "high": {"no-high": 0.4, "distorted": 0.3, "quiet": 0.15, "normal": 0.15},
    "mid": {"no-high": 0.3, "distorted": 0.3, "quiet": 0.2, "normal": 0.2},
    "full": {"no-low": 0.25, "no-high": 0.2, "quiet": 0.2, "distorted": 0.15, "normal": 0.2},
}
"""What a preset meant for something else sounds like, by section. Common practice, no source."""
