"""What a proposal is, and how good it is: moves, rack units, proof, and what the checks say."""

from __future__ import annotations

from collections import Counter

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.checks.presets import without_a_place
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.problem import Counts
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import Show

Worth = tuple[int, ...]

UNDER_PREFERRED = "load-under-preferred"

PARTS = (
    "more errors",
    "more boxes silent",
    "more outputs too weak",
    "more presets without a place to run",
    "more zones that hang on one amplifier",
    "more rack units",
    "more outputs under the preferred load",
    "more warnings",
)
"""What each part of a worth counts, as what it means to have more of it."""


def worth(proposal: Proposal) -> Worth:
    """Say how good a plan is, the smaller the better: what is wrong with it first, then what it takes."""
    rules = Counter(item.rule for item in proposal.findings)
    return (
        len(proposal.errors),
        len(proposal.undriven) + rules["box-unfed"],
        rules["output-too-weak"],
        rules["preset-has-no-host"] + rules["no-limiter"],
        rules["both-sides-on-one-amplifier"],
        proposal.rack_units,
        rules[UNDER_PREFERRED],
        sum(item.severity == "warning" and item.rule != UNDER_PREFERRED for item in proposal.findings),
    )


def what_is_worse(tried: Proposal, best: Proposal) -> str:
    """Say in words what one plan has more of than a better one; empty where they are as good."""
    pairs = zip(worth(tried), worth(best), PARTS, strict=True)
    return next((words for one, other, words in pairs if one > other), "")


class Wishes(msgspec.Struct, frozen=True):
    """What somebody asks of an assignment. As it stands, all boxes without a run, driven as planned."""

    zones: frozenset[str] | None = None
    """Only these zones; all where it is None."""
    again: bool = False
    """Plan zones anew that have runs already; else every run stays as it is."""
    moving: bool = False
    """What is plugged may move where something finds no room else: as few boxes as can be."""
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


class BoxMove(msgspec.Struct, frozen=True):
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
    """How sure it is that no plan needs fewer rack units, on a condition that is named."""

    proved: bool
    minimum_rack_units: int
    """No plan that keeps the condition has fewer in use."""
    condition: str
    says: str


class Alternative(msgspec.Struct, frozen=True):
    """What else could be had in place of the plan."""

    name: str
    rack_units: int
    """In use."""
    moves: int
    """Boxes that would have to be plugged otherwise than they are now."""
    condition: str
    risk: str
    says: str


class Short(msgspec.Struct, frozen=True):
    """What is missing, and how many."""

    what: str
    count: int
    says: str


class Claims(msgspec.Struct, frozen=True):
    """What is said of a plan, and what could be had in its place."""

    proof: Proof
    alternatives: tuple[Alternative, ...] = ()


class Unprocessed(msgspec.Struct, frozen=True):
    """Boxes whose preset has no place to run."""

    boxes: tuple[str, ...]
    preset: str
    zone: str
    side: str


class SupplyPlug(msgspec.Struct, frozen=True):
    """A unit that the plan brings, on a supply."""

    unit: str
    supply: str
    phase: int | None
    """Its line, where the supply has three."""

    @property
    def says(self) -> str:
        """Say it in a few words."""
        return f"{self.unit} on {self.supply}{f' L{self.phase}' if self.phase else ''}"


class PlanningStage(msgspec.Struct, frozen=True):
    """One goal, and how far it was reached."""

    goal: str
    value: int
    minimum: int


class Proposal(msgspec.Struct, frozen=True):
    """The answer of an assignment."""

    show: Show
    moves: tuple[BoxMove, ...]
    rack_units: int
    """Of all amplifiers and processors that the plan uses."""
    proof: Proof
    short: tuple[Short, ...]
    undriven: tuple[str, ...]
    """Boxes that the plan leaves silent."""
    notes: tuple[str, ...]
    """What was assumed, and what could not be had."""
    stages: tuple[PlanningStage, ...]
    findings: tuple[Finding, ...]
    """Of the show that is proposed."""
    cancelled: bool
    alternatives: tuple[Alternative, ...] = ()
    weak: tuple[str, ...] = ()
    """Boxes that get less than half of their continuous power."""
    unprocessed: tuple[Unprocessed, ...] = ()
    """Boxes that lose their preset, for want of a place where it runs."""
    to_find: tuple[Short, ...] = ()
    """Amplifiers of which no stock list says that they are there: somebody has to hire or find them."""
    before: tuple[Finding, ...] = ()
    """Of the show as it was."""
    plugs: tuple[SupplyPlug, ...] = ()
    """Where the units that it brings get their mains."""

    @property
    def replugged(self) -> int:
        """How many boxes move that are plugged already."""
        return sum(bool(move.outputs_before) for move in self.moves)

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that forbid to use the plan as it is."""
        return tuple(finding for finding in self.findings if finding.severity == "error")

    @property
    def holds(self) -> bool:
        """Tell whether every box is driven and nothing is an error."""
        return not self.undriven and not self.errors


def proposal_of(before: Show, after: Rig, counts: Counts, claims: Claims, laid: LaidPlan) -> Proposal:
    """Put a proposal together from the show before, the rig after it, what was counted and what was laid."""
    findings = check(after)
    return Proposal(
        show=after.show,
        moves=_moves(evaluate(before), after),
        rack_units=rack_units(after),
        proof=claims.proof,
        short=(*laid.short, *_own_errors(findings, laid.short)),
        undriven=laid.undriven,
        notes=laid.notes,
        stages=tuple(PlanningStage(reached.name, reached.value, reached.minimum) for reached in counts.answer.reached),
        findings=findings,
        cancelled=counts.answer.stopped,
        alternatives=claims.alternatives,
        weak=laid.weak,
        unprocessed=_unprocessed(after, laid.driven),
    )


class LaidPlan(msgspec.Struct, frozen=True):
    """What is said of a plan once it is laid."""

    driven: frozenset[str]
    """Boxes that the plan drives."""
    undriven: tuple[str, ...]
    weak: tuple[str, ...]
    short: tuple[Short, ...]
    notes: tuple[str, ...]


def _unprocessed(rig: Rig, boxes: frozenset[str]) -> tuple[Unprocessed, ...]:
    """Find the boxes that were planned and whose preset no host on their line can run."""
    found: dict[tuple[str, str, str], dict[str, None]] = {}
    for output in rig.outputs:
        for load in without_a_place(output):
            if load.box.id in boxes:
                found.setdefault((load.choice.id or "", load.box.zone, load.box.side), {})[load.box.id] = None
    return tuple(Unprocessed(tuple(names), preset, zone, side) for (preset, zone, side), names in found.items())


MOST_ERRORS = 20


def _own_errors(findings: tuple[Finding, ...], short: tuple[Short, ...]) -> tuple[Short, ...]:
    """Say why a plan that is laid still has errors: what the show itself asks for, or does not have."""
    said = {item.what for item in short}
    errors = [item for item in findings if item.severity == "error" and item.rule != "cables-missing"]
    own = {(item.where.id, item.says): item for item in errors if item.where.id not in said}
    first = list(own.values())[:MOST_ERRORS]
    return tuple(Short(item.where.id, 1, f"{item.where.id}: {item.says}; {item.fix}") for item in first)


def rack_units(rig: Rig) -> int:
    """Add the rack units of all amplifiers, racks as built and processors that feed a box."""
    used: dict[str, None] = {}
    for output in rig.outputs:
        if output.loads:
            used[output.output.unit.id] = None
            if "." in output.source:
                used[output.source.partition(".")[0]] = None
    heights: dict[str, int] = {}
    built = {model.id: model for model in rig.show.built_racks}
    whole = {rack.id: built[rack.as_built] for rack in rig.show.racks if rack.as_built in built}
    for name in used:
        unit = rig.show_index.units[name]
        model = rig.show_index.models[unit.model]
        if unit.rack in whole and whole[unit.rack].panel:
            heights[unit.rack] = whole[unit.rack].units
        elif isinstance(model, (Amplifier, Processor)):
            heights[name] = model.units
    return sum(heights.values())


def _moves(before: Rig, after: Rig) -> tuple[BoxMove, ...]:
    old, new = _by_box(before), _by_box(after)
    moves = []
    for box in after.show.boxes:
        outputs_before, outputs = old.get(box.id, ({}, "", {})), new.get(box.id, ({}, "", {}))
        if tuple(outputs_before[0]) != tuple(outputs[0]) or outputs_before[1] != outputs[1]:
            moves.append(
                BoxMove(box.id, box.zone, outputs[1], tuple(outputs_before[0]), tuple(outputs[0]), tuple(outputs[2]))
            )
    return tuple(moves)


def _by_box(rig: Rig) -> dict[str, tuple[dict[str, None], str, dict[str, None]]]:
    """List for each box its outputs, its run and its presets."""
    found: dict[str, tuple[dict[str, None], str, dict[str, None]]] = {}
    for output in rig.outputs:
        for solved in output.lines:
            for load in solved.line.loads:
                outputs, _, presets = found.get(load.box.id, ({}, "", {}))
                outputs[output.output.id] = None
                if load.choice.id:
                    presets[load.choice.id] = None
                found[load.box.id] = (outputs, solved.line.run.id, presets)
    return found
