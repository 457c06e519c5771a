"""Steps: what one person does at a time, and the moves that they make up, with the minutes that they take."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

import msgspec

from fieldkit.show.document import Step

Act = Literal["bring", "off", "mute", "pull", "set", "load", "route", "patch", "verify", "plug", "unmute"]


class MoveStep(msgspec.Struct, frozen=True):
    """One thing to do."""

    do: Act
    at: str
    """The output, input, unit or connector."""
    says: str
    value: str = ""
    """What it is set to: preset, source, mode; the other end of a plug."""
    thermal_v: float | None = None
    """Threshold of the slow limiter that is loaded, at the output [V rms]."""
    input_dbu: float | None = None
    """The same at the amplifier's input, for a limiter in a processor [dBu]."""


class Route(msgspec.Struct, frozen=True):
    """One line of a move: from which output to which."""

    line: str
    was: str
    now: str
    preset: str
    boxes: tuple[str, ...]


MINUTES: dict[Act, float] = {
    "bring": 5.0,
    "off": 1.0,
    "mute": 0.25,
    "pull": 0.5,
    "set": 1.0,
    "load": 1.5,
    "route": 1.0,
    "patch": 1.0,
    "verify": 0.25,
    "plug": 1.0,
    "unmute": 0.5,
}
"""What each step takes one person who knows the rig: a menu, a plug, a look. Our own choice."""


SUM_DB = 6
"""Each side goes so far down into the sum, so that what both have alike keeps its level. Common practice."""

LADDER_MINUTES = 4.0
"""To fetch a ladder, climb and come down, for each move at boxes that are out of reach. Our own choice."""

WALK_MINUTES = 1.0
"""From one rack, the desk or a box to the next. Our own choice."""


class SafeMove(msgspec.Struct, frozen=True):
    """Something that one person does in one go."""

    says: str
    """In short: ``SR-1 out 3 → SR-3 out 4 (preset two-way-12 low, with sub)``."""
    runs: tuple[str, ...]
    plug: tuple[str, str]
    """The connectors that it goes from and to; alike where only its input is patched anew."""
    routes: tuple[Route, ...]
    steps: tuple[MoveStep, ...]
    price: tuple[str, ...] = ()
    """What it costs or risks, in words."""
    ladder: bool = False
    """Whether a box or its socket is out of reach from the floor."""

    @property
    def minutes(self) -> float:
        """Say how long it takes one person: each step, and a walk wherever the next is at another unit or box."""
        places = [step.at.partition(".")[0] for step in self.steps]
        walks = 1 + sum(here != there for here, there in pairwise(places))
        climb = LADDER_MINUTES if self.ladder else 0.0
        return sum(MINUTES[step.do] for step in self.steps) + WALK_MINUTES * walks + climb


def spoken(name: str) -> str:
    """Say an output as one says it: ``SR-1.3`` is SR-1 out 3. A signal is said as it stands."""
    unit, dot, number = name.partition(".")
    return f"{unit} out {number}" if dot and number else name or "what fed it"


def spoken_source(source: str) -> str:
    """Say what an input gets: an output, or a signal of the desk."""
    return spoken(source) if "." in source else f"the signal '{source}'"


def joint_name(step: Step) -> str:
    """Name a socket of a stage box as people do: ``BOX socket A``."""
    return f"{step.shared or step.panel} socket {step.socket}"
