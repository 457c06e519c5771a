"""Pins and plugs: every pair arrives, every connector fits, every box that is linked can be linked."""

from __future__ import annotations

from collections.abc import Iterator

from fieldkit.checks.finding import Finding
from fieldkit.checks.rules import Choices, finding, line_rule, show_rule
from fieldkit.gear.cabling import Adaptor, Cable
from fieldkit.rig.evaluation import Rig
from fieldkit.rig.lines import Line
from fieldkit.show.document import Run


@line_rule
def pair_lost(line: Line, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a pair that a cable, adaptor or panel does not carry on to the boxes."""
    broken = line.broken
    if broken is not None and broken.beyond:
        yield finding(
            "error",
            "pins-do-not-meet",
            ("line", line.id),
            f"'{broken.model}' in step {broken.step} does not carry pair {broken.pair}; "
            f"{', '.join(broken.beyond)} cannot be reached",
            why="what hangs on that pair stays silent",
            cure="use a cable or adaptor that has the pair, such as four cores for a bi-amp box",
        )
    elif not line.loads:
        boxes = ", ".join(dict.fromkeys(piece.box.id for piece in line.pieces if piece.box))
        reached = f"it arrives at {boxes} as pair {line.pieces[-1].pair_out}" if boxes else "no box is in its path"
        yield finding(
            "warning",
            "pair-feeds-nothing",
            ("line", line.id),
            f"pair {line.pair} is fed by {line.output.id if line.output else 'an output'} and used by no section: "
            f"{reached}",
            why="an output is spent on nothing, or a box is driven in another way than was meant",
            cure="check the drive of the boxes and the pins of the run, or take the pair out of 'feeds'",
        )


@line_rule
def pins_differ(line: Line, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find a pair that the connector's pins feed from another output than the show says."""
    if not line.mismatch:
        return
    meant = line.run.feeds.get(line.pair, "")
    yield finding(
        "error",
        "pins-do-not-meet",
        ("line", line.id),
        f"pair {line.pair} of {line.run.start} carries {line.mismatch}, and the show says {meant}",
        why="the box would get another output's signal, or none; on a high section that can be a low band",
        cure=f"start the run at a connector whose pins carry {meant}, or correct 'feeds'",
    )


@show_rule
def plugs_fit(rig: Rig, choices: Choices) -> Iterator[Finding]:  # noqa: ARG001
    """Find connectors along a run that do not go into each other, where both are known."""
    for run in rig.show.runs:
        yield from _plugs(run, rig)


def _plugs(run: Run, rig: Rig) -> Iterator[Finding]:
    here, what = "", ""
    for number, step in enumerate(run.path, start=1):
        model = rig.ground.models[step.cable or step.adaptor or step.panel or ""]
        near, far = _ends(model)
        if here and near and here != near:
            yield _misfit(run, number, f"{what} has {here}, and '{model.id}' begins with {near}")
        here, what = far, f"'{model.id}'"
        if step.box:
            speaker = rig.ground.speakers[step.box]
            if far and speaker.connector and far != speaker.connector and not speaker.assumed:
                yield _misfit(run, number, f"'{model.id}' ends in {far}, and {step.box} has {speaker.connector}")
            here, what = ("" if speaker.assumed else speaker.connector), step.box
            if speaker.connectors < 2 and number < len(run.path):
                yield finding(
                    "error",
                    "cannot-be-linked",
                    ("run", run.id),
                    f"{step.box} has one connector, and the run goes on behind it",
                    why="there is nowhere to plug the next cable in",
                    cure="put this box at the end of the run, or feed the next one by a run of its own",
                )


def _ends(model: object) -> tuple[str, str]:
    if isinstance(model, (Cable, Adaptor)) and model.connectors:
        return model.connectors[0], model.connectors[-1]
    return "", ""


def _misfit(run: Run, number: int, says: str) -> Finding:
    return finding(
        "warning",
        "plugs-do-not-fit",
        ("run", run.id),
        f"step {number}: {says}",
        why="the crew will stand there with two plugs that do not go together",
        cure="put the adaptor into the path, so that it is on the pull list",
    )
