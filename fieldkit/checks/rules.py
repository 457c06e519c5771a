"""The register of rules, and how they are run.

A rule is a function from its subject and the show's choices to findings, declared with the decorator of its
subject. Rules of an output or a box are run again only when that output or box has changed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import TypeAlias

import msgspec

from fieldkit.checks.finding import Finding, Kind, Severity, Where
from fieldkit.gear.loudspeaker import Loudspeaker
from fieldkit.rig.connect.lines import Line, Load
from fieldkit.rig.connect.uses import ZoneUse
from fieldkit.rig.solve.evaluation import DEFAULT_DAMPING, Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Box

RACK_WEIGHT_KG = 100.0
"""Four people at 25 kg each: common practice; 25 kg is the reference mass of ISO 11228-1
(not checked against print)."""
RACK_HEAT_W = 1000.0
"""Heat that a closed rack needs moving air for: common practice, no source."""
ROUNDING_DB = 0.05
"""Half the last digit of a level as it is printed: what is less reads the same."""
PHASE_SHARE = 0.2
"""How far the most loaded phase may stand above the mean before it is worth a word: common practice, no source."""


class Choices(msgspec.Struct, frozen=True):
    """What a show has chosen for its checks."""

    preferred_ohm: float
    minimum_damping: float
    loss_limits_db: dict[str, float]
    """Cable loss worth a note, by zone."""
    rack_weight_kg: float
    rack_heat_w: float
    phase_share: float
    """How far the most loaded phase may stand above the mean, as a share of it."""
    temperature_c: float
    """Of the cables."""
    today: dt.date


class BoxFeed(msgspec.Struct, frozen=True, gc=False):
    """One section of a box as a line feeds it."""

    output: SolvedOutput | None
    line: Line
    load: Load


class BoxSubject(msgspec.Struct, frozen=True, gc=False):
    """A box with all that feeds it."""

    box: Box
    speaker: Loudspeaker
    zone_use: ZoneUse
    feeds: tuple[BoxFeed, ...]
    runs: tuple[str, ...]
    """Runs whose path goes through the box, whether or not they feed it."""


OutputRule: TypeAlias = Callable[[SolvedOutput, Choices], Iterator[Finding]]
LineRule: TypeAlias = Callable[[Line, Choices], Iterator[Finding]]
BoxRule: TypeAlias = Callable[[BoxSubject, Choices], Iterator[Finding]]
ShowRule: TypeAlias = Callable[[Rig, Choices], Iterator[Finding]]

output_rules: list[OutputRule] = []
line_rules: list[LineRule] = []
box_rules: list[BoxRule] = []
show_rules: list[ShowRule] = []


def output_rule(function: OutputRule) -> OutputRule:
    """Declare a rule about an output with its lines."""
    output_rules.append(function)
    return function


def line_rule(function: LineRule) -> LineRule:
    """Declare a rule about one pin pair of a run, whether or not an output feeds it."""
    line_rules.append(function)
    return function


def box_rule(function: BoxRule) -> BoxRule:
    """Declare a rule about a box with all that feeds it."""
    box_rules.append(function)
    return function


def show_rule(function: ShowRule) -> ShowRule:
    """Declare a rule about the show as a whole."""
    show_rules.append(function)
    return function


def finding(  # noqa: PLR0913 - the fields of a finding, as every rule gives them
    severity: Severity,
    rule: str,
    where: tuple[Kind, str],
    says: str,
    *,
    why: str,
    fix: str,
    **numbers: float | None,
) -> Finding:
    """Put a finding together; numbers that are None are left out."""
    kind, name = where
    known = {key: float(value) for key, value in numbers.items() if value is not None}
    return Finding(severity, rule, Where(kind, name), says, why, fix, known)


def choices_of(rig: Rig, today: dt.date | None = None) -> Choices:
    """Read the show's choices; due dates are held against its own date, else against today."""
    about = rig.show.about
    damping = about.minimum_damping
    return Choices(
        preferred_ohm=rig.preferred_ohm,
        minimum_damping=DEFAULT_DAMPING if damping is None else damping,
        loss_limits_db=rig.loss_limits_db(),
        rack_weight_kg=about.rack_weight_limit.value if about.rack_weight_limit else RACK_WEIGHT_KG,
        rack_heat_w=about.rack_heat_limit.value if about.rack_heat_limit else RACK_HEAT_W,
        phase_share=about.phase_limit.value if about.phase_limit else PHASE_SHARE,
        temperature_c=rig.conditions.temperature_c,
        today=about.date or today or dt.date.today(),  # noqa: DTZ011  (a date on a delivery note is local)
    )
