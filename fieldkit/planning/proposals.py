"""What a proposal is: a show, what it moves, how sure it is, and what is short."""

from __future__ import annotations

import msgspec

from fieldkit.checks.finding import Finding
from fieldkit.show.document import Show


class Wishes(msgspec.Struct, frozen=True):
    """What somebody asks of an assignment. As it stands, all boxes without a run, driven as planned."""

    zones: frozenset[str] | None = None
    """Only these zones; all where it is None."""
    again: bool = False
    """Plan zones anew that have runs already; else every run stays as it is."""
    keep: frozenset[str] = frozenset()
    """Runs that stay even so."""
    free_drives: bool = False
    """A box whose drive nobody wrote down may be driven in any way its model has."""
    mirrored: bool = True
    """Keep the two sides of a zone on different amplifiers, where that can be done."""
    preferred_first: bool = False
    """Keep outputs at or over the preferred load, even where that takes more rack units."""
    pins: dict[str, frozenset[str]] = {}
    """Zone -> the amplifiers, racks or models that may serve it; in place of what the zone itself says."""
    extend: bool = True
    """Boxes may hang on runs of their zone that have room."""


class Move(msgspec.Struct, frozen=True):
    """What changes for one box."""

    box: str
    zone: str
    run: str
    outputs_before: tuple[str, ...]
    outputs: tuple[str, ...]
    """Empty where nothing drives it any more."""
    presets: tuple[str, ...]

    @property
    def says(self) -> str:
        """Say it in one line."""
        if not self.outputs:
            return f"{self.box}: comes off {', '.join(self.outputs_before)}"
        start = f"{', '.join(self.outputs_before)} → " if self.outputs_before else "→ "
        loaded = f" (preset {', '.join(self.presets)})" if self.presets else ""
        return f"{self.box}: {start}{', '.join(self.outputs)} by {self.run}{loaded}"


class Proof(msgspec.Struct, frozen=True):
    """How sure it is that no plan needs fewer rack units."""

    proved: bool
    least_rack_units: int
    says: str


class Short(msgspec.Struct, frozen=True):
    """What is missing, and how many."""

    what: str
    count: int
    says: str


class MainsPlug(msgspec.Struct, frozen=True):
    """A unit that the plan brings, on a supply."""

    unit: str
    supply: str
    phase: int | None
    """Its line, where the supply has three."""

    @property
    def says(self) -> str:
        """Say it in a few words."""
        return f"{self.unit} on {self.supply}{f' L{self.phase}' if self.phase else ''}"


class Stage(msgspec.Struct, frozen=True):
    """One goal, and how far it was reached."""

    goal: str
    value: int
    least: int


class Proposal(msgspec.Struct, frozen=True):
    """The answer of an assignment."""

    show: Show
    moves: tuple[Move, ...]
    rack_units: int
    """Of all amplifiers and processors that the plan uses."""
    proof: Proof
    short: tuple[Short, ...]
    undriven: tuple[str, ...]
    """Boxes that the plan leaves silent."""
    notes: tuple[str, ...]
    """What was assumed, and what could not be had."""
    stages: tuple[Stage, ...]
    findings: tuple[Finding, ...]
    """Of the show that is proposed."""
    cancelled: bool
    to_find: tuple[Short, ...] = ()
    """Amplifiers of which no stock list says that they are there: somebody has to hire or find them."""
    before: tuple[Finding, ...] = ()
    """Of the show as it was."""
    plugs: tuple[MainsPlug, ...] = ()
    """Where the units that it brings get their mains."""

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that forbid to use the plan as it is."""
        return tuple(finding for finding in self.findings if finding.severity == "error")

    @property
    def holds(self) -> bool:
        """Tell whether every box is driven and nothing is an error."""
        return not self.undriven and not self.errors
