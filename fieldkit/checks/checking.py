"""Run every rule over a rig, and keep what has not changed since the last time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import partial
from itertools import chain
from typing import Any

from fieldkit.checks.finding import SEVERITIES, Finding
from fieldkit.checks.rules import (
    BoxFeed,
    BoxSubject,
    Choices,
    box_rules,
    choices_of,
    line_rules,
    output_rules,
    show_rules,
)
from fieldkit.checks.scope import ALWAYS, SUBJECTS
from fieldkit.rig.connect.lines import Line
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Box, Run

FAMILIES = tuple(dict.fromkeys([*(family for subject in SUBJECTS for family in subject.families), *ALWAYS]))
"""The modules whose rules are run, as ``scope`` lists them by subject; importing one declares its rules."""


def check(rig: Rig, today: dt.date | None = None) -> tuple[Finding, ...]:
    """List all findings about a rig, errors first, then in the order of the show.

    What was found about parts that are the very same in the rig before is not looked for again.
    """
    choices = rig.memory.same("choices", choices_of(rig, today))
    keep = partial(rig.memory.each, within=(choices,))
    found = chain(
        chain.from_iterable(keep("findings of outputs", rig.amplifiers, partial(_look_at_outputs, choices))),
        chain.from_iterable(keep("findings of lines", rig.lines, partial(_all, line_rules, choices))),
        chain.from_iterable(_of_boxes(rig, choices)),
        _all(show_rules, choices, rig),
    )
    return tuple(sorted(found, key=_severity))


def _of_boxes(rig: Rig, choices: Choices) -> tuple[list[Finding], ...]:
    speakers, uses = rig.show_index.speakers, rig.show_index.uses
    runs = rig.memory.grouped("runs by box", rig.memory.each("boxes on runs", rig.show.runs, _boxes_on))
    feeds = _feeds_by_box(rig)

    def parts(box: Box) -> tuple[object, ...]:
        return (choices, speakers[box.id], uses[box.zone], runs.get(box.id), feeds.get(box.id))

    def look(box: Box) -> list[Finding]:
        its, through = feeds.get(box.id, ()), runs.get(box.id, ())
        return box_findings(BoxSubject(box, speakers[box.id], uses[box.zone], its, through), choices)

    return rig.memory.each_of("findings of boxes", rig.show.boxes, (choices, speakers, uses, runs, feeds), parts, look)


def _severity(found: Finding) -> int:
    return SEVERITIES.index(found.severity)


def _all(rules: list[Any], choices: Choices, subject: Any) -> list[Finding]:
    return [finding for rule in rules for finding in rule(subject, choices)]


def _look_at_outputs(choices: Choices, outputs: Sequence[SolvedOutput]) -> list[Finding]:
    return [found for output in outputs for found in output_findings(output, choices)]


def _boxes_on(run: Run) -> tuple[tuple[str, str], ...]:
    """List the boxes that a run passes, once each, with its name."""
    return tuple((box, run.id) for box in dict.fromkeys(step.box for step in run.path if step.box))


def _feeds_by_box(rig: Rig) -> Mapping[str, tuple[BoxFeed, ...]]:
    """Gather what feeds each box: on outputs first, then on lines that nothing feeds."""
    fed = rig.memory.each("feeds", rig.amplifiers, _feeds_of)
    unfed = rig.memory.each("unfed", [line for line in rig.lines if line.output is None], _without_output)
    return rig.memory.grouped("feeds by box", (*fed, *unfed))


def _feeds_of(outputs: Sequence[SolvedOutput]) -> tuple[tuple[str, BoxFeed], ...]:
    return tuple(
        (item.load.box.id, BoxFeed(output, solved.line, item.load))
        for output in outputs
        for solved in output.lines
        for item in solved.boxes
    )


def _without_output(line: Line) -> tuple[tuple[str, BoxFeed], ...]:
    return tuple((load.box.id, BoxFeed(None, line, load)) for load in line.loads)


def output_findings(output: SolvedOutput, choices: Choices) -> list[Finding]:
    """List what the rules about outputs say of one."""
    return _all(output_rules, choices, output)


def box_findings(subject: BoxSubject, choices: Choices) -> list[Finding]:
    """List what the rules about boxes say of one."""
    return _all(box_rules, choices, subject)


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Count findings by severity, under the names of the ``check`` command."""
    names = {"error": "errors", "warning": "warnings", "note": "notes"}
    return {names[severity]: sum(item.severity == severity for item in findings) for severity in SEVERITIES}
