"""Pins and plugs: every pair arrives, every connector fits, every box that is linked can be linked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from functools import partial
from itertools import chain

from fieldkit.checks.finding import Finding
from fieldkit.checks.joining import Joiner, misfits
from fieldkit.checks.rules import Choices, finding, line_rule, show_rule
from fieldkit.rig.connect.lines import Break, Line, outputs_at, starts_of
from fieldkit.rig.connect.uses import planned_drive
from fieldkit.rig.solve.evaluation import LaidRun, Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Run

NOTHING = "nothing"
"""What ``Line.mismatch`` says of a pair that the connector does not carry."""


@show_rule
def pairs_arrive(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a pair that gets lost on its way to a box that wants it, and one that nothing uses.

    A pair that ends before a box which another pair serves is ordinary: two boxes on the two pairs of one
    cable, with an adaptor between them.
    """
    joiner, fed = Joiner(rig), None
    for line in chain.from_iterable(rig.memory.each("lines in question", rig.runs, _in_question)):
        if fed is None:
            fed = {(load.box.id, load.section.pair) for other in rig.lines for load in other.loads}
        missed = _missed(line, rig, fed)
        if line.broken is not None and missed:
            yield finding(
                "error",
                "pins-do-not-meet",
                ("line", line.id),
                f"{_lost(line.broken)}; {', '.join(missed)} cannot be reached",
                why="everything on that pair stays silent",
                fix=joiner.for_boxes(line.run, missed)
                or "use a cable that has the pair, such as four cores for a bi-amp box",
            )
        elif not line.loads and line.run.feeds:
            yield _feeds_nothing(line, joiner.for_pair(line.run, line.pair))


def _in_question(laid: LaidRun) -> list[Line]:
    return [line for line in laid.lines if line.broken is not None or not line.loads]


def _missed(line: Line, rig: Rig, fed: set[tuple[str, int]]) -> list[str]:
    """List the boxes beyond a break with a section that no line feeds."""
    missed = []
    for name in dict.fromkeys(line.broken.beyond if line.broken else ()):
        speaker = rig.show_index.speakers[name]
        sections = speaker.sections_in(planned_drive(rig.show_index.boxes[name], speaker))
        if any(section.impedance is not None and (name, section.pair) not in fed for section in sections):
            missed.append(name)
    return missed


def _lost(broken: Break) -> str:
    return f"'{broken.model}' in step {broken.step} does not carry pair {broken.pair}"


def _feeds_nothing(line: Line, adaptor: str) -> Finding:
    boxes = ", ".join(dict.fromkeys(piece.box.id for piece in line.pieces if piece.box))
    feeder = line.output.id if line.output else "an output"
    if line.broken is not None:
        reached = _lost(line.broken)
    elif boxes:
        reached = f"it arrives at {boxes} as pair {line.pieces[-1].pair_out}"
    else:
        reached = "no box is in its path"
    return finding(
        "warning",
        "pair-feeds-nothing",
        ("line", line.id),
        f"pair {line.pair} is fed by {feeder}, and no section uses it: {reached}",
        why="an output is spent on nothing, or a box is driven in another way than was meant",
        fix=adaptor or f"check that the boxes are driven as planned, or take pair {line.pair} out of 'feeds'",
    )


@show_rule
def boxes_are_fed(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a box that nothing feeds; a self-powered one wants no line."""
    fed = frozenset[str]().union(*rig.memory.each("boxes on outputs", rig.amplifiers, _boxes_on))
    unfed = [box for box in rig.show.boxes if box.id not in fed]
    through: dict[str, dict[str, Run]] = {box.id: {} for box in unfed}
    for run in rig.show.runs if unfed else ():
        for step in run.path:
            if step.box in through:
                through[step.box][run.id] = run
    joiner = Joiner(rig)
    for box in unfed:
        speaker = rig.show_index.speakers[box.id]
        if planned_drive(box, speaker) == "self-powered":
            continue
        runs = through[box.id]
        pairs = dict.fromkeys(section.pair for section in speaker.sections_in(planned_drive(box, speaker)))
        wants = (
            f"feed pair {' and '.join(map(str, pairs))}, on which it listens, by 'feeds' and by cables that carry it"
        )
        adaptors = (joiner.for_boxes(run, [box.id]) for run in runs.values())
        yield finding(
            "warning",
            "box-unfed",
            ("box", box.id),
            "nothing feeds this box: "
            + (f"the run {', '.join(runs)} reaches it with no fed pair" if runs else "no run reaches it"),
            why="it will be silent",
            fix=next(
                filter(None, adaptors),
                wants if runs else "ask for a plan (fieldkit assign, or p on Racks), make a run, or take the box out",
            ),
        )


def _boxes_on(outputs: Iterable[SolvedOutput]) -> frozenset[str]:
    return frozenset(load.box.id for output in outputs for load in output.loads)


@line_rule
def pins_differ(line: Line, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a pair that the connector's pins feed from another output than the show says."""
    if not line.mismatch:
        return
    meant = line.run.feeds.get(line.pair, "")
    right = "take the pair out of 'feeds'" if line.mismatch == NOTHING else f"correct 'feeds' to {line.mismatch}"
    yield finding(
        "error",
        "pins-do-not-meet",
        ("line", line.id),
        f"pair {line.pair} of {line.run.start} carries {line.mismatch}, and the show says {meant}",
        why="the box would get another output's signal, or none; on a high section that can be a low band",
        fix=f"start the run at a connector whose pins carry {meant}, or {right}",
    )


@show_rule
def plugs_fit(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find connectors along a run that do not go into each other, where both are known."""
    yield from chain.from_iterable(rig.memory.each("plugs", rig.runs, partial(_plugs, rig)))


@show_rule
def one_plug_a_connector(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a connector that several leads start at; runs whose first piece is shared go through one plug."""
    begin = Counter(run.start for run in rig.show.runs)
    leads: dict[str, dict[str, str]] = {}
    for run in (run for run in rig.show.runs if begin[run.start] > 1):
        first = run.path[0].shared if run.path else ""
        leads.setdefault(run.start, {}).setdefault(f"={first}" if first else run.id, run.id)
    for start, plugs in leads.items():
        if len(plugs) < 2:
            continue
        name, _, connector = start.partition(".")
        runs = list(plugs.values())
        yield finding(
            "warning",
            "connector-shared",
            ("rack" if name in rig.show_index.racks else "unit", name),
            f"{len(runs)} leads start at the one connector {connector}: {', '.join(runs)}",
            why="a connector takes one plug; the others have no place",
            fix=_own_connectors(rig, start)
            + "link the boxes on one run, or begin these runs with one splitter or panel of the same 'shared' name",
            leads=len(runs),
        )


def _own_connectors(rig: Rig, start: str) -> str:
    """Name the free connectors of the same amplifier or rack that carry one of the same outputs."""
    taken = {run.start for run in rig.show.runs}
    carried = set(outputs_at(start, rig.show_index).values())
    others = [other for other in starts_of(start.partition(".")[0], rig.show_index) if other not in taken]
    free = [other for other in others if carried & set(outputs_at(other, rig.show_index).values())]
    return f"plug one into {' or '.join(free)}, which is free; else " if free else ""


def _plugs(rig: Rig, laid: LaidRun) -> list[Finding]:
    run = laid.run
    found = [_misfit(run, number, says) for number, says in misfits(run, rig.show_index)]
    found += [
        finding(
            "error",
            "cannot-be-linked",
            ("run", run.id),
            f"{step.box} has one connector, and the run goes on behind it",
            why="there is nowhere to plug the next cable in",
            fix="put this box at the end of the run, or feed the next one by a run of its own",
        )
        for step in run.path[:-1]
        if step.box and rig.show_index.speakers[step.box].connectors < 2
    ]
    return found


def _misfit(run: Run, number: int, says: str) -> Finding:
    return finding(
        "warning",
        "plugs-do-not-fit",
        ("run", run.id),
        f"step {number}: {says}",
        why="the two plugs do not fit, and the crew finds out at load-in",
        fix="put the adaptor into the path, so that it is on the pull list",
    )
