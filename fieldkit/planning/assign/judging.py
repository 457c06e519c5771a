"""What a proposal is: moves, plugs, rack units, proof, and what the checks say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import msgspec

from fieldkit.checks.checking import check
from fieldkit.checks.finding import Finding
from fieldkit.checks.presets import without_a_place
from fieldkit.gear.amplifier import Amplifier
from fieldkit.gear.processor import Processor
from fieldkit.planning.assign.problem import Counts
from fieldkit.rig.failures import failed_outputs
from fieldkit.rig.priorities import zone_priorities
from fieldkit.rig.solve.evaluation import Rig, evaluate
from fieldkit.show.document import Run, Show, Step
from fieldkit.text.words import counted


class Wishes(msgspec.Struct, frozen=True):
    """What somebody asks of an assignment. As it stands, all boxes without a run, driven as planned."""

    zones: frozenset[str] | None = None
    """Only these zones; all where it is None."""
    again: bool = False
    """Plugs move wherever that makes the plan better; else every run stays as it is."""
    moving: bool = False
    """Plugs move where something finds no room else, as few as can be."""
    most_plugs: int = 0
    """Up to so many plugs move wherever that makes the plan better."""
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

    @property
    def moves_plugs(self) -> bool:
        """Tell whether what is plugged may move."""
        return self.again or self.moving or self.most_plugs > 0

    def plans(self, zone: str) -> bool:
        """Tell whether a zone is to be planned."""
        return self.zones is None or zone in self.zones


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
    """Plugs of what stands there that would move."""
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


class MoveRung(msgspec.Struct, frozen=True):
    """One step of the ladder: what so many plugs bring, against the step below."""

    plugs: int
    rack_units: int
    brings: tuple[str, ...]
    proposal: Proposal

    @property
    def name(self) -> str:
        """Name it by its plugs."""
        return f"{counted(self.plugs, 'plug')} moved"


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
    replugged: int = 0
    """Plugs of what stood there that move: one that comes out and goes in elsewhere is one."""
    mute: tuple[str, ...] = ()
    """Boxes that nothing drives: left so, or on an output that has failed."""
    silent: tuple[int, ...] = ()
    """How many they are, by priority, the first first."""
    ladder: tuple[MoveRung, ...] = ()
    """What moving fewer plugs, or more, would bring, itself among it; empty where nothing else is better."""

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
    mute = _mute(after, findings, laid.undriven)
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
        replugged=plugs_moved(before, after.show),
        mute=mute,
        silent=_silent(after, mute),
    )


def _mute(rig: Rig, findings: tuple[Finding, ...], undriven: tuple[str, ...]) -> tuple[str, ...]:
    """Name the boxes that nothing drives."""
    unfed = (item.where.id for item in findings if item.rule == "box-unfed")
    return tuple(dict.fromkeys((*undriven, *unfed, *on_failed(rig))))


def on_failed(rig: Rig) -> tuple[str, ...]:
    """Name the boxes on outputs that have failed."""
    failed = failed_outputs(rig)
    names = (load.box.id for solved in rig.outputs if solved.output.id in failed for load in solved.loads)
    return tuple(dict.fromkeys(names))


def _silent(rig: Rig, names: tuple[str, ...]) -> tuple[int, ...]:
    """Count the silent boxes of each priority, the first first."""
    priorities = zone_priorities(rig.show, rig.show_index.speakers)
    found = Counter(priorities[rig.show_index.boxes[name].zone].order for name in names)
    return tuple(found[order] for order in sorted({priority.order for priority in priorities.values()}))


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


Plugged = tuple[str, str, tuple[str, ...]]
"""A box, what it is plugged into (a connector, a socket of a panel, the box before it), and the lead between."""


def plugs_moved(before: Show, after: Show) -> int:
    """Count the plugs of what was plugged that move: boxes on another lead or link, and multicores elsewhere.

    What hangs behind a box and stays there moves with it, and is not counted; nor is what was plugged nowhere.
    """
    now = {plug for run in after.runs for plug in _plugs(run)}
    moved = sum(plug not in now for run in before.runs for plug in _plugs(run) if plug[1])
    there = _trunks(after)
    return moved + sum(not boxes & there.get(start, set()) for start, boxes in _trunks(before).items())


def _plugs(run: Run) -> Iterator[Plugged]:
    """List what the boxes of a run are plugged into."""
    feeder, lead = run.start, list[str]()
    for step in run.path:
        if step.panel is not None:
            feeder, lead = f"socket {step.socket}", []
        else:
            lead.append(_named(step))
        if step.box:
            yield step.box, feeder, tuple(lead)
            feeder, lead = f"box {step.box}", []


def _trunks(show: Show) -> dict[str, set[str]]:
    """List the boxes behind each multicore, by the connector that it is plugged into."""
    behind: dict[str, set[str]] = {}
    for run in show.runs:
        if any(step.panel is not None for step in run.path):
            behind.setdefault(run.start, set()).update(step.box for step in run.path if step.box)
    return behind


def _named(step: Step) -> str:
    return f"{step.length or ''} {step.cable or step.adaptor}"
