"""Run every rule over a rig, and keep what has not changed since the last time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from functools import partial
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
from fieldkit.rig.solve.evaluation import Rig
from fieldkit.rig.solve.memory import Memory
from fieldkit.rig.solve.solving import SolvedOutput

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
        found: list[Finding] = []
        for outputs in rig.amplifiers:
            if outputs:
                key = ("outputs", outputs[0].output.unit.id)
                found += self._memory.once(key, (choices, outputs), partial(_look_at_outputs, outputs, choices))
        for line in rig.lines:
            found += self._memory.once(("line", line.id), (line, choices), partial(_all, line_rules, line, choices))
        found += self._boxes(rig, choices)
        found += _all(show_rules, rig, choices)
        return tuple(sorted(found, key=lambda item: SEVERITIES.index(item.severity)))

    def _boxes(self, rig: Rig, choices: Choices) -> Iterator[Finding]:
        feeds = _feeds_by_box(rig)
        runs: dict[str, dict[str, None]] = {}
        for run in rig.show.runs:
            for step in run.path:
                if step.box:
                    runs.setdefault(step.box, {})[run.id] = None
        for box in rig.show.boxes:
            its = tuple(feeds.get(box.id, ()))
            speaker, use = rig.show_index.speakers[box.id], rig.show_index.uses[box.zone]
            subject = BoxSubject(box, speaker, use, its, tuple(runs.get(box.id, ())))
            parts = (choices, subject.runs, box, speaker, use, *its)
            yield from self._memory.once(("box", box.id), parts, partial(box_findings, subject, choices))


def _all(rules: list[Any], subject: Any, choices: Choices) -> list[Finding]:
    return [finding for rule in rules for finding in rule(subject, choices)]


def _look_at_outputs(outputs: Sequence[SolvedOutput], choices: Choices) -> list[Finding]:
    return [found for output in outputs for found in output_findings(output, choices)]


def _feeds_by_box(rig: Rig) -> dict[str, list[BoxFeed]]:
    feeds: dict[str, list[BoxFeed]] = {}
    for outputs in rig.amplifiers:
        if outputs:
            key = ("feeds", outputs[0].output.unit.id)
            for name, feed in rig.memory.once(key, (outputs,), partial(_feeds_of, outputs)):
                feeds.setdefault(name, []).append(feed)
    for line in rig.lines:
        if line.output is None:
            for load in line.loads:
                feeds.setdefault(load.box.id, []).append(BoxFeed(None, line, load))
    return feeds


def _feeds_of(outputs: Sequence[SolvedOutput]) -> tuple[tuple[str, BoxFeed], ...]:
    return tuple(
        (item.load.box.id, BoxFeed(output, solved.line, item.load))
        for output in outputs
        for solved in output.lines
        for item in solved.boxes
    )


def output_findings(output: SolvedOutput, choices: Choices) -> list[Finding]:
    """List what the rules about outputs say of one."""
    return _all(output_rules, output, choices)


def box_findings(subject: BoxSubject, choices: Choices) -> list[Finding]:
    """List what the rules about boxes say of one."""
    return _all(box_rules, subject, choices)


def check(rig: Rig, today: dt.date | None = None) -> tuple[Finding, ...]:
    """Check one rig by itself."""
    return Checker().check(rig, today)


def counts(findings: tuple[Finding, ...]) -> dict[str, int]:
    """Count findings by severity, under the names of the ``check`` command."""
    names = {"error": "errors", "warning": "warnings", "note": "notes"}
    return {names[severity]: sum(item.severity == severity for item in findings) for severity in SEVERITIES}
