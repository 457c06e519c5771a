"""Run every rule over a rig, and keep what has not changed since the last time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
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
from fieldkit.rig.solve.memory import Memory
from fieldkit.rig.solve.solving import SolvedOutput
from fieldkit.show.document import Box

FAMILIES = tuple(dict.fromkeys([*(family for subject in SUBJECTS for family in subject.families), *ALWAYS]))
"""The modules whose rules are run, as ``scope`` lists them by subject; importing one declares its rules."""


class Checker:
    """Checks rigs one after the other; findings about parts that are the very same are not looked for again."""

    def __init__(self) -> None:
        self._memory = Memory()
        self._choices: Choices | None = None

    def check(self, rig: Rig, today: dt.date | None = None) -> tuple[Finding, ...]:
        """List all findings about a rig, errors first, then in the order of the show."""
        choices = choices_of(rig, today)
        if choices == self._choices:
            choices = self._choices  # the very object, so that what depends on it is recognised at once
        self._choices = choices
        self._memory.begin()
        keep = partial(self._memory.each, within=(choices,))
        found = chain(
            chain.from_iterable(keep("outputs", rig.amplifiers, partial(_look_at_outputs, choices))),
            chain.from_iterable(keep("lines", rig.lines, partial(_all, line_rules, choices))),
            chain.from_iterable(self._boxes(rig, choices)),
            _all(show_rules, choices, rig),
        )
        return tuple(sorted(found, key=_severity))

    def _boxes(self, rig: Rig, choices: Choices) -> tuple[list[Finding], ...]:
        speakers, uses = rig.show_index.speakers, rig.show_index.uses
        runs = rig.memory.once(("runs by box",), (rig.show.runs,), partial(_runs_by_box, rig))
        feeds = _feeds_by_box(rig)

        def parts(box: Box) -> tuple[object, ...]:
            return (choices, speakers[box.id], uses[box.zone], runs.get(box.id), *feeds.get(box.id, ()))

        def look(box: Box) -> list[Finding]:
            its, through = tuple(feeds.get(box.id, ())), runs.get(box.id, ())
            return box_findings(BoxSubject(box, speakers[box.id], uses[box.zone], its, through), choices)

        return self._memory.each_of("boxes", rig.show.boxes, (choices, rig.show_index, runs, feeds), parts, look)


def _severity(found: Finding) -> int:
    return SEVERITIES.index(found.severity)


def _all(rules: list[Any], choices: Choices, subject: Any) -> list[Finding]:
    return [finding for rule in rules for finding in rule(subject, choices)]


def _look_at_outputs(choices: Choices, outputs: Sequence[SolvedOutput]) -> list[Finding]:
    return [found for output in outputs for found in output_findings(output, choices)]


def _runs_by_box(rig: Rig) -> dict[str, tuple[str, ...]]:
    runs: dict[str, dict[str, None]] = {}
    for run in rig.show.runs:
        for step in run.path:
            if step.box:
                runs.setdefault(step.box, {})[run.id] = None
    return {box: tuple(its) for box, its in runs.items()}


def _feeds_by_box(rig: Rig) -> dict[str, list[BoxFeed]]:
    """Gather what feeds each box: on outputs first, then on lines that nothing feeds."""
    fed = rig.memory.each("feeds", rig.amplifiers, _feeds_of)
    unfed = rig.memory.each("unfed", [line for line in rig.lines if line.output is None], _without_output)
    return rig.memory.once(("feeds by box",), (fed, unfed), partial(_by_box, chain(fed, unfed)))


def _by_box(feeds: Iterable[Iterable[tuple[str, BoxFeed]]]) -> dict[str, list[BoxFeed]]:
    found: dict[str, list[BoxFeed]] = {}
    for name, feed in chain.from_iterable(feeds):
        found.setdefault(name, []).append(feed)
    return found


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


def check(rig: Rig, today: dt.date | None = None) -> tuple[Finding, ...]:
    """Check one rig by itself."""
    return Checker().check(rig, today)


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Count findings by severity, under the names of the ``check`` command."""
    names = {"error": "errors", "warning": "warnings", "note": "notes"}
    return {names[severity]: sum(item.severity == severity for item in findings) for severity in SEVERITIES}
